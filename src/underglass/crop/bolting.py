"""Running to seed: what each kind answers to, as numbers for the fate kernel.

Progress towards bolting is counted from 0 to 1.  Each kind of the table answers to long days, warmth or winter in its own way; the paces
are set so that a crop left standing in the conditions that the table names bolts in three to five weeks (common practice; estimates).
"""

from __future__ import annotations

from dataclasses import dataclass

from underglass.crop.types import Crop

__all__ = ["BoltRule", "bolt_rule"]


@dataclass(frozen=True, slots=True)
class BoltRule:
    """Numbers of one kind's way to seed.

    needs_cold_h : hours of cold after the size gate before anything starts (0: none)
    gate_share   : share of full size from which cold counts
    day_h        : day length above which it goes on (0: any)
    warm_c       : mean temperature above which it goes on
    pace         : progress per day, per hour of day beyond day_h plus one, and per K above warm_c
    at_once      : cold alone ends it (buttoning heads, kohlrabi)
    """

    needs_cold_h: float
    gate_share: float
    day_h: float
    warm_c: float
    pace: float
    at_once: bool


GATES = {
    "biennial_vernalization": 0.35,
    "vernalization_longday": 0.08,
    "vernalization": 0.15,
    "buttoning": 0.25,
}


def bolt_rule(crop: Crop) -> BoltRule | None:
    """The rule for a crop; None where it does not bolt before its harvest."""
    b = crop.bolting
    cold = b.cold_hours or 0.0
    day = b.day_length_h or 12.0
    match b.kind:
        case "longday":
            return BoltRule(0.0, 0.0, day, 5.0, 1.0 / 800.0, False)
        case "longday_heat":
            return BoltRule(0.0, 0.0, day, 8.0, 1.0 / 700.0, False)
        case "heat_longday":
            return BoltRule(0.0, 0.0, day - 1.0, 19.0, 1.0 / 300.0, False)
        case "vernalization_longday":
            return BoltRule(cold, GATES[b.kind], day, 6.0, 1.0 / 600.0, False)
        case "biennial_vernalization":
            return BoltRule(cold, GATES[b.kind], day - 1.0, 7.0, 1.0 / 600.0, False)
        case "vernalization" | "buttoning":
            return BoltRule(cold, GATES[b.kind], 0.0, 0.0, 0.0, True)
        case _:
            return None
