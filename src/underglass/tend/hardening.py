"""Hardening off, tied to the forecast: how long trays can stand out on each of the coming days.

Common practice: first day an hour or two in shade, one or two hours more each day, out overnight only when nights stay mild; not in strong
wind.  The crop's own table says how cold the first days and the nights may be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.crop.types import Crop

__all__ = ["HardeningDay", "harden_days"]

F64 = NDArray[np.float64]

USUAL_START_C, USUAL_NIGHT_C = 7.0, 10.0
"""45 degF on the first day, 50 degF for a night out (common practice) where the crop's table has nothing."""

TOO_WINDY_M_S = 8.0
FIRST_HOURS, MORE_EACH_DAY = 2, 1.5


@dataclass(frozen=True, slots=True)
class HardeningDay:
    """One day of it.

    date;  hours : how long outside, 0 where the day is too cold or windy;  first_hour : local hour from which it is warm enough
    overnight : may stay out the night after;  why : 'cold', 'wind', 'late' (what was warm of today is over) or '' where they go out
    """

    date: np.datetime64
    hours: int
    first_hour: int
    overnight: bool
    why: str


def harden_days(
    crop: Crop, dates: NDArray[np.datetime64], air_c: F64, wind_m_s: F64, already: int = 0, now_h: int = 0
) -> list[HardeningDay]:
    """The coming days of hardening off.

    dates (n_days,);  air_c, wind_m_s : forecast by local day and hour, (n_days, 24);  already : days done
    now_h : hour of the first day that it is now; what was before is over
    """
    start_c = USUAL_START_C if crop.growth.harden_start_c is None else crop.growth.harden_start_c
    night_c = USUAL_NIGHT_C if crop.growth.harden_night_c is None else crop.growth.harden_night_c
    plan, done = [], already
    for d, date in enumerate(dates):
        day = slice(8, 18)
        fit = (air_c[d, day] >= start_c) & (wind_m_s[d, day] < TOO_WINDY_M_S)
        if d == 0:
            fit &= np.arange(day.start, day.stop) >= now_h
        hours = min(int(FIRST_HOURS + MORE_EACH_DAY * done), int(fit.sum()))
        warm = air_c[d, day] >= start_c
        late = d == 0 and now_h > day.start and not warm[now_h - day.start :].any()
        why = "" if hours >= 1 else "late" if late and warm.any() else "wind" if warm.any() else "cold"
        next_night = np.concatenate([air_c[d, 18:], air_c[d + 1, :8] if d + 1 < len(dates) else air_c[d, 18:]])
        overnight = done >= 4 and hours > 0 and float(next_night.min()) >= night_c
        plan.append(HardeningDay(date, hours, 8 + int(np.argmax(fit)) if hours else 0, overnight, why))
        done += hours > 0
    return plan
