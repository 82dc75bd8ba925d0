"""One made-up weather, served in every format and read back: the hours must come out (nearly) the same.

Tolerances: what a format loses.  Straight lines between hourly moments cost up to 0.06 K against true means; NWS and MET round to
0.1 °C and whole percent of cloud; between MET's six-hourly values a straight line misses the day's hump.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sources import formats
from tests.sources.standins import StandIn
from tests.sources.test_services import client_of
from tests.sources.truth import PLACE, Truth
from underglass.place.place import Place
from underglass.sources.files import read_weather_file
from underglass.sources.met_norway import met_norway_forecast
from underglass.sources.nasa_power import nasa_power_hourly
from underglass.sources.nws import nws_forecast
from underglass.sources.open_meteo import open_meteo_forecast
from underglass.sources.own_csv import hourly_csv_text
from underglass.sources.pvgis import pvgis_typical_year
from underglass.sources.web import WebClient
from underglass.weather.outside import OutsideWeather

F64 = NDArray[np.float64]

HOURS = 168
START = np.datetime64("2001-06-01T00", "h")
Read = Callable[[WebClient, str, Path], OutsideWeather]


def of_file(text: str, folder: Path, name: str) -> OutsideWeather:
    (folder / name).write_text(text, encoding="utf-8")
    return read_weather_file(folder / name)


@pytest.fixture(scope="module")
def week() -> tuple[Truth, OutsideWeather]:
    truth = Truth(START, HOURS)
    return truth, truth.outside()


@pytest.fixture(scope="module")
def year() -> tuple[Truth, OutsideWeather]:
    truth = Truth(np.datetime64("2001-01-01T05", "h"), 8760)  # local midnight on UTC-5
    return truth, truth.outside()


SERVICES: dict[str, tuple[Read, float, float, float, float]] = {
    # name: reader; tolerances of air [K], dew point [K], wind [m/s], beam and diffuse [W/m2]
    "open-meteo": (lambda c, url, _: open_meteo_forecast(c, PLACE, base_url=url), 0.07, 0.07, 0.03, 0.1),
    "nasa-power": (lambda c, url, _: nasa_power_hourly(c, PLACE, date(2001, 6, 1), date(2001, 6, 7), base_url=url), 0.01, 0.01, 0.01, 0.1),
    "nws": (lambda c, url, _: nws_forecast(c, PLACE, base_url=url), 0.15, 0.06, 0.02, 15.0),
    "met-norway": (lambda c, url, _: met_norway_forecast(c, PLACE, base_url=url), 1.9, 1.0, 0.25, 70.0),
}  # fmt: skip


@pytest.mark.parametrize("name", SERVICES)
def test_service_gives_the_same_week(name: str, week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    read, air_k, dew_k, wind, sun = SERVICES[name]
    truth, seen = week
    with formats.serve_all(truth, seen) as service:
        got = read(client_of(tmp_path), service.url, tmp_path)
    compare(got, seen, air_k, dew_k, wind, sun, skip=1)
    assert got.precipitation_mm.sum() == pytest.approx(seen.precipitation_mm.sum(), abs=0.1)


def compare(
    got: OutsideWeather, seen: OutsideWeather, air_k: float, dew_k: float, wind: float, sun: float, skip: int = 1
) -> None:
    """Hour by hour over the hours both have, without the first (whose beginning a format of moments does not know)."""
    first = max(got.start, seen.start) + skip
    last = min(got.times[-1], seen.times[-1])
    n = int((last - first).astype(int)) + 1
    assert n >= seen.n_hours - skip - 1
    a, b = int((first - got.start).astype(int)), int((first - seen.start).astype(int))

    def worst(name: str) -> float:
        return float(np.abs(getattr(got, name)[a : a + n] - getattr(seen, name)[b : b + n]).max())

    assert worst("air_temp_k") <= air_k
    assert worst("dew_point_k") <= dew_k
    assert worst("wind_m_s") <= wind
    assert worst("dhi_w_m2") <= sun
    assert worst("dni_w_m2") <= 2.0 * sun
    assert worst("sun_zenith_deg") <= 0.01
    mean_sun = [float((o.dhi_w_m2 + o.dni_w_m2).mean()) for o in (got, seen)]
    assert mean_sun[0] == pytest.approx(mean_sun[1], rel=0.02)


@pytest.mark.parametrize("kind", ["beginning", "ending", "local clock", "half-hour clock"])
def test_own_table_gives_the_same_week(kind: str, week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    truth, seen = week
    if kind == "half-hour clock":
        text = formats.hourly_csv(truth, seen).replace("+00:00", "+00:00")
        got = of_file(text.replace(":00+00:00", ":30+00:30"), tmp_path, "a.csv")  # the same moments on another clock
    else:
        offset = -4 if kind == "local clock" else 0
        got = of_file(formats.hourly_csv(truth, seen, ending=kind == "ending", offset_h=offset), tmp_path, "a.csv")
    assert got.start == START
    assert got.n_hours == HOURS
    compare(got, seen, 0.006, 0.006, 0.006, 0.06, skip=0)
    assert np.allclose(got.precipitation_mm, seen.precipitation_mm)
    assert got.place.time_zone == "America/New_York"


def test_own_table_written_and_read_back_is_the_same(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    text = hourly_csv_text(week[1])
    got = of_file(text, tmp_path, "out.csv")
    compare(got, week[1], 0.0006, 0.0006, 0.0006, 0.006, skip=0)
    assert np.allclose(got.longwave_down_w_m2, week[1].longwave_down_w_m2, atol=0.006)
    assert got.provenance.longwave == week[1].provenance.longwave
    assert hourly_csv_text(got) == text


def test_epw_gives_the_same_year(year: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    truth, seen = year
    got = of_file(formats.epw_text(truth, seen), tmp_path, "hillside.epw")
    assert got.provenance.layer == "typical year"
    assert got.provenance.longwave.startswith("the file's own")
    assert got.start == truth.start
    assert got.n_hours == 8760
    compare(got, seen, 0.07, 0.07, 0.02, 0.06)
    assert got.precipitation_mm.sum() == pytest.approx(seen.precipitation_mm.sum())
    assert np.abs(got.longwave_down_w_m2 - seen.longwave_down_w_m2).max() < 0.06


@pytest.mark.parametrize("offset_h", [0.0, 0.1761, 0.5, -0.2])
def test_pvgis_gives_the_same_year(offset_h: float, tmp_path: Path) -> None:
    """Sun at a moment, put back to hourly means: 1.5 % on the year, 25 W/m2 typical error (an hour's cloud is not known)."""
    truth = Truth(np.datetime64("2001-01-01T00", "h"), 8760)
    seen = truth.outside()
    served = formats.pvgis(truth, truth.sun_at(offset_h), seen, offset_h)
    with StandIn({"/tmy": lambda asked: served}) as service:
        got = pvgis_typical_year(client_of(tmp_path), PLACE, base_url=service.url)
    assert np.abs(got.air_temp_k - seen.air_temp_k)[1:-1].max() < 0.07  # the year closes on itself
    assert np.abs(got.dew_point_k - seen.dew_point_k)[1:-1].max() < 0.08
    assert np.abs(got.longwave_down_w_m2 - seen.longwave_down_w_m2)[2:-1].max() < 6.0
    for name in ("dni_w_m2", "dhi_w_m2"):
        a, b = getattr(got, name), getattr(seen, name)
        assert a.sum() == pytest.approx(b.sum(), rel=0.015)
        assert np.sqrt(((a - b) ** 2).mean()) < 25.0


# --- the end of the hour: a clear day's sun must stand centred on solar noon ----------------------------------------


def centre_of_sun_h(got: OutsideWeather) -> float:
    """Hours (UTC) around which the beam of a clear day is centred."""
    per_day = got.dni_w_m2 * np.clip(np.cos(np.radians(got.sun_zenith_deg)), 0, 1)
    local = (
        np.arange(got.n_hours) + int((got.start - got.start.astype("datetime64[D]")).astype(int)) + 0.5 - 17.0
    ) % 24
    local = np.where(local > 12, local - 24, local)
    return float((per_day * local).sum() / per_day.sum())


SOLAR_NOON_H = 72.6 / 15.0 - 5.0
"""Solar noon of the place, hours after 17:00 UTC (the equation of time is below 2.5 minutes in early June)."""


@pytest.mark.parametrize("name", [*SERVICES, "time", "time_end"])
def test_clear_days_are_centred_on_solar_noon(name: str, tmp_path: Path) -> None:
    truth = Truth(START, HOURS, cloudy=False)
    seen = truth.outside()
    if name in SERVICES:
        with formats.serve_all(truth, seen) as service:
            got = SERVICES[name][0](client_of(tmp_path), service.url, tmp_path)
    else:
        got = of_file(formats.hourly_csv(truth, seen, ending=name == "time_end"), tmp_path, "a.csv")
    assert centre_of_sun_h(got) == pytest.approx(SOLAR_NOON_H, abs=0.06)
    assert (got.dni_w_m2 + got.dhi_w_m2)[got.sun_zenith_deg > 98.0].max() == 0.0


def test_epw_and_pvgis_clear_days_are_centred_on_solar_noon(tmp_path: Path) -> None:
    truth = Truth(np.datetime64("2001-01-01T05", "h"), 8760, cloudy=False)
    got = of_file(formats.epw_text(truth, truth.outside()), tmp_path, "a.epw")
    june = slice(24 * 151, 24 * 158)
    assert centre_of_sun_h(window(got, june)) == pytest.approx(SOLAR_NOON_H, abs=0.06)
    utc = Truth(np.datetime64("2001-01-01T00", "h"), 8760, cloudy=False)
    served = formats.pvgis(utc, utc.sun_at(0.1761), utc.outside(), 0.1761)
    with StandIn({"/tmy": lambda asked: served}) as service:
        got = pvgis_typical_year(client_of(tmp_path), PLACE, base_url=service.url)
    assert centre_of_sun_h(window(got, june)) == pytest.approx(SOLAR_NOON_H, abs=0.06)


def window(outside: OutsideWeather, hours: slice) -> OutsideWeather:
    from dataclasses import replace

    from underglass.weather.outside import HOURLY_FIELDS

    return replace(
        outside, start=outside.start + hours.start, **{name: getattr(outside, name)[hours] for name in HOURLY_FIELDS}
    )


def test_hours_labelled_at_the_wrong_end_are_noticed(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    """Beam, diffuse and global sun of the wrong hour no longer add up, or shine in the dark."""
    from underglass.errors import InputError

    text = formats.hourly_csv(*week, ending=True).replace("time_end", "time")
    with pytest.raises(InputError, match=r"but adds up an hour off"):
        of_file(text, tmp_path, "late.csv")
    clock = formats.hourly_csv(*week, offset_h=-4).replace("-04:00", "+00:00")
    with pytest.raises(InputError, match=r"below the horizon|differs from"):
        of_file(clock, tmp_path, "clock.csv")


def test_place_far_away_is_named(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    text = formats.hourly_csv(*week).replace(
        "# latitude: 44.3\n# longitude: -72.6", "# latitude: -72.6\n# longitude: 44.3"
    )
    from underglass.errors import InputError

    with pytest.raises(InputError, match=r"below the horizon|latitude and longitude|differs from"):
        of_file(text, tmp_path, "swapped.csv")
    assert isinstance(PLACE, Place)
