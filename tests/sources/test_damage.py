"""Files that were cut, retyped, pasted together or half sent: always a sentence with the file's name, never a traceback."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.sources import formats
from tests.sources.truth import Truth
from underglass.errors import InputError
from underglass.shelter.presets import PRESETS, preset_toml
from underglass.sources.files import read_weather_file
from underglass.sources.household_file import household_of_table, read_household
from underglass.sources.shelter_file import read_shelter

DEMO = (files("underglass.sources") / "data" / "demo_household.toml").read_text(encoding="utf-8")
DAILY = "# latitude: 44.3\n# longitude: -72.5\n# elevation: 250\ndate,tmin_c,tmax_c,precipitation_mm\n" + "".join(
    f"2001-06-{day:02d},{4 + day % 5},{17 + day % 7},{day % 3}\n" for day in range(1, 31)
)
PIECES = (
    "",
    "nan",
    "-999",
    "1e400",
    "[",
    '"',
    "=",
    ",",
    "\n",
    "\x00",
    "é",
    "9" * 400,
    "[[shelters]]\n",
    "[place]\n",
    "true",
    "{}",
    "''",
)
"""What a slip of the hand or a broken program leaves behind."""

few = settings(
    deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)
damage = st.lists(
    st.tuples(st.floats(0.0, 1.0), st.one_of(st.integers(0, 12), st.integers(0, 2000)), st.sampled_from(PIECES)),
    min_size=1,
    max_size=3,
)
"""Places in the text (share of its length), how many letters are taken out there and what is put in."""


def damaged(text: str, hurts: list[tuple[float, int, str]]) -> str:
    for where, gone, put in hurts:
        at = int(where * len(text))
        text = text[:at] + put + text[at + gone :]
    return text


def refusal(read: Callable[[Path], object], path: Path, text: str) -> str:
    """What the reader says to a text, '' where it is content."""
    path.write_text(text, encoding="utf-8")
    try:
        read(path)
    except InputError as error:
        return str(error)
    return ""


def is_told(said: str, path: Path) -> bool:
    """Each line names the file and is a sentence of ours."""
    return all(path.name in line and len(line) < 2500 and "Traceback" not in line for line in said.splitlines())


@few
@given(damage)
def test_damaged_household_files(tmp_path: Path, hurts: list[tuple[float, int, str]]) -> None:
    path = tmp_path / "household.toml"
    assert is_told(refusal(read_household, path, damaged(DEMO, hurts)), path)


@few
@given(st.sampled_from(PRESETS), damage)
def test_damaged_shelter_files(tmp_path: Path, name: str, hurts: list[tuple[float, int, str]]) -> None:
    path = tmp_path / "shelter.toml"
    assert is_told(refusal(read_shelter, path, damaged(preset_toml(name), hurts)), path)


anything = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**30), 10**30),
        st.floats(),
        st.sampled_from(["", "3 ft", "05-22", "-5 C", "kale", "box"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["like", "crop", "packed", "count", "want"]), inner, max_size=3),
    ),
    max_leaves=5,
)
PLACE = {"latitude": 44.0, "longitude": -72.7, "elevation": 300.0, "time_zone": "America/New_York"}


@few
@given(
    st.dictionaries(st.sampled_from(["name", "units", "visits", "shelters", "crops", "seeds", "weather_file", "place"]), anything, max_size=4),
    st.dictionaries(
        st.sampled_from(["near", "latitude", "elevation", "time_zone", "terrain", "horizon", "last_frost", "tmin", "tmax", "sun_hours", "name"]),
        st.one_of(anything, st.lists(st.lists(anything, min_size=2, max_size=2), max_size=3), st.lists(anything, min_size=12, max_size=12)),
        max_size=3,
    ),
)  # fmt: skip
def test_households_of_nonsense(table: dict[str, object], place: dict[str, object]) -> None:
    """Right TOML with wrong kinds of things in it."""
    said = ""
    try:
        household_of_table({"place": {**PLACE, **place}, **table})
    except InputError as error:
        said = str(error)
    assert "Error" not in said
    assert said or isinstance(table.get("shelters", []), list | None)


@pytest.mark.parametrize(
    ("place", "table", "sentence"),
    [
        ({"time_zone": "Mars/Base"}, {}, "time zone is 'Mars/Base': expected an IANA name"),
        ({"time_zone": "../etc"}, {}, "time zone is '../etc': expected an IANA name"),
        ({"horizon": [["west", 10]]}, {}, "'west' does not begin with a number"),
        ({"horizon": [[True, 10]]}, {}, "True is not a number"),
        ({"elevation": 10**40}, {}, "more than twenty digits"),
        ({}, {"shelters": True}, "shelters: expected tables of their own, each under [[shelters]]"),
        ({}, {"seeds": "spinach"}, "seeds: expected tables of their own, each under [[seeds]]"),
        ({}, {"seeds": [{"crop": "spinach", "packed": 2024, "count": True}]}, "count is True: expected a number of seeds"),
        ({}, {"weather_file": 3}, "weather_file is 3: expected the path of a file, in quotes"),
        ({}, {"visits": {"weekday": ["9" * 400 + ":30"]}}, "a unit that is not known"),
    ],
)  # fmt: skip
def test_wrong_kinds_of_things_are_named(place: dict[str, object], table: dict[str, object], sentence: str) -> None:
    with pytest.raises(InputError) as caught:
        household_of_table({"place": {**PLACE, **place}, **table})
    assert sentence in str(caught.value)


@cache
def week() -> str:
    truth = Truth(np.datetime64("2001-06-01T00", "h"), 168)
    return formats.hourly_csv(truth, truth.outside())


@cache
def typical_year() -> str:
    truth = Truth(np.datetime64("2001-01-01T05", "h"), 8760)
    return formats.epw_text(truth, truth.outside())


def weather_is_told_or_whole(text: str, path: Path) -> bool:
    path.write_text(text, encoding="utf-8")
    try:
        read = read_weather_file(path)
    except InputError as error:
        return is_told(str(error), path)
    return bool(np.isfinite(read.air_temp_k).all() and np.isfinite(read.dni_w_m2).all() and read.n_hours > 0)


@few
@given(damage)
def test_damaged_hourly_tables(tmp_path: Path, hurts: list[tuple[float, int, str]]) -> None:
    assert weather_is_told_or_whole(damaged(week(), hurts), tmp_path / "w.csv")


@few
@given(damage)
def test_damaged_daily_tables(tmp_path: Path, hurts: list[tuple[float, int, str]]) -> None:
    assert weather_is_told_or_whole(damaged(DAILY, hurts), tmp_path / "d.csv")


@settings(few, max_examples=15)
@given(damage)
def test_damaged_typical_years(tmp_path: Path, hurts: list[tuple[float, int, str]]) -> None:
    """The header of an EPW is where damage bites, so half of it is put there."""
    assert weather_is_told_or_whole(
        damaged(typical_year(), [(where**6, gone, put) for where, gone, put in hurts]), tmp_path / "a.epw"
    )


@pytest.mark.parametrize(
    "junk", [b"\x00\x01\x02", b"\xff\xfe\x00a", b"PK\x03\x04" + b"\x00" * 40, "é".encode("latin-1") * 50]
)
@pytest.mark.parametrize("read", [read_household, read_shelter, read_weather_file])
def test_a_file_that_is_no_text(tmp_path: Path, read: Callable[[Path], object], junk: bytes) -> None:
    path = tmp_path / "junk.toml"
    path.write_bytes(junk)
    with pytest.raises(InputError) as caught:
        read(path)
    assert is_told(str(caught.value), path)
