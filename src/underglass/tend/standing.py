"""What stands in a shelter, and what cold and heat do to it at its stage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

from underglass.crop.hardiness import cold_spread_dk, kill_temp_c
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.tend.numbers import numbers

__all__ = ["STAGES", "Limits", "Stage", "Standing", "bears_c", "limits_of", "stage_named"]

Stage = Literal["seed", "seedling", "young", "hardened", "large leaf", "fruiting"]
STAGES: tuple[Stage, ...] = get_args(Stage)


@dataclass(frozen=True, slots=True)
class Standing:
    """One crop in one shelter.

    stage : how far it is, which decides what it stands;  in_tray : can be carried indoors
    hardened_days : since its hardening off began
    """

    crop: Crop
    shelter: str
    stage: Stage = "young"
    in_tray: bool = False
    hardened_days: int = 0


@dataclass(frozen=True, slots=True)
class Limits:
    """What a standing stands, at the leaf [degC].

    kill_c : kills half of it, spread_dk wide;  stress_c, injury_c, lethal_c : heat
    base_c, best_low_c, best_high_c, ceiling_c : cardinal temperatures of growth
    chilled_by_wind : young and tender;  unhardened : fresh from shelter, burnt by open sun;  leafy : above ground, so that mould can take it
    in_tray : can be carried indoors
    """

    kill_c: float
    spread_dk: float
    stress_c: float
    injury_c: float
    lethal_c: float
    base_c: float
    best_low_c: float
    best_high_c: float
    ceiling_c: float
    chilled_by_wind: bool
    unhardened: bool
    leafy: bool
    in_tray: bool = False


def limits_of(standing: Standing) -> Limits:
    """The limits of a standing at its stage (data/tending.toml, and the crop's own)."""
    crop = standing.crop
    stages: dict[str, Any] = numbers("stages")
    at = stages[standing.stage]
    kill = kill_temp_c(crop, at["hardened"], seedling=standing.stage == "seedling") + at["sooner_k"]
    fruit = crop.hardiness.green_fruit_kill_c
    if standing.stage == "fruiting" and fruit is not None:
        kill = max(kill, fruit)
    h, g = crop.hardiness, crop.growth
    return Limits(
        kill, cold_spread_dk(crop), h.stress_c, h.injury_c, h.lethal_c, g.base_c, g.best_low_c, g.best_high_c, g.ceiling_c,
        crop.tender and standing.stage in ("seedling", "young"),
        standing.stage == "seedling",
        standing.stage != "seed",
        standing.in_tray,
    )  # fmt: skip


def bears_c(limits: Sequence[Limits]) -> tuple[float, float]:
    """What all of them bear at the leaf [degC]: above the cold that kills one plant in forty, below the first stress by heat."""
    return max(at.kill_c + 3.7 * at.spread_dk for at in limits), min(at.stress_c for at in limits)


def stage_named(text: str) -> Stage:
    """A stage by its word.  Raises InputError that lists them."""
    for stage in STAGES:
        if stage == text.strip().lower():
            return stage
    raise InputError(f"stage {text!r} is not one of {', '.join(STAGES)}")
