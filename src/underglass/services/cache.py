"""Answers kept on disk, keyed by everything that they depend on; a broken or old entry is computed again."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import platformdirs

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["answer_dir", "keep", "keep_arrays", "key_of", "recall", "recall_arrays"]

MOST_BYTES = 200_000_000
"""The oldest answers go when the folder holds more."""


def answer_dir() -> Path:
    """Where answers are kept: UNDERGLASS_CACHE if set, else the user's cache folder."""
    return Path(os.environ.get("UNDERGLASS_CACHE") or platformdirs.user_cache_path("underglass")) / "answers"


@cache
def _code_hash(rooms: tuple[str, ...] = ()) -> str:
    """A hash of all code and data of the package (or of some rooms and files), so that a new version never shows an old answer."""
    digest = hashlib.sha256()
    root = Path(str(files("underglass")))
    for path in sorted(root.rglob("*")):
        if path.suffix in (".py", ".csv", ".toml") and path.relative_to(root).as_posix().startswith(rooms or ("",)):
            digest.update(path.relative_to(root).as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _plain(value: object) -> object:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)


def key_of(question: str, *parts: object, rooms: tuple[str, ...] = ()) -> str:
    """A key for a question and all that its answer depends on, the code included.

    rooms : beginnings of the paths of the code that the answer depends on, where that is not all of it
    """
    text = json.dumps([question, _code_hash(rooms), *(_plain(p) for p in parts)], sort_keys=True)
    return f"{question}-{hashlib.sha256(text.encode()).hexdigest()[:32]}"


def recall(key: str) -> dict[str, Any] | None:
    """The kept answer, None where there is none that can be read."""
    try:
        answer = json.loads((answer_dir() / f"{key}.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return answer if isinstance(answer, dict) else None


def recall_arrays(key: str) -> tuple[dict[str, Any], dict[str, NDArray[Any]]] | None:
    """Kept plain values and arrays, None where there are none that can be read."""
    import numpy as np

    try:
        with np.load(answer_dir() / f"{key}.npz", allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kept.files}
        return json.loads(str(arrays.pop("plain"))), arrays
    except (OSError, ValueError, KeyError, zipfile.BadZipFile):
        return None


def keep_arrays(key: str, plain: dict[str, Any], arrays: Mapping[str, NDArray[Any]]) -> None:
    """Keep plain values and arrays, as keep does."""
    import numpy as np

    def write(name: str) -> None:
        with open(name, "wb") as out:
            np.savez(out, plain=np.array(json.dumps(plain)), **arrays)  # type: ignore[arg-type]  # numpy types **kwds as bool too

    _keep(f"{key}.npz", write)


def keep(key: str, answer: dict[str, Any]) -> None:
    """Keep an answer; written whole or not at all.  A full or read-only disk costs only the time to compute it again."""
    _keep(f"{key}.json", lambda name: Path(name).write_text(json.dumps(answer), encoding="utf-8"))


def _keep(file: str, write: Callable[[str], object]) -> None:
    folder = answer_dir()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=folder, suffix=".part")
        os.close(handle)
        write(name)
        os.replace(name, folder / file)
        _trim(folder)
    except OSError:
        return


def _trim(folder: Path) -> None:
    entries = sorted([*folder.glob("*.json"), *folder.glob("*.npz")], key=lambda p: p.stat().st_mtime)
    total = sum(p.stat().st_size for p in entries)
    while entries and total > MOST_BYTES:
        oldest = entries.pop(0)
        total -= oldest.stat().st_size
        oldest.unlink(missing_ok=True)
