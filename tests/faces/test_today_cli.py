"""`underglass today` as a new user meets it: weather in, what to do at the next visits out; the same from a file and from each service."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.sources import formats
from tests.sources.truth import Truth
from tests.tend.test_lidplan import CLEAR_NIGHT, OVERCAST, SUNNY_FROST, days
from underglass.faces.cli.main import main
from underglass.place.place import Place
from underglass.shelter.model import NightCover
from underglass.shelter.presets import preset
from underglass.shelter.schema import shelter_to_toml
from underglass.sources import by_name
from underglass.sources.met_norway import met_norway_forecast
from underglass.sources.nws import nws_forecast
from underglass.sources.open_meteo import open_meteo_forecast
from underglass.sources.own_csv import write_hourly_csv
from underglass.sources.web import WebClient
from underglass.weather.outside import OutsideWeather

WHERE = ("--lat", "44.02", "--lon=-72.66", "--elevation", "350", "--units", "c", "--at", "2027-03-10T07:00")


@pytest.fixture(autouse=True)
def quiet_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("UNDERGLASS_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("UNDERGLASS_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")


def ask(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    """Run the command in this process; exit code, stdout, stderr."""
    code = 0
    try:
        main(list(args))
    except SystemExit as stop:
        code = int(stop.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def today(
    capsys: pytest.CaptureFixture[str], folder: Path, outside: OutsideWeather, *args: str
) -> tuple[str, dict[str, Any]]:
    """What the command prints, and its data, for a forecast in a file."""
    write_hourly_csv(outside, folder / "ahead.csv")
    whole = ("today", *WHERE, "--forecast", str(folder / "ahead.csv"), *args)
    code, text, fault = ask(capsys, *whole)
    assert code == 0, fault
    return text, json.loads(ask(capsys, *whole, "--json")[1])


def test_a_sunny_freezing_day_opens_in_time(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Nobody is home from eight to five: it is propped at half past seven, before the sun would make 20 degC and more of a freezing day."""
    text, data = today(capsys, tmp_path, SUNNY_FROST, "--shelter", "box", "--crop", "spinach", "--days", "1")
    morning = data["shelters"][0]["steps"][0]
    assert morning["outside_low_c"]["p50"] < 0.0
    assert 0.0 < morning["gap_m"] <= 0.10
    assert morning["reason"] == "heat"
    assert morning["if_left_high_c"] > 18.0
    assert morning["inside_high_c"]["p90"] < morning["if_left_high_c"] - 3.0
    first = next(line for line in text.splitlines() if "Wed 07:00" in line and "outside" in line)
    assert "prop" in first
    assert "left as it is up to" in first


def test_an_overcast_day_stays_shut(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text, data = today(capsys, tmp_path, OVERCAST, "--shelter", "box", "--crop", "spinach")
    assert all(step["gap_m"] == 0.0 and not step["off"] for step in data["shelters"][0]["steps"])
    assert "prop" not in text.split("Caution")[0]


def test_a_clear_night_is_covered_and_film_is_not_oversold(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    covered = tmp_path / "covered.toml"
    covered.write_text(
        shelter_to_toml(replace(preset("box"), name="box", night_cover=NightCover(0.6))), encoding="utf-8"
    )
    text, data = today(
        capsys, tmp_path, CLEAR_NIGHT, "--shelter", f"{covered},tunnel", "--crop", "leaf lettuce", "--days", "1"
    )
    box, tunnel = data["shelters"]
    evening = next(s for s in box["steps"] if s["from"].endswith("T22"))
    assert evening["night_cover"]
    assert "night cover on" in text
    assert box["risk"]["cold"] < tunnel["risk"]["cold"]
    assert "film on a clear night" in {w["kind"] for w in tunnel["warnings"]}
    assert "film on a clear night" not in {w["kind"] for w in box["warnings"]}
    assert "let the ground's heat out on a clear night: hardly warmer inside than outside" in text
    bare = next(s for s in tunnel["steps"] if s["from"].endswith("T22"))
    lifts = [s["inside_low_c"]["p50"] - s["outside_low_c"]["p50"] for s in (evening, bare)]
    assert lifts[1] < 3.5, "single film: 2 K below to 3 K above, by measurements"
    assert lifts[0] > lifts[1] + 1.0


def test_what_nothing_here_saves_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A tomato under one sheet at twenty below: no cover is sold for it; lettuce in a light frost gets the cheapest cover that is enough."""
    bitter = days(-14.0, 6.0, 0.9, 25.0)
    text, _ = today(capsys, tmp_path, bitter, "--shelter", "box", "--crop", "tomato", "--days", "1")
    assert "Nothing here takes the risk away: pick what is ready, and bring in what can be carried" in text
    assert "Would help" not in text
    text, _ = today(capsys, tmp_path, SUNNY_FROST, "--shelter", "tunnel", "--crop", "leaf lettuce", "--days", "1")
    assert "The cheapest that takes the risk away: a fleece over the plants" in text
    assert "Nothing here" not in text


def test_reasons_are_told_once_and_both_ranges_are_of_one_kind(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text, data = today(capsys, tmp_path, OVERCAST, "--shelter", "box", "--crop", "spinach")
    assert text.count("keeps the warmth in") == 1
    first = data["shelters"][0]["steps"][0]
    outside = f"outside {first['outside_low_c']['p10']:.0f}…{first['outside_high_c']['p90']:.0f} °C"
    assert outside.replace("-", "−") in text


PLACE = Place(44.3, -72.6, 250.0, "America/New_York", "Hillside")
START = np.datetime64("2001-06-01T00", "h")
SERVICES: dict[str, Callable[[WebClient, Place, str], OutsideWeather]] = {
    "open-meteo": lambda client, place, url: open_meteo_forecast(client, place, base_url=url),
    "nws": lambda client, place, url: nws_forecast(client, place, base_url=url),
    "met-norway": lambda client, place, url: met_norway_forecast(client, place, base_url=url),
}
NOTCHES = (0.0, 0.025, 0.05, 0.1, 0.2, 0.6)
HILL = (
    "--lat", "44.3", "--lon=-72.6", "--elevation", "250", "--shelter", "box", "--crop", "leaf lettuce", "--days", "2",
    "--at", "2001-06-03T08:00", "--json",
)  # fmt: skip


def plug(monkeypatch: pytest.MonkeyPatch, name: str, url: str, client: WebClient) -> None:
    """The service of this name answers from a stand-in."""
    monkeypatch.setitem(by_name.FORECASTS, name, lambda _, place: SERVICES[name](client, place, url))
    monkeypatch.setattr(by_name, "ensemble_by_name", lambda *_: ())


def test_every_service_gives_the_plan_of_the_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Within what a format loses: a prop differs by a notch at most, by two where values come three-hourly."""
    truth = Truth(START, 168, PLACE)
    seen = truth.outside()
    write_hourly_csv(seen, tmp_path / "ahead.csv")
    code, said, fault = ask(capsys, "today", *HILL, "--forecast", str(tmp_path / "ahead.csv"))
    assert code == 0, fault
    want = json.loads(said)["shelters"][0]["steps"]
    with formats.serve_all(truth, seen) as service:
        for name in SERVICES:
            plug(monkeypatch, name, service.url, WebClient(tmp_path / name))
            code, said, fault = ask(capsys, "today", *HILL, "--forecast", name)
            assert code == 0, fault
            got = json.loads(said)
            assert got["forecast"]["fetched"] is not None
            steps = got["shelters"][0]["steps"]
            assert [s["from"] for s in steps] == [s["from"] for s in want]
            apart = [
                abs(NOTCHES.index(a["gap_m"]) - NOTCHES.index(b["gap_m"])) for a, b in zip(steps, want, strict=True)
            ]
            assert max(apart) <= (2 if name == "met-norway" else 1), name


def test_without_a_network_the_last_forecast_serves_and_says_its_age(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    truth = Truth(START, 168, PLACE)
    with formats.serve_all(truth, truth.outside()) as service:
        url = service.url
        plug(monkeypatch, "open-meteo", url, WebClient(tmp_path / "kept"))
        fresh = json.loads(ask(capsys, "today", *HILL, "--forecast", "open-meteo")[1])
    later = datetime.now(UTC) + timedelta(hours=30)
    plug(monkeypatch, "open-meteo", url, WebClient(tmp_path / "kept", attempts=1, now=lambda: later))
    code, said, fault = ask(capsys, "today", *HILL[:-1], "--forecast", "open-meteo")
    assert code == 0, fault
    assert "30 hours" in said
    assert fresh["forecast"]["fetched"][:16].replace("T", " ") in said
    assert "just now" in said, "the date is by the service's clock, the age by ours"


def test_without_any_forecast_the_climate_is_used_and_labelled(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plug(monkeypatch, "open-meteo", "http://127.0.0.1:9", WebClient(tmp_path / "none", attempts=1, timeout_s=1.0))
    code, said, fault = ask(capsys, "today", *HILL[:-1])
    assert code == 0, fault
    assert "The climate's usual days, not a forecast." in said
    assert "no forecast could be had" in said


@pytest.mark.parametrize(
    ("args", "sentence"),
    [
        (("--days", "0"), "--days is 0: expected 1 to 10"),
        (("--at", "soon"), "--at is 'soon': write date and time"),
        (("--at", ""), "--at is '': write date and time"),
        (("--at", "0001-01-01T00:00"), "--at is 0001-01-01T00:00: expected a year from 1950 to 2150"),
        (("--at", "9999-12-31T23:00"), "expected a year from 1950 to 2150"),
        (("--away", "never"), "--away is 'never': write year-month-day"),
        (("--seed=-1",), "--seed is -1: expected 0 or a whole number above it"),
        (("--forecast", ""), "--forecast is '': expected open-meteo, nws, met-norway, climate, or a weather file"),
        (("--forecast", "nowhere.csv"), "nowhere.csv: cannot be read"),
        (("--crop", "moss"), "crop 'moss' is not in the catalogue"),
        (("--shelter", "cave"), "cave"),
        (("--before", "2027-05-01"), "--before is the date of --set-out"),
        (("--set-out", "tomato", "--before", "1999-01-01"), "expected a date 1 to 120 days ahead"),
        (("--units", "k"), "--units is 'k': expected c or f"),
    ],
)
def test_one_sentence_for_what_is_wrong(
    capsys: pytest.CaptureFixture[str], args: tuple[str, ...], sentence: str
) -> None:
    base = ["today", "--lat", "44.02", "--lon=-72.66"]
    base += [] if "--shelter" in args else ["--shelter", "box"]
    base += [] if "--forecast" in args else ["--forecast", "climate"]
    code, said, fault = ask(capsys, *base, *args)
    assert (code, said) == (2, "")
    assert sentence in fault
    assert "Traceback" not in fault
    assert len(fault.strip().splitlines()) == 1


FORECAST_ROWS = "time,air_c,rh,wind_m_s,ghi_w_m2\n" + "".join(
    f"2027-03-{10 + h // 24:02d}T{h % 24:02d}:00Z,{h % 7},80,2,{max(0, 300 - 40 * abs(h % 24 - 17))}\n"
    for h in range(72)
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cut=st.lists(st.tuples(st.integers(0, 3000), st.integers(0, 40), st.sampled_from(["", ",", ";", "\n", '"', "\0", "nan", "1e999", "-", "x", "٣"])), min_size=1, max_size=5))  # fmt: skip
def test_a_damaged_forecast_is_planned_by_or_refused_in_a_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, cut: list[tuple[int, int, str]]
) -> None:
    text = FORECAST_ROWS
    for at, many, put in cut:
        at %= len(text) + 1
        text = text[:at] + put + text[at + many :]
    (tmp_path / "hurt.csv").write_text(text, encoding="utf-8")
    code, said, fault = ask(
        capsys, "today", *WHERE, "--shelter", "jug", "--days", "1", "--forecast", str(tmp_path / "hurt.csv")
    )
    assert code in (0, 2), fault
    assert "Traceback" not in fault
    assert said if code == 0 else "hurt.csv" in fault or "forecast covers" in fault
