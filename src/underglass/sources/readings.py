"""A thermometer's or logger's CSV file as readings: what can be understood is, and said; what can't is asked for."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.shelter.tune_types import Readings
from underglass.sources.reading_columns import Column, columns_of, unit_in
from underglass.sources.reading_times import Stamp, is_time, order_of, place_zone, seconds_of, stamp_of, zone_of
from underglass.sources.table import read_text, shorten
from underglass.units import c_to_k, f_to_k
from underglass.weather.outside import OutsideWeather

__all__ = ["Logbook", "parse_readings", "read_readings"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

NUMBER = re.compile(r"\s*([+-]?\d{1,6}(?:[.,]\d+)?)\s*(?:[°º\ufffd]?\s*([cCfF]))?\s*", re.ASCII)
ZONE_IN_HEADER = re.compile(r"\b(?:utc|gmt)(?:\s*[+-]\d{1,2}(?::?\d{2})?)?", re.IGNORECASE)
DELIMITERS = (",", ";", "\t", "|")
COLDEST_C, HOTTEST_C = -60.0, 80.0
"""Beyond these a thermometer under glass is broken or unplugged: -127 and 85 are what a common sensor says then."""

MOST_ODD = 0.1
ABOVE_OUTSIDE_K = (-6.0, 25.0)
"""How far the mean under a shelter lies above the mean outside, at most (judgement); tells °C from °F where nothing else does."""

DAY_S = 86400


@dataclass(frozen=True, slots=True)
class Logbook:
    """Readings of every probe in a file, hourly means where there were more, and what was understood, in sentences."""

    readings: tuple[Readings, ...]
    understood: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows that hold a time and a number: cells, lines of the file; names of the columns; places of date and time; lines left out."""

    names: list[str]
    cells: list[list[str]]
    lines: list[int]
    date: int
    time: int | None
    odd: list[int]
    delimiter: str
    preamble: str

    def stamps(self) -> list[Stamp]:
        """The times, as written."""
        out = []
        for row in self.cells:
            text = row[self.date] if self.time is None else f"{row[self.date]} {row[self.time]}"
            stamp = stamp_of(text)
            assert stamp is not None  # only such rows are kept
            out.append(stamp)
        return out


def read_readings(
    path: Path,
    *,
    place: Place,
    outside: OutsideWeather | None = None,
    time_zone: str | None = None,
    units: str | None = None,
    date_order: str | None = None,
    columns: Sequence[str] = (),
) -> Logbook:
    """The readings in a file; see `parse_readings`."""
    text = read_text(path, lenient=True, what="file of readings")
    return parse_readings(
        text, str(path), place=place, outside=outside, time_zone=time_zone, units=units, date_order=date_order, columns=columns,
    )  # fmt: skip


def parse_readings(
    text: str,
    file: str,
    *,
    place: Place,
    outside: OutsideWeather | None = None,
    time_zone: str | None = None,
    units: str | None = None,
    date_order: str | None = None,
    columns: Sequence[str] = (),
) -> Logbook:
    """Readings from text.

    place      : its clock is taken where neither file nor `time_zone` says one
    outside    : weather of those days, which helps to tell °C from °F        units : 'c' or 'f' where the file does not say
    date_order : 'mdy' or 'dmy'        columns : 'NAME=WHAT', as `columns_of`
    Raises InputError with what is not understood and how to say it.
    """
    rows = _rows_of(text.replace("\0", ""), file)
    zone, clock = _zone(rows, time_zone, place)
    stamps = rows.stamps()
    day_first, order = order_of(stamps, date_order, file)
    at, steady = seconds_of(stamps, rows.lines, day_first=day_first, zone=zone, file=file)
    has_offset = all(s.offset_s is not None for s in stamps)
    said = [
        f"{len(stamps)} rows, delimiter {_word(rows.delimiter)}",
        order,
        "times carry their own offset" if has_offset else clock,
        steady,
    ]
    numeric = [i for i in range(len(rows.names)) if i not in (rows.date, rows.time) and _mostly_numbers(rows, i)]
    found = columns_of(rows.names, numeric, columns, file)
    dated = all(s.second_of_day is None for s in stamps)
    made = []
    for column in found:
        if dated and column.kind == "moment":
            raise InputError(
                f"{file}: column '{shorten(column.name)}' has dates without a time of day; add the time, "
                "or call the column lowest or highest if it holds the day's"
            )
        readings, sentence = _readings(rows, column, at, dated, units, outside, file)
        made.append(readings)
        said.append(sentence)
    unread = [rows.names[i] for i in numeric if i not in {c.at for c in found}]
    if unread:
        said.append("not read: " + ", ".join(shorten(n) for n in unread))
    if rows.odd:
        said.append(f"{len(rows.odd)} lines without time or number left out, the first is line {rows.odd[0]}")
    return Logbook(tuple(made), tuple(s for s in said if s))


def _word(delimiter: str) -> str:
    return {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}[delimiter]


def _split(line: str, delimiter: str) -> list[str]:
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        cells = line.split(delimiter)
    while cells and not cells[-1].strip():
        cells.pop()
    return [c.strip() for c in cells]


def _rows_of(text: str, file: str) -> _Rows:
    """The table in a text, whatever stands above and below it."""
    lines = text.splitlines()
    tried = []
    for delimiter in DELIMITERS:
        cells = [_split(line, delimiter) for line in lines]
        tried.append((delimiter, cells, [_time_in(row) for row in cells]))
    delimiter, cells, times = max(tried, key=lambda t: sum(time is not None for time in t[2]))
    shapes = Counter((time, len(row)) for row, time in zip(cells, times, strict=True) if time is not None)
    if not shapes:
        raise InputError(
            f"{file}: no rows with a date, a time and a temperature; expected a table as 'time,air' above "
            "'2026-11-03 07:30,34.5'"
        )
    where = shapes.most_common(1)[0][0][0]
    width = _width(shapes, where)
    keep = [i for i, row in enumerate(cells) if times[i] == where and len(row) <= width]
    first = keep[0]
    head = next((i for i in range(first - 1, -1, -1) if cells[i]), None)
    names = _names(cells[head] if head is not None else [], width, file, delimiter, head)
    kept = set(keep)
    odd = [i + 1 for i in range(first, len(lines)) if cells[i] and i not in kept]
    if len(odd) > max(3, MOST_ODD * len(keep)):
        raise InputError.at(
            file, odd[0], f"not a row as the others: '{shorten(lines[odd[0] - 1])}'; {len(odd)} such lines"
        )
    body = [cells[i] + [""] * (len(names) - len(cells[i])) for i in keep]
    above = "\n".join(lines[:first])
    return _Rows(names, body, [i + 1 for i in keep], *where, odd, delimiter, above)


def _width(shapes: Counter[tuple[tuple[int, int | None], int]], where: tuple[int, int | None]) -> int:
    """Cells of the widest row that is not a rarity."""
    widths = {w: n for (at, w), n in shapes.items() if at == where}
    return max(w for w, n in widths.items() if n >= 0.02 * sum(widths.values()))


def _time_in(row: list[str]) -> tuple[int, int | None] | None:
    """Places of date and time of day in a row that also holds a number, None for any other row."""
    for i, cell in enumerate(row[:6]):
        stamp = stamp_of(cell) if any(c.isdigit() for c in cell) else None
        if stamp is None:
            continue
        time = i + 1 if stamp.second_of_day is None and i + 1 < len(row) and is_time(row[i + 1]) else None
        if time is not None and stamp_of(f"{cell} {row[time]}") is None:
            time = None
        return (i, time) if any(NUMBER.fullmatch(c) for k, c in enumerate(row) if k not in (i, time)) else None
    return None


def _names(header: list[str], width: int, file: str, delimiter: str, line: int | None) -> list[str]:
    """Names of the columns; numbers in their place where there is no header."""
    if line is None or not any(any(c.isalpha() for c in cell) for cell in header) or len(header) == 1 < width:
        return [f"column {i + 1}" for i in range(width)]
    if len(header) < width:
        hint = "; with decimal commas save it with semicolons between the cells" if delimiter == "," else ""
        raise InputError.at(file, line + 1, f"{len(header)} column names above rows of {width} cells{hint}")
    return [name or f"column {i + 1}" for i, name in enumerate(header)]


def _mostly_numbers(rows: _Rows, i: int) -> bool:
    filled = [row[i] for row in rows.cells if row[i]]
    return bool(filled) and sum(NUMBER.fullmatch(c) is not None for c in filled) > 0.5 * len(filled)


def _zone(rows: _Rows, asked: str | None, place: Place) -> tuple[tzinfo, str]:
    """The clock of the times, and the sentence that says which."""
    if asked is not None:
        return zone_of(asked), f"times are {asked}, as you said"
    for i in (rows.date, rows.time):
        if i is not None and (found := ZONE_IN_HEADER.search(rows.names[i])):
            return zone_of(found[0]), f"times are {found[0]}, as the column says"
    return place_zone(
        place
    ), f"times are taken to be the clock on the wall ({place.time_zone}); --time-zone says otherwise"


def _readings(
    rows: _Rows, column: Column, at: I64, dated: bool, units: str | None, outside: OutsideWeather | None, file: str
) -> tuple[Readings, str]:
    """One column as readings in kelvin, and what was understood of it."""
    values, units_found = np.full(len(at), np.nan), Counter[str]()
    for k, row in enumerate(rows.cells):
        if (found := NUMBER.fullmatch(row[column.at])) is not None:
            values[k] = float(found[1].replace(",", "."))
            if found[2]:
                units_found[found[2].lower()] += 1
    known = np.isfinite(values)
    unit, why = _unit(column, units_found, rows.preamble, units, values[known], at[known], outside, file)
    temp_k = f_to_k(values) if unit == "f" else c_to_k(values)
    good = known & (temp_k > c_to_k(COLDEST_C)) & (temp_k < c_to_k(HOTTEST_C))
    bad = int(known.sum() - good.sum())
    if good.sum() < 0.5 * max(int(known.sum()), 1):
        raise InputError(
            f"{file}: most of column '{shorten(column.name)}' lies outside {COLDEST_C:.0f} to {HOTTEST_C:.0f} °C; "
            "is it a temperature, and in the unit it says?"
        )
    order = np.argsort(at[good], kind="stable")
    made = _timed(column, at[good][order], temp_k[good][order], dated)
    where = f"soil {column.depth_m * 100:.0f} cm deep" if column.spot == "soil" else column.spot
    if column.height_m is not None:
        where = f"{where} {column.height_m * 100:.0f} cm high"
    words = [f"'{shorten(column.name)}': {where}", f"°{unit.upper()}{why}", column.assumed]
    words.append("" if column.kind == "moment" else f"the {column.kind} since the reading before")
    words.append({"sun": "in the sun", "shade": "shaded"}.get(column.sunlit, ""))
    words.append(f"{bad} impossible values left out" if bad else "")
    return made, ", ".join(w for w in words if w)


def _timed(column: Column, at: I64, temp_k: F64, dated: bool) -> Readings:
    if column.kind == "moment":
        at, temp_k = _hourly(at, temp_k)
        return Readings(column.probe, column.spot, at, temp_k, column.depth_m, column.sunlit, height_m=column.height_m)
    if dated:
        since, at = at, at + DAY_S
    else:
        since = np.concatenate([at[:1] - DAY_S, at[:-1]])
    return Readings(
        column.probe, column.spot, at, temp_k, column.depth_m, column.sunlit, column.kind, since, column.height_m
    )


def _hourly(at: I64, temp_k: F64) -> tuple[I64, F64]:
    """Means by hour, times too: a reading a minute says no more about a shelter than sixty of them together."""
    hours, which = np.unique(at // 3600, return_inverse=True)
    counts = np.bincount(which)
    shift = np.bincount(which, at - at[0]) / counts
    return at[0] + np.round(shift).astype(np.int64), np.bincount(which, temp_k) / counts if len(hours) else temp_k


def _unit(
    column: Column, in_cells: Counter[str], preamble: str, asked: str | None, values: F64, at: I64, outside: OutsideWeather | None, file: str,
) -> tuple[str, str]:  # fmt: skip
    """'c' or 'f', and why.  Raises InputError where both could be."""
    if column.unit:
        return column.unit, ""
    if in_cells:
        return in_cells.most_common(1)[0][0], ""
    above = {unit_in(line) for line in preamble.splitlines()[:-1]} - {None}
    if len(above) == 1:
        return str(above.pop()), " (said above the table)"
    if asked:
        return asked, " (as you said)"
    unclear = f"{file}: column '{shorten(column.name)}' does not say whether it is °C or °F; add --units c or --units f"
    if outside is None or not len(values):
        raise InputError(unclear)
    start = int(outside.start.astype("datetime64[s]").astype(np.int64))
    hours = ((at - start) // 3600).clip(0, outside.n_hours - 1)
    mean = float(np.median(values)), float(np.median(outside.air_temp_k[hours]))
    low, high = ABOVE_OUTSIDE_K
    fits = [u for u, k in (("c", c_to_k(mean[0])), ("f", f_to_k(mean[0]))) if low <= k - mean[1] <= high]
    if len(fits) != 1:
        raise InputError(unclear)
    return fits[0], " (only that fits the weather outside)"
