"""Many years of weather from twelve months of climate: a chain of days, then hours.

Wet and dry days alternate as a two-state chain (Richardson 1981).  The day's low departs from its normal with persistence and a cold tail;
the range between low and high is small on wet days and large on dry ones, and the sun of the day follows that range, as the
temperature-range method says (Hargreaves & Samani 1982).  What the place's climate is not known to exactly is drawn once a year, so that chances
over the years carry it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place
from underglass.weather.chain import chain, wet_days
from underglass.weather.disaggregate import hourly_from_daily
from underglass.weather.normals import ClimateNormals, anomalies, daily_curve
from underglass.weather.outside import OutsideWeather, Provenance

__all__ = ["generate_weather"]

F64 = NDArray[np.float64]

WET_RANGE = 0.68
"""Day's range on a wet day as a share of a dry day's (Greensboro, Oxford and Seattle lie between 0.6 and 0.75; estimate)."""

RANGE_SPREAD = 0.26
"""Log spread of the day's range within wet or dry days (estimate)."""

SUN_BY_RANGE = 1.4
"""Power with which clearness follows the day's range: Hargreaves' 0.5 holds for monthly means; single days part more sharply into clear
and dull (estimate, so that the days' clearness spreads as in measured years: a third nearly clear, a quarter under 0.4 in dull months)."""


def _ranges(normals: ClimateNormals, day: F64, wet: NDArray[np.bool_], share: F64, rng: np.random.Generator) -> F64:
    """Each day's range between low and high; its monthly mean is kept.  [K]"""
    mean = daily_curve(normals.tmax_k - normals.tmin_k, day)
    dry = mean / (1.0 - share * (1.0 - WET_RANGE))
    noise = np.exp(RANGE_SPREAD * chain(rng.standard_normal(len(day)), 0.25) - 0.5 * RANGE_SPREAD**2)
    return np.asarray(np.where(wet, WET_RANGE * dry, dry) * noise)


def _clearness(normals: ClimateNormals, day: F64, ranges: F64, month: NDArray[np.int64]) -> F64:
    """Each day's global radiation over a clear sky's: by its range, scaled so that each month's mean is the normal's.  0-1"""
    raw = ranges**SUN_BY_RANGE
    wanted = daily_curve(normals.clearness, day)
    out = np.empty_like(raw)
    for m in range(12):
        here = month == m
        scale = 1.0
        target = float(wanted[here].mean())
        for _ in range(6):  # the cap at a clear sky takes some off; a few turns put it back
            out[here] = np.clip(raw[here] / raw[here].mean() * target * scale, 0.06, 1.0)
            scale *= target / float(out[here].mean())
    return out


def _rain(normals: ClimateNormals, day: F64, wet: NDArray[np.bool_], share: F64, rng: np.random.Generator) -> F64:
    """Rain of each day: gamma amounts on wet days, keeping the month's sum.  [mm]"""
    per_day = daily_curve(normals.rain_mm / 30.4, day)
    amount = rng.standard_gamma(0.7, len(day)) / 0.7 * per_day / np.maximum(share, 0.02)
    return np.asarray(np.where(wet, amount, 0.0))


def generate_weather(
    normals: ClimateNormals, place: Place, first_year: int, n_years: int = 30, seed: int = 1
) -> OutsideWeather:
    """Hours of `n_years` whole calendar years from 1 January of `first_year`, local standard time, in one unbroken series.

    The same inputs give the same hours, byte for byte.  Southern places are right as their normals are.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    dates = np.arange(np.datetime64(f"{first_year}-01-01"), np.datetime64(f"{first_year + n_years}-01-01"))
    day = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float)
    month = dates.astype("datetime64[M]").astype(int) % 12
    year = dates.astype("datetime64[Y]").astype(int)
    share = np.clip(daily_curve(normals.wet_share, day), 0.0, 0.95)
    wet = wet_days(share, rng.random(len(dates)))
    offset = normals.temp_sd_k * rng.standard_normal(n_years)[year - year[0]]
    low = daily_curve(normals.tmin_k, day) + anomalies(normals, day, rng) + offset
    ranges = _ranges(normals, day, wet, share, rng)
    wind_noise = np.exp(0.45 * chain(rng.standard_normal(len(dates)), 0.4) - 0.5 * 0.45**2)
    dew_noise = 1.2 * chain(rng.standard_normal(len(dates)), 0.4)
    dew = low - np.where(wet, 0.3, daily_curve(normals.dew_below_k, day) + 0.8) + np.minimum(dew_noise, 1.0)
    provenance = Provenance(
        layer=normals.layer,
        source=f"{n_years} generated {'year' if n_years == 1 else 'years'} from {normals.source}",
        licence=normals.licence,
        longwave="Berdahl & Martin 1984 with cloud from the day's clearness",
        frost_sd_days=normals.frost_sd_days,
        temp_sd_k=normals.temp_sd_k,
        notes=normals.notes,
    )
    return hourly_from_daily(
        place, dates, low, low + ranges, clearness=_clearness(normals, day, ranges, month), rain_mm=_rain(normals, day, wet, share, rng),
        wind_m_s=daily_curve(normals.wind_m_s, day) * wind_noise, dew_k=dew, provenance=provenance, seed=seed + 1,
    )  # fmt: skip
