"""One year of hours as typical-year files count them: month, day and hour 1-24 on the standard clock, hour-ending.

A typical year is sewn together from months of different years; it is put on one calendar year so that the sun's path
and the order of hours are whole.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError

__all__ = ["LEAP_YEAR", "PLAIN_YEAR", "YearRows", "year_minutes"]

I64 = NDArray[np.int64]

PLAIN_YEAR = 2001
LEAP_YEAR = 2004
"""The calendar years on which a typical year of 365 and of 366 days is put."""


@dataclass(frozen=True, slots=True)
class YearRows:
    """What each row of a typical-year file says about its time, shape (n_rows,) each; hour 1 is midnight to one."""

    year: I64
    month: I64
    day: I64
    hour: I64
    lines: I64
    file: str


def year_minutes(rows: YearRows, utc_offset_h: float) -> tuple[I64, bool]:
    """(minutes since 1970 UTC at which each row's hour begins, whether the rows are one real calendar year).

    The rows must be all 8760 hours of a year (8784 with 29 February), from 1 January hour 1 on, in order.
    """
    real = np.unique(rows.year).size == 1
    first = int(rows.year[0])
    n = rows.year.shape[0]
    if real and 1850 <= first <= 2200 and n == _hours_in(first):
        year = first
    else:
        year, real = (LEAP_YEAR if n == 8784 else PLAIN_YEAR), False
    expected = _expected(year)
    found = np.stack((rows.month, rows.day, rows.hour))
    shared = min(n, expected.shape[1])
    strange = np.flatnonzero((found[:, :shared] != expected[:, :shared]).any(axis=0))
    if n not in (8760, 8784) or strange.size:
        raise InputError.of([_sentence(rows, expected, int(strange[0]) if strange.size else shared)])
    local = int(np.datetime64(f"{year}-01-01", "m").astype(np.int64)) + 60 * np.arange(n, dtype=np.int64)
    return local - round(60 * utc_offset_h), real


def _hours_in(year: int) -> int:
    """8760, or 8784 in a leap year."""
    return 8784 if calendar.isleap(year) else 8760


def _expected(year: int) -> I64:
    """Month, day and hour 1-24 of every hour of a year, shape (3, n)."""
    n = _hours_in(year)
    days = np.datetime64(f"{year}-01-01", "D") + np.arange(n // 24)
    months = days.astype("datetime64[M]")
    month = months.astype(np.int64) % 12 + 1
    day = (days - months).astype(np.int64) + 1
    return np.stack((np.repeat(month, 24), np.repeat(day, 24), np.tile(np.arange(1, 25), n // 24)))


def _sentence(rows: YearRows, expected: I64, at: int) -> str:
    """What is wrong with the rows, from the first one that is not the hour it should be."""
    n = rows.year.shape[0]
    count = "" if n in (8760, 8784) else f"{n} rows of data, but a year has 8760 hours (8784 with 29 February); "
    if at >= n:
        return f"{rows.file}: {count}the file ends early, after line {rows.lines[-1]}"
    want = "no more rows" if at >= expected.shape[1] else "month {}, day {}, hour {}".format(*expected[:, at])
    found = f"month {rows.month[at]}, day {rows.day[at]}, hour {rows.hour[at]}"
    return str(InputError.at(rows.file, int(rows.lines[at]), f"{count}found {found}, expected {want}"))
