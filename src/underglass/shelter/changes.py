"""Changes to a shelter that a family might make, by name: what `compare` sets beside the shelter as it is."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import replace

from underglass.errors import InputError
from underglass.shelter.model import Fleece, NightCover, OpenGround, Sheet, Shelter, Water

__all__ = ["CHANGES", "changed"]

SECOND_FILM = Sheet(
    0.00010, refractive_index=1.51, extinction_per_m=165.0, solar_transmittance=0.89, ir_transmittance=0.70, ir_emissivity=0.22,
    conductivity_w_mk=0.33, density_kg_m3=920.0, specific_heat_j_kgk=2300.0,
)  # fmt: skip
"""A film stretched under the glazing (as plain polyethylene in the presets)."""


def _double(shelter: Shelter) -> Shelter:
    if shelter.cover is None or len(shelter.cover.sheets) > 1:
        raise InputError(f"{shelter.name} has no single glazing that could be doubled")
    sheet = shelter.cover.sheets[0]
    second = SECOND_FILM if sheet.ir_transmittance > 0.3 else sheet
    return replace(shelter, cover=replace(shelter.cover, sheets=(sheet, second), gap_m=0.02))


def _night_cover(shelter: Shelter) -> Shelter:
    """A quilt, straw mat or 2 cm of foam: about 0.6 m2K/W (ISO 10456 conductivities; estimate of the thickness)."""
    return replace(shelter, night_cover=NightCover(resistance_m2k_w=0.6))


def _tighter(shelter: Shelter) -> Shelter:
    """Foam strip and a seated lid: two thirds of the leaks gone (estimate)."""
    leaks = shelter.airtightness
    return replace(shelter, airtightness=replace(leaks, leak_area_m2=leaks.leak_area_m2 / 3.0))


def _jugs(shelter: Shelter) -> Shelter:
    """2.5 US gallons of water per square foot of glazing is the extension rule; a bed has room for about a third of it."""
    floor = _floor_m2(shelter)
    return replace(shelter, water=Water(volume_m3=0.034 * floor, area_m2=0.6 * floor))


def _fleece(shelter: Shelter) -> Shelter:
    return replace(shelter, fleece=Fleece())


def _arm(shelter: Shelter) -> Shelter:
    return replace(shelter, lid=replace(shelter.lid, working="arm"))


def _shut(shelter: Shelter) -> Shelter:
    return replace(shelter, lid=replace(shelter.lid, working="shut"))


CHANGES: dict[str, Callable[[Shelter], Shelter]] = {
    "double": _double,
    "night-cover": _night_cover,
    "tighter": _tighter,
    "jugs": _jugs,
    "fleece": _fleece,
    "arm": _arm,
    "shut": _shut,
}
"""Named changes: a second sheet, an insulating cover at night, fewer leaks, jugs of water, an inner row cover, a self-opening arm,
and the lid never opened."""


def _floor_m2(shelter: Shelter) -> float:
    from underglass.shelter.geometry import enclosure

    return enclosure(shelter.shape).floor_area_m2


def changed(shelter: Shelter, name: str) -> Shelter:
    """The shelter with one named change, its name saying so.  Raises InputError for an unknown or impossible change."""
    if name not in CHANGES:
        near = difflib.get_close_matches(name, CHANGES, n=1, cutoff=0.4)
        raise InputError(
            f"change {name!r} is not one of {', '.join(CHANGES)}{f'; did you mean {near[0]}?' if near else ''}"
        )
    if isinstance(shelter.shape, OpenGround) and name != "fleece":
        raise InputError(f"{shelter.name} is open ground: only fleece can be laid over it")
    return replace(CHANGES[name](shelter), name=f"{shelter.name} + {name}")
