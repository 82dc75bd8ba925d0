"""Shelters to start from, each a commented TOML file in data/presets with a source or 'estimate' beside every number."""

from __future__ import annotations

import difflib
import tomllib
from functools import cache
from importlib.resources import files

from underglass.errors import InputError
from underglass.shelter.model import Shelter
from underglass.shelter.schema import shelter_from_table

__all__ = ["PRESETS", "preset", "preset_names", "preset_toml"]

PRESETS = ("jug", "box", "box-double", "box-twinwall", "cloche", "tunnel", "hoop", "hoop-double", "sill", "open")


def preset_toml(name: str) -> str:
    """The commented file of a preset, to start a shelter of one's own from.  Raises InputError for an unknown name."""
    if name not in PRESETS:
        near = difflib.get_close_matches(name, PRESETS, n=1, cutoff=0.4)
        hint = f"did you mean {near[0]}?" if near else "or give a file that ends in .toml"
        raise InputError(f"shelter {name!r} is not one of {', '.join(PRESETS)}; {hint}")
    return (files("underglass.shelter") / "data" / "presets" / f"{name}.toml").read_text(encoding="utf-8")


@cache
def preset(name: str) -> Shelter:
    """A shelter by the name of its preset.

    >>> preset("box").clear_height_m
    0.3
    """
    return shelter_from_table(tomllib.loads(preset_toml(name)))


def preset_names() -> dict[str, str]:
    """Every preset with a few words on what it is."""
    return {name: preset(name).note for name in PRESETS}
