"""Which weather a household's question is answered with: the best layer of knowledge there is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from underglass.errors import InputError
from underglass.place.frost import FrostDates, frost_dates
from underglass.place.place import Place
from underglass.plan.household import Household
from underglass.weather.days import local_days
from underglass.weather.generator import generate_weather
from underglass.weather.normals import ClimateNormals, from_grid, with_daily_record, with_last_frost, with_typed
from underglass.weather.outside import OutsideWeather

__all__ = ["ReadWeather", "check_years", "climate_of", "file_stamp", "frost_of", "hours_for", "years_for"]

ReadWeather = Callable[[str, Place], OutsideWeather]
"""Reads a weather file for a place; handed in by the face, so that tests can hand in another."""

YEARS_BEYOND = 2
"""Years after the last sowing year, for crops that stand over winter."""

LEAST_YEARS, MOST_YEARS = 3, 200
"""Years behind a chance: under three none can be told, and two hundred take a minute."""

LEAST_OWN_YEARS = 6
"""Years from which a record of the place's own serves as the sample itself; shorter ones only set the monthly normals."""


@lru_cache(maxsize=8)
def climate_of(household: Household) -> ClimateNormals:
    """The monthly climate of the place from the layers that the family has."""
    place, known = household.place, household.climate
    normals = from_grid(place)
    if known.tmin_c and known.tmax_c:
        sun = np.array(known.sun_h) if known.sun_h else None
        normals = with_typed(normals, place, np.array(known.tmin_c) + 273.15, np.array(known.tmax_c) + 273.15, sun)
    if known.last_frost:
        normals = with_last_frost(normals, place, *known.last_frost)
    return normals


def _statistics_of(outside: OutsideWeather, normals: ClimateNormals) -> ClimateNormals:
    """What a few years of hours tell of the climate: from three years its own statistics, from one its monthly normals.

    Raises InputError for less than a year.
    """
    days = local_days(outside.place, outside.start, outside.n_hours)
    if days.n_days < 360:
        raise InputError(f"the weather covers {days.n_days} days: give at least a whole year for a guide over the year")
    by_day = days.by_day(outside.air_temp_k)
    low, high = by_day.min(axis=1), by_day.max(axis=1)
    known = outside.provenance
    if days.n_days >= 3 * 365:
        rain = days.by_day(outside.precipitation_mm).sum(axis=1)
        return with_daily_record(
            normals, days.dates, low, high, rain if rain.any() else None, known.source, known.licence
        )
    month = days.dates.astype("datetime64[M]").astype(int) % 12
    means = [np.array([values[month == m].mean() for m in range(12)]) for values in (low, high)]
    typed = with_typed(normals, outside.place, means[0], means[1])
    return replace(typed, layer="typical year", source=f"monthly normals of {known.source}", licence=known.licence)


def file_stamp(household: Household) -> str:
    """Size and time of the weather file, so that a changed file is read again."""
    if not household.weather_file:
        return ""
    path = Path(household.weather_file)
    return f"{path.stat().st_size}-{path.stat().st_mtime_ns}" if path.exists() else "missing"


def check_years(n_years: int) -> None:
    """Raises InputError where chances over so many years would say nothing, or take too long."""
    if not LEAST_YEARS <= n_years <= MOST_YEARS:
        raise InputError(f"--years is {n_years}: expected {LEAST_YEARS} to {MOST_YEARS}")


def years_for(
    household: Household, first_year: int, n_years: int, seed: int, read: ReadWeather | None = None
) -> tuple[OutsideWeather, int]:
    """Many years of hours, and for how many of them sowings can be followed to the end.

    A file with six or more years is the sample itself; a shorter one sets the monthly normals of generated years.
    """
    check_years(n_years)
    if household.weather_file:
        if read is None:
            raise InputError("a weather file was named, but nothing was given to read it with")
        outside = read(household.weather_file, household.place)
        own_years = int(outside.n_hours // 8766)
        if own_years >= LEAST_OWN_YEARS:
            return outside, min(n_years, own_years - YEARS_BEYOND)
        normals = _statistics_of(outside, from_grid(outside.place))
        return generate_weather(normals, outside.place, first_year, n_years + YEARS_BEYOND, seed), n_years
    normals = climate_of(household)
    return generate_weather(normals, household.place, first_year, n_years + YEARS_BEYOND, seed), n_years


def hours_for(
    household: Household, first_year: int, n_years: int, seed: int, read: ReadWeather | None = None
) -> OutsideWeather:
    """Hours to look inside a shelter with: the file's own hours as they are, else generated years."""
    if household.weather_file:
        if read is None:
            raise InputError("a weather file was named, but nothing was given to read it with")
        return read(household.weather_file, household.place)
    return generate_weather(climate_of(household), household.place, first_year, n_years, seed)


def frost_of(outside: OutsideWeather, threshold_k: float = 273.15) -> FrostDates:
    """Frost dates of the air outside, year by year."""
    days = local_days(outside.place, outside.start, outside.n_hours)
    return frost_dates(
        days.by_day(outside.air_temp_k).min(axis=1),
        days.dates,
        southern=outside.place.southern,
        threshold_k=threshold_k,
    )
