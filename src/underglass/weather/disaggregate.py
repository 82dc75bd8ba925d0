"""From days to hours: temperature through its low near sunrise and its high in the afternoon, sun by its clear-sky shape."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place
from underglass.sun.daylength import day_length_h
from underglass.sun.position import clear_sky_ghi_w_m2, split_ghi, sun_position
from underglass.weather.chain import chain, snow_on_ground
from underglass.weather.days import standard_offset_h
from underglass.weather.outside import HOURLY_FIELDS, OutsideWeather, Provenance
from underglass.weather.sky import cloud_from_clearness, dew_point_k, longwave_down_w_m2, pressure_pa, saturation_pa

__all__ = ["hourly_from_daily", "temperature_hours"]

F64 = NDArray[np.float64]

HIGH_AFTER_NOON_H = 2.5
"""The day's high comes this long after the sun's highest stand (common practice: 2-3 h)."""

PIECE_D = 730
"""Days that are turned to hours at once."""


def _solar_noon_h(place: Place) -> float:
    """Standard clock time of the sun's highest stand, without the equation of time.  [h]"""
    return 12.0 + standard_offset_h(place) - place.longitude_deg / 15.0


def temperature_hours(
    place: Place, dates: NDArray[np.datetime64], tmin_k: F64, tmax_k: F64, steps: NDArray[np.int64] | None = None
) -> F64:
    """Hourly temperature through daily extremes, shape (24 n_days,), local standard hours.  [K]

    steps : only these hours

    The low falls half an hour after sunrise, the high 2.5 h after noon; up along the first quarter of a sine, steepest right after the low
    (Parton & Logan 1981), down half along a sine and half along an exponential, so that evenings fall fast and nights slowly; every day
    meets its own low and high.  Against four measured years the day's mean is 0.1 K too low (docs/model/weather.md).
    """
    noon = _solar_noon_h(place)
    sunrise = noon - 0.5 * day_length_h(place.latitude_deg, dates) + 0.5
    # extremes stand in the middle of an hour, so that the hourly series meets them as a thermometer would
    at_low = 24.0 * np.arange(len(dates)) + np.floor(np.clip(sunrise, 0.5, noon - 1.0)) + 0.5
    at_high = 24.0 * np.arange(len(dates)) + np.floor(min(noon + HIGH_AFTER_NOON_H, 23.0)) + 0.5
    times = np.stack([at_low, at_high], axis=1).ravel()
    values = np.stack([tmin_k, tmax_k], axis=1).ravel()
    hours = (np.arange(24 * len(dates)) if steps is None else steps) + 0.5
    i = np.clip(np.searchsorted(times, hours, side="right") - 1, 0, len(times) - 2)
    share = np.clip((hours - times[i]) / (times[i + 1] - times[i]), 0.0, 1.0)
    rise = np.sin(0.5 * np.pi * share)
    sine = 0.5 * (1.0 - np.cos(np.pi * share))
    decay = (1.0 - np.exp(-3.0 * share)) / (1.0 - np.exp(-3.0))
    rising = values[i + 1] >= values[i]
    weight = np.where(rising, rise, 0.5 * sine + 0.5 * decay)
    return np.asarray(values[i] + (values[i + 1] - values[i]) * weight)


def _rain_hours(rain_mm: F64, rng: np.random.Generator) -> F64:
    """Daily rain spread over a run of hours that grows with the amount, at a random time of day, shape (24 n_days,)."""
    n = len(rain_mm)
    length = np.clip(np.round(2.0 + 2.0 * np.sqrt(rain_mm)), 1, 24).astype(int)
    first = (rng.random(n) * (25 - length)).astype(int)
    hour = np.arange(24)[None, :]
    falls = (hour >= first[:, None]) & (hour < (first + length)[:, None])
    return np.asarray(np.where(falls, (rain_mm / length)[:, None], 0.0).ravel())


def _sun_hours(place: Place, clearness: F64, zenith: F64, day_of_year: F64, unrest: F64) -> tuple[F64, F64]:
    """Beam and diffuse from daily clearness; broken cloud makes partly clear days uneven.  [W/m2]

    unrest : hours of a chain of unit variance
    """
    clear = clear_sky_ghi_w_m2(place, zenith)
    broken = 0.9 * clearness * (1.0 - clearness)
    uneven = 1.0 + np.repeat(broken, 24) * 1.6 * unrest
    ghi = clear * np.clip(np.repeat(clearness, 24) * np.clip(uneven, 0.15, 1.8), 0.02, 1.08)
    day_sum = ghi.reshape(-1, 24).sum(axis=1)
    wanted = clearness * clear.reshape(-1, 24).sum(axis=1)
    ghi *= np.repeat(np.where(day_sum > 0.0, wanted / np.maximum(day_sum, 1e-9), 1.0), 24)
    return split_ghi(np.minimum(ghi, 1.1 * clear), zenith, day_of_year)


def hourly_from_daily(
    place: Place,
    dates: NDArray[np.datetime64],
    tmin_k: F64,
    tmax_k: F64,
    *,
    clearness: F64,
    rain_mm: F64,
    wind_m_s: F64,
    dew_k: F64,
    provenance: Provenance,
    seed: int = 1,
) -> OutsideWeather:
    """Hours of outside from whole local days in a row; all daily arrays (n_days,).

    dates datetime64[D] without gaps;  clearness: global radiation over a clear sky's 0-1;  dew_k: mean dew point [K]
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    n = len(dates)
    unrest = chain(rng.standard_normal(24 * n), 0.6)
    rain = _rain_hours(rain_mm, rng)
    hours = {name: np.empty(24 * n) for name in HOURLY_FIELDS}
    hours["precipitation_mm"] = rain
    start = dates[0].astype("datetime64[h]") - standard_offset_h(place)
    day_of_year = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float)
    cloud = cloud_from_clearness(clearness)
    middles = 24.0 * np.arange(n) + 12.0
    # a piece at a time: what comes and goes between days and hours is many times what is left
    for first in range(0, n, PIECE_D):
        days = slice(first, min(first + PIECE_D, n))
        at = slice(24 * days.start, 24 * days.stop)
        steps = np.arange(at.start, at.stop)
        zenith, azimuth = sun_position(place, start + at.start, len(steps))
        air = temperature_hours(place, dates, tmin_k, tmax_k, steps)
        dni, dhi = _sun_hours(place, clearness[days], zenith, np.repeat(day_of_year[days], 24), unrest[at])
        dew = np.minimum(np.interp(steps, middles, dew_k), air - 0.1)
        dew = dew_point_k(np.minimum(saturation_pa(dew), saturation_pa(air)))
        hour = (steps % 24) - _solar_noon_h(place)
        wind = np.repeat(wind_m_s[days], 24) * (1.0 + 0.35 * np.cos(2.0 * np.pi * (hour - 2.0) / 24.0))
        piece = {
            "air_temp_k": air,
            "dew_point_k": dew,
            "wind_m_s": np.maximum(wind, 0.0),
            "dni_w_m2": dni,
            "dhi_w_m2": dhi,
            "longwave_down_w_m2": longwave_down_w_m2(air, dew, np.interp(steps, middles, cloud)),
            "pressure_pa": pressure_pa(place.elevation_m),
            "sun_zenith_deg": zenith,
            "sun_azimuth_deg": azimuth,
        }
        for name, values in piece.items():
            hours[name][at] = values
    hours["snow_depth_m"] = snow_on_ground(hours["air_temp_k"], rain)
    return OutsideWeather(place=place, start=start, **hours, provenance=provenance)
