"""Pictures beside the notebook, kept under names of our own making: no name or path of a person's is ever used."""

from __future__ import annotations

import os
import re
import uuid
from pathlib import Path

from underglass.errors import InputError
from underglass.notebook.faults import plain_faults
from underglass.notebook.places import photo_folder

__all__ = ["PHOTO_NAME", "keep_picture", "picture_path"]

PHOTO_NAME = re.compile(r"[0-9a-f]{32}\.(jpg|png|webp)")
HEADS = {"jpg": (b"\xff\xd8\xff", b""), "png": (b"\x89PNG\r\n\x1a\n", b""), "webp": (b"RIFF", b"WEBP")}
"""First bytes of each kind of picture (JFIF; PNG specification; WebP container: RIFF, length, WEBP)."""

MOST_BYTES = 20_000_000


def keep_picture(path: Path, data: bytes) -> str:
    """Keep a picture beside the notebook at `path`.  Returns its name.  Raises InputError for what is no JPEG, PNG or WebP."""
    if len(data) > MOST_BYTES:
        raise InputError(f"the picture has {len(data) / 1e6:.0f} MB: expected up to {MOST_BYTES / 1e6:.0f} MB")
    kind = next(
        (k for k, (head, inner) in HEADS.items() if data.startswith(head) and data[8:12].startswith(inner)), None
    )
    if kind is None:
        raise InputError("the picture is not a JPEG, PNG or WebP file")
    folder, name = photo_folder(path), f"{uuid.uuid4().hex}.{kind}"
    beside = folder / f".{name}.part"
    with plain_faults(folder):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        try:
            with open(beside, "wb") as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
            os.replace(beside, folder / name)
        finally:
            beside.unlink(missing_ok=True)
    return name


def picture_path(path: Path, name: str) -> Path:
    """Where a picture is.  Raises InputError for a name that we did not make."""
    if not PHOTO_NAME.fullmatch(name):
        raise InputError(f"{name!r} is not a photo of this notebook")
    return photo_folder(path) / name
