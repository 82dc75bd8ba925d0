"""What is set at a visit.  By itself, so that a face can record it without loading the physics."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Setting"]


@dataclass(frozen=True, slots=True, order=True)
class Setting:
    """What is set at a visit.

    gap_m : of the lid [m];  night_cover, fleece : laid;  off : the lid right away, its gap then as far as it goes
    trays_in : what stands in trays carried indoors
    """

    gap_m: float = 0.0
    night_cover: bool = False
    fleece: bool = False
    off: bool = False
    trays_in: bool = False
