"""TOML files of a person's own: read whole, with the line of a key for the sentence that says what is wrong with it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from underglass.errors import InputError

__all__ = ["line_of", "load_toml"]

MOST_BYTES = 1_000_000


def load_toml(path: Path) -> tuple[dict[str, Any], str]:
    """The tables and the text of a TOML file.  Raises InputError with file and line for what can't be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(f"{path}: larger than 1 MB; this does not look like a file of ours")
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file") from None
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be read as text ({error})") from None
    try:
        return tomllib.loads(text), text
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"at line (\d+)", str(error))
        said = str(error).split(" (at")[0]
        raise InputError.at(str(path), int(found.group(1)) if found else None, f"not valid TOML: {said}") from None
    except (RecursionError, ValueError) as error:
        raise InputError(f"{path}: not valid TOML: {error}") from None


def line_of(text: str, path: str) -> int | None:
    """Line of a key such as 'lid.full_gap_m' or 'shelters[2].shape.width_m', None where it is not written out.

    Walks the headers and keys in order and remembers the table it is in; good enough to point a person to the place.
    """
    wanted = re.sub(r"\[(\d+)\]", r".\1", path)
    table, counts, best = "", dict[str, int](), None
    for number, line in enumerate(text.splitlines(), 1):
        code = line.split("#", 1)[0].strip()
        if array := re.fullmatch(r"\[\[([^\]]+)\]\]", code):
            name = array.group(1).strip()
            counts[name] = counts.get(name, 0) + 1
            table = f"{name}.{counts[name]}"
        elif header := re.fullmatch(r"\[([^\[\]]+)\]", code):
            name = header.group(1).strip()
            parent = name.split(".")[0]
            table = name.replace(parent, f"{parent}.{counts[parent]}", 1) if parent in counts else name
        key = re.match(r"([A-Za-z0-9_-]+)\s*=", code)
        here = f"{table}.{key.group(1)}".strip(".") if key else table
        if here == wanted:
            return number
        if wanted.startswith(here + ".") and (best is None or len(here) > best[0]):
            best = (len(here), number)
    return best[1] if best else None
