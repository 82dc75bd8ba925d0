"""Frost dates from daily lowest temperatures, season by season, on both sides of the equator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["FrostDates", "frost_dates"]

F64 = NDArray[np.float64]

MIDSUMMER = 195
"""Day after mid-winter's 1 January (1 July) that parts spring frosts from autumn ones: 15 July."""


@dataclass(frozen=True, slots=True, eq=False)
class FrostDates:
    """Last frost before each summer and first frost after it, as days after 1 January (north) or 1 July (south).

    last, first (years,): nan in a year without frost on that side
    origin : month and day that day 0 stands for, '01-01' or '07-01'
    """

    last: F64
    first: F64
    origin: str

    def last_on(self, share: float) -> str | None:
        """Month-day by which this share of the years have had their last frost; None where under half of them have any."""
        return self._date(self.last, share)

    def first_on(self, share: float) -> str | None:
        """Month-day by which this share of the years have had their first frost; None where under half of them have any."""
        return self._date(self.first, share)

    def _date(self, days: F64, share: float) -> str | None:
        there = days[np.isfinite(days)]
        if there.size * 2 < days.size or there.size == 0:
            return None
        day = round(float(np.quantile(there, share)))
        return str(np.datetime64(f"2025-{self.origin}") + day)[5:]


def frost_dates(
    daily_min_k: F64, dates: NDArray[np.datetime64], *, southern: bool, threshold_k: float = 273.15
) -> FrostDates:
    """Last and first day at or below a threshold around each summer.

    daily_min_k (n_days,) [K];  dates (n_days,) datetime64[D], in order
    A year runs from mid-winter to mid-winter; its halves part in mid-summer (15 July, 15 January in the south).
    """
    shifted = dates - np.timedelta64(181, "D") if southern else dates
    year = shifted.astype("datetime64[Y]").astype(int)
    day = (shifted - shifted.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    frost = daily_min_k <= threshold_k
    _, firsts, counts = np.unique(year, return_index=True, return_counts=True)  # dates are in order: a year is one run
    last = np.maximum.reduceat(np.where(frost & (day < MIDSUMMER), day, -1.0), firsts)[counts >= 350]
    first = np.minimum.reduceat(np.where(frost & (day >= MIDSUMMER), day, np.inf), firsts)[counts >= 350]
    origin = "07-01" if southern else "01-01"
    return FrostDates(np.where(last >= 0.0, last, np.nan), np.where(np.isfinite(first), first, np.nan), origin)
