"""What of a shelter readings may correct: a few factors on the shelter as it was described."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from underglass.errors import InputError
from underglass.shelter.model import Ground, OpenGround, Shelter
from underglass.shelter.schema import LIMITS

__all__ = ["KNOBS", "Knob", "apply_tuning", "knobs_of", "ranges_of"]

DRIEST = 0.04
"""Air-dry soil [m3/m3] (common practice: 0.02-0.05)."""

LEAST_PORES = 0.02
"""Air left in the wettest soil [m3/m3] (common practice: entrapped air of a few per cent)."""


def _leaks(shelter: Shelter, factor: float) -> Shelter:
    air = shelter.airtightness
    return replace(shelter, airtightness=replace(air, leak_area_m2=air.leak_area_m2 * factor))


def _light(shelter: Shelter, factor: float) -> Shelter:
    """Dirt, age and shade come out as one: no thermometer tells them apart."""
    assert shelter.cover is not None  # knobs_of offers this only where there is a cover
    return replace(shelter, cover=replace(shelter.cover, clean=min(shelter.cover.clean * factor, 1.0)))


def _moisture(shelter: Shelter, factor: float) -> Shelter:
    ground = shelter.ground
    moisture = min(max(ground.moisture * factor, DRIEST), _wettest(ground))
    return replace(shelter, ground=replace(ground, moisture=moisture))


def _wettest(ground: Ground) -> float:
    """Most water that a soil holds and a shelter file takes [m3/m3]."""
    return max(min(ground.porosity - LEAST_PORES, LIMITS["moisture"][1]), ground.moisture)


def _gap(shelter: Shelter, factor: float) -> Shelter:
    assert shelter.cover is not None  # see knobs_of
    assert shelter.cover.gap_conductance_w_m2k is not None
    conductance = shelter.cover.gap_conductance_w_m2k * factor
    return replace(shelter, cover=replace(shelter.cover, gap_conductance_w_m2k=conductance))


def _night_cover(shelter: Shelter, factor: float) -> Shelter:
    assert shelter.night_cover is not None  # see knobs_of
    resistance = shelter.night_cover.resistance_m2k_w * factor
    return replace(shelter, night_cover=replace(shelter.night_cover, resistance_m2k_w=resistance))


@dataclass(frozen=True, slots=True)
class Knob:
    """A factor that may be fitted.

    turn     : (shelter, factor) → shelter          prior_sd : of the factor's logarithm before any reading
    present  : whether a shelter has such a thing
    """

    turn: Callable[[Shelter, float], Shelter]
    prior_sd: float
    present: Callable[[Shelter], bool]


KNOBS: dict[str, Knob] = {
    "leak_factor": Knob(
        _leaks,
        0.7,  # the same box leaks half or twice as much (home-made glass boxes: 2-6 air changes an hour, common practice)
        lambda s: s.airtightness.fixed_air_changes_per_h is None and s.airtightness.leak_area_m2 > 0.0,
    ),
    "light_factor": Knob(
        _light,
        0.15,  # dirt takes 5-20 % (common practice), a fence or twig as much again (estimate)
        lambda s: s.cover is not None and not isinstance(s.shape, OpenGround) and s.cover.clean > 0.0,
    ),
    "moisture_factor": Knob(
        _moisture,
        0.35,  # from wilting point to field capacity of a loam, 0.12-0.30 (common practice)
        lambda s: not s.ground.layers and s.ground.moisture > 0.0,
    ),
    "gap_conductance_factor": Knob(
        _gap,
        0.25,  # twin-wall board by maker and thickness (estimate)
        lambda s: s.cover is not None and len(s.cover.sheets) == 2 and s.cover.gap_conductance_w_m2k is not None,
    ),
    "night_cover_factor": Knob(
        _night_cover,
        0.4,  # a blanket laid loosely or damp (estimate)
        lambda s: s.night_cover is not None and s.night_cover.resistance_m2k_w > 0.0,
    ),
}
"""Every factor by name.  A constant air exchange is given by whoever set it, and is not fitted."""

WIDEST = 3.0
"""A factor stays within this many prior standard deviations of one."""


def knobs_of(shelter: Shelter) -> dict[str, Knob]:
    """The factors that this shelter has."""
    return {name: knob for name, knob in KNOBS.items() if knob.present(shelter)}


def ranges_of(shelter: Shelter, name: str) -> tuple[float, float]:
    """Least and greatest factor that leave the shelter possible, before the prior is asked."""
    ground = shelter.ground
    if name == "light_factor" and shelter.cover is not None:
        return 0.05, 1.0 / shelter.cover.clean  # no cleaner than clean
    if name == "moisture_factor":
        return DRIEST / ground.moisture, _wettest(ground) / ground.moisture
    return 0.0, float("inf")


def apply_tuning(shelter: Shelter, parameters: Mapping[str, float]) -> Shelter:
    """The shelter corrected by fitted factors, keyed as KNOBS.

    Raises InputError for a factor that is not known, not positive, or of a part that the shelter does not have.
    """
    for name, factor in parameters.items():
        if name not in KNOBS:
            raise InputError(f"{name} is not one of {', '.join(KNOBS)}")
        if not 0.0 < factor < 1000.0:
            raise InputError(f"{name} is {factor}: expected a factor above 0")
        if not KNOBS[name].present(shelter):
            raise InputError(
                f"{shelter.name} has nothing that {name} could change; tune it again, or take that back with --undo"
            )
        shelter = KNOBS[name].turn(shelter, factor)
    return shelter
