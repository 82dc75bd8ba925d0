"""How far the days swing where only monthly means are known: the day's range, the spread of its low, the lean to the cold side.

Cold air comes overland from poleward.  So the nights of a winter spread with the land around and with how much colder it is up
the meridian (the Gulf coast), little behind a sea (Japan) or a range (Italy); where the sea air of most days makes winter milder than
the latitude, the rare air from inland falls far below it (Finland, the Low Countries), and where winter is cold air anyway, it does not
(Vermont).  Coefficients: fitted together to published yearly lows of 117 stations, the day's range at 20 places, the spread of
the daily low at 8 and frost dates at 20; docs/model/weather.md says how well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.sun.position import extraterrestrial_mj_m2
from underglass.units import ZERO_C_K
from underglass.weather.grid import cold_reach_k, land_around

__all__ = ["DaySwing", "day_swing"]

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class DaySwing:
    """Twelve months, arrays (12,): range_k [K] between the day's low and high, spread_k [K] of the low, lean [-] (negative: a cold tail)."""

    range_k: F64
    spread_k: F64
    lean: F64


def day_swing(
    latitude_deg: float, longitude_deg: float, elevation_m: float, mid_month: F64, mean_k: F64, rain_mm: F64
) -> DaySwing:
    """The swing of the days from monthly means [K], rain [mm/month] and the lie of land and sea around."""
    mean_c = mean_k - ZERO_C_K
    year_range = mean_c.max() - mean_c.min()
    winter = 0.5 + 0.5 * np.clip((mean_c.mean() - mean_c) / max(year_range / 2.0, 0.1), -1.0, 1.0)
    reach = cold_reach_k(latitude_deg, longitude_deg, elevation_m)
    land = land_around(latitude_deg, longitude_deg)
    milder = land * _milder_k(latitude_deg, mean_c.min())
    above = extraterrestrial_mj_m2(latitude_deg, mid_month)
    sun = np.minimum(0.5 * (above + np.roll(above, 1)), 30.0)  # autumn keeps its range: drier than spring under one sun
    per_wet_day_mm = 4.0 + 0.25 * max(50.0 - abs(latitude_deg), 0.0)  # warm air rains harder, on fewer days
    wet = np.clip(rain_mm / 30.4 / per_wet_day_mm, 0.0, 0.7)
    range_k = 3.3 + 0.223 * year_range + 0.20 * sun - 6.8 * wet + 1.34e-3 * elevation_m
    spread_k = 4.26 + 1.90 * land - 0.151 * mean_c + winter * (0.166 * reach - 0.084 * year_range)
    lean = -0.21 - winter * (0.069 * milder + 0.0064 * reach * np.clip(mean_c, 0.0, 15.0))
    return DaySwing(np.clip(range_k, 4.5, 18.0), np.clip(spread_k, 1.0, 8.5), np.clip(lean, -1.0, 0.5))


def _milder_k(latitude_deg: float, coldest_c: float) -> float:
    """How much milder the coldest month is than over land of this latitude: 13 degC at 30 degrees, 1.15 K less a degree (by hand).  [K]"""
    return float(np.clip(coldest_c - (13.0 - 1.15 * (abs(latitude_deg) - 30.0)), -10.0, 20.0))
