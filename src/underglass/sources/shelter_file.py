"""A shelter of one's own from a TOML file; `like = "box"` starts from a preset and changes what is named."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from underglass.errors import InputError
from underglass.shelter.model import Shelter
from underglass.shelter.presets import preset
from underglass.shelter.schema import shelter_from_table
from underglass.sources.toml_file import line_of, load_toml

__all__ = ["read_shelter", "shelter_of_table"]


def shelter_of_table(table: Mapping[str, Any]) -> Shelter:
    """A shelter from a table that may start `like` a preset.  Raises InputError with all faults."""
    rest = dict(table)
    like = rest.pop("like", None)
    return shelter_from_table(rest, preset(str(like)) if like is not None else None)


def read_shelter(path: Path) -> Shelter:
    """The shelter in a file.  Raises InputError with file, line, what was found and what is allowed."""
    table, text = load_toml(path)
    try:
        shelter = shelter_of_table({"name": path.stem, **table})
    except InputError as error:
        paths = getattr(error, "paths", [""] * len(str(error).splitlines()))
        faults = [
            str(InputError.at(str(path), line_of(text, p), s))
            for p, s in zip(paths, str(error).splitlines(), strict=False)
        ]
        raise InputError.of(faults or [str(error)]) from None
    return shelter
