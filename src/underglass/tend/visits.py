"""When somebody is there: the hours ahead at which a lid can be set, by the clock on the wall."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from underglass.place.place import Place
from underglass.shelter.model import Visits

__all__ = ["visits_ahead"]


def visits_ahead(
    visits: Visits,
    place: Place,
    start: np.datetime64,
    n_hours: int,
    exceptions: Mapping[np.datetime64, tuple[float, ...]] | None = None,
) -> list[int]:
    """Hours after `start` (UTC) in which somebody comes; hour 0 is now and always among them.

    exceptions : other clock hours for a date (datetime64[D]), empty where nobody is home that day
    """
    zone, first = ZoneInfo(place.time_zone), datetime.fromisoformat(f"{start.astype('datetime64[h]')}:00+00:00")
    found = [0]
    for i in range(1, n_hours):
        local = (first + timedelta(hours=i)).astimezone(zone)
        usual = visits.weekend_h if local.weekday() >= 5 else visits.weekday_h
        times = (exceptions or {}).get(np.datetime64(local.date()), usual)
        if local.hour in {int(t) for t in times}:
            found.append(i)
    return found
