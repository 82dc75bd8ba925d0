"""Growing: degree-days by temperature, and how far light holds them back.

Temperature: degree-days above the base, level between the two best temperatures, falling to nothing at the ceiling (a
trapezoid; cardinal temperatures in growth.csv).  Light: growth goes with the mean daily light integral of the last week up to
the amount that the crop can use; day to day light averages out (Jayalath, van Iersel & Ferrarezi 2024).  Ten hours of
day is shown as a guide and never used as a switch.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.crop.germination import days_to_emerge
from underglass.crop.types import Crop, Growth

__all__ = ["degrees", "light_factor", "needs_cday", "reference_degrees"]

F64 = NDArray[np.float64]

DARK_GROWTH = 0.10
"""Share of full growth that goes on in very little light, from stores (estimate)."""


def degrees(growth: Growth, air_c: F64) -> F64:
    """Degrees that count towards growth at this temperature.  [K]

    Source: trapezoid of cardinal temperatures, the standard form of crop phenology models.

    >>> from underglass.crop.catalogue import catalogue
    >>> degrees(catalogue()["spinach"].growth, np.array([0.0, 10.0, 18.0, 24.0, 30.0]))
    array([ 0. ,  8. , 13. ,  6.5,  0. ])
    """
    rise = np.maximum(air_c - growth.base_c, 0.0)
    level = growth.best_low_c - growth.base_c
    fall = level * np.clip((growth.ceiling_c - air_c) / (growth.ceiling_c - growth.best_high_c), 0.0, 1.0)
    return np.asarray(np.minimum(np.minimum(rise, level), fall))


def light_factor(growth: Growth, daily_light: F64) -> F64:
    """Growth as a share of what temperature allows, 0-1, by the daily light integral [mol/m2 d].

    >>> from underglass.crop.catalogue import catalogue
    >>> light_factor(catalogue()["lettuce_leaf"].growth, np.array([0.0, 6.0, 12.0, 30.0])).round(2)
    array([0.1 , 0.55, 1.  , 1.  ])
    """
    return np.asarray(DARK_GROWTH + (1.0 - DARK_GROWTH) * np.clip(daily_light / growth.light_good, 0.0, 1.0))


FIELD_SWING_DK = 6.0
"""Half the day's range of the fields in which days to harvest were counted [K] (common practice: 12 K)."""


def reference_degrees(growth: Growth) -> float:
    """Degrees a day that count at the reference month: its mean with a field's day and night around it.  [K]

    The tables multiply days by (reference - base); what a plant gains in such a day is less, as noons and nights are capped.
    """
    hours = growth.reference_c + FIELD_SWING_DK * np.sin(2.0 * np.pi * (np.arange(24) + 0.5) / 24.0)
    return float(degrees(growth, hours).mean())


def needs_cday(crop: Crop) -> tuple[float, float, float]:
    """Degree-days from *emergence* to baby leaf (0: none), to full size, and to a plant ready to set out (0: never).

    The tables count days from sowing times (reference - base); they are brought to what such days give, and the days to come up
    are taken off.
    """
    g = crop.growth
    a_day = reference_degrees(g)
    fair = a_day / max(g.reference_c - g.base_c, 1.0)
    underground = min(days_to_emerge(crop, g.reference_c), 40.0) * a_day
    to_full = g.to_full_cday * fair
    full = max(to_full - underground, 0.3 * to_full)
    baby = 0.0 if g.to_baby_cday is None else max(g.to_baby_cday * fair - underground, 0.3 * g.to_baby_cday * fair)
    set_out = 0.0 if g.set_out_to_full_cday is None else max(full - g.set_out_to_full_cday * fair, 0.05 * full)
    return baby, full, set_out
