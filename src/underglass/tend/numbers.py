"""The numbers of data/tending.toml, loaded once."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

__all__ = ["numbers"]


@cache
def numbers(section: str) -> dict[str, float]:
    """One section; the file says what each number means and where it comes from.

    >>> numbers("harm")["mould_rh"]
    0.95
    """
    text = (files("underglass.tend") / "data" / "tending.toml").read_text(encoding="utf-8")
    return dict(tomllib.loads(text)[section])
