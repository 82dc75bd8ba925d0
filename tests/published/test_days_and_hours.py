"""From months to days and from days to hours, against measured years (US public data of two development dependencies)."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.published.ashrae140 import denver_epw
from underglass.place.place import Place
from underglass.sources.files import read_weather_file
from underglass.weather import disaggregate
from underglass.weather.days import local_days
from underglass.weather.disaggregate import temperature_hours
from underglass.weather.generator import generate_weather
from underglass.weather.normals import daily_curve, from_grid
from underglass.weather.outside import HOURLY_FIELDS


def month_of_day() -> np.ndarray:
    return np.arange("2027-01-01", "2028-01-01", dtype="datetime64[D]").astype("datetime64[M]").astype(int) % 12


@given(st.lists(st.floats(-30.0, 40.0), min_size=12, max_size=12))
def test_each_month_keeps_its_mean(monthly: list[float]) -> None:
    """Epstein 1991, J. Climate 4:365: daily climates from monthly means must give the means back."""
    curve = daily_curve(np.array(monthly) + 273.15, np.arange(365.0))
    found = np.array([curve[month_of_day() == m].mean() for m in range(12)]) - 273.15
    assert found == pytest.approx(monthly, abs=1e-6)


def test_what_is_never_negative_stays_so() -> None:
    dry = daily_curve(np.array([90.0, 0.0, 0.0, 0.0, 0.0, 5.0, 80.0, 0.0, 0.0, 0.0, 60.0, 70.0]), np.arange(365.0))
    assert dry.min() >= 0.0


def test_generated_years_keep_summer_and_winter() -> None:
    """The mean of many years is the normal of the month: no cooler July, no milder January."""
    place = Place(44.26, -72.575, 278.0, "America/New_York")
    normals = from_grid(place)
    found = []
    for seed in (1, 2, 3, 4):
        weather = generate_weather(normals, place, 2026, 32, seed=seed)
        days = local_days(place, weather.start, weather.n_hours)
        month = days.dates.astype("datetime64[M]").astype(int) % 12
        lows = days.by_day(weather.air_temp_k).min(axis=1)
        found.append([lows[month == m].mean() for m in (0, 6)])
    # 128 years with an unknown offset of 1.5 K each: 0.13 K standard error, and the spread of the days on top
    assert np.mean(found, axis=0) == pytest.approx(normals.tmin_k[[0, 6]], abs=0.45)


@pytest.mark.parametrize(
    ("file", "rms_k"),
    [("723170TYA.CSV", 1.85), ("12839.tm2", 1.35), ("703165TY.csv", 1.15), ("denver", 2.5)],
)
def test_hours_through_the_days_low_and_high(file: str, rms_k: float) -> None:
    """Parton & Logan 1981: a sine by day, an exponential by night; the mean of the measured hours is met within a fifth of a degree."""
    path = denver_epw() if file == "denver" else Path(str(files("pvlib") / "data" / file))
    weather = read_weather_file(path)
    days = local_days(weather.place, weather.start, weather.n_hours)
    measured = days.by_day(weather.air_temp_k)
    ours = temperature_hours(weather.place, days.dates, measured.min(axis=1), measured.max(axis=1)).reshape(
        measured.shape
    )
    assert abs((ours - measured).mean()) <= 0.2
    assert np.sqrt(((ours - measured) ** 2).mean()) <= rms_k


def test_hours_made_in_pieces_are_the_same_hours(monkeypatch: pytest.MonkeyPatch) -> None:
    place = Place(44.26, -72.58, 160.0, "America/New_York")
    whole = generate_weather(from_grid(place), place, 2026, 2)
    monkeypatch.setattr(disaggregate, "PIECE_D", 100)
    pieces = generate_weather(from_grid(place), place, 2026, 2)
    for name in HOURLY_FIELDS:
        assert getattr(pieces, name).tobytes() == getattr(whole, name).tobytes(), name
