"""A small file of the pages' own, written whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any

__all__ = ["write_whole"]


def write_whole(path: Path, value: Any) -> None:
    """Write plain data as JSON beside the file and put it in its place; readable by its owner alone.  Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
    with os.fdopen(handle, "w", encoding="utf-8") as out:
        json.dump(value, out)
    os.replace(name, path)
