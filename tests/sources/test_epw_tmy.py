"""EPW, TMY3 and TMY2 against pvlib's readers, and damaged."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from tests.sources import formats
from tests.sources.truth import PLACE, Truth
from underglass.errors import InputError
from underglass.sources.files import read_weather_file
from underglass.sources.hours import mean_over_hours


def pvlib_data(name: str) -> Path:
    import pvlib

    return Path(os.path.dirname(pvlib.__file__)) / "data" / name


def denver() -> Path:
    openbes = pytest.importorskip("openbes")
    return Path(os.path.dirname(openbes.__file__)) / "simulations" / "epw_data" / "USA_Denver_725650TYCST.epw"


@pytest.mark.parametrize("name", ["723170TYA.CSV", "703165TY.csv"])
def test_tmy3_as_pvlib_reads_it(name: str) -> None:
    from pvlib.iotools import read_tmy3

    path = pvlib_data(name)
    frame, meta = read_tmy3(path, coerce_year=2001, map_variables=True)
    got = read_weather_file(path)
    assert got.n_hours == len(frame) == 8760
    assert got.provenance.layer == "typical year"
    stamped = frame.index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[h]")
    assert (got.times + 1)[0] == stamped[0]  # a file's 01:00 is our hour from midnight
    assert (got.times + 1)[-1] == stamped[-1]
    assert np.allclose(got.dni_w_m2, frame["dni"].to_numpy())
    assert np.allclose(got.dhi_w_m2, frame["dhi"].to_numpy())
    assert np.allclose(got.air_temp_k, mean_over_hours(frame["temp_air"].to_numpy()) + 273.15)
    assert np.allclose(got.wind_m_s, mean_over_hours(frame["wind_speed"].to_numpy().astype(float)))
    assert got.place.elevation_m == meta["altitude"]
    assert got.place.longitude_deg == meta["longitude"]


def test_tmy2_as_pvlib_reads_it() -> None:
    from pvlib.iotools import read_tmy2

    frame, meta = read_tmy2(pvlib_data("12839.tm2"))
    got = read_weather_file(pvlib_data("12839.tm2"))
    assert got.n_hours == len(frame) == 8760
    assert np.allclose(got.dni_w_m2, frame["DNI"].to_numpy())
    assert np.allclose(got.dhi_w_m2, frame["DHI"].to_numpy())
    assert np.allclose(got.air_temp_k, mean_over_hours(frame["DryBulb"].to_numpy() / 10.0) + 273.15)
    assert np.allclose(got.pressure_pa, mean_over_hours(frame["Pressure"].to_numpy() * 100.0))
    assert np.allclose(got.wind_m_s, mean_over_hours(frame["Wspd"].to_numpy() / 10.0))
    assert got.place.latitude_deg == pytest.approx(25.8)
    assert got.place.longitude_deg == pytest.approx(-80.2667, abs=1e-4)
    assert got.place.elevation_m == meta["altitude"] == 2.0
    assert got.start == np.datetime64("2001-01-01T05", "h")


def test_epw_as_pvlib_reads_it() -> None:
    from pvlib.iotools import read_epw

    path = denver()
    frame, _ = read_epw(path, coerce_year=2001)
    got = read_weather_file(path)
    stamped = frame.index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[h]")
    assert np.array_equal(got.times, stamped)  # pvlib labels EPW hours by their start
    assert np.allclose(got.dni_w_m2, frame["dni"].to_numpy())
    assert np.allclose(got.longwave_down_w_m2, frame["ghi_infrared"].to_numpy())
    assert np.allclose(got.air_temp_k, mean_over_hours(frame["temp_air"].to_numpy()) + 273.15)
    assert np.allclose(got.pressure_pa, mean_over_hours(frame["atmospheric_pressure"].to_numpy().astype(float)))
    assert got.place.elevation_m == 1650.0
    assert got.place.time_zone == "Etc/GMT+7"  # seven hours *behind* UTC


@pytest.mark.parametrize("name", ["723170TYA.CSV", "703165TY.csv", "12839.tm2"])
def test_real_files_have_their_sun_around_noon(name: str) -> None:
    """Mean solar time of the beam over the year within 6 minutes of noon: hours are labelled at the right end."""
    got = read_weather_file(pvlib_data(name))
    beam = got.dni_w_m2 * np.clip(np.cos(np.radians(got.sun_zenith_deg)), 0, 1)
    hour = (got.times - got.times.astype("datetime64[D]")).astype(int) + 0.5
    solar = (hour + got.place.longitude_deg / 15.0) % 24
    clear = np.abs(solar - 12.0) < 8.0
    centre = (beam[clear] * solar[clear]).sum() / beam[clear].sum()
    assert centre == pytest.approx(12.0, abs=0.35)  # fog mornings and cloudy afternoons of the real places


@pytest.fixture(scope="module")
def text() -> str:
    truth = Truth(np.datetime64("2001-01-01T05", "h"), 8760)
    return formats.epw_text(truth, truth.outside())


def changed(text: str, line: int, cell: int, value: str) -> str:
    rows = text.splitlines()
    parts = rows[line - 1].split(",")
    parts[cell] = value
    rows[line - 1] = ",".join(parts)
    return "\n".join(rows)


def dropped(text: str, first: int, count: int = 1) -> str:
    rows = text.splitlines()
    del rows[first - 1 : first - 1 + count]
    return "\n".join(rows)


@pytest.mark.parametrize(
    ("damage", "sentence"),
    [
        (lambda t: dropped(t, 1109), r"line 1109: 8759 rows of data, but a year has 8760 hours .* found month 2, day 15, hour 22, expected month 2, day 15, hour 21"),
        (lambda t: dropped(t, 8768), "8759 rows of data, but a year has 8760 hours .*the file ends early, after line 8767"),
        (lambda t: dropped(t, 9, 8760), "no data rows below the DATA PERIODS line"),
        (lambda t: t + t.splitlines()[-1], r"line 8769: 8761 rows of data.* expected no more rows"),
        (lambda t: changed(t, 1, 6, "north"), "line 1: latitude is 'north': expected a number"),
        (lambda t: changed(changed(t, 1, 6, "-104.6"), 1, 7, "39.8"), r"latitude is -104.6: .* are latitude and longitude swapped\?"),
        (lambda t: changed(t, 1, 8, "-25"), "line 1: time zone is -25 h"),
        (lambda t: changed(t, 1, 8, "5"), "below the horizon|adds up an hour off|differs from"),
        (lambda t: changed(t, 8, 2, "4"), "line 8: 4 records an hour: expected 1"),
        (lambda t: dropped(t, 8), "no DATA PERIODS line"),
        (lambda t: changed(t, 100, 6, "nan"), "line 100: air temperature is 'nan'"),
        (lambda t: changed(t, 100, 6, "x"), "line 100: air temperature is 'x': expected a number"),
        (lambda t: changed(t, 100, 6, "72"), r"line 100: air temperature is 72 °C: .*is this in °F\?"),
        (lambda t: changed(t, 100, 8, "130"), "line 100: relative humidity is 130 %: expected 0 to 100.5 %"),
        (lambda t: changed(t, 100, 21, "-3"), "line 100: wind is -3 m/s"),
        (lambda t: changed(t, 100, 9, "985"), r"line 100: pressure is 985 Pa: .*is this in hPa\?"),
        (lambda t: changed(t, 100, 1, "13"), "line 100: found month 13"),
        (lambda t: changed(t, 100, 3, "25"), "line 100: found month 1, day 4, hour 25, expected month 1, day 4, hour 20"),
        (lambda t: "\n".join(r if k < 8 else ",".join((c := r.split(","))[:6] + c[7:8] + c[6:7] + c[8:])
                             for k, r in enumerate(t.splitlines())), r"dew point is [\d.]+ K above air temperature.*are columns swapped\?"),
        (lambda t: "\n".join(r[: len(r) // 2] if k == 500 else r for k, r in enumerate(t.splitlines())), "line 501: .* cells: expected at least 32"),
    ],
)  # fmt: skip
def test_damaged_epw(damage: object, sentence: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / "a.epw"
    path.write_text(damage(text))  # type: ignore[operator]
    with pytest.raises(InputError, match=sentence) as caught:
        read_weather_file(path)
    assert "a.epw" in str(caught.value)


def test_epw_missing_codes_are_gaps(text: str, tmp_path: Path) -> None:
    for line in (100, 101):
        text = changed(text, line, 6, "99.9")
        text = changed(text, line, 15, "9999")
    text = changed(text, 300, 12, "9999")
    path = tmp_path / "a.epw"
    path.write_text(text)
    got = read_weather_file(path)
    assert got.provenance.filled_hours == 2
    assert got.air_temp_k.max() < 320.0
    assert "1 hours by" in got.provenance.longwave
    for line in (102, 103):
        text = changed(text, line, 6, "99.9")
    path.write_text(text)
    with pytest.raises(InputError, match=r"line 100: air temperature is missing for more than 3 hours"):
        read_weather_file(path)


def test_typical_year_with_a_leap_day_and_a_real_year(text: str, tmp_path: Path) -> None:
    rows = text.splitlines()
    leap = rows[8 + 24 * 58 : 8 + 24 * 59]
    leap = [",".join([*line.split(",")[:2], "29", *line.split(",")[3:]]) for line in leap]
    path = tmp_path / "leap.epw"
    path.write_text("\n".join(rows[: 8 + 24 * 59] + leap + rows[8 + 24 * 59 :]))
    got = read_weather_file(path)
    assert got.n_hours == 8784
    assert got.start == np.datetime64("2004-01-01T05", "h")
    real = "\n".join(r if k < 8 else "2019" + r[4:] for k, r in enumerate(rows))
    path.write_text(real)
    got = read_weather_file(path)
    assert got.start == np.datetime64("2019-01-01T05", "h")
    assert got.provenance.layer == "hourly record"
    path.write_text(
        "\n".join(r if k < 8 else "2020" + r[4:] for k, r in enumerate(rows))
    )  # a leap year without its day
    assert read_weather_file(path).start == np.datetime64("2001-01-01T05", "h")


def test_half_hour_zone_is_split_over_utc_hours(tmp_path: Path) -> None:
    """Pune keeps UTC+5:30: local midnight is 18:30 UTC, so the first whole UTC hour begins at 19:00."""
    from underglass.place.place import Place
    from underglass.sun.position import sun_at

    pune = Place(18.5, 73.9, 560.0)
    local = np.datetime64("2001-01-01T00", "m") + 60 * np.arange(8760)
    zenith, _ = sun_at(pune, local - 330 + 30)
    cos = np.clip(np.cos(np.radians(zenith)), 0.0, 1.0)
    head = ["LOCATION,Pune,-,IND,TEST,430630,18.5,73.9,5.5,560", *["X"] * 6, "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"]
    rows = []
    for moment, c in zip(local.astype(object), cos, strict=True):
        dni, dhi = 700.0 * c, 90.0 * c
        cells = ["0"] * 35
        cells[:5] = ["2001", str(moment.month), str(moment.day), str(moment.hour + 1), "0"]
        cells[6:10] = ["25", "18", "65", "95000"]
        cells[12:16] = ["380", f"{dni * c + dhi:.1f}", f"{dni:.1f}", f"{dhi:.1f}"]
        rows.append(",".join(cells))
    path = tmp_path / "pune.epw"
    path.write_text("\n".join(head + rows))
    got = read_weather_file(path)
    assert got.start == np.datetime64("2000-12-31T19", "h")
    assert got.place.time_zone == "Asia/Kolkata"
    assert got.n_hours == 8759
    hour = (got.times - got.times.astype("datetime64[D]")).astype(int) + 0.5
    solar = (hour + 73.9 / 15.0) % 24
    assert (got.dni_w_m2 * solar).sum() / got.dni_w_m2.sum() == pytest.approx(12.0, abs=0.03)
    assert got.dni_w_m2.mean() == pytest.approx(700.0 * cos.mean(), rel=0.001)


def test_place_gives_surroundings_not_the_station(text: str, tmp_path: Path) -> None:
    from dataclasses import replace

    path = tmp_path / "a.epw"
    path.write_text(text)
    garden = replace(PLACE, latitude_deg=44.6, elevation_m=300.0, terrain="sheltered", name="Garden")
    got = read_weather_file(path, place=garden)
    assert got.place.terrain == "sheltered"
    assert got.place.latitude_deg == 44.3
    assert any("33 km from the place" in note for note in got.provenance.notes)
    with pytest.raises(InputError, match=r"leave temperature_unit out"):
        read_weather_file(path, temperature_unit="F")


def damaged_tmy3(tmp_path: Path, old: str, new: str) -> Path:
    path = tmp_path / "b.csv"
    path.write_text(pvlib_data("723170TYA.CSV").read_text().replace(old, new, 1))
    return path


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "01/01/1988,04:00",
            "01/01/1988,05:00",
            "line 6: found month 1, day 1, hour 5, expected month 1, day 1, hour 4",
        ),
        ("01/01/1988,04:00", "1988-01-01,04:00", "line 6: date and time are '1988-01-01 04:00': expected MM/DD/YYYY"),
        ("-5.0,36.100,-79.950", "-5.0,136.100,-79.950", "latitude is 136.1: expected -90 to 90"),
        ("-5.0,36.100", "-55.0,36.100", "time zone is -55 h"),
        ("Dry-bulb (C)", "Wet-bulb (C)", "nowhere a value for air temperature"),
        ("01/01/1988,04:00,", "01/01/1988,04:00,0,", "line 6: 72 cells, but the header names 71 columns"),
    ],
)
def test_damaged_tmy3(old: str, new: str, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=sentence):
        read_weather_file(damaged_tmy3(tmp_path, old, new))


def test_damaged_tmy2(tmp_path: Path) -> None:
    whole = pvlib_data("12839.tm2").read_text().splitlines()
    path = tmp_path / "m.tm2"
    for rows, sentence in (
        (whole[:100] + whole[101:], "line 101: 8759 rows of data"),
        (whole[:1], "no data rows"),
        ([*whole[:50], whole[50][:90], *whole[51:]], "line 51: 90 letters: expected 142"),
        ([*whole[:50], whole[50][:67] + "WARM" + whole[50][71:], *whole[51:]], "line 51: air temperature is 'WARM'"),
    ):
        path.write_text("\n".join(rows))
        with pytest.raises(InputError, match=sentence):
            read_weather_file(path)
