"""Hardening off for a household's trays over the days of a forecast, as plain data (docs/json.md)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from underglass.place.place import Place
from underglass.services.forecast import Forecast
from underglass.tend.hardening import harden_days
from underglass.tend.standing import Standing
from underglass.weather.days import local_days, standard_offset_h

__all__ = ["hardening_plan"]


def _summer_h(place: Place, date: np.datetime64) -> int:
    """Whole hours that the clock on the wall is ahead of standard time on a day."""
    offset = datetime.fromisoformat(f"{date}T12:00").replace(tzinfo=ZoneInfo(place.time_zone)).utcoffset()
    return round((offset or timedelta(0)) / timedelta(hours=1)) - standard_offset_h(place)


def hardening_plan(standings: Sequence[Standing], forecast: Forecast) -> list[dict[str, Any]]:
    """The days ahead of each tray, today's among them: what was before now today is taken from the past, and is over."""
    place, now, past = forecast.middle.place, forecast.middle.start, forecast.past
    into_day = int((now - (now + standard_offset_h(place)).astype("datetime64[D]")) / np.timedelta64(1, "h"))
    into_day += standard_offset_h(place)
    air, wind = (
        np.concatenate([getattr(past, name)[past.n_hours - into_day :], getattr(forecast.middle, name)])
        for name in ("air_temp_k", "wind_m_s")
    )
    days = local_days(place, now - into_day, len(air))
    if days.n_days == 0:
        return []
    air_c = np.asarray(days.by_day(air), dtype=np.float64) - 273.15
    wind_m_s = np.asarray(days.by_day(wind), dtype=np.float64)
    return [
        {
            "crop": s.crop.id,
            "name": s.crop.name,
            "days": [
                {
                    "date": str(d.date),
                    "hours": d.hours,
                    "from_h": d.first_hour + _summer_h(place, d.date) * (d.hours > 0),
                    "overnight": d.overnight,
                    "why": d.why,
                }
                for d in harden_days(s.crop, days.dates, air_c, wind_m_s, already=s.hardened_days, now_h=into_day)
            ],
        }
        for s in standings
        if s.in_tray and s.stage in ("seedling", "young")
    ]
