"""What hours inside do to what stands there, in shares of it lost: the measure by which settings of the lid are compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.crop.hardiness import HEAT_SPREAD_DK
from underglass.shelter.carry import AIR, LEAF, LEAF_MAX, LEAF_MIN, LID_OPEN, PAR, RH, SOIL_5CM
from underglass.tend.numbers import numbers
from underglass.tend.standing import Limits

__all__ = ["Harm", "harm_of"]

F64 = NDArray[np.float64]

HALF_LIGHT_UMOL = 150.0
"""Light at which a leaf works at half its best [umol/m2 s] (photosynthesis saturates; estimate within published leaf curves)."""


@dataclass(frozen=True, slots=True, eq=False)
class Harm:
    """What it costs, in shares of a standing, each by member, (members,).

    cold, heat : chance of being killed by it
    strain : by heat and open sun that do not kill;  damp : by moulds;  wind : by cold wind on tender plants
    night : by a lid that stands open on a cold night;  growth : that was missed
    """

    cold: F64
    heat: F64
    strain: F64
    damp: F64
    wind: F64
    night: F64
    growth: F64

    @property
    def other(self) -> F64:
        """All of it that does not kill."""
        return self.strain + self.damp + self.wind + self.night + self.growth


def _logistic(x: F64) -> F64:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(x, -40.0, 40.0))))


def _growth(limits: Limits, temp_c: F64, par: F64) -> F64:
    """Share of full growth in each hour, 0-1: by temperature and light, of a seed in the ground by temperature alone."""
    warm = np.interp(
        temp_c, [limits.base_c, limits.best_low_c, limits.best_high_c, limits.ceiling_c], [0.0, 1.0, 1.0, 0.0]
    )
    return np.asarray(warm * par / (par + HALF_LIGHT_UMOL) if limits.leafy else warm)


FULL_DAY_H = (8.0, 24.0)
"""Hours of full growth that a day can bring: to a leaf in a day's light, to a seed in the ground."""


def harm_of(
    limits: Sequence[Limits], out: NDArray[np.float32], wind_m_s: F64, *, bared: bool = False, trays_in: bool = False
) -> Harm:
    """Harm done to all that stands in a shelter by these hours, meaned over the standings.

    out : (members, hours, 16) of shelter.carry;  wind_m_s : outside, (members, hours);  bared : the lid is right away
    trays_in : what stands in trays is carried indoors, where nothing happens to it but that it grows little
    """
    n = numbers("harm")
    members, hours = out.shape[:2]
    leaf, air, soil = (out[:, :, column].astype(float) - 273.15 for column in (LEAF, AIR, SOIL_5CM))
    coldest = out[:, :, LEAF_MIN].min(axis=1).astype(float) - 273.15
    hottest = out[:, :, LEAF_MAX].max(axis=1).astype(float) - 273.15
    par, open_ = out[:, :, PAR].astype(float), out[:, :, LID_OPEN].astype(float)
    moulding = ((out[:, :, RH] > n["mould_rh"]) & (air > n["mould_c"])).sum(axis=1) * n["mould_per_h"]
    blown = (open_ * ((wind_m_s > n["wind_m_s"]) & (air < n["wind_cold_c"]))).sum(axis=1) * n["wind_tender_per_h"]
    night = ((open_ > 0.0) & (par <= 0.0) & (air < n["open_night_c"])).sum(axis=1) * n["open_night_per_h"]
    burnt = (par > n["burn_par"]).sum(axis=1) * n["burn_per_h"] if bared else np.zeros(members)
    cold, heat, strain, damp, wind, growth = (np.zeros(members) for _ in range(6))
    for limit in limits:
        if trays_in and limit.in_tray:
            growth += hours / 24.0 * n["growth_per_day"] * (1.0 - n["indoors_growth"])
            continue
        if limit.leafy:
            cold += _logistic((limit.kill_c - coldest) / limit.spread_dk)
            heat += _logistic((hottest - limit.lethal_c) / HEAT_SPREAD_DK)
        else:
            cold += _logistic((limit.kill_c - soil.min(axis=1)) / limit.spread_dk)
            heat += _logistic((soil.max(axis=1) - limit.lethal_c) / HEAT_SPREAD_DK)
        felt = leaf if limit.leafy else soil
        strain += np.maximum(felt - limit.injury_c, 0.0).sum(axis=1) * n["injury_per_kh"]
        strain += np.maximum(felt - limit.stress_c, 0.0).sum(axis=1) * n["stress_per_kh"] + burnt * limit.unhardened
        damp += moulding * limit.leafy
        wind += blown * limit.chilled_by_wind
        grown = _growth(limit, air if limit.leafy else soil, par).sum(axis=1) / FULL_DAY_H[not limit.leafy]
        growth += (hours / 24.0 - grown) * n["growth_per_day"]
    k = max(len(limits), 1)
    return Harm(cold / k, heat / k, strain / k, damp / k, wind / k, night, growth / k)
