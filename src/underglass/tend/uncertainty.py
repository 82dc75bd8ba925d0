"""One forecast as many possible ones: errors that grow with the lead, remembered from hour to hour (data/tending.toml)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.tend.numbers import numbers
from underglass.weather.outside import HOURLY_FIELDS, OutsideWeather

__all__ = ["possible_weathers", "span"]

F64 = NDArray[np.float64]


def span(outside: OutsideWeather, first: int, last: int) -> OutsideWeather:
    """The hours first … last of a series as a series of their own."""
    cut = {name: getattr(outside, name)[first:last] for name in HOURLY_FIELDS}
    return replace(outside, start=outside.start + first, **cut)


def _remembered(rng: np.random.Generator, members: int, hours: int, memory_h: float) -> F64:
    """Unit noise whose neighbouring hours go together (first-order), (members, hours)."""
    keep = np.exp(-1.0 / memory_h)
    fresh = np.sqrt(1.0 - keep * keep)
    noise = rng.standard_normal((members, hours))
    for h in range(1, hours):
        noise[:, h] = keep * noise[:, h - 1] + fresh * noise[:, h]
    return noise


def possible_weathers(forecast: OutsideWeather, n: int, seed: int, lead_h: float = 0.0) -> tuple[OutsideWeather, ...]:
    """`n` weathers that a forecast leaves possible; the same seed gives the same ones.

    forecast : the hours ahead, the first one `lead_h` hours after it was made
    """
    e = numbers("forecast_error")
    rng = np.random.default_rng(seed)
    hours = forecast.n_hours
    lead_d = (lead_h + np.arange(hours)) / 24.0
    air_z, own_z, sun_z, wind_z = (_remembered(rng, n, hours, e["hours_of_memory"]) for _ in range(4))
    air_sd = (e["air_first_k"] + e["air_per_day_k"] * lead_d) * np.minimum(1.0, 0.3 + lead_d * 4.0)
    r = e["dew_correlation"]
    dew_z = r * air_z + np.sqrt(1.0 - r * r) * own_z
    beam = np.exp((e["sun_sd"] + e["sun_per_day"] * lead_d) * sun_z)
    air = forecast.air_temp_k + air_sd * air_z
    dew = np.minimum(forecast.dew_point_k + e["dew_share"] * air_sd * dew_z, air)
    dni = np.minimum(forecast.dni_w_m2 * beam, 1000.0)
    dhi = np.maximum(forecast.dhi_w_m2 * (1.0 + 0.25 * (1.0 - np.minimum(beam, 2.0))), 0.0)
    sky = forecast.longwave_down_w_m2 * (air / forecast.air_temp_k) ** 4 - e["sky_w_m2"] * sun_z
    wind = forecast.wind_m_s * np.exp(e["wind_sd"] * wind_z)
    return tuple(
        replace(
            forecast, air_temp_k=air[i], dew_point_k=dew[i], dni_w_m2=dni[i], dhi_w_m2=dhi[i], longwave_down_w_m2=sky[i],
            wind_m_s=wind[i],
        )
        for i in range(n)
    )  # fmt: skip
