"""The hours ahead and what went before them: from a forecast, from an old one, or from the climate, and which of these it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC
from typing import Any

import numpy as np

from underglass.errors import InputError
from underglass.plan.household import Household
from underglass.services.weather import climate_of
from underglass.shelter.model import Ground, Shelter
from underglass.tend.uncertainty import dressed, possible_weathers, span
from underglass.weather.generator import generate_weather
from underglass.weather.normals import ClimateNormals
from underglass.weather.outside import HOURLY_FIELDS, OutsideWeather

__all__ = ["Forecast", "climate_years", "forecast_from", "on_annual_wave", "same_hour"]

PAST_H = 45 * 24
LEAST_AHEAD_H = 12
LATE_START_H = 6
CLIMATE_YEARS = 30
LEAST_MEMBERS = 10
"""Members from which an ensemble says more of the spread than the usual errors do (estimate)."""


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What is known of the days ahead.

    past : the hours before, shared, the last `known_h` of them known and not the climate's;  members : weathers that are possible;  middle : the forecast itself, or the climate's middle year
    kind : 'forecast', 'ensemble' or 'climate'
    """

    past: OutsideWeather
    members: tuple[OutsideWeather, ...]
    middle: OutsideWeather
    kind: str
    notes: tuple[str, ...]
    known_h: int = 0


def forecast_from(
    outside: OutsideWeather | None, household: Household, now: np.datetime64, hours: int, n_members: int, seed: int,
    ensemble: Sequence[OutsideWeather] = (),
) -> Forecast:  # fmt: skip
    """The forecast as seen from `now` (UTC hour); with `outside` None the climate's usual days.

    ensemble : members of a service's own; those that reach as far stand for the spread, else the usual errors do
    Raises InputError where the forecast does not reach `now` and half a day on.
    """
    normals = climate_of(household)
    if outside is None:
        return _from_climate(normals, household, now, hours, n_members, seed)
    first = int((now - outside.start) / np.timedelta64(1, "h"))
    if -LATE_START_H <= first < 0:
        first = 0
    if first < 0 or outside.n_hours - first < LEAST_AHEAD_H:
        ends = outside.start + outside.n_hours
        raise InputError(
            f"the forecast covers {outside.start}:00 to {ends}:00 UTC, which is not the day after {now}:00 UTC: get a newer one, or say --at"
        )
    ahead = span(outside, first, min(first + hours, outside.n_hours))
    past, notes = span(outside, max(first - PAST_H, 0), first), []
    known_h = past.n_hours
    if known_h < PAST_H // 2:
        lead = _usual_days(normals, household, past.start, PAST_H - past.n_hours, seed)
        notes.append(f"{past.n_hours // 24} days before now are known; the soil's heat before them is the climate's")
        past = _joined(lead, past)
    own = _covering(ensemble, ahead)
    if len(own) >= LEAST_MEMBERS:
        return Forecast(past, dressed(own, seed, _lead_h(own[0], now)), ahead, "ensemble", tuple(notes), known_h)
    possible = possible_weathers(ahead, n_members, seed, _lead_h(ahead, now))
    return Forecast(past, possible, ahead, "forecast", tuple(notes), known_h)


def _lead_h(ahead: OutsideWeather, now: np.datetime64) -> float:
    """How old a service's forecast is; 0 where nobody knows, as of a file's, or where it is asked about the past."""
    fetched = ahead.provenance.fetched
    if fetched is None:
        return 0.0
    return max(
        float((now - np.datetime64(fetched.astimezone(UTC).replace(tzinfo=None), "s")) / np.timedelta64(1, "h")), 0.0
    )


def _covering(ensemble: Sequence[OutsideWeather], ahead: OutsideWeather) -> tuple[OutsideWeather, ...]:
    """The members over the hours of the forecast, those that cover them."""
    found = []
    for member in ensemble:
        first = int((ahead.start - member.start) / np.timedelta64(1, "h"))
        if first >= 0 and member.n_hours - first >= ahead.n_hours:
            found.append(span(member, first, first + ahead.n_hours))
    return tuple(found)


def _joined(one: OutsideWeather, other: OutsideWeather) -> OutsideWeather:
    both: dict[str, Any] = {name: np.concatenate([getattr(one, name), getattr(other, name)]) for name in HOURLY_FIELDS}
    return replace(one, **both)


def climate_years(
    normals: ClimateNormals, household: Household, now: np.datetime64, n: int, seed: int
) -> OutsideWeather:
    """`n` years of the climate, with the one before `now` and one to finish in."""
    return generate_weather(normals, household.place, int(str(now)[:4]) - 1, n + 2, seed)


def same_hour(years: OutsideWeather, now: np.datetime64, later: int) -> int:
    """Index of the hour of `now`'s month and day in the year `later` of the series' second one."""
    stamp = str(now.astype("datetime64[h]"))
    year = int(str(years.start)[:4]) + 1 + later
    text = f"{year}{stamp[4:]}".replace("-02-29", "-02-28")
    return int((np.datetime64(text, "h") - years.start) / np.timedelta64(1, "h"))


def _middle_year(years: OutsideWeather, now: np.datetime64, n: int, back: int) -> int:
    """The year whose days before now were the middle ones by their mean temperature."""
    means = [
        years.air_temp_k[max(i - back, 0) : i + 1].mean() for i in (same_hour(years, now, later) for later in range(n))
    ]
    return int(np.argsort(means)[n // 2])


def _usual_days(
    normals: ClimateNormals, household: Household, until: np.datetime64, hours: int, seed: int
) -> OutsideWeather:
    """The climate's middle year over the hours before `until`, under their own dates."""
    years = climate_years(normals, household, until, CLIMATE_YEARS, seed)
    last = same_hour(years, until, _middle_year(years, until, CLIMATE_YEARS, hours))
    return replace(span(years, last - hours, last), start=until - hours)


def _from_climate(
    normals: ClimateNormals, household: Household, now: np.datetime64, hours: int, n_members: int, seed: int
) -> Forecast:
    years = climate_years(normals, household, now, n_members, seed)
    starts = [same_hour(years, now, later) for later in range(n_members)]
    members = tuple(replace(span(years, i, i + hours), start=now) for i in starts)
    middle = _middle_year(years, now, n_members, PAST_H)
    past = replace(span(years, starts[middle] - PAST_H, starts[middle]), start=now - PAST_H)
    note = "no forecast: this is what the climate brings at this time of year, not what tomorrow brings"
    return Forecast(past, members, members[middle], "climate", (note,))


def on_annual_wave(shelter: Shelter, household: Household) -> Shelter:
    """The shelter with its deep ground on the wave of the place's climate: a few weeks of weather don't tell it."""
    ground = shelter.ground
    if ground.boundary != "wave" or ground.wave_mean_k is not None:
        return shelter
    normals = climate_of(household)
    middle = 0.5 * (normals.tmin_k + normals.tmax_k)
    turn = 2.0 * np.pi * (np.arange(12) + 0.5) / 12.0
    c, s = 2.0 * float((middle * np.cos(turn)).mean()), 2.0 * float((middle * np.sin(turn)).mean())
    wave: Ground = replace(
        ground, wave_mean_k=float(middle.mean()) + 1.0, wave_amplitude_k=float(np.hypot(c, s)),
        wave_day_of_minimum=float(np.arctan2(-s, -c) % (2.0 * np.pi)) * 365.25 / (2.0 * np.pi),
    )  # fmt: skip
    return replace(shelter, ground=wave)
