"""The command as a person meets it: the main job, its files, and one clear sentence for everything that is wrong."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest

from underglass.faces.cli.main import main
from underglass.faces.cli.sow import CSV_COLUMNS
from underglass.services.inside import COLUMNS

FAST = ("--years", "5", "--no-cache")


def ask(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    """Run the command in this process; exit code, stdout, stderr."""
    code = 0
    try:
        main(list(args))
    except SystemExit as stop:
        code = int(stop.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture(autouse=True)
def quiet_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of a test is kept in the person's own folders; compiled kernels stay where they are."""
    monkeypatch.setenv("UNDERGLASS_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("UNDERGLASS_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")


def test_the_main_job_for_the_demo_family(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(capsys, "sow", "--demo", "--date", "2027-03-10", *FAST)
    assert code == 0
    assert "Sow now" in out
    assert "coin flip" in out
    assert "Take care" in out
    assert "ten hours" in out


def test_json_is_whole_and_consistent(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(capsys, "sow", "--demo", "--date", "2027-03-10", "--json", *FAST)
    guide = json.loads(out)
    assert code == 0
    assert guide["stands_on"]["layer"] == "known last frost"
    assert guide["stands_on"]["years"] == 5
    for row in guide["rows"]:
        assert row["verdict"] in ("sow now", "sow soon", "wait", "not worth it here")
        assert row["today"]["chance"] + sum(row["today"]["causes"].values()) == pytest.approx(1.0, abs=0.01)
        assert len(row["by_date"]["sow"]) == len(row["by_date"]["chance"]) == 53


def test_advice_of_trade_facts(capsys: pytest.CaptureFixture[str]) -> None:
    """Common practice in a cold-winter place: nothing tender in open ground in January; spinach does better under a hoop than in the open."""
    _, out, _ = ask(capsys, "sow", "--demo", "--date", "2027-01-10", "--json", *FAST)
    rows = json.loads(out)["rows"]
    for row in rows:
        if (
            row["crop"] in ("tomato", "basil", "cucumber", "bean_snap", "pepper")
            and row["grown_in"] == "open"
            and not row["raised_in"]
        ):
            assert row["verdict"] != "sow now"
    spring = {
        r["grown_in"]: max(r["by_date"]["chance"][:12])
        for r in rows
        if r["crop"] == "spinach" and r["raised_in"] is None
    }
    assert spring["hoop house"] >= spring["open"]


def test_csv_has_its_columns(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(capsys, "sow", "--demo", "--date", "2027-03-10", "--csv", "--crop", "spinach,tomato", *FAST)
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0
    assert tuple(rows[0]) == CSV_COLUMNS
    assert {r["crop"] for r in rows} == {"spinach", "tomato"}


def test_places_without_short_days_hear_nothing_of_them(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = ask(capsys, "sow", "--near", "Miami, Florida", "--date", "2027-10-01", "--crop", "kale", *FAST)
    assert "ten hours" not in out
    assert "Frost: most years have none here." in out


def test_a_phone_terminal(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    _, out, _ = ask(capsys, "sow", "--demo", "--date", "2027-03-10", "--crop", "spinach,kale", *FAST)
    assert max(len(line) for line in out.splitlines()) <= 60


def test_the_second_time_is_from_the_cache(capsys: pytest.CaptureFixture[str]) -> None:
    args = ("sow", "--demo", "--date", "2027-03-10", "--crop", "kale", "--years", "5")
    first = ask(capsys, *args)
    assert ask(capsys, *args) == first


def test_a_broken_cache_entry_is_computed_again(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    args = ("sow", "--demo", "--date", "2027-03-10", "--crop", "kale", "--years", "5")
    first = ask(capsys, *args)
    for entry in (tmp_path / "cache").rglob("*.json"):
        entry.write_text("{ broken")
    assert ask(capsys, *args) == first


def test_why_tells_the_deciding_hours(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(
        capsys, "why", "tomato", "--in", "open", "--on", "2027-04-20", "--demo", "--years", "6", "--units", "c"
    )
    assert code == 0
    assert "of 6 years" in out
    assert "killed by cold" in out
    assert "°C" in out
    assert "it does not harden" in out, "tender kinds have one limit, not two alike"
    code, out, _ = ask(
        capsys, "why", "tomato", "--in", "open", "--on", "2027-04-20", "--demo", "--years", "6", "--json"
    )
    story = json.loads(out)
    assert story["harvested"] + sum(e["years"] for e in story["endings"]) == story["n_years"]


def test_inside_writes_exact_columns_and_pictures(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    hours, picture, drawing = tmp_path / "hours.csv", tmp_path / "year.png", tmp_path / "year.svg"
    code, out, err = ask(
        capsys,
        "inside",
        "--demo",
        "--shelter",
        "box",
        "--years",
        "1",
        "--out",
        str(hours),
        "--png",
        str(picture),
        "--svg",
        str(drawing),
        "--heat",
    )
    assert code == 0, err
    rows = list(csv.reader(io.StringIO(hours.read_text())))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 8761
    assert rows[1][0].endswith(":00:00Z")
    assert picture.read_bytes()[:4] == b"\x89PNG"
    assert ET.fromstring(drawing.read_text()).tag.endswith("svg")
    assert "sun let in" in out
    assert not list(tmp_path.glob("*.part"))


def test_the_basket_as_a_picture(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    picture, drawing = tmp_path / "basket.png", tmp_path / "basket.svg"
    args = ("--demo", "--date", "2027-03-10", "--shelter", "box,open", "--crop", "kale,spinach", *FAST)
    code, out, err = ask(capsys, "year", *args, "--png", str(picture), "--svg", str(drawing))
    assert code == 0, err
    assert f"written: {picture}" in out
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert "Servings in a week" in drawing.read_text()
    assert ET.fromstring(drawing.read_text()).tag.endswith("svg")


def test_a_preset_is_shown_as_a_file_that_reads_back(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    _, shown, _ = ask(capsys, "inside", "--show-shelter", "box")
    mine = tmp_path / "mine.toml"
    mine.write_text(shown.replace('name = "box"', 'name = "my box"').replace("length_m = 1.80 ", 'length_m = "6 ft" '))
    code, out, err = ask(capsys, "inside", "--demo", "--shelter", str(mine), "--years", "1", "--json")
    assert code == 0, err
    assert json.loads(out)["shelters"][0]["shelter"] == "my box"


def test_compare_changes(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(
        capsys,
        "compare",
        "--demo",
        "--shelter",
        "box",
        "--with",
        "double,fleece",
        "--years",
        "1",
        "--crop",
        "spinach,kale",
        "--json",
    )
    rows = json.loads(out)["shelters"]
    assert code == 0
    assert [r["shelter"] for r in rows] == ["box", "box + double", "box + fleece"]
    assert rows[1]["night_lift"] > rows[0]["night_lift"]
    assert rows[1]["light_share"] < rows[0]["light_share"]
    assert rows[2]["night_lift"] > rows[0]["night_lift"]


def test_shelters_that_are_alike_stand_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Basil lives through no winter in Vermont, under one pane or two."""
    _, out, _ = ask(
        capsys, "compare", "--demo", "--shelter", "box", "--with", "double", "--years", "1", "--crop", "basil"
    )
    assert out.count("four winters of five") == 1
    assert "box, box + double: nothing" in out


def test_crops_and_places(capsys: pytest.CaptureFixture[str]) -> None:
    assert "Spinacia oleracea" in ask(capsys, "crops")[1]
    assert "America/New_York" in ask(capsys, "places", "Montpelier")[1]


HOUSEHOLD = """
name = "ours"
[place]
latitude = 44.0
longitude = -72.7
elevation = "1150 ft"
[[shelters]]
like = "box"
"""

BAD_FILES = {
    "unknown key": (HOUSEHOLD.replace('name = "ours"', 'nmae = "ours"'), ["line 2", "nmae", "did you mean name"]),
    "latitude and longitude swapped": (HOUSEHOLD.replace("44.0", "144.0"), ["latitude is 144", "-90 to 90"]),
    "feet taken for metres": (HOUSEHOLD.replace('"1150 ft"', "11500"), ["elevation is 11500", "feet"]),
    "no such unit": (HOUSEHOLD.replace("1150 ft", "1150 furlongs"), ["furlongs", "unit that is not known"]),
    "wrong kind of unit": (HOUSEHOLD.replace("1150 ft", "50 F"), ["temperature", "length is expected"]),
    "no place": (HOUSEHOLD.replace("latitude = 44.0\n", ""), ["say where you live"]),
    "unknown town": (
        HOUSEHOLD.replace("latitude = 44.0\nlongitude = -72.7", 'near = "Xyzzyville"'),
        ["no town is called"],
    ),
    "impossible last frost": (
        HOUSEHOLD.replace("[[shelters]]", 'last_frost = "13-45"\n[[shelters]]'),
        ["13-45", "month-day"],
    ),
    "last frost far off": (
        HOUSEHOLD.replace("[[shelters]]", 'last_frost = "01-02"\n[[shelters]]'),
        ["last frost 01-02", "check the date"],
    ),
    "bad preset": (HOUSEHOLD.replace('"box"', '"bix"'), ["bix", "did you mean box"]),
    "bad size": (
        HOUSEHOLD + "[shelters.shape]\nfront_height_m = 30.0\n",
        ["front_height_m is 30", "0.03 to 6", "did you mean 30 cm"],
    ),
    "negative share": (HOUSEHOLD + "[shelters.ground]\nmoisture = -0.2\n", ["moisture is -0.2", "0 to 0.6"]),
    "unknown shelter key": (HOUSEHOLD + "[shelters.lid]\nwroking = 'arm'\n", ["wroking", "did you mean working"]),
    "unknown working": (HOUSEHOLD + "[shelters.lid]\nworking = 'magic'\n", ["magic", "shut, open, gap"]),
    "unknown crop": (HOUSEHOLD + '[crops]\nwant = ["spinich"]\n', ["spinich", "did you mean Spinach"]),
    "bad year on a packet": (HOUSEHOLD + '[[seeds]]\ncrop = "spinach"\npacked = 24\n', ["packed is 24", "as 2025"]),
    "bad time": (HOUSEHOLD + '[visits]\nweekday = ["25:00"]\n', ["weekday", "00:00 to 23:59"]),
    "bad units": ('units = "k"\n' + HOUSEHOLD, ["units is 'k'", '"c" or "f"']),
    "not TOML": (HOUSEHOLD + "\n[place\n", ["line 10", "not valid TOML"]),
    "eleven months": (
        HOUSEHOLD.replace("[[shelters]]", "tmin = [1,2,3,4,5,6,7,8,9,10,11]\n[[shelters]]"),
        ["tmin", "twelve values"],
    ),
    "swapped tmin and tmax": (
        HOUSEHOLD.replace("[[shelters]]", f"tmin = {[20.0] * 12}\ntmax = {[10.0] * 12}\n[[shelters]]"),
        ["not below its highest"],
    ),
    "same name twice": (HOUSEHOLD + '[[shelters]]\nlike = "box"\n', ["same name"]),
}


@pytest.mark.parametrize("case", list(BAD_FILES))
def test_a_bad_household_file_gets_a_sentence(case: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    text, expected = BAD_FILES[case]
    path = tmp_path / "household.toml"
    path.write_text(text)
    code, out, err = ask(capsys, "sow", "--household", str(path), *FAST)
    assert code == 2, err
    assert "Traceback" not in err + out
    for words in expected:
        assert words in err
    assert case in ("last frost far off",) or "household.toml" in err


BAD_OPTIONS = {
    "no place": (("sow",), "say where you live"),
    "unknown town": (("sow", "--near", "Qwertyuiop"), "no town is called"),
    "town in an unknown region": (("sow", "--near", "Hobart, Tasmania"), "there is: Hobart, Australia (-42.9, 147.3)"),
    "latitude out of range": (("sow", "--lat", "95", "--lon", "10"), "latitude is 95"),
    "latitude alone": (("sow", "--lat", "45"), "latitude and longitude"),
    "open sea": (("sow", "--lat", "0", "--lon", "-30"), "far from any land"),
    "latitude and longitude swapped": (("inside", "--lat", "-72.6", "--lon", "44.0"), "are they swapped?"),
    "no such day": (("why", "kale", "--in", "box", "--on", "2027-02-30", "--demo"), "--on is '2027-02-30'"),
    "unknown unit": (("inside", "--demo", "--elevation", "12 furlongs"), "use one of mm, cm, m, km"),
    "bad date": (("sow", "--demo", "--date", "3/15/2027"), "year-month-day"),
    "date out of range": (("sow", "--demo", "--date", "1066-10-14"), "1950 to 2150"),
    "bad years": (("sow", "--demo", "--years", "1"), "3 to 200"),
    "no years to tell of": (("why", "kale", "--in", "hoop", "--demo", "--years", "0"), "3 to 200"),
    "two forms at once": (("sow", "--demo", "--json", "--csv"), "choose one"),
    "a bed too low": (("why", "tomato", "--in", "box", "--demo"), "taller than south box has room for"),
    "a sill as a bed": (("why", "tomato", "--in", "sill", "--demo"), "for raising young plants"),
    "raised in its own bed": (
        ("why", "kale", "--in", "hoop", "--raised-in", "hoop", "--demo"),
        "set out to the same bed",
    ),
    "unknown shelter": (("sow", "--demo", "--shelter", "tunel"), "did you mean tunnel"),
    "missing shelter file": (("sow", "--demo", "--shelter", "nowhere.toml"), "no such file"),
    "unknown crop": (("sow", "--demo", "--crop", "tomatto"), "did you mean Tomato"),
    "unknown change": (("compare", "--demo", "--with", "dubble"), "did you mean double"),
    "bad elevation": (("sow", "--demo", "--elevation", "high"), "--elevation"),
    "bad last frost": (("sow", "--demo", "--last-frost", "May 5"), "month-day"),
    "missing household": (("sow", "--household", "nowhere.toml"), "no such file"),
    "missing weather file": (("sow", "--demo", "--weather", "nowhere.epw"), "nowhere.epw"),
    "shelter not of the household": (("why", "spinach", "--in", "castle", "--demo"), "not one of this household's"),
    "raised crop that is sown in place": (
        ("why", "carrot", "--in", "open", "--raised-in", "sill", "--demo"),
        "sown where it stays",
    ),
    "out for many shelters": (
        ("inside", "--demo", "--shelter", "box,open", "--years", "1", "--out", "x.csv"),
        "one shelter",
    ),
    "out in no folder": (
        ("inside", "--demo", "--shelter", "open", "--years", "1", "--out", "/nowhere/x.csv"),
        "cannot be written",
    ),
    "bad units": (("inside", "--demo", "--units", "kelvin"), "expected c or f"),
}


@pytest.mark.parametrize("case", list(BAD_OPTIONS))
def test_a_bad_option_gets_a_sentence(case: str, capsys: pytest.CaptureFixture[str]) -> None:
    args, expected = BAD_OPTIONS[case]
    code, out, err = ask(capsys, *args)
    assert code == 2, err
    assert expected in err
    assert "Traceback" not in err + out


def test_a_fault_of_ours_is_one_sentence_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("underglass.faces.cli.crops.catalogue", lambda: 1 / 0)
    code, _, err = ask(capsys, "crops")
    assert code == 1
    assert "something went wrong inside underglass (ZeroDivisionError" in err
    assert "Traceback" not in err


def test_a_weather_file_stands_in_for_the_map(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A typical year sets the monthly normals; the guide says so."""
    from pathlib import Path as P

    import pvlib

    year = P(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    code, out, err = ask(
        capsys,
        "sow",
        "--weather",
        str(year),
        "--shelter",
        "box,open",
        "--crop",
        "spinach",
        "--date",
        "2027-03-01",
        "--json",
        *FAST,
    )
    assert code == 0, err
    assert json.loads(out)["stands_on"]["layer"] == "typical year"
    code, out, err = ask(capsys, "inside", "--weather", str(year), "--shelter", "box", "--json")
    assert code == 0, err
    assert np.isclose(json.loads(out)["shelters"][0]["months"][6]["outside_mean"], 26.0, atol=2.0)


def test_from_a_shell() -> None:
    """As a process of its own: exit code, nothing on stderr."""
    env = {**os.environ, "COLUMNS": "100"}
    done = subprocess.run(
        [sys.executable, "-m", "underglass.faces.cli.main", "places", "Hobart"],
        capture_output=True,
        text=True,
        env=env,
        check=False,
    )
    assert done.returncode == 0
    assert "Australia/Hobart" in done.stdout
    assert done.stderr == ""


def test_today_tells_what_to_set_and_why(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(capsys, "today", "--demo", "--at", "2027-04-20T07:00", "--days", "1", "--units", "c")
    assert code == 0
    assert "SOUTH BOX" in out
    assert "not a forecast" in out
    assert "prop" in out
    assert "cm" in out
    assert "Chance of loss" in out
    assert "carbon monoxide" in out


def test_today_answers_set_out(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(capsys, "today", "--demo", "--set-out", "tomato", "--at", "2027-04-20T07:00")
    assert code == 0
    assert "WAIT" in out


@pytest.mark.parametrize(
    ("args", "sentence"),
    [
        (("--at", "yesterday"), "--at is 'yesterday'"),
        (("--days", "40"), "--days is 40"),
        (("--forecast", "crystal-ball"), "--forecast is 'crystal-ball'"),
        (("--forecast", "nowhere.csv"), "nowhere.csv"),
        (("--away", "03/04"), "--away is '03/04'"),
        (("--set-out", "stone"), "stone"),
    ],
)
def test_today_says_what_is_wrong(capsys: pytest.CaptureFixture[str], args: tuple[str, ...], sentence: str) -> None:
    code, _, said = ask(capsys, "today", "--demo", *args)
    assert code == 2
    assert sentence in said
    assert "Traceback" not in said
