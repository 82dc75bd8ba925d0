"""When a young plant can be set out: by how often, over the years, it would have lived through the weeks after.

Climate, not forecast: a family that raises seedlings in March must know in March.  The average last frost is the date by which half of
the years are frost-free, a coin flip; here a day counts as safe when nine years in ten let the plant live.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.crop.fate import LEAF_MIN, NIGHT
from underglass.crop.hardiness import cold_spread_dk, kill_temp_c
from underglass.crop.types import Crop
from underglass.plan.thresholds import thresholds

__all__ = ["safe_days"]


def _by_calendar(values: NDArray[np.float64], dates: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Mean over the years of each calendar day, smoothed over a week around it; given back for every day of the series."""
    year_start = dates.astype("datetime64[Y]").astype("datetime64[D]")
    day = np.minimum((dates - year_start).astype(int), 364)
    known = np.isfinite(values)
    total = np.bincount(day, np.where(known, values, 0.0), minlength=365)
    mean = total / np.maximum(np.bincount(day, known, minlength=365), 1)
    week = np.convolve(np.concatenate([mean[-3:], mean, mean[:3]]), np.full(7, 1.0 / 7.0), mode="valid")
    return np.asarray(week[day])


def _ahead_mean(values: NDArray[np.float64], n: int) -> NDArray[np.float64]:
    """Mean over the `n` days that begin with each day; nan where the series ends before."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    out = np.full(len(values), np.nan)
    out[: len(values) - n + 1] = (total[n:] - total[:-n]) / n
    return out


def safe_days(crop: Crop, bed: NDArray[np.float32], dates: NDArray[np.datetime64]) -> NDArray[np.uint8]:
    """1 on calendar days on which a seedling of this crop can be set out in this bed, shape (n_days,).

    bed : crop_days of the place, (13, n_days);  dates (n_days,)
    A day is safe when the mean chance over the years of living through the next weeks' nights, half hardened, reaches the threshold, and the
    nights of the week after are warm enough on average for the crop.
    """
    t = thresholds()
    kill_c = kill_temp_c(crop, t.hardened)
    x = np.clip((bed[LEAF_MIN].astype(float) - kill_c) / cold_spread_dk(crop), -40.0, 40.0)
    lives = np.exp(_ahead_mean(np.log1p(-1.0 / (1.0 + np.exp(x)) + 1e-12), t.ahead_days) * t.ahead_days)
    warm = _by_calendar(_ahead_mean(bed[NIGHT].astype(float), 7), dates)
    safe = (_by_calendar(lives, dates) >= t.survive) & (warm >= crop.growth.set_out_night_c - t.night_slack_k)
    return safe.astype(np.uint8)
