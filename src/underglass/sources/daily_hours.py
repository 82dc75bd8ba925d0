"""A daily record as hours: what the days do not say comes from the place's normals, and the provenance says so."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place
from underglass.sources.daily import DailyRecord
from underglass.sun.position import clear_sky_ghi_w_m2, sun_position
from underglass.weather.days import standard_offset_h
from underglass.weather.disaggregate import hourly_from_daily
from underglass.weather.normals import ClimateNormals, daily_curve, from_grid
from underglass.weather.outside import OutsideWeather, Provenance

__all__ = ["hours_of_days"]

F64 = NDArray[np.float64]

WET_MM = 1.0
LEAST_CLEARNESS = 0.05


def hours_of_days(record: DailyRecord, *, seed: int = 1) -> OutsideWeather:
    """Hours through the days of a record; gaps of up to three days are bridged and counted, longer ones refused.

    Sun, where not in the record, follows the square root of the day's temperature range about the normal clearness
    (Hargreaves and Samani 1982); wind and dew point are the normals'.
    """
    days = record.unbroken()
    place = days.place
    normals = from_grid(place)
    day_of_year = (days.dates - days.dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.float64)
    rain = days.precipitation_mm if days.precipitation_mm is not None else np.zeros(days.n_days)
    dew = days.tmin_k - np.where(rain >= WET_MM, 0.3, daily_curve(normals.dew_below_k, day_of_year))
    guessed = [name for name, values in (("sun", days.ghi_mj_m2), ("wind", days.wind_m_s)) if values is None]
    notes = (*days.notes, f"{', '.join([*guessed, 'humidity'])} from the place's normals, as the days do not say")
    if days.precipitation_mm is None:
        notes = (*notes, "no precipitation in this record: taken as none")
    provenance = Provenance(
        layer="daily record", source=days.source, licence=days.licence,
        longwave="Berdahl & Martin 1984 with cloud from the day's clearness",
        filled_hours=24 * days.filled_days, fetched=days.fetched, notes=notes,
    )  # fmt: skip
    return hourly_from_daily(
        place, days.dates, days.tmin_k, days.tmax_k,
        clearness=_clearness(days, normals, day_of_year), rain_mm=rain,
        wind_m_s=daily_curve(normals.wind_m_s, day_of_year) if days.wind_m_s is None else days.wind_m_s,
        dew_k=dew, provenance=provenance, seed=seed,
    )  # fmt: skip


def _clearness(days: DailyRecord, normals: ClimateNormals, day_of_year: F64) -> F64:
    """Sun of each day as a share of a clear day's, 0.05-1."""
    if days.ghi_mj_m2 is not None:
        clear = _clear_day_mj_m2(days.place, days.dates)
        return np.asarray(np.clip(days.ghi_mj_m2 / np.maximum(clear, 0.1), LEAST_CLEARNESS, 1.0))
    root = np.sqrt(np.maximum(days.tmax_k - days.tmin_k, 0.0))
    month = days.dates.astype("datetime64[M]").astype(np.int64) % 12
    usual = np.array([root[month == m].mean() if (month == m).any() else 1.0 for m in range(12)])
    share = root / np.maximum(usual[month], 0.1)
    return np.asarray(np.clip(daily_curve(normals.clearness, day_of_year) * share, LEAST_CLEARNESS, 1.0))


def _clear_day_mj_m2(place: Place, dates: NDArray[np.datetime64]) -> F64:
    """Global sun of each local day under a clear sky.  [MJ/m2]"""
    start = dates[0].astype("datetime64[h]") - standard_offset_h(place)
    zenith, _ = sun_position(place, start, 24 * dates.shape[0])
    return np.asarray(clear_sky_ghi_w_m2(place, zenith).reshape(-1, 24).sum(axis=1) * 3600.0 / 1e6)
