"""Our own hourly and daily tables: what is read, and the one sentence for each thing that is not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.sources import formats
from tests.sources.truth import PLACE, Truth
from underglass.errors import InputError
from underglass.sources.daily_csv import parse_daily_csv
from underglass.sources.files import kind_of, read_daily_csv, read_weather_file
from underglass.sources.own_csv import hourly_csv_draft
from underglass.sources.table import parse_table
from underglass.weather.outside import OutsideWeather

TRUTH = Truth(np.datetime64("2001-06-01T00", "h"), 168)
TEXT = formats.hourly_csv(TRUTH, TRUTH.outside())
HEAD_LINES = 5
HEADER = "time,air_c,dew_point_c,wind_m_s,dni_w_m2,dhi_w_m2,ghi_w_m2,cloud,precipitation_mm"


def read(text: str, folder: Path, name: str = "w.csv", **options: object) -> OutsideWeather:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return read_weather_file(path, **options)  # type: ignore[arg-type]


def row(k: int) -> str:
    return TEXT.splitlines()[HEAD_LINES + k]


def with_row(k: int, new: str | None) -> str:
    """The text with row k replaced (None: removed); row 0 stands in line 6."""
    rows = TEXT.splitlines()
    rows[HEAD_LINES + k : HEAD_LINES + k + 1] = [] if new is None else [new]
    return "\n".join(rows) + "\n"


def cell(k: int, column: str, value: str) -> str:
    parts = row(k).split(",")
    parts[HEADER.split(",").index(column)] = value
    return with_row(k, ",".join(parts))


def without_rows(first: int, count: int) -> str:
    rows = TEXT.splitlines()
    del rows[HEAD_LINES + first : HEAD_LINES + first + count]
    return "\n".join(rows) + "\n"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (cell(20, "air_c", "warm"), "line 26: air_c is 'warm': expected a number, or an empty cell"),
        (cell(20, "air_c", "inf"), "line 26: air_c is 'inf': expected a number"),
        (cell(20, "air_c", "1_0"), "line 26: air_c is '1_0': expected a number"),
        (cell(20, "air_c", "74.5"), r"line 26: air_c is 74.5 °C: expected -90 to 60 °C; is this in °F\?"),
        (cell(20, "air_c", "284.2"), r"line 26: air_c is 284.2 °C: expected -90 to 60 °C; is this in kelvin\?"),
        (cell(20, "air_c", "-999"), "line 26: air_c is -999 °C: .* if this marks a missing value, leave the cell empty"),
        (cell(20, "wind_m_s", "-2"), "line 26: wind_m_s is -2 m/s: expected 0 to 75 m/s"),
        (cell(20, "dni_w_m2", "1600"), "line 26: dni_w_m2 is 1600 W/m²: expected -20 to 1500 W/m²"),
        (cell(20, "cloud", "80"), r"line 26: cloud is 80: expected 0 to 1; is this in percent or tenths\?"),
        (cell(20, "dew_point_c", "39"), r"line 26: dew_point_c is [\d.]+ K above air_c: expected at most 0.5 K; are columns swapped\?"),
        (cell(20, "time", "2001-06-01T20:00"), "line 26: time '2001-06-01T20:00' does not say its time zone"),
        (cell(20, "time", "1 June 8 pm"), "line 26: time is '1 June 8 pm': expected ISO 8601 with offset"),
        (cell(20, "time", "2001-02-29T20:00Z"), "line 26: time is '2001-02-29T20:00Z': expected ISO 8601"),
        (cell(20, "time", "0001-01-01T00:00+10:00"), "line 26: time is '0001"),
        (cell(20, "time", "1066-06-01T20:00Z"), "line 26: time is in the year 1066: expected 1850-2200"),
        (cell(20, "time", "2001-06-01T19:00Z"), r"line 26: the hour 2001-06-01 19:00 UTC occurs twice \(also in line 25\)"),
        (cell(20, "time", "2001-06-01T10:00Z"), "line 26: time runs backwards, from 2001-06-01 19:00 UTC to 2001-06-01 10:00 UTC"),
        (cell(20, "time", "2001-06-01T19:30Z"), "line 26: 30 minutes after the row before .*: expected one row an hour"),
        (cell(20, "time", "2101-06-01T20:00Z"), "line 26: 876.* hours are missing between"),
        (without_rows(20, 4), "line 26: 4 hours are missing between 2001-06-01 19:00 UTC and 2001-06-02 00:00 UTC: gaps of up to 3 h"),
        (with_row(20, row(20) + ",5"), "line 26: 10 cells, but the header names 9 columns"),
        (with_row(20, "2001-06-01T20:00+00:00,4"), "line 26: 2 cells, but the header names 9 columns"),
        (with_row(20, '"' + row(20)), "line 26: quotation marks that do not close"),
        (TEXT.replace("air_c", "temp_c"), r"line 5: column 'temp_c' is not known.*; allowed are air_c, cloud"),
        (TEXT.replace("wind_m_s", "wind_ms"), r"line 5: column 'wind_ms' is not known; did you mean 'wind_m_s'\?"),
        (TEXT.replace("dew_point_c", "note"), "line 5: no humidity: expected a column dew_point_c or rh"),
        (TEXT.replace("dni_w_m2", "dhi_w_m2"), "line 5: column name 'dhi_w_m2' occurs twice"),
        (TEXT.replace("time,", "time_end,").replace("ghi_w_m2,", "time,"), "both of the columns 'time'"),
        (TEXT.replace("time,air", "note,air"), "neither of the columns 'time'"),
        (TEXT.replace("# latitude: 44.3\n", ""), "no place; add lines '# latitude: 44.1'"),
        (TEXT.replace("# latitude: 44.3", "# latitude: north"), "the line '# latitude: north' should hold a number"),
        (TEXT.replace("# latitude: 44.3", "# latitude: 144.3"), r"latitude is 144.3: expected -90 to 90 degrees; are latitude and longitude swapped\?"),
        (TEXT.replace("# elevation: 250.0", "# elevation: 8200"), r"elevation is 8200 m: expected -430 to 6000 m; is it in feet\?"),
        ("\n".join(TEXT.splitlines()[:5]), "column names but no data below them"),
        ("\n".join(TEXT.splitlines()[5:]), "line 1: expected column names, found '2001-06-01T00:00.*is the header line missing"),
        ("", "no header line with column names; the file is empty"),
        ("# latitude: 44\n\n", "no header line"),
        (TEXT.replace("# time_zone: America/New_York", "# temperature_unit: K"), "temperature_unit is 'k': expected C or F"),
    ],
)  # fmt: skip
def test_one_clear_sentence(text: str, sentence: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read(text, tmp_path)
    assert "w.csv" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_all_impossible_columns_are_told_at_once(tmp_path: Path) -> None:
    parts = row(20).split(",")
    parts[1], parts[3] = "99", "-9"
    with pytest.raises(InputError) as caught:
        read(with_row(20, ",".join(parts)), tmp_path)
    assert len(str(caught.value).splitlines()) == 2


def test_missing_file_folder_and_letters(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"cannot be read .*check the name of the weather file"):
        read_weather_file(tmp_path / "nowhere.csv")
    with pytest.raises(InputError, match=r"is a folder"):
        read_weather_file(tmp_path)
    (tmp_path / "latin.csv").write_bytes(TEXT.replace("# time_zone", "# name: Hügel\n# time_zone").encode("latin-1"))
    with pytest.raises(InputError, match=r"line 4: letters that are not UTF-8"):
        read_weather_file(tmp_path / "latin.csv")
    with pytest.raises(InputError, match=r"cannot be read"):
        read_weather_file("bad\0name.csv")


@pytest.mark.parametrize("count", [1, 2, 3])
def test_short_gaps_are_filled_and_counted(count: int, tmp_path: Path) -> None:
    got = read(without_rows(20, count), tmp_path)
    assert got.n_hours == 168
    assert got.provenance.filled_hours == count
    whole = read(TEXT, tmp_path)
    assert whole.provenance.filled_hours == 0
    line = np.interp(range(20, 20 + count), [19, 20 + count], whole.air_temp_k[[19, 20 + count]])
    assert np.allclose(got.air_temp_k[20 : 20 + count], line)


def test_empty_cells_are_gaps_too_and_long_ones_are_refused(tmp_path: Path) -> None:
    assert read(cell(20, "air_c", ""), tmp_path).provenance.filled_hours == 1
    assert read(cell(20, "air_c", " NaN "), tmp_path).provenance.filled_hours == 1
    rows = TEXT.splitlines()
    for k in range(30, 34):
        parts = rows[HEAD_LINES + k].split(",")
        parts[2] = ""
        rows[HEAD_LINES + k] = ",".join(parts)
    with pytest.raises(
        InputError, match=r"line 36: dew_point_c is missing for more than 3 hours from 2001-06-02T06 UTC"
    ):
        read("\n".join(rows), tmp_path)


def test_long_holes_in_rain_are_no_rain_and_said(tmp_path: Path) -> None:
    rows = [line.rsplit(",", 1)[0] + "," if k > HEAD_LINES + 80 else line for k, line in enumerate(TEXT.splitlines())]
    got = read("\n".join(rows), tmp_path)
    assert got.precipitation_mm[81:].max() == 0.0
    assert any("precipitation missing in 87 hours" in note for note in got.provenance.notes)


@pytest.mark.parametrize(("delimiter", "decimal"), [(";", ","), (";", "."), ("\t", ",")])
def test_spreadsheet_habits(delimiter: str, decimal: str, tmp_path: Path) -> None:
    """Semicolons or tabs, decimal commas, byte-order mark, Windows line ends, quoted names, trailing delimiters."""
    rows = TEXT.splitlines()
    head, body = rows[:4], rows[4:]
    turned = [delimiter.join(part.replace(".", decimal) for part in line.split(",")) for line in body]
    turned[0] = delimiter.join(f'"{name}"' for name in turned[0].split(delimiter))
    text = "\ufeff" + "\r\n".join(head + [line + delimiter for line in turned]) + "\r\n"
    got, plain = read(text, tmp_path, "a.csv"), read(TEXT, tmp_path, "b.csv")
    assert np.array_equal(got.air_temp_k, plain.air_temp_k)
    assert np.array_equal(got.dni_w_m2, plain.dni_w_m2)


def test_fahrenheit_is_noticed_and_can_be_said(tmp_path: Path) -> None:
    rows = TEXT.splitlines()
    for k in range(HEAD_LINES, len(rows)):
        parts = rows[k].split(",")
        parts[1], parts[2] = (f"{float(part) * 1.8 + 32:.2f}" for part in parts[1:3])
        rows[k] = ",".join(parts)
    hot = "\n".join(rows)
    with pytest.raises(InputError, match=r"air_c is 64.13 °C: .* is this in °F\? then say '# temperature_unit: F'"):
        read(hot, tmp_path)
    mild = "\n".join(",".join([*p[:1], "50", "48", *p[3:]]) if k > HEAD_LINES - 1 else line
                     for k, line in enumerate(rows) for p in [line.split(",")])  # fmt: skip
    with pytest.raises(InputError, match=r"air_c have a mean of 50.0 °C at .* this looks like Fahrenheit; say so with"):
        read(mild.replace(",48,", ",39,"), tmp_path)
    said = read("# temperature_unit: F\n" + hot, tmp_path)
    option = read(hot, tmp_path, temperature_unit="F")
    plain = read(TEXT, tmp_path)
    assert np.abs(said.air_temp_k - plain.air_temp_k).max() < 0.01
    assert np.array_equal(said.air_temp_k, option.air_temp_k)
    with pytest.raises(InputError, match=r"looks like Celsius already; leave temperature_unit out"):
        read(TEXT, tmp_path, temperature_unit="F")


def test_rh_stands_in_for_dew_point_and_is_checked(tmp_path: Path) -> None:
    table = TEXT.replace("dew_point_c", "rh").splitlines()
    for k in range(HEAD_LINES, len(table)):
        parts = table[k].split(",")
        parts[2] = "100.0"
        table[k] = ",".join(parts)
    got = read("\n".join(table), tmp_path)
    assert np.abs(got.dew_point_k - got.air_temp_k).max() < 1e-6
    table[30] = table[30].replace("100.0", "101.0")
    with pytest.raises(InputError, match=r"line 31: rh is 101 %: expected 0 to 100.5 %"):
        read("\n".join(table), tmp_path)


def test_global_sun_alone_is_split_and_no_sun_is_refused(tmp_path: Path) -> None:
    rows = [line.split(",") for line in TEXT.splitlines()[4:]]
    head = "\n".join(TEXT.splitlines()[:4]) + "\n"
    keep = [0, 1, 2, 3, 6]
    only_ghi = head + "\n".join(",".join(r[k] for k in keep) for r in rows)
    got, whole = read(only_ghi, tmp_path), read(TEXT, tmp_path)
    ghi = np.array([float(r[6]) for r in rows[1:]])
    back = got.dhi_w_m2 + got.dni_w_m2 * np.clip(np.cos(np.radians(got.sun_zenith_deg)), 0, 1)
    assert back.sum() == pytest.approx(ghi.sum(), rel=0.01)
    assert got.dni_w_m2.sum() == pytest.approx(whole.dni_w_m2.sum(), rel=0.05)
    with pytest.raises(InputError, match=r"nowhere a value for sun"):
        read(head + "\n".join(",".join(r[k] for k in keep[:4]) for r in rows), tmp_path)


def test_beam_and_diffuse_under_each_others_names(tmp_path: Path) -> None:
    """Long & Dutton 2002, BSRN recommended QC tests: diffuse over 0.75 S cos^1.2 + 30 W/m2 is extremely rare."""
    rows = [line.split(",") for line in TEXT.splitlines()[4:]]
    head = "\n".join(TEXT.splitlines()[:4]) + "\n"
    body = "\n".join(",".join(r[:6]) for r in rows[1:])
    assert rows[0][4:6] == ["dni_w_m2", "dhi_w_m2"]
    read(head + "time,air_c,dew_point_c,wind_m_s,dni_w_m2,dhi_w_m2\n" + body, tmp_path)
    with pytest.raises(InputError, match=r"are dhi_w_m2 and dni_w_m2 swapped\?"):
        read(head + "time,air_c,dew_point_c,wind_m_s,dhi_w_m2,dni_w_m2\n" + body, tmp_path)


def test_place_option_overrules_and_elevation_is_guessed(tmp_path: Path) -> None:
    bare = "\n".join(line for line in TEXT.splitlines() if not line.startswith("# "))
    assert read(bare, tmp_path, place=PLACE).place == PLACE
    guessed = read(TEXT.replace("# elevation: 250.0\n", ""), tmp_path)
    assert 50.0 < guessed.place.elevation_m < 1200.0


def test_leap_day_is_an_hour_like_any_other(tmp_path: Path) -> None:
    truth = Truth(np.datetime64("2004-02-27T00", "h"), 96)
    got = read(formats.hourly_csv(truth, truth.outside()), tmp_path)
    assert got.n_hours == 96
    assert "2004-02-29T12" in got.times.astype(str).tolist()


# --- daily tables -------------------------------------------------------------------------------------------------

DAYS = "# latitude: 44.3\n# longitude: -72.6\n# elevation: 250\ndate,tmin_c,tmax_c,precipitation_mm\n" + "".join(
    f"{np.datetime64('2004-02-20') + k},{-9 + k % 5},{1 + k % 4},{0.5 * (k % 3)}\n" for k in range(30)
)


def with_day(k: int, new: str | None) -> str:
    rows = DAYS.splitlines()
    rows[4 + k : 5 + k] = [] if new is None else [new]
    return "\n".join(rows)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (with_day(3, "2004-02-30,1,2,0"), "line 8: date is '2004-02-30': expected a day of the calendar as YYYY-MM-DD"),
        (with_day(3, "02/23/2004,1,2,0"), "line 8: date is '02/23/2004'"),
        (with_day(3, "1666-02-23,1,2,0"), "line 8: date is in the year 1666"),
        (with_day(3, "2004-02-22,1,2,0"), "line 8: the day 2004-02-22 occurs twice"),
        (with_day(3, "2004-02-21,1,2,0"), "line 8: the day 2004-02-21 comes out of order"),
        (with_day(3, "2094-02-21,1,2,0"), "line 8: the day 2094-02-21 comes 20 years late"),
        (with_day(3, "2004-02-23,5,2,0"), r"line 8: the day's lowest temperature is 3 K above its highest; are the columns swapped\?"),
        (with_day(3, "2004-02-23,5,88,0"), "line 8: tmax is 88 °C: expected -90 to 60; if the table is in °F, say temperature_unit F"),
        (with_day(3, "2004-02-23,5,8,-1"), "line 8: precipitation_mm is -1 mm: expected 0 to 1900"),
        (DAYS.replace("tmin_c,tmax_c", "tmax_c,tmin_c"), "lowest temperature is .* above its highest"),
        (DAYS.replace("tmin_c", "low"), "column 'low' is not known"),
        (DAYS.replace("tmin_c,", "note,"), "line 4: no column tmin_c; found date, note, tmax_c"),
        ("date,tmin_c,tmax_c\n2004-01-01,,\n", "no place"),
        ("# latitude: 44\n# longitude: -72\ndate,tmin_c,tmax_c\n2004-01-01,,\n", "no day with a lowest and a highest temperature"),
    ],
)  # fmt: skip
def test_daily_sentences(text: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        parse_daily_csv(text, "days.csv")


def test_wind_in_another_unit_is_noticed(tmp_path: Path) -> None:
    rows = TEXT.splitlines()
    at = HEADER.split(",").index("wind_m_s")
    for k in range(HEAD_LINES, len(rows)):
        parts = rows[k].split(",")
        rows[k] = ",".join([*parts[:at], f"{float(parts[at]) * 3.6 + 15.0:.1f}", *parts[at + 1 :]])
    with pytest.raises(InputError, match=r"wind_m_s has a mean of .* m/s, a gale without end.*km/h or knots\?"):
        read("\n".join(rows), tmp_path)


@pytest.mark.parametrize(
    ("hours", "said"), [(8759, "1 short of a year"), (8785, "1 more than a year"), (8760, ""), (8784, ""), (500, "")]
)
def test_a_row_lost_from_a_year_is_told(hours: int, said: str, tmp_path: Path) -> None:
    truth = Truth(np.datetime64("2001-06-01T00", "h"), hours)
    notes = " ".join(read(formats.hourly_csv(truth, truth.outside()), tmp_path).provenance.notes)
    assert (said in notes) if said else "a year" not in notes


def test_daily_reads_leap_day_gaps_and_units(tmp_path: Path) -> None:
    path = tmp_path / "days.csv"
    path.write_text(with_day(12, None))
    got = read_daily_csv(path)
    assert got.n_days == 30
    assert got.missing_days == 1
    assert str(got.dates[9]) == "2004-02-29"
    assert got.unbroken().filled_days == 1
    rows = DAYS.splitlines()
    path.write_text("\n".join(rows[:10] + rows[14:]))
    assert read_daily_csv(path).missing_days == 4
    with pytest.raises(InputError, match=r"tmin is missing for more than 3 days from 2004-02-26"):
        read_daily_csv(path).unbroken()


def test_daily_fahrenheit_is_noticed() -> None:
    rows = DAYS.splitlines()
    for k in range(4, len(rows)):
        day, low, high, rain = rows[k].split(",")
        rows[k] = f"{day},{float(low) * 1.8 + 32:.1f},{float(high) * 1.8 + 32:.1f},{rain}"
    hot = "\n".join(rows)
    with pytest.raises(InputError, match=r"tmin_c and tmax_c have a mean of .* this looks like Fahrenheit"):
        parse_daily_csv(hot, "days.csv")
    said = parse_daily_csv(hot, "days.csv", temperature_unit="F")
    assert np.abs(said.tmin_k - parse_daily_csv(DAYS, "days.csv").tmin_k).max() < 0.05


def test_kinds_are_told_by_their_first_lines() -> None:
    assert kind_of(TEXT) == "hourly"
    assert kind_of(DAYS) == "daily"
    assert kind_of("LOCATION,A,B,C,D,1,2,3,4,5\n") == "epw"
    assert kind_of('1,"A",B,-5,36,-79,273\nDate (MM/DD/YYYY),Time (HH:MM)\n') == "tmy3"
    assert kind_of(" 12839 MIAMI                  FL  -5 N 25 48 W  80 16     2\n") == "tmy2"


def test_table_keeps_lines_and_passes_over_comments() -> None:
    table = parse_table("# Latitude: 1\n\na,b\n1,2\n# a remark\n\n3,4\n", "t.csv")
    assert table.lines.tolist() == [4, 7]
    assert table.options == {"latitude": "1"}
    assert table.numbers("b").tolist() == [2.0, 4.0]


def test_draft_names_its_columns() -> None:
    draft = hourly_csv_draft(TEXT, "w.csv")
    assert draft.names["air_temp_k"] == "air_c"
    assert draft.grid.lines[0] == HEAD_LINES + 1
