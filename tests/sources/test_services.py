"""Each weather service against a stand-in that speaks its format: units, ends of hours, nulls, fills, refusals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sources import formats
from tests.sources.standins import Answer, Asked, StandIn
from tests.sources.truth import PLACE, Truth
from underglass.errors import SourceError
from underglass.place.place import Place
from underglass.sources import met_norway, nws, pvgis
from underglass.sources.acis import acis_daily, acis_stations
from underglass.sources.met_norway import met_norway_forecast
from underglass.sources.nasa_power import nasa_power_climate, nasa_power_daily, nasa_power_hourly
from underglass.sources.ncei import ncei_daily, ncei_freeze_dates
from underglass.sources.nws import nws_forecast, span_hours
from underglass.sources.open_meteo import open_meteo_archive, open_meteo_daily, open_meteo_forecast
from underglass.sources.pvgis import pvgis_typical_year
from underglass.sources.web import WebClient
from underglass.weather.outside import OutsideWeather

F64 = NDArray[np.float64]
FIRST, LAST = date(2001, 6, 1), date(2001, 6, 7)
START = np.datetime64("2001-06-01T00", "h")


def client_of(folder: Path, **options: Any) -> WebClient:
    settings: dict[str, Any] = {"timeout_s": 5.0, "attempts": 2, "sleep": lambda seconds: None}
    return WebClient(folder, **{**settings, **options})


@dataclass
class World:
    truth: Truth
    seen: OutsideWeather
    service: StandIn
    client: WebClient


@pytest.fixture(scope="module")
def week() -> tuple[Truth, OutsideWeather]:
    truth = Truth(START, 168)
    return truth, truth.outside()


@pytest.fixture
def world(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> Iterator[World]:
    with formats.serve_all(*week) as service:
        yield World(*week, service, client_of(tmp_path))


# --- Open-Meteo ---------------------------------------------------------------------------------------------------


def test_open_meteo_forecast(world: World) -> None:
    got = open_meteo_forecast(world.client, PLACE, base_url=world.service.url)
    asked = world.service.asked[0].query
    assert asked["wind_speed_unit"] == "ms"
    assert asked["timezone"] == "GMT"
    assert (asked["past_days"], asked["forecast_days"]) == ("2", "10")
    assert got.start == START
    assert got.n_hours == 168
    assert got.snow_depth_m.max() == 0.0  # snowfall in cm is not depth in m
    assert np.allclose(got.dni_w_m2, world.seen.dni_w_m2, atol=0.01)
    assert np.allclose(got.precipitation_mm, world.seen.precipitation_mm)
    assert "open-meteo.com" in got.provenance.licence
    assert got.provenance.layer == "forecast"
    assert got.provenance.fetched is not None


def test_open_meteo_reads_the_unit_that_comes_back(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    with StandIn({"/v1/forecast": lambda asked: formats.open_meteo(*week, kmh=True)}) as service:
        got = open_meteo_forecast(client_of(tmp_path), PLACE, base_url=service.url)
    assert got.wind_m_s.max() < 4.6
    odd = formats.open_meteo(*week)
    odd["hourly_units"]["wind_speed_10m"] = "kn"
    with (
        StandIn({"/v1/forecast": lambda asked: odd}) as service,
        pytest.raises(SourceError, match=r"wind_speed_10m comes in 'kn': expected m/s or km/h"),
    ):
        open_meteo_forecast(client_of(tmp_path / "b"), PLACE, base_url=service.url)


def test_open_meteo_local_times_are_put_back_to_utc(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    local = formats.open_meteo(*week)
    local["utc_offset_seconds"] = -14400
    local["hourly"]["time"] = formats.stamps(START - 4, 169)
    with StandIn({"/v1/forecast": lambda asked: local}) as service:
        assert open_meteo_forecast(client_of(tmp_path), PLACE, base_url=service.url).start == START


def test_open_meteo_archive_in_pieces_with_days_not_there_yet(
    week: tuple[Truth, OutsideWeather], tmp_path: Path
) -> None:
    def route(asked: Asked) -> dict[str, Any]:
        start = np.datetime64(asked.query["start_date"] + "T00", "h")
        end = np.datetime64(asked.query["end_date"] + "T00", "h") + 24
        truth = Truth(start - 1, int((end - start).astype(int)))
        return formats.open_meteo(truth, truth.outside(), nulls=30 if asked.query["end_date"].startswith("2005") else 0)

    def stamped(asked: Asked) -> dict[str, Any]:
        # the archive's rows of a day are 00:00 … 23:00; ours above has one more at the front
        data = route(asked)
        data["hourly"] = {name: values[1:] for name, values in data["hourly"].items()}
        return data

    with StandIn({"/v1/archive": stamped}) as service:
        got = open_meteo_archive(client_of(tmp_path), PLACE, date(2004, 12, 30), date(2005, 1, 4), base_url=service.url)
        assert [asked.query["start_date"] for asked in service.asked] == ["2004-12-30", "2005-01-01"]
        assert service.asked[0].query["models"] == "era5"
    assert got.start == np.datetime64("2004-12-29T23", "h")
    assert got.n_hours == 6 * 24 - 30
    assert got.provenance.layer == "hourly record"
    assert "Copernicus" in got.provenance.licence


def test_open_meteo_refusal_and_nonsense(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    said: list[Any] = [
        Answer({"error": True, "reason": "Latitude must be in range"}, 400),
        {"hourly": {"time": ["2001-06-01T00:00"]}},
        {**formats.open_meteo(*week), "hourly": {**formats.open_meteo(*week)["hourly"], "temperature_2m": [1.0]}},
        {**formats.open_meteo(*week), "hourly": {**formats.open_meteo(*week)["hourly"], "temperature_2m": ["warm"] * 169}},
        {**formats.open_meteo(*week), "hourly": {**formats.open_meteo(*week)["hourly"], "time": ["yesterday"] * 169}},
        [], "no", None,
    ]  # fmt: skip
    expected = [
        "Latitude must be",
        "no 'hourly_units'|utc_offset",
        "1 values, expected 169",
        "'warm'",
        "'yesterday'",
        "has no",
    ]
    for answer, sentence in zip(said, [*expected, "has no", "has no"], strict=True):
        with (
            StandIn({"/v1/forecast": lambda asked, answer=answer: answer}) as service,
            pytest.raises(SourceError, match=sentence),
        ):
            open_meteo_forecast(client_of(tmp_path, attempts=1), PLACE, base_url=service.url)


def test_open_meteo_daily(tmp_path: Path) -> None:
    daily = {
        "time": ["2001-06-01", "2001-06-02", "2001-06-03"], "temperature_2m_min": [4.0, None, 6.0],
        "temperature_2m_max": [14.0, 15.0, 16.0], "precipitation_sum": [0.0, 3.0, 0.0], "shortwave_radiation_sum": [20.0, 9.0, 21.0],
    }  # fmt: skip
    units = {
        "temperature_2m_min": "°C",
        "temperature_2m_max": "°C",
        "precipitation_sum": "mm",
        "shortwave_radiation_sum": "MJ/m²",
    }
    reply = {"daily": daily, "daily_units": units}
    with StandIn({"/v1/archive": lambda asked: reply}) as service:
        got = open_meteo_daily(client_of(tmp_path), PLACE, FIRST, LAST, base_url=service.url)
        assert service.asked[0].query["timezone"] == "America/New_York"
    assert got.missing_days == 1
    assert np.isnan(got.tmin_k[1])
    assert got.unbroken().tmin_k.tolist() == pytest.approx([277.15, 278.15, 279.15])
    assert got.unbroken().filled_days == 1


# --- NASA POWER ---------------------------------------------------------------------------------------------------


def test_nasa_hourly_stamp_is_the_start_and_longwave_is_kept(world: World) -> None:
    got = nasa_power_hourly(world.client, PLACE, FIRST, LAST, base_url=world.service.url)
    asked = world.service.asked[0].query
    assert (asked["start"], asked["end"], asked["time-standard"]) == ("20010601", "20010607", "UTC")
    assert got.start == START
    assert np.allclose(got.dni_w_m2, world.seen.dni_w_m2, atol=0.01)
    assert np.allclose(got.longwave_down_w_m2, world.seen.longwave_down_w_m2, atol=0.01)
    assert got.provenance.longwave.startswith("NASA POWER")


def test_nasa_fill_values_are_gaps_not_cold(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    data = formats.nasa_hourly(*week)
    values = data["properties"]["parameter"]
    keys = list(values["T2M"])
    for key in keys[50:52]:
        values["T2M"][key] = -999.0
    for key in keys[-30:]:
        values["ALLSKY_SFC_SW_DWN"][key] = values["ALLSKY_SFC_SW_DNI"][key] = values["ALLSKY_SFC_SW_DIFF"][key] = -999.0
    with StandIn({"/api/temporal/hourly/point": lambda asked: data}) as service:
        got = nasa_power_hourly(client_of(tmp_path), PLACE, FIRST, LAST, base_url=service.url)
    assert got.air_temp_k.min() > 270.0
    assert got.provenance.filled_hours == 2
    assert got.n_hours == 168 - 30
    for key in keys[60:64]:
        values["T2M"][key] = -999.0
    with (
        StandIn({"/api/temporal/hourly/point": lambda asked: data}) as service,
        pytest.raises(SourceError, match=r"missing for more than 3 hours"),
    ):
        nasa_power_hourly(client_of(tmp_path / "b"), PLACE, FIRST, LAST, base_url=service.url)


def test_nasa_cell_height_is_corrected_and_said(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    data = formats.nasa_hourly(*week, cell_m=1250.0)
    data["properties"]["parameter"]["PS"] = dict.fromkeys(data["properties"]["parameter"]["PS"], 87.1)
    with StandIn({"/api/temporal/hourly/point": lambda asked: data}) as service:
        got = nasa_power_hourly(client_of(tmp_path), PLACE, FIRST, LAST, base_url=service.url)
    assert 5.0 < (got.air_temp_k - week[1].air_temp_k).mean() < 7.5
    assert np.abs(got.pressure_pa - week[1].pressure_pa).max() < 1000.0  # 98.4 kPa at 250 m
    assert any("1250 m" in note for note in got.provenance.notes)


def test_nasa_daily_and_climate(tmp_path: Path) -> None:
    days = [f"200106{d:02d}" for d in range(1, 8)]
    daily = formats.power(
        {"T2M_MIN": dict.fromkeys(days, 5.0) | {"20010604": -999.0}, "T2M_MAX": dict.fromkeys(days, 15.0),
         "PRECTOTCORR": dict.fromkeys(days, 2.0), "ALLSKY_SFC_SW_DWN": dict.fromkeys(days, 5.0), "WS10M": dict.fromkeys(days, 3.0)},
        {"T2M_MIN": "C", "T2M_MAX": "C", "PRECTOTCORR": "mm/day", "ALLSKY_SFC_SW_DWN": "kW-hr/m^2/day", "WS10M": "m/s"}, 250.0,
    )  # fmt: skip
    months = ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC", "ANN"]
    climate = formats.power(
        {"T2M": {m: float(k) for k, m in enumerate(months)}, "PRECTOTCORR": dict.fromkeys(months, 3.0),
         "ALLSKY_SFC_SW_DWN": dict.fromkeys(months, 12.0)},
        {"T2M": "C", "PRECTOTCORR": "mm/day", "ALLSKY_SFC_SW_DWN": "MJ/m^2/day"}, 250.0,
    )  # fmt: skip
    routes = {
        "/api/temporal/daily/point": lambda asked: daily,
        "/api/temporal/climatology/point": lambda asked: climate,
    }
    with StandIn(routes) as service:
        record = nasa_power_daily(client_of(tmp_path), PLACE, FIRST, LAST, base_url=service.url)
        twelve = nasa_power_climate(client_of(tmp_path), PLACE, base_url=service.url)
    assert record.n_days == 7
    assert record.missing_days == 1
    assert record.ghi_mj_m2 is not None
    assert record.ghi_mj_m2[0] == pytest.approx(18.0)  # 5 kWh are 18 MJ
    assert twelve.mean_k.tolist() == pytest.approx(
        [273.15 + k for k in range(12)]
    )  # in the order of the year, ANN left out
    climate["parameters"]["T2M"]["units"] = "K"
    with StandIn(routes) as service, pytest.raises(SourceError, match=r"T2M comes in 'K'"):
        nasa_power_climate(client_of(tmp_path / "b"), PLACE, base_url=service.url)


# --- US National Weather Service ----------------------------------------------------------------------------------


def test_nws_merged_hours_kmh_and_totals(world: World) -> None:
    got = nws_forecast(world.client, PLACE, base_url=world.service.url)
    assert got.start == START
    assert got.n_hours == 168
    assert got.provenance.filled_hours == 1  # the null
    assert abs(got.wind_m_s.max() - world.seen.wind_m_s.max()) < 0.05
    assert got.precipitation_mm.sum() == pytest.approx(world.seen.precipitation_mm.sum(), abs=0.05)
    assert got.precipitation_mm.max() == pytest.approx(0.6, abs=0.01)  # a total of 3.6 mm in six hours
    assert any("sun from cloud cover" in note for note in got.provenance.notes)
    assert got.dni_w_m2.max() > 300.0


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("PT1H", 1),
        ("PT13H", 13),
        ("P1DT11H", 35),
        ("P2DT12H", 60),
        ("P7D", 168),
        ("PT30M", 1),
        ("PT0S", None),
        ("1H", None),
    ],
)
def test_nws_durations(text: str, hours: int | None) -> None:
    stamp = f"2024-06-10T20:00:00+00:00/{text}"
    if hours is None:
        with pytest.raises(SourceError, match=r"an interval is"):
            span_hours(stamp)
    else:
        assert span_hours(stamp) == (int(np.datetime64("2024-06-10T20", "h").astype(int)), hours)


def test_nws_outside_the_us_says_what_to_do(tmp_path: Path) -> None:
    with StandIn() as service, pytest.raises(SourceError, match=r"outside the US; use open-meteo or met-norway"):
        nws_forecast(client_of(tmp_path), Place(52.0, 5.0, 10.0), base_url=service.url)


def test_nws_empty_layers_and_long_holes(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    data = formats.nws_gridpoint(*week)
    routes = {"/points/44.3,-72.6": lambda asked: formats.nws_point(), "/gridpoints/BTV/110,52": lambda asked: data}
    data["properties"]["dewpoint"]["values"] = []
    with (
        StandIn(routes) as service,
        pytest.raises(SourceError, match=r"nowhere a value for dew point or relative humidity"),
    ):
        nws_forecast(client_of(tmp_path), PLACE, base_url=service.url)
    data["properties"]["temperature"]["values"] = []
    with StandIn(routes) as service, pytest.raises(SourceError, match=r"no temperatures"):
        nws_forecast(client_of(tmp_path / "b"), PLACE, base_url=service.url)
    assert nws.BASE_URL == "https://api.weather.gov"


# --- MET Norway ---------------------------------------------------------------------------------------------------


def test_met_norway_hourly_then_six_hourly(world: World) -> None:
    got = met_norway_forecast(world.client, PLACE, base_url=world.service.url)
    asked = world.service.asked[0]
    assert asked.query == {"lat": "44.3000", "lon": "-72.6000", "altitude": "250"}
    assert "contact" in asked.headers["User-Agent"]
    begin = int((START - got.start).astype(int))
    assert begin == 1  # the hour that the first stamp closes
    assert got.n_hours == 169
    assert np.abs(got.air_temp_k[2:60] - world.seen.air_temp_k[1:59]).max() < 0.15
    assert got.precipitation_mm[1:].sum() == pytest.approx(world.seen.precipitation_mm.sum(), abs=0.05)
    assert np.allclose(got.precipitation_mm[1:60], world.seen.precipitation_mm[:59])
    assert np.abs(got.pressure_pa - world.seen.pressure_pa[0]).max() < 10.0  # back from sea level
    assert any("six-hourly" in note for note in got.provenance.notes)


def test_met_norway_refusals(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    data = formats.met_norway(*week)
    data["properties"]["timeseries"][5]["time"] = data["properties"]["timeseries"][4]["time"]
    path = "/weatherapi/locationforecast/2.0/complete"
    with StandIn({path: lambda asked: data}) as service, pytest.raises(SourceError, match=r"whole hours in order"):
        met_norway_forecast(client_of(tmp_path), PLACE, base_url=service.url)
    with StandIn({path: lambda asked: Answer(b"", 403)}) as service, pytest.raises(SourceError, match=r"HTTP 403"):
        met_norway_forecast(client_of(tmp_path), PLACE, base_url=service.url)
    assert met_norway.BASE_URL == "https://api.met.no"


# --- ACIS, NCEI ---------------------------------------------------------------------------------------------------


def test_acis_daily_strings(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    with StandIn({"/StnData": lambda asked: formats.acis(week[0], missing=(2,))}) as service:
        got = acis_daily(client_of(tmp_path), "USC00430000", FIRST, LAST, base_url=service.url)
        question = service.asked[0].body
    assert question["elems"][0] == {"name": "mint", "units": "degreeC", "interval": "dly"}
    assert got.n_days == 7
    assert got.missing_days == 1
    assert got.place.elevation_m == pytest.approx(250.0, abs=0.1)  # 820.2 feet
    assert got.precipitation_mm is not None
    assert got.precipitation_mm[0] == 0.1  # 'T': a trace is a little, not nothing
    _, low, high, _ = formats.days_of(week[0])
    assert np.nanmax(np.abs(got.tmin_k - 273.15 - low)) < 0.006
    assert np.abs(got.tmax_k - 273.15 - high).max() < 0.006


def test_acis_error_comes_as_200(tmp_path: Path) -> None:
    with (
        StandIn({"/StnData": lambda asked: {"error": "unknown sid"}}) as service,
        pytest.raises(SourceError, match=r"unknown sid"),
    ):
        acis_daily(client_of(tmp_path), "NOWHERE", FIRST, LAST, base_url=service.url)


def test_acis_stations_nearest_first(tmp_path: Path) -> None:
    meta = [
        {"name": "FAR", "ll": [-73.0, 44.7], "elev": 300.0, "sids": ["USC1 6"]},
        {"name": "NEAR", "ll": [-72.61, 44.31], "elev": None, "sids": ["USC2 6", "XYZ 3"]},
        {"name": "NO PLACE", "sids": ["USC3 6"]},
    ]
    with StandIn({"/StnMeta": lambda asked: {"meta": meta}}) as service:
        got = acis_stations(client_of(tmp_path), PLACE, FIRST, LAST, base_url=service.url)
        assert service.asked[0].body["bbox"] == "-73.100,43.800,-72.100,44.800"
    assert [station.sid for station in got] == ["USC2", "USC1"]
    assert got[0].distance_km < 2.0


def test_ncei_daily_padded_strings(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    with StandIn({"/access/services/data/v1": lambda asked: formats.ncei_daily(week[0], missing=(3,))}) as service:
        got = ncei_daily(client_of(tmp_path), "USC00430000", PLACE, FIRST, LAST, base_url=service.url)
        assert service.asked[0].query["units"] == "metric"
    assert got.missing_days == 1
    _, low, high, _ = formats.days_of(week[0])
    assert np.nanmax(np.abs(got.tmin_k - 273.15 - low)) < 0.006
    assert np.abs(got.tmax_k - 273.15 - high).max() < 0.006


def test_ncei_freeze_dates_and_their_sentinels(tmp_path: Path) -> None:
    row = {
        "STATION": "USW00094765", "DATE": "", "ANN-TMIN-PRBLST-T32FP10": " 05/24", "ANN-TMIN-PRBLST-T32FP50": "05/09 ",
        "ANN-TMIN-PRBFST-T32FP50": "10/06", "ANN-TMIN-PRBLST-T28FP50": "04/29", "ANN-TMIN-PRBFST-T24FP90": " -4444",
        "ANN-TMIN-PRBLST-T24FP50": "-6666.0", "ANN-TMIN-PRBLST-T36FP50": "-7777", "ANN-TMIN-PRBLST-T36FP90": "-9999",
        "ANN-TMIN-PRBGSL-T32FP50": "148",
    }  # fmt: skip
    with StandIn({"/access/services/data/v1": lambda asked: [row]}) as service:
        got = ncei_freeze_dates(client_of(tmp_path), "USW00094765", base_url=service.url)
        assert service.asked[0].query["dataset"] == "normals-annualseasonal-1991-2020"
    # the published 1991-2020 table of Lebanon NH
    assert got.date("last").month_day == (5, 9)
    assert got.date("last", percent=10).month_day == (5, 24)
    assert got.date("first").month_day == (10, 6)
    assert got.date("last", 28).month_day == (4, 29)
    assert got.date("first", 24, 90).why == "freezing can come in any month"
    assert got.date("last", 24).why == "freezes are too rare for a date"
    assert got.date("last", 36).why == "a value that rounds to zero"
    assert got.date("last", 36, 90).why == got.date("first", 36, 10).why == "missing"
    for broken in ("13/41", "soon", "5"):
        row["ANN-TMIN-PRBLST-T32FP50"] = broken
        with (
            StandIn({"/access/services/data/v1": lambda asked: [row]}) as service,
            pytest.raises(SourceError, match=r"expected MM/DD"),
        ):
            ncei_freeze_dates(client_of(tmp_path / broken.replace("/", "-")), "USW00094765", base_url=service.url)


def test_unknown_station_gives_an_empty_list(tmp_path: Path) -> None:
    with StandIn({"/access/services/data/v1": lambda asked: []}) as service:
        with pytest.raises(SourceError, match=r"no data from"):
            ncei_daily(client_of(tmp_path), "X", PLACE, FIRST, LAST, base_url=service.url)
        with pytest.raises(SourceError, match=r"no frost dates"):
            ncei_freeze_dates(client_of(tmp_path), "X", base_url=service.url)


# --- offline ------------------------------------------------------------------------------------------------------


def test_offline_weather_says_how_old_it_is(world: World, tmp_path: Path) -> None:
    fetch: list[Any] = [
        lambda client: open_meteo_forecast(client, PLACE, base_url=world.service.url),
        lambda client: nws_forecast(client, PLACE, base_url=world.service.url),
        lambda client: met_norway_forecast(client, PLACE, base_url=world.service.url),
    ]
    online = client_of(tmp_path / "kept")
    fresh = [ask(online) for ask in fetch]
    calls = len(world.service.asked)
    offline = client_of(tmp_path / "kept", offline=True, now=lambda: datetime.now(UTC) + timedelta(days=2))
    for ask, before in zip(fetch, fresh, strict=True):
        later = ask(offline)
        assert np.array_equal(later.air_temp_k, before.air_temp_k)
        assert later.provenance.fetched == before.provenance.fetched
        assert any("offline" in note and "2 days old" in note for note in later.provenance.notes)
    assert len(world.service.asked) == calls


# --- PVGIS --------------------------------------------------------------------------------------------------------


def test_pvgis_base_address_and_cut_off_reply(tmp_path: Path) -> None:
    assert pvgis.BASE_URL.endswith("/api/v5_3")
    short = {"inputs": {"location": {}}, "outputs": {"tmy_hourly": [{"time(UTC)": "20180101:0000"}] * 8759}}
    with StandIn({"/tmy": lambda asked: short}) as service, pytest.raises(SourceError, match=r"8759 hours"):
        pvgis_typical_year(client_of(tmp_path), PLACE, base_url=service.url)
    with (
        StandIn(
            {"/tmy": lambda asked: Answer({"message": "Location over the sea. Please, select another location"}, 400)}
        ) as service,
        pytest.raises(SourceError, match=r"Location over the sea"),
    ):
        pvgis_typical_year(client_of(tmp_path), PLACE, base_url=service.url)
