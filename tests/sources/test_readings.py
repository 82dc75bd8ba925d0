"""Files of thermometers and loggers: what is understood, and the one sentence for what is not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.shelter.tune_types import Readings
from underglass.sources.readings import Logbook, parse_readings, read_readings
from underglass.weather.outside import HOURLY_FIELDS, OutsideWeather, Provenance

PLACE = Place(44.0, -72.7, 350.0, "America/New_York")
NOV = np.datetime64("2026-11-10T12:00", "s").astype(np.int64)
"""7 in the morning on the winter clock of New York."""


def outside(air_c: float) -> OutsideWeather:
    full = np.ones(24 * 60)
    values = dict.fromkeys(HOURLY_FIELDS, full) | {"air_temp_k": full * (air_c + 273.15)}
    return OutsideWeather(
        place=PLACE, start=np.datetime64("2026-10-01T00", "h"), provenance=Provenance("hourly record", "test"), **values
    )


def read(text: str, **options: object) -> Logbook:
    return parse_readings(text, "log.csv", place=PLACE, **options)  # type: ignore[arg-type]


def only(text: str, **options: object) -> Readings:
    (found,) = read(text, **options).readings
    return found


SAME = {
    "plain": "time,air °C\n2026-11-10 07:00,1.5\n2026-11-10 08:00,2.5\n",
    "fahrenheit": "Date/Time,Temp (°F)\n2026-11-10 07:00,34.7\n2026-11-10 08:00,36.5\n",
    "semicolons and decimal commas": "Zeit;Temp (°C)\n10.11.2026 07:00;1,5\n10.11.2026 08:00;2,5\n",
    "tabs": "time\tair_c\n2026-11-10T07:00\t1.5\n2026-11-10T08:00\t2.5\n",
    "offset in the cells": "time,air_c\n2026-11-10T12:00Z,1.5\n2026-11-10T08:00-05:00,2.5\n",
    "offset in the header": '"#","Date Time, GMT-05:00","Temp, °C"\n1,11/10/26 07:00:00 AM,1.5\n2,11/10/26 08:00:00 AM,2.5\n',
    "two columns of time": "Date,Time,Temperature (C),Humidity (%)\n2026-11-10,7:00 AM,1.5,88\n2026-11-10,8:00 AM,2.5,87\n",
    "unit in the cells": "when,reading\n2026-11-10 07:00,1.5 °C\n2026-11-10 08:00,2.5 °C\n",
    "junk above and below": "Logger 7\nUnit: °C\n\nNo.,Time,Temp\n1,10-Nov-2026 07:00,1.5\n2,10-Nov-2026 08:00,2.5\n\nend of data\n",
    "no header": "2026-11-10 07:00,1.5 C\n2026-11-10 08:00,2.5 C\n",
    "seconds since 1970": "timestamp,temp_c\n1794312000,1.5\n1794315600,2.5\n",
    "month by name": 'time,air_c\n"Nov 10, 2026 07:00",1.5\n"Nov 10, 2026 08:00",2.5\n',
}


@pytest.mark.parametrize("text", SAME.values(), ids=SAME.keys())
def test_every_way_of_writing_gives_the_same_readings(text: str) -> None:
    options = {"date_order": "mdy"} if "11/10/26" in text else {"date_order": "dmy"} if "10.11.2026" in text else {}
    found = only(text, **options)
    assert found.at_s.tolist() == [NOV, NOV + 3600]
    assert found.temp_k == pytest.approx([274.65, 275.65], abs=0.01)
    assert found.spot == "air"


def test_other_encodings_are_read(tmp_path: Path) -> None:
    for encoding in ("latin-1", "utf-16", "utf-8-sig"):
        path = tmp_path / f"{encoding}.csv"
        path.write_text(SAME["plain"], encoding=encoding)
        assert read_readings(path, place=PLACE).readings[0].temp_k[0] == pytest.approx(274.65, abs=0.01)


def test_fahrenheit_is_told_by_the_weather() -> None:
    text = "time,air\n2026-11-10 07:00,41\n2026-11-10 08:00,42\n"
    assert only(text, outside=outside(2.0)).temp_k[0] == pytest.approx(278.15, abs=0.01)
    with pytest.raises(InputError, match="does not say whether it is °C or °F; add --units"):
        read(text)
    assert only(text, units="c").temp_k[0] == pytest.approx(314.15, abs=0.01)


def test_day_and_month_are_told_by_what_fits_or_asked_for() -> None:
    rows = "".join(f"{d}/11/2026 07:00,{d}.0\n" for d in range(9, 15))
    assert only("time,air_c\n" + rows).at_s[1] == NOV
    months = "".join(f"11/{d}/2026 07:00,{d}.0\n" for d in range(3, 9))
    assert np.diff(only("time,air_c\n" + months).at_s).tolist() == [86400] * 5
    with pytest.raises(InputError, match="--date-order mdy or --date-order dmy"):
        read("time,air_c\n3/11/2026 07:00,1\n3/11/2026 08:00,2\n")


def test_several_probes_by_the_words_in_their_names() -> None:
    head = "time,air in the sun °F,soil 4 in °F,Outside °F,humidity %\n"
    air, soil, out = read(head + "2026-11-10 07:00,34.7,40,30,80\n2026-11-10 08:00,36.5,40,31,80\n").readings
    assert (air.spot, air.sunlit) == ("air", "sun")
    assert soil.spot == "soil"
    assert soil.depth_m == pytest.approx(0.1016)
    assert out.spot == "outside"


def test_nameless_probes_are_asked_for_and_can_be_said() -> None:
    text = "time,temp 1 (°C),temp 2 (°C)\n2026-11-10 07:00,1,8\n2026-11-10 08:00,2,8\n"
    with pytest.raises(InputError, match="do not say where their probes are"):
        read(text)
    soil, air = read(text, columns=["temp 2=soil 5 cm", "temp 1=air in the shade"]).readings
    assert (soil.depth_m, soil.temp_k[0]) == (0.05, pytest.approx(281.15))
    assert (air.sunlit, air.spot) == ("shade", "air")
    with pytest.raises(InputError, match="fits none of the columns"):
        read(text, columns=["temp 3=air"])
    with pytest.raises(InputError, match="say where the probe is"):
        read(text, columns=["temp 1=cupboard"])


def test_lowest_and_highest_of_a_day() -> None:
    low, high = read("date,min °C,max °C\n2026-11-09,-2,9\n2026-11-10,-1,11\n").readings
    assert (low.kind, high.kind) == ("lowest", "highest")
    assert low.probe == high.probe
    assert low.since_s is not None
    assert low.since_s[1] == NOV - 7 * 3600
    assert low.at_s[1] - low.since_s[1] == 86400
    with pytest.raises(InputError, match="dates without a time of day"):
        read("date,air °C\n2026-11-09,-2\n2026-11-10,-1\n")


def test_a_clock_that_follows_summer_time_or_not() -> None:
    """The night of 1 November 2026: the hour from 1 to 2 comes twice in New York (IANA tz database)."""
    wall = ["00:30", "01:30", "01:30", "02:30"]
    steady = ["00:30", "01:30", "02:30", "03:30"]
    for clocks in (wall, steady):
        rows = "".join(f"2026-11-01 {c},1.0\n" for c in clocks)
        assert np.diff(only("time,air_c\n" + rows).at_s).tolist() == [3600] * 3


def test_readings_a_minute_become_hourly_means() -> None:
    rows = "".join(f"2026-11-10 07:{m:02d},{m / 10}\n" for m in range(60))
    found = only("time,air_c\n" + rows)
    assert found.n_readings == 1
    assert found.temp_k[0] == pytest.approx(273.15 + 2.95)


def test_broken_values_are_left_out_and_said() -> None:
    rows = "".join(f"2026-11-10 {h:02d}:00,{v}\n" for h, v in enumerate([1, 2, -127, 3, 85, 4, "", 5]))
    book = read("time,air_c\n" + rows)
    assert book.readings[0].n_readings == 5
    assert "2 impossible values left out" in " ".join(book.understood)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "no rows with a date, a time and a temperature"),
        ("hello\nworld\n", "no rows with a date, a time and a temperature"),
        ("time,air_c\n2026-11-10 07:00,1,5\n2026-11-10 08:00,2,5\n", "decimal commas save it with semicolons"),
        ("time,note\n2026-11-10 07:00,5\n" + "garbage\n" * 9, "line 3: not a row as the others"),
        ("time,humidity %\n2026-11-10 07:00,85\n", "no column is clearly a temperature"),
        ("time,air_c\n2026-13-40 07:00,1\n", "not one of the calendar"),
        ("time,air_c\n2026-11-10 07:00,400\n2026-11-10 08:00,410\n", "most of column 'air_c' lies outside"),
        ("time,soil 400 cm C\n2026-11-10 07:00,1\n", "4 m deep: expected at most 1 m"),
    ],
)
def test_one_sentence_for_what_is_not_understood(text: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(text)
    assert "\n" not in str(caught.value)


def test_a_time_zone_that_is_none() -> None:
    with pytest.raises(InputError, match="--time-zone is 'Mars'"):
        read(SAME["plain"], time_zone="Mars")
    assert only(SAME["plain"], time_zone="UTC-5").at_s[0] == NOV
    assert only(SAME["plain"], time_zone="UTC").at_s[0] == NOV - 5 * 3600


@settings(max_examples=300, deadline=None)
@given(
    which=st.sampled_from(sorted(SAME)),
    cut=st.lists(st.tuples(st.integers(0, 200), st.sampled_from(["", ",", ";", "\n", '"', "\0", "9", "-", "x", "/", ":", "°F", "٣"])), max_size=6),
)  # fmt: skip
def test_a_damaged_file_is_read_or_refused_in_words(which: str, cut: list[tuple[int, str]]) -> None:
    text = SAME[which]
    for at, put in cut:
        text = text[: at % (len(text) + 1)] + put + text[at % (len(text) + 1) + 1 :]
    try:
        book = read(text)
    except InputError as error:
        assert str(error)  # noqa: PT017  # a sentence is one of the two good endings
    else:
        assert all(np.isfinite(r.temp_k).all() and (np.diff(r.at_s) >= 0).all() for r in book.readings)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        book = read(text)
    except InputError as error:
        assert str(error)  # noqa: PT017  # as above
    else:
        assert book.readings
