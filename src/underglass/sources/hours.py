"""Times as files give them, laid out as an unbroken row of UTC hours.

Three traps are handled here and nowhere else: rows that are missing, twice or out of order; clocks that stand on a half
or quarter hour of UTC; and values taken *at* a moment, where the package wants the mean *over* an hour.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError

__all__ = ["MAX_GAP_H", "HourGrid", "lay_out", "mean_over_hours", "minutes_of", "short_gaps_filled"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

MAX_GAP_H = 3
"""Longest run of missing hours that is bridged by a straight line; longer ones are refused."""

FIRST_YEAR, LAST_YEAR = 1850, 2200
HOUR_MIN = 60


@dataclass(frozen=True, slots=True)
class HourGrid:
    """Columns on unbroken UTC hours.

    start   : beginning of the first hour, UTC           columns : each shape (n_hours,), nan where missing
    lines   : line of the file behind each hour; a missing hour carries the line of the next row that is there
    """

    start: np.datetime64
    columns: dict[str, F64]
    lines: I64


def minutes_of(text: str, file: str, line: int) -> int:
    """Minutes since 1970 UTC of an ISO 8601 time with offset, e.g. `2024-05-01T07:00+02:00` or `…Z`.

    >>> minutes_of("1970-01-01T02:00+01:00", "x.csv", 2)
    60
    """
    try:
        moment = datetime.fromisoformat(text.strip())
        if moment.tzinfo is None:
            hint = "add the offset from UTC, e.g. 2024-05-01T07:00+02:00 or 2024-05-01T05:00Z"
            raise InputError.at(file, line, f"time '{text.strip()}' does not say its time zone: {hint}")
        seconds = (moment.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds()
    except (ValueError, OverflowError) as error:
        fault = f"time is '{text.strip()[:40]}': expected ISO 8601 with offset, e.g. 2024-05-01T07:00+02:00"
        raise InputError.at(file, line, fault) from error
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise InputError.at(file, line, f"time is in the year {moment.year}: expected {FIRST_YEAR}-{LAST_YEAR}")
    return int(seconds // 60)


def lay_out(begin_min: I64, columns: Mapping[str, F64], lines: I64, file: str) -> HourGrid:
    """Rows with the minute at which their hour begins → unbroken UTC hours.

    begin_min : minutes since 1970 UTC, shape (n_rows,)       columns : shape (n_rows,) each
    A clock on a half or quarter hour is split over the two UTC hours it touches, in proportion; sums stay sums.
    """
    _refuse_disorder(begin_min, lines, file)
    place = (begin_min - begin_min[0]) // HOUR_MIN
    n = int(place[-1]) + 1
    out = {name: np.full(n, np.nan) for name in columns}
    for name, values in columns.items():
        out[name][place] = values
    line_of = lines[np.searchsorted(place, np.arange(n))]
    minute = int(begin_min[0] % HOUR_MIN)
    start = np.datetime64(int(begin_min[0] // HOUR_MIN), "h")
    if minute:
        if n < 2:
            raise InputError.at(file, int(lines[0]), "a single row that begins off the hour: expected at least two")
        late = minute / HOUR_MIN
        out = {name: late * values[:-1] + (1.0 - late) * values[1:] for name, values in out.items()}
        start, line_of = start + 1, line_of[1:]
    return HourGrid(start, out, line_of)


def _refuse_disorder(begin_min: I64, lines: I64, file: str) -> None:
    """One sentence for the first row that is not one hour (or a short gap) after the row before it."""
    steps = np.diff(begin_min)
    faulty = np.flatnonzero((steps < HOUR_MIN) | (steps % HOUR_MIN != 0) | (steps > (MAX_GAP_H + 1) * HOUR_MIN))
    if not faulty.size:
        return
    k = int(faulty[0])
    step, line = int(steps[k]), int(lines[k + 1])
    before, now = _clock(begin_min[k]), _clock(begin_min[k + 1])
    if step == 0:
        fault = f"the hour {now} occurs twice (also in line {lines[k]}); remove one of the rows"
    elif step < 0:
        fault = f"time runs backwards, from {before} to {now}; sort the rows by time"
    elif step % HOUR_MIN:
        fault = f"{step} minutes after the row before ({before}): expected one row an hour; make hourly means first"
    else:
        fault = (
            f"{step // HOUR_MIN - 1} hours are missing between {before} and {now}: gaps of up to {MAX_GAP_H} h are "
            "filled, longer ones need data, or split the file there"
        )
    raise InputError.at(file, line, fault)


def _clock(minutes: int | np.int64) -> str:
    """A minute count as people read it."""
    return str(np.datetime64(int(minutes), "m")).replace("T", " ") + " UTC"


def short_gaps_filled(values: F64, max_gap_h: int = MAX_GAP_H) -> tuple[F64, NDArray[np.bool_], int | None]:
    """(values with runs of up to `max_gap_h` missing hours bridged, where that was done, start of a longer run or None).

    Inside the series the bridge is a straight line; at its ends the nearest known value holds.

    >>> short_gaps_filled(np.array([1.0, np.nan, 3.0]))[0].tolist()
    [1.0, 2.0, 3.0]
    """
    missing = np.isnan(values)
    if not missing.any():
        return values, missing, None
    edges = np.diff(np.concatenate(([0], missing.astype(np.int8), [0])))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    too_long = np.flatnonzero(ends - begins > max_gap_h)
    if too_long.size:
        return values, missing, int(begins[too_long[0]])
    at = np.arange(values.shape[0], dtype=np.float64)
    filled = values.copy()
    filled[missing] = np.interp(at[missing], at[~missing], values[~missing])
    return filled, missing, None


def mean_over_hours(at_end: F64) -> F64:
    """Means over hours of values taken at the *end* of each hour, shape kept; the first hour takes its end value.

    >>> mean_over_hours(np.array([1.0, 3.0, 4.0])).tolist()
    [1.0, 2.0, 3.5]
    """
    before = np.concatenate((at_end[:1], at_end[:-1]))
    return 0.5 * (before + at_end)
