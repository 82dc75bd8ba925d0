"""What hours inside do to what stands there, in shares of it lost: the measure by which settings of the lid are compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.crop.hardiness import HEAT_SPREAD_DK
from underglass.shelter.carry import AIR, LEAF, LEAF_MAX, LEAF_MIN, LID_OPEN, PAR, RH
from underglass.tend.numbers import numbers
from underglass.tend.standing import Limits

__all__ = ["Harm", "harm_of"]

F64 = NDArray[np.float64]

HALF_LIGHT_UMOL = 150.0
"""Light at which a leaf works at half its best [umol/m2 s] (photosynthesis saturates; estimate within published leaf curves)."""


@dataclass(frozen=True, slots=True, eq=False)
class Harm:
    """By member: chance of being killed by cold, by heat, and what else it costs, each (members,)."""

    cold: F64
    heat: F64
    other: F64

    @property
    def total(self) -> F64:
        """All of it, in shares of a standing, (members,)."""
        return self.cold + self.heat + self.other


def _logistic(x: F64) -> F64:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(x, -40.0, 40.0))))


def _growth(limits: Limits, air_c: F64, par: F64) -> F64:
    """Share of full growth in each hour, by temperature and light, 0-1."""
    warm = np.interp(
        air_c, [limits.base_c, limits.best_low_c, limits.best_high_c, limits.ceiling_c], [0.0, 1.0, 1.0, 0.0]
    )
    return np.asarray(warm * par / (par + HALF_LIGHT_UMOL))


def harm_of(
    limits: Sequence[Limits], out: NDArray[np.float32], wind_m_s: F64, *, bared: bool = False, trays_in: bool = False
) -> Harm:
    """Harm done to all that stands in a shelter by these hours, meaned over the standings.

    out : (members, hours, 16) of shelter.carry;  wind_m_s : outside, (members, hours);  bared : the lid is right away
    trays_in : what stands in trays is carried indoors, where nothing happens to it but that it grows little
    """
    n = numbers("harm")
    members, hours = out.shape[:2]
    leaf = out[:, :, LEAF].astype(float) - 273.15
    air = out[:, :, AIR].astype(float) - 273.15
    coldest = out[:, :, LEAF_MIN].min(axis=1).astype(float) - 273.15
    hottest = out[:, :, LEAF_MAX].max(axis=1).astype(float) - 273.15
    mould = ((out[:, :, RH] > n["mould_rh"]) & (air > n["mould_c"])).sum(axis=1) * n["mould_per_h"]
    exposed = (out[:, :, LID_OPEN] > 0.5) & (wind_m_s > n["wind_m_s"]) & (air < n["wind_cold_c"])
    bare = (out[:, :, LID_OPEN] > 0.0) & (out[:, :, PAR] <= 0.0) & (air < n["open_night_c"])
    cold, heat, other = np.zeros(members), np.zeros(members), bare.sum(axis=1) * n["open_night_per_h"]
    burnt = (out[:, :, PAR] > n["burn_par"]).sum(axis=1) * n["burn_per_h"] if bared else np.zeros(members)
    for limit in limits:
        if trays_in and limit.in_tray:
            other += hours / 24.0 * n["growth_per_day"] * (1.0 - n["indoors_growth"]) / len(limits)
            continue
        cold += _logistic((limit.kill_c - coldest) / limit.spread_dk) / len(limits)
        heat += _logistic((hottest - limit.lethal_c) / HEAT_SPREAD_DK) / len(limits)
        hurt = np.maximum(leaf - limit.injury_c, 0.0).sum(axis=1) * n["injury_per_kh"]
        hurt += np.maximum(leaf - limit.stress_c, 0.0).sum(axis=1) * n["stress_per_kh"]
        hurt += exposed.sum(axis=1) * n["wind_tender_per_h"] * limit.chilled_by_wind + burnt * limit.unhardened
        missed = hours / 24.0 - _growth(limit, air, out[:, :, PAR].astype(float)).sum(axis=1) / 8.0
        other += (hurt + mould * limit.leafy + missed * n["growth_per_day"]) / len(limits)
    return Harm(cold, heat, other)
