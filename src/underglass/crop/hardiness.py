"""Cold and heat: a plant hardens as nights cool, softens in warm spells, and each night kills with a chance.

Hardening 0 … 1 stands between the two killing temperatures of the table.  It follows the warmth of the day with a
rate that reproduces what was measured in spinach: 2-4 K gained in one day at 5/2 degC, most of it in three days, 3-5 K lost in one
day at 20/17 degC (Fennell & Li).
"""

from __future__ import annotations

import numpy as np

from underglass.crop.types import Crop

__all__ = ["GAIN_PER_DAY", "HEAT_SPREAD_DK", "LOSS_PER_DAY", "cold_spread_dk", "hardened", "kill_chance", "kill_temp_c"]

GAIN_PER_DAY = 0.45
LOSS_PER_DAY = 0.50
"""Share of the way to the day's target that hardening moves in a day, up and down (fitted to Fennell & Li's figures)."""

FULL_MEAN_C, NONE_MEAN_C = 3.0, 13.0
"""Day's mean at which a plant would harden fully, and not at all (estimate between 5/2 and 20/17 degC regimes)."""

SEEDLING_SOFTER_DK = 1.0
"""A seedling is killed this much sooner than a grown plant (common practice: unhardened seedlings die 3-6 degF sooner)."""

HEAT_SPREAD_DK = 1.5
"""Width of the chance of heat death around the lethal tissue temperature [K] (estimate)."""


def hardened(state: float, day_mean_c: float) -> float:
    """Hardening 0-1 after a day of this mean temperature.

    >>> round(hardened(0.0, 3.5), 2), round(hardened(1.0, 18.5), 2)
    (0.43, 0.5)
    """
    target = min(max((NONE_MEAN_C - day_mean_c) / (NONE_MEAN_C - FULL_MEAN_C), 0.0), 1.0)
    pace = GAIN_PER_DAY if target > state else LOSS_PER_DAY
    return state + pace * (target - state)


LEAF_BELOW_AIR_DK = 1.5
"""The tables give the air of the night that killed, at plant height in the open; leaves there were colder by about this much [K]
(clear nights 1-3 K, cloudy ones none; our own open-ground runs give 1.7 K in the mean)."""


def kill_temp_c(crop: Crop, state: float, *, seedling: bool = False) -> float:
    """Leaf temperature that kills half, at this hardening: the table's air temperature less LEAF_BELOW_AIR_DK.  [degC]"""
    soft = crop.hardiness.kill_soft_c - LEAF_BELOW_AIR_DK
    hard = crop.hardiness.kill_hard_c - LEAF_BELOW_AIR_DK
    return soft + (hard - soft) * state + (SEEDLING_SOFTER_DK * (1.0 if soft < -2.5 else 0.0) if seedling else 0.0)


def cold_spread_dk(crop: Crop) -> float:
    """Width of the chance of death around that temperature [K]: sharp for tender kinds, wider for hardy ones (estimate)."""
    return 0.35 if crop.tender else 0.8


def kill_chance(leaf_min_c: float, kill_c: float, spread_dk: float) -> float:
    """Chance that one night with this coldest leaf kills, 0-1: one half at the killing temperature.

    >>> kill_chance(-5.0, -5.0, 0.8)
    0.5
    """
    return float(1.0 / (1.0 + np.exp(np.clip((leaf_min_c - kill_c) / spread_dk, -40.0, 40.0))))
