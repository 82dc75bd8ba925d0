"""Generated years against published and computed frost dates, layer by layer.

US: NOAA NCEI freeze dates 32 degF, 1981-2010, 50 % dates.  Others: computed from daily records (Wageningen 1976-99, Brussels 1976-2005, Trento
1961-2007).  The records are older than the climate map (2000-2025), so part of the error is the warming between.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.place.frost import FrostDates
from underglass.place.place import Place
from underglass.services.weather import frost_of
from underglass.weather.days import local_days
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid, with_last_frost, with_typed

STATIONS = {
    "Fort Collins": (40.59, -105.08, 1525.0, "05-01", "10-06"),
    "Minneapolis": (44.88, -93.23, 266.0, "04-25", "10-10"),
    "Burlington": (44.47, -73.15, 101.0, "05-04", "10-08"),
    "Boston": (42.36, -71.01, 4.0, "04-06", "11-08"),
    "Richmond": (37.50, -77.32, 50.0, "04-04", "11-04"),
    "Chicago": (41.99, -87.90, 201.0, "04-22", "10-19"),
    "Boise": (43.56, -116.22, 858.0, "04-30", "10-15"),
    "Spokane": (47.62, -117.53, 717.0, "04-30", "10-07"),
    "Denver": (39.83, -104.66, 1650.0, "05-06", "10-06"),
    "Lebanon": (43.63, -72.30, 182.0, "05-09", "10-06"),
    "Wageningen": (51.97, 5.65, 7.0, "04-27", "10-23"),
    "Brussels": (50.80, 4.35, 60.0, "04-11", "11-14"),
    "Trento": (46.07, 11.12, 312.0, "03-15", "11-08"),
}


def days_off(found: str | None, expected: str) -> int:
    assert found is not None
    return int((np.datetime64(f"2025-{found}") - np.datetime64(f"2025-{expected}")).astype(int))


def place_of(station: str) -> Place:
    latitude, longitude, elevation, _, _ = STATIONS[station]
    return Place(latitude, longitude, elevation, "UTC", station)


@cache
def frosts(station: str, known: bool) -> FrostDates:
    place, last = place_of(station), STATIONS[station][3]
    normals = from_grid(place)
    if known:
        normals = with_last_frost(normals, place, int(last[:2]), int(last[3:]))
    return frost_of(generate_weather(normals, place, 2026, 30, seed=1))


def test_the_grid_alone() -> None:
    """The reference study's grid layer was 18 and 12 days off; ours must not be worse."""
    last = [abs(days_off(frosts(s, False).last_on(0.5), STATIONS[s][3])) for s in STATIONS]
    first = [abs(days_off(frosts(s, False).first_on(0.5), STATIONS[s][4])) for s in STATIONS]
    assert np.mean(last) <= 9.5
    assert np.mean(first) <= 8.5


def test_a_known_last_frost_is_met() -> None:
    errors = [abs(days_off(frosts(s, True).last_on(0.5), STATIONS[s][3])) for s in STATIONS]
    assert np.mean(errors) <= 5.0
    assert max(errors) <= 10


def test_a_known_last_frost_tells_the_first() -> None:
    errors = [abs(days_off(frosts(s, True).first_on(0.5), STATIONS[s][4])) for s in STATIONS]
    assert np.mean(errors) <= 9.5


def test_a_known_last_frost_leaves_the_lows_of_other_seasons_near_the_published() -> None:
    """NCEI normals 1991-2020 of January's and July's daily low, Lebanon as typed below, the others from memory.

    One shift for all months, which this must tell apart, is 1.8 and 1.3 K off (rms).
    """
    published_c = {
        "Lebanon": (-12.6, 14.3),
        "Boston": (-5.2, 18.8),
        "Minneapolis": (-13.2, 17.9),
        "Richmond": (-2.2, 20.6),
    }
    errors = []
    for station, lows_c in published_c.items():
        last, place = STATIONS[station][3], place_of(station)
        found = with_last_frost(from_grid(place), place, int(last[:2]), int(last[3:])).tmin_k - 273.15
        errors.append(found[[0, 6]] - lows_c)
    january, july = np.sqrt(np.mean(np.square(errors), axis=0))
    assert january <= 1.5
    assert july <= 1.0


def test_spread_between_the_middle_and_the_one_in_ten_date() -> None:
    """Median gap of 5,200 US stations: 15 days in spring, 14 in autumn (the generated years also carry the place's own uncertainty)."""
    spring = [days_off(frosts(s, True).last_on(0.9), str(frosts(s, True).last_on(0.5))) for s in STATIONS]
    autumn = [-days_off(frosts(s, True).first_on(0.1), str(frosts(s, True).first_on(0.5))) for s in STATIONS]
    assert 8 <= np.median(spring) <= 20
    assert 8 <= np.median(autumn) <= 20


def test_typed_normals_of_lebanon_nh() -> None:
    """NCEI 1991-2020 normals in, freeze dates out: last 05-09, first 10-06."""
    lows = (np.array([9.3, 11.0, 20.7, 31.9, 43.7, 52.4, 57.8, 56.2, 48.6, 37.4, 27.7, 18.1]) - 32.0) / 1.8 + 273.15
    highs = (np.array([30.3, 33.9, 43.0, 56.6, 69.7, 77.9, 82.7, 81.1, 72.9, 59.8, 46.8, 35.5]) - 32.0) / 1.8 + 273.15
    place = place_of("Lebanon")
    frost = frost_of(generate_weather(with_typed(from_grid(place), place, lows, highs), place, 2026, 30, seed=1))
    assert abs(days_off(frost.last_on(0.5), "05-09")) <= 8
    assert abs(days_off(frost.first_on(0.5), "10-06")) <= 8


def test_air_frost_days_at_oxford() -> None:
    """Met Office 1991-2020: 8.4, 7.6, 3.8 days in January to March, none from June to September; normals typed in."""
    lows = np.array([2.4, 2.3, 3.6, 5.3, 8.2, 11.2, 13.1, 13.0, 10.7, 8.0, 4.9, 2.6]) + 273.15
    highs = np.array([8.0, 8.6, 11.3, 14.4, 17.6, 20.7, 23.0, 22.5, 19.4, 15.1, 10.9, 8.2]) + 273.15
    place = Place(51.76, -1.26, 63.0, "Europe/London")
    weather = generate_weather(with_typed(from_grid(place), place, lows, highs), place, 2026, 30, seed=1)
    days = local_days(place, weather.start, weather.n_hours)
    month = days.dates.astype("datetime64[M]").astype(int) % 12
    frost = days.by_day(weather.air_temp_k).min(axis=1) < 273.15
    counts = [frost[month == m].sum() / 30.0 for m in range(12)]
    assert counts[:3] == pytest.approx([8.4, 7.6, 3.8], abs=2.5)
    assert sum(counts[5:9]) < 0.3


def test_day_to_day_persistence_and_cold_tail() -> None:
    """Lag-1 of the daily lowest 0.60-0.76, skew -0.2 to -0.85 (seven measured places)."""
    weather = generate_weather(from_grid(place_of("Fort Collins")), place_of("Fort Collins"), 2026, 30, seed=3)
    days = local_days(weather.place, weather.start, weather.n_hours)
    low = days.by_day(weather.air_temp_k).min(axis=1)
    january = days.dates.astype("datetime64[M]").astype(int) % 12 == 0
    scaled = (low[january] - low[january].mean()) / low[january].std()
    assert -1.0 <= (scaled**3).mean() <= -0.1
    pairs = january[1:] & january[:-1]
    assert 0.5 <= np.corrcoef(low[1:][pairs], low[:-1][pairs])[0, 1] <= 0.8


@pytest.mark.parametrize(
    ("place", "megajoules", "tolerance"),
    [
        (Place(51.97, 5.65, 7.0), (2.3, 4.5, 7.9, 13.1, 17.1, 16.8, 16.9, 14.7, 9.8, 5.8, 2.9, 1.7), 0.20),
        (Place(47.45, 8.55, 436.0), (3.4, 6.5, 11.0, 15.5, 18.1, 19.9, 19.4, 17.0, 12.6, 7.1, 4.0, 2.8), 0.20),
        (Place(40.78, -73.97, 40.0), (6.7, 10.0, 14.4, 17.7, 19.5, 23.0, 22.4, 19.5, 15.8, 11.5, 7.7, 5.8), 0.15),
        (Place(37.42, -5.90, 31.0), (8.7, 12.1, 17.3, 19.5, 25.0, 25.8, 27.1, 24.5, 19.3, 13.5, 9.1, 7.8), 0.15),
    ],
)
def test_monthly_sun(place: Place, megajoules: tuple[float, ...], tolerance: float) -> None:
    """Wageningen 1976-99 measured; Zurich, New York, Seville hourly typical years.  Mean error over the months, grid layer."""
    weather = generate_weather(from_grid(place), place, 2026, 10, seed=1)
    ghi = weather.dni_w_m2 * np.maximum(np.cos(np.radians(weather.sun_zenith_deg)), 0.0) + weather.dhi_w_m2
    month = weather.times.astype("datetime64[M]").astype(int) % 12
    found = np.array([ghi[month == m].mean() * 0.0864 for m in range(12)])
    assert np.mean(np.abs(found / np.array(megajoules) - 1.0)) <= tolerance


def test_a_silly_last_frost_is_refused() -> None:
    with pytest.raises(InputError, match="check the date"):
        with_last_frost(from_grid(place_of("Minneapolis")), place_of("Minneapolis"), 7, 20)
