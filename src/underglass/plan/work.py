"""What a sowing takes: room, minutes and seed.  The figures stand in data/work.toml; all are estimates."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from underglass.crop.seeds import seeds_for_plants, seeds_per_cell
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.wishes import Ground, Want
from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Shelter

__all__ = ["areas", "block_m2", "figures", "fresh_germination", "plants_on", "seeds_to_sow"]

USUAL_BLOCK_M2 = 1.0
BLOCKS_IN_A_SMALL_BED, BLOCKS_IN_A_LARGE_BED = 5, 10
"""What is sown at once is a square metre, as one person sows in a quarter of an hour; of small and of large beds such a share."""

WEEKS_A_BLOCK, MOST_WEEKS_A_BLOCK = 6.0, 16.0
SHARE_A_BLOCK = 2.0 / 3.0
"""A block of one crop gives at most so large a share of so many weeks of what is wanted: as long as it is eaten, within these bounds."""

UNKNOWN_GERMINATION = 0.75
"""Germination of fresh seed without an official least (estimate)."""


@cache
def figures() -> Mapping[str, Mapping[str, Any]]:
    """The tables of data/work.toml: minutes, room, seed."""
    return tomllib.loads((files("underglass.plan") / "data" / "work.toml").read_text(encoding="utf-8"))


def _floor_m2(shelter: Shelter) -> float:
    shape, room = shelter.shape, figures()["room"]
    match shape:
        case Box():
            return shape.length_m * shape.depth_m
        case Hoop():
            return float(shape.length_m * shape.width_m * room["tunnel_paths"])
        case Drum():
            return float(room["jugs"]) * math.pi / 4.0 * shape.diameter_m**2
        case OpenGround():
            given = shape.length_m * shape.width_m
            return given if given > 1.0 else float(room["open_area_m2"])


def fresh_germination(crop: Crop) -> float:
    """Share of fresh seed that germinates, 0-1: the official least of the kind where there is one."""
    return crop.seed.official_germination or UNKNOWN_GERMINATION


def areas(shelters: Sequence[Shelter], ground: Sequence[Ground]) -> dict[str, float]:
    """Area that may be planted in each shelter [m2]: as the family says, else its floor.  Raises InputError for an unknown shelter."""
    said = {g.shelter: g.area_m2 for g in ground}
    unknown = set(said) - {s.name for s in shelters}
    if unknown:
        raise InputError(f"ground: no shelter is called {', '.join(sorted(unknown))}")
    return {s.name: said.get(s.name) or _floor_m2(s) for s in shelters}


def block_m2(crop: Crop, bed_m2: float, want: Want, servings_m2: float, weeks: float = 0.0) -> float:
    """The least area sown at once: a square metre or a share of the bed, no more than feeds the want while it lasts, one plant at least.  [m2]

    servings_m2 : servings that a square metre brings;  weeks : over which they are eaten
    """
    most = max(min(bed_m2 / BLOCKS_IN_A_SMALL_BED, USUAL_BLOCK_M2), bed_m2 / BLOCKS_IN_A_LARGE_BED)
    if want.servings is not None and servings_m2 > 0.0:
        lasts = min(max(weeks, WEEKS_A_BLOCK), MOST_WEEKS_A_BLOCK)
        most = min(most, SHARE_A_BLOCK * lasts * want.servings / len(want.crops) ** 0.5 / servings_m2)
    plant = 1.0 / crop.spacing.per_m2
    return max(plant * max(1, round(most / plant)), 0.05 if plant < 0.05 else plant)


def plants_on(crop: Crop, area_m2: float) -> int:
    """Plants that stand on an area."""
    return max(1, round(crop.spacing.per_m2 * area_m2))


def seeds_to_sow(crop: Crop, plants: int, seed_share: float = 1.0, *, in_cells: bool) -> int:
    """Seeds for so many plants: enough in each cell for one plant at 90 %, or enough in the row for all of them at 90 %.

    seed_share : of fresh seed's germination that is left, 0-1
    """
    germination = min(max(fresh_germination(crop) * seed_share, 0.02), 0.99)
    if in_cells:
        return plants * seeds_per_cell(germination, 0.9)
    return seeds_for_plants(plants, germination * float(figures()["seed"]["field"]))
