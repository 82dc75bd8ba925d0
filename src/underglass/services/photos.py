"""Photos into the notebook: turned upright, made small enough for a phone, and without what the camera wrote into them (where, when, whose)."""

from __future__ import annotations

import io
from datetime import datetime

from underglass.errors import InputError
from underglass.notebook.photos import keep_picture
from underglass.notebook.records import Photo, Sowing
from underglass.notebook.store import Notebook
from underglass.services.household_store import shelter_named

__all__ = ["add_photo", "cleaned"]

LONGEST_PX = 1600
MOST_PX = 60_000_000
"""More pixels than any camera's: a picture made to fill the memory is refused before it is unpacked."""


def cleaned(data: bytes) -> bytes:
    """A picture as a JPEG of at most 1600 pixels without any metadata.  Raises InputError for what is no picture."""
    from PIL import Image, ImageOps

    try:
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as given:
            if given.width * given.height > MOST_PX:
                raise InputError(f"the picture has {given.width} × {given.height} pixels: expected up to 60 million")
            upright = ImageOps.exif_transpose(given).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise InputError("the picture cannot be read: expected a whole JPEG, PNG or WebP file") from None
    upright.thumbnail((LONGEST_PX, LONGEST_PX))
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=85)
    return out.getvalue()


def add_photo(
    notebook: Notebook,
    at: datetime,
    data: bytes,
    caption: str = "",
    *,
    shelter: str | None = None,
    sowing: Sowing | None = None,
    record_id: str = "",
) -> Photo:
    """Keep a picture with a few words, perhaps of a shelter or a sowing."""
    place = shelter_named(notebook, shelter) if shelter else None
    name = keep_picture(notebook.path, cleaned(data))
    with notebook.transaction(f"photo: {caption.strip() or 'without words'}"):
        return notebook.add(
            Photo(
                id=record_id,
                at=at,
                file=name,
                caption=caption.strip(),
                shelter_id=place.id if place else None,
                sowing_id=sowing.id if sowing else None,
            )
        )
