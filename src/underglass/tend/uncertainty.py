"""One forecast as many possible ones: errors that grow with the lead, remembered from hour to hour (data/tending.toml)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.tend.numbers import numbers
from underglass.weather.outside import HOURLY_FIELDS, OutsideWeather

__all__ = ["dressed", "possible_weathers", "span"]

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


@dataclass(frozen=True, slots=True, eq=False)
class _Errors:
    """What each possible weather departs from its forecast by, each (members, hours): air and dew point [K], factors on beam and wind, sky [W/m2]."""

    air_k: F64
    dew_k: F64
    beam: F64
    wind: F64
    sky_w_m2: F64


def _errors(n: int, hours: int, seed: int, air_sd: F64, beam_sd: F64, share: float = 1.0) -> _Errors:
    """Drawn errors.  air_sd, beam_sd : by hour;  share : of the usual errors of sky and wind"""
    e = numbers("forecast_error")
    rng = np.random.default_rng(seed)
    air_z, own_z, sun_z, wind_z = (_remembered(rng, n, hours, e["hours_of_memory"]) for _ in range(4))
    r = e["dew_correlation"]
    dew_z = r * air_z + np.sqrt(1.0 - r * r) * own_z
    return _Errors(
        air_sd * air_z, e["dew_share"] * air_sd * dew_z, np.exp(beam_sd * sun_z), np.exp(share * e["wind_sd"] * wind_z),
        -share * e["sky_w_m2"] * sun_z,
    )  # fmt: skip


def _departed(forecast: OutsideWeather, errors: _Errors, i: int) -> OutsideWeather:
    """The forecast with the errors of member `i`, kept within what is possible."""
    beam = errors.beam[i]
    air = forecast.air_temp_k + errors.air_k[i]
    return replace(
        forecast, air_temp_k=air, dew_point_k=np.minimum(forecast.dew_point_k + errors.dew_k[i], air),
        dni_w_m2=np.minimum(forecast.dni_w_m2 * beam, 1000.0),
        dhi_w_m2=np.maximum(forecast.dhi_w_m2 * (1.0 + 0.25 * (1.0 - np.minimum(beam, 2.0))), 0.0),
        longwave_down_w_m2=forecast.longwave_down_w_m2 * (air / forecast.air_temp_k) ** 4 + errors.sky_w_m2[i],
        wind_m_s=forecast.wind_m_s * errors.wind[i],
    )  # fmt: skip


def possible_weathers(forecast: OutsideWeather, n: int, seed: int, lead_h: float = 0.0) -> tuple[OutsideWeather, ...]:
    """`n` weathers that a forecast leaves possible; the same seed gives the same ones.

    forecast : the hours ahead, the first one `lead_h` hours after it was made
    """
    e = numbers("forecast_error")
    hours = forecast.n_hours
    lead_d = (lead_h + np.arange(hours, dtype=np.float64)) / 24.0
    air_sd = (e["air_first_k"] + e["air_per_day_k"] * lead_d) * _known_now(lead_d)
    errors = _errors(n, hours, seed, air_sd, e["sun_sd"] + e["sun_per_day"] * lead_d)
    return tuple(_departed(forecast, errors, i) for i in range(n))


def _known_now(lead_d: NDArray[np.floating]) -> F64:
    """What is measured now is known; it is forgotten within four hours (estimate)."""
    return np.asarray(np.minimum(1.0, 0.3 + lead_d * 4.0))


def dressed(members: Sequence[OutsideWeather], seed: int, lead_h: float = 0.0) -> tuple[OutsideWeather, ...]:
    """A service's members with what none of them knows: how a garden departs from the model's cell, and what the model errs by from the start.

    Members of weather models spread too little near the ground (data/tending.toml, which has the sources); how the spread grows is theirs.
    Source: dressing, Roulston & Smith 2003, Tellus 55A:16, with a normal kernel.
    """
    e = numbers("forecast_error")
    hours = members[0].n_hours
    air_sd = e["air_first_k"] * _known_now((lead_h + np.arange(hours)) / 24.0)
    share = e["members_share"]
    errors = _errors(len(members), hours, seed, air_sd, np.full(hours, share * e["sun_sd"]), share)
    return tuple(_departed(member, errors, i) for i, member in enumerate(members))
