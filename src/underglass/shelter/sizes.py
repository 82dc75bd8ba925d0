"""A shelter of other sizes: what a family measures, and what grows with it (cracks, the edge that lifts, room for plants)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from underglass.errors import InputError
from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Shape, Shelter

__all__ = ["LIMITS_M", "resized", "size_keys", "sizes_table"]

LIMITS_M = {
    "length_m": (0.1, 60.0), "depth_m": (0.1, 5.0), "width_m": (0.2, 15.0), "front_height_m": (0.05, 3.0), "back_height_m": (0.05, 3.0),
    "height_m": (0.05, 5.0), "diameter_m": (0.05, 1.5),
}  # fmt: skip
"""Smallest and largest of each size that a home shelter has."""


def size_keys(shape: Shape) -> tuple[str, ...]:
    """What there is to measure of a shape, in the order in which one would; a room's windows are left as they are."""
    if isinstance(shape, Box):
        return () if shape.windows else ("length_m", "depth_m", "front_height_m", "back_height_m")
    if isinstance(shape, Hoop):
        return ("length_m", "width_m", "height_m")
    return ("diameter_m", "height_m") if isinstance(shape, Drum) else ("length_m", "width_m")


def resized(shelter: Shelter, sizes_m: Mapping[str, float]) -> Shelter:
    """The shelter with other sizes [m]; those not named stay.

    Cracks grow with the length of the edge that they run along, the lid's own measures with the side that they lie along, the room
    for plants with the mean height (all by proportion, an estimate).  Raises InputError with each size that is unknown or out of range.
    """
    keys = size_keys(shelter.shape)
    faults = [f"{shelter.name} has no {key}; it has {', '.join(keys) or 'no sizes to change'}" for key in sizes_m if key not in keys]  # fmt: skip
    for key, value in sizes_m.items():
        low, high = LIMITS_M.get(key, (0.0, 0.0))
        if key in keys and not low <= value <= high:
            faults.append(f"{key} of {shelter.name} is {value:g} m; it must lie between {low:g} and {high:g} m")
    if faults:
        raise InputError.of(faults)
    sizes: dict[str, Any] = dict(sizes_m)
    old, new = shelter.shape, replace(shelter.shape, **sizes)
    if isinstance(old, OpenGround):
        return replace(shelter, shape=new)
    edge, long, across, high = (f(new) / f(old) for f in (_edge_m, _long_m, _across_m, _mean_height_m))
    leak, lid = shelter.airtightness, shelter.lid
    return replace(
        shelter, shape=new, airtightness=replace(leak, leak_area_m2=leak.leak_area_m2 * edge),
        lid=replace(
            lid, hinge_length_m=lid.hinge_length_m * long, swing_m=lid.swing_m * across, full_gap_m=lid.full_gap_m * across,
            gap_m=min(lid.gap_m, lid.full_gap_m * across), vent_height_m=lid.vent_height_m * high,
        ),
        clear_height_m=shelter.clear_height_m * high,
    )  # fmt: skip


def sizes_table(shelter: Shelter) -> dict[str, Any]:
    """What a shelter file has to say so that a preset gets these sizes (docs/shelter-files.md)."""
    keys = size_keys(shelter.shape)
    if not keys:
        return {}
    table: dict[str, Any] = {"shape": {key: round(getattr(shelter.shape, key), 4) for key in keys}}
    if isinstance(shelter.shape, OpenGround):
        return table
    lid = ("hinge_length_m", "swing_m", "full_gap_m", "gap_m", "vent_height_m")
    return table | {
        "airtightness": {"leak_area_m2": round(shelter.airtightness.leak_area_m2, 7)},
        "lid": {key: round(getattr(shelter.lid, key), 4) for key in lid},
        "clear_height_m": round(shelter.clear_height_m, 3),
    }


def _long_m(shape: Shape) -> float:
    return shape.diameter_m if isinstance(shape, Drum) else shape.length_m


def _across_m(shape: Shape) -> float:
    if isinstance(shape, Box):
        return shape.depth_m
    return shape.diameter_m if isinstance(shape, Drum) else shape.width_m


def _edge_m(shape: Shape) -> float:
    return _long_m(shape) + _across_m(shape)


def _mean_height_m(shape: Shape) -> float:
    if isinstance(shape, Box):
        return (shape.front_height_m + shape.back_height_m) / 2.0
    return 1.0 if isinstance(shape, OpenGround) else shape.height_m
