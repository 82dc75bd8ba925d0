"""Who works the lid, and when: by hand at the visits, for greens and in the warm half of the year for fruit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place
from underglass.shelter.presets import preset
from underglass.shelter.simulate import simulate
from underglass.shelter.working import gap_hours, visit_hours
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid
from underglass.weather.outside import OutsideWeather

F64 = NDArray[np.float64]
HOUSE = preset("hoop")
OFFSET_H = -5


@cache
def outside() -> OutsideWeather:
    place = Place(44.02, -72.66, 350.0, "America/New_York")
    return generate_weather(from_grid(place), place, 2026, 4, seed=3)


def local_days(values: NDArray[np.float32] | F64) -> F64:
    """Hours as (days, 24) of local standard days."""
    first = (int(outside().start.astype("datetime64[h]").astype(int)) + OFFSET_H) % 24
    whole = np.asarray(values, float)[(-first) % 24 :]
    return whole[: 24 * (len(whole) // 24)].reshape(-1, 24)


def months() -> NDArray[np.int64]:
    hours = outside().start.astype("datetime64[h]") + np.arange(outside().n_hours) + np.timedelta64(OFFSET_H, "h")
    return local_days(hours.astype("datetime64[M]").astype(int) % 12 + 1.0)[:, 12].astype(int)


def sunny_days() -> NDArray[np.bool_]:
    weather = outside()
    beam = weather.dni_w_m2 * np.maximum(np.cos(np.radians(weather.sun_zenith_deg)), 0.0)
    return local_days(beam).mean(axis=1) > 150.0


def test_the_gap_changes_at_visits_only() -> None:
    gap = gap_hours(HOUSE, outside())
    moved = np.flatnonzero(np.diff(gap) != 0.0) + 1
    assert moved.size > 100
    assert visit_hours(HOUSE.visits, outside())[moved].all()


def test_a_house_of_fruit_is_aired_later_and_only_in_the_warm_half_of_the_year() -> None:
    greens = replace(HOUSE, lid=replace(HOUSE.lid, warm_season=False))
    fruit_gap, greens_gap = local_days(gap_hours(HOUSE, outside())), local_days(gap_hours(greens, outside()))
    month = months()
    winter = np.isin(month, [11, 12, 1, 2])
    assert np.array_equal(fruit_gap[winter], greens_gap[winter])
    july = np.isin(month, [6, 7, 8])
    assert (fruit_gap[july] <= greens_gap[july]).all()
    assert fruit_gap[july].mean() < 0.8 * greens_gap[july].mean()


def test_the_sun_brings_the_house_where_its_crops_like_it() -> None:
    """Common practice: start to air cool-season crops at 60-70 degF inside, warm-season ones at 75-85 degF; nobody is there by day, so the
    middle day may miss by 3 K, and no sunny day of ordinary warmth outside cooks."""
    peaks = local_days(simulate(HOUSE, outside()).air_max_k - 273.15).max(axis=1)
    warmest = local_days(outside().air_temp_k - 273.15).max(axis=1)
    summer = np.isin(months(), [6, 7, 8]) & sunny_days() & (warmest > 17.0) & (warmest < 24.0)
    assert summer.sum() > 20
    assert 21.0 <= np.median(peaks[summer]) <= 32.0
    assert np.quantile(peaks[summer], 0.95) < 35.0
    spring = np.isin(months(), [3, 4]) & sunny_days() & (warmest > 5.0) & (warmest < 15.0)
    assert spring.sum() > 10
    assert 12.0 <= np.median(peaks[spring]) <= 24.0


def test_south_of_the_equator_the_warm_half_is_the_other_one() -> None:
    place = Place(-42.9, 147.3, 50.0, "Australia/Hobart")
    weather = generate_weather(from_grid(place), place, 2026, 2, seed=3)
    greens = replace(HOUSE, lid=replace(HOUSE.lid, warm_season=False))
    differs = gap_hours(HOUSE, weather) != gap_hours(greens, weather)
    month = (weather.start.astype("datetime64[h]") + np.arange(weather.n_hours)).astype("datetime64[M]").astype(
        int
    ) % 12
    assert differs[np.isin(month, [11, 0, 1])].any()
    assert not differs[np.isin(month, [5, 6, 7])].any()
