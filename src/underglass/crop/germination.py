"""Coming up: how fast and how many, by the temperature of the soil around the seed.

Speed and success are two things: spinach comes up fast in warm soil, and hardly any of it; lettuce stops above 30 degC.
Between the tabled temperatures (Harrington & Minges 1954) the *rate* is interpolated, which fits better than one base temperature
(docs/model/crop.md); crops without a table use thermal time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.crop.types import Crop, Germination

__all__ = ["aged_share", "cell_drying", "days_to_emerge", "rate_per_day", "success"]

F64 = NDArray[np.float64]

UNKNOWN_SUCCESS = 0.85
"""Normal seedlings of fresh seed where no table exists, inside the crop's range (estimate)."""

EDGE_DK = 3.0
"""Where no table exists, success falls off over this much before the limits [K] (estimate)."""

AGED_SLOPE = 0.35
"""Width of the fall of germination around the household seed life, as a share of it (estimate: 3-year seed gives nine tenths of
fresh at 2.5 years, not quite half at 5)."""


CELL_LOSS_AT_10C = 0.004
CELL_LOSS_DOUBLES_DK = 10.0
"""Seed that dries out and dies per day in a small cell at 10 degC, and the warming that doubles it [K] (estimates: an attentive
household loses a tenth of a slow kind such as parsley on a sill, three weeks of frost cost a jug next to nothing)."""


def cell_drying(mean_c: float) -> float:
    """Share of not yet risen seed that a day in a small cell costs by drying out, 0-1; the open ground holds its water and has none.

    mean_c : day's mean air around the cell [degC]

    >>> round(cell_drying(10.0), 4), round(cell_drying(20.0), 4)
    (0.004, 0.008)
    """
    return float(min(CELL_LOSS_AT_10C * 2.0 ** ((mean_c - 10.0) / CELL_LOSS_DOUBLES_DK), 1.0))


def rate_per_day(germination: Germination, soil_c: F64) -> F64:
    """Progress towards emergence.  [1/day]

    soil_c : temperature at sowing depth [degC], any shape
    Source: rate between tabled days of Harrington & Minges (1954), or (T - base) / thermal time; zero outside floor and ceiling.

    >>> from underglass.crop.catalogue import catalogue
    >>> (1.0 / rate_per_day(catalogue()["lettuce_leaf"].germination, np.array([10.0, 20.0]))).round(1)
    array([7., 3.])
    """
    if germination.method == "interp":
        temps = np.array([t for t, _ in germination.days_at])
        rates = np.array([0.0 if np.isinf(days) else 1.0 / days for _, days in germination.days_at])
        rate = np.interp(soil_c, *_with_limits(temps, rates, germination))
    else:
        rate = np.maximum(soil_c - germination.base_c, 0.0) / germination.thermal_time_cday
        best = germination.ceiling_c - 4.0  # thermal time holds up to the optimum, then the rate falls to nothing
        rate = np.where(soil_c > best, rate * np.clip((germination.ceiling_c - soil_c) / 4.0, 0.0, 1.0), rate)
    return np.where((soil_c < germination.floor_c) | (soil_c > germination.ceiling_c), 0.0, rate)


def _with_limits(temps: F64, rates: F64, germination: Germination) -> tuple[F64, F64]:
    """The tabled rates, and where the table does not reach them, zero at the floor and held up to the ceiling."""
    if germination.floor_c < temps[0]:
        temps, rates = np.append(germination.floor_c, temps), np.append(0.0, rates)
    if germination.ceiling_c > temps[-1]:
        temps, rates = np.append(temps, germination.ceiling_c), np.append(rates, rates[-1])
    return temps, rates


def days_to_emerge(crop: Crop, soil_c: float) -> float:
    """Days to come up at a constant soil temperature; inf where nothing does.  [day]"""
    rate = float(rate_per_day(crop.germination, np.array([soil_c]))[0])
    return 1.0 / rate if rate > 0.0 else float("inf")


def success(germination: Germination, soil_c: F64) -> F64:
    """Share of good fresh seed that comes up at this temperature, 0-1.

    Source: percent of normal seedlings, Harrington; where no table exists an estimate inside the crop's range.

    >>> from underglass.crop.catalogue import catalogue
    >>> success(catalogue()["spinach"].germination, np.array([5.0, 20.0, 25.0])).round(2)
    array([0.96, 0.52, 0.28])
    """
    if germination.normal_at:
        temps, shares = (np.array(column) for column in zip(*germination.normal_at, strict=True))
        return np.asarray(np.interp(soil_c, temps, shares))
    rise = np.clip((soil_c - germination.floor_c) / EDGE_DK, 0.0, 1.0)
    fall = np.clip((germination.ceiling_c - soil_c) / EDGE_DK, 0.0, 1.0)
    return np.asarray(UNKNOWN_SUCCESS * np.minimum(rise, fall))


def aged_share(life_years: float | None, age_years: float) -> float:
    """Germination of old seed as a share of fresh seed's, 0-1; half is lost at 1.6 times the household seed life.

    The tables of seed life say how long seed is worth keeping, not when it is dead: at that age it is taken to give 86 %
    of fresh seed (estimate, docs/model/crop.md), so that old seed stays useful if sown thicker.

    >>> round(aged_share(3.0, 0.0), 2), round(aged_share(3.0, 3.0), 2), round(aged_share(3.0, 6.0), 2)
    (1.0, 0.86, 0.24)
    """
    if life_years is None or age_years <= 0.0:
        return 1.0
    x = (age_years / life_years - 1.6) / AGED_SLOPE
    fresh = 1.0 / (1.0 + np.exp(-1.6 / AGED_SLOPE))
    return float(1.0 / (1.0 + np.exp(x)) / fresh)
