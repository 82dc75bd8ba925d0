"""Hours grouped into the days that people live by: midnight to midnight on the place's standard clock.

The biology and the tables count days on standard time all year, so that a day always has 24 hours; clock times shown
to a person go through the time zone instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place

__all__ = ["LocalDays", "local_days", "standard_offset_h"]


def standard_offset_h(place: Place) -> int:
    """Whole hours that the place's standard (winter) clock is ahead of UTC, rounded.  [h]

    The smaller of the January and July offsets is standard time; half-hour zones round to the nearer hour, as one
    hour is the grain of all series.
    """
    zone = ZoneInfo(place.time_zone)
    offsets = [datetime(2025, month, 1, tzinfo=zone).utcoffset() or timedelta(0) for month in (1, 7)]
    return round(min(offsets) / timedelta(hours=1))


@dataclass(frozen=True, slots=True, eq=False)
class LocalDays:
    """The whole local days inside an hourly series.

    dates      : datetime64[D], shape (n_days,)
    first_hour : index of the hour at which day 0 begins in the hourly series; day d is hours first_hour + 24 d … + 24
    """

    dates: NDArray[np.datetime64]
    first_hour: int

    @property
    def n_days(self) -> int:
        """Number of whole days."""
        return int(self.dates.shape[0])

    def by_day(self, hourly: NDArray[np.floating]) -> NDArray[np.floating]:
        """An hourly array (n_hours,) as a view of shape (n_days, 24)."""
        return hourly[self.first_hour : self.first_hour + 24 * self.n_days].reshape(self.n_days, 24)


def local_days(place: Place, start: np.datetime64, n_hours: int) -> LocalDays:
    """Whole standard-time days in a series of `n_hours` hours that begins at `start` UTC; partial days are left off."""
    local_start = start.astype("datetime64[h]") + standard_offset_h(place)
    into_day = int((local_start - local_start.astype("datetime64[D]")) / np.timedelta64(1, "h"))
    first_hour = (24 - into_day) % 24
    n_days = max(0, (n_hours - first_hour) // 24)
    first_date = (local_start + first_hour).astype("datetime64[D]")
    return LocalDays(dates=first_date + np.arange(n_days), first_hour=first_hour)
