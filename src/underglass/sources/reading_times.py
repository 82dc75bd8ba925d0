"""Times as loggers write them: many shapes, often without a time zone, sometimes with the day first.  Guessed where only one
reading of them makes sense, else asked for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.sources.table import shorten

__all__ = ["Stamp", "is_time", "order_of", "place_zone", "seconds_of", "stamp_of", "zone_of"]

I64 = NDArray[np.int64]

MONTHS = {
    "jan": 1, "feb": 2, "mar": 3, "apr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12,
}  # fmt: skip
CLOCK = r"(?P<h>\d{1,2})[:.](?P<m>\d{2})(?:[:.](?P<s>\d{2})(?:[.,]\d+)?)?\s*(?P<half>[ap]\.?m\.?)?"
OFFSET = r"(?P<zone>z|utc|gmt|[+-]\d{2}:?\d{2})?"
DATES = (
    r"(?P<year>\d{4})[-/.](?P<a>\d{1,2})[-/.](?P<b>\d{1,2})",
    r"(?P<a>\d{1,2})[-/.](?P<b>\d{1,2})[-/.](?P<year>\d{4}|\d{2})",
    r"(?P<b>\d{1,2})[-. ]+(?P<name>[a-z]{3,9})\.?[-, ]+(?P<year>\d{4}|\d{2})",
    r"(?P<name>[a-z]{3,9})\.?\s+(?P<b>\d{1,2}),?\s+(?P<year>\d{4})",
)
SHAPES = tuple(re.compile(rf"{date}(?:[t, ]+{CLOCK}\s*{OFFSET})?", re.ASCII) for date in DATES)
EPOCH = re.compile(r"(\d{10})(?:\d{3})?(?:\.\d+)?", re.ASCII)
TIME_ONLY = re.compile(rf"{CLOCK}\s*{OFFSET}", re.ASCII)
FIXED = re.compile(r"(?:utc|gmt)?\s*(?P<sign>[+-])(?P<h>\d{1,2})(?::?(?P<m>\d{2}))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Stamp:
    """A time as written: year, two numbers whose order may be open (`loose`), seconds into the day (None: a date only), zone."""

    year: int
    first: int
    second: int
    loose: bool
    second_of_day: int | None
    offset_s: int | None


def is_time(text: str) -> bool:
    """A time of day by itself."""
    return TIME_ONLY.fullmatch(text.strip().lower()) is not None


def stamp_of(text: str) -> Stamp | None:
    """The time in a cell, None where there is none.

    >>> stamp_of("11/03/26 1:05 PM")
    Stamp(year=2026, first=11, second=3, loose=True, second_of_day=47100, offset_s=None)
    """
    cell = text.strip().lower()
    if found := EPOCH.fullmatch(cell):
        moment = datetime.fromtimestamp(int(found[1]), UTC)
        seconds = moment.hour * 3600 + moment.minute * 60 + moment.second
        return Stamp(moment.year, moment.month, moment.day, False, seconds, 0)
    for k, shape in enumerate(SHAPES):
        if (found := shape.fullmatch(cell)) is not None:
            parts = found.groupdict()
            month = MONTHS.get(parts["name"][:3], 0) if parts.get("name") else int(parts["a"])
            year = int(parts["year"]) + (2000 if len(parts["year"]) == 2 else 0)
            return Stamp(year, month, int(parts["b"]), k == 1, _second_of_day(parts), _offset(parts["zone"]))
    return None


def _second_of_day(parts: dict[str, str | None]) -> int | None:
    if parts["h"] is None:
        return None
    hour = int(parts["h"])
    if parts["half"]:
        hour = hour % 12 + (12 if parts["half"][0] == "p" else 0)
    return hour * 3600 + int(parts["m"] or 0) * 60 + int(parts["s"] or 0)


def _offset(zone: str | None) -> int | None:
    if not zone:
        return None
    if zone in ("z", "utc", "gmt"):
        return 0
    digits = zone[1:].replace(":", "")
    return (-1 if zone[0] == "-" else 1) * (int(digits[:2]) * 3600 + int(digits[2:]) * 60)


def _naive(stamp: Stamp, *, day_first: bool) -> datetime | None:
    month, day = (stamp.second, stamp.first) if stamp.loose and day_first else (stamp.first, stamp.second)
    try:
        return datetime(stamp.year, month, day) + timedelta(seconds=stamp.second_of_day or 0)  # noqa: DTZ001  # zone comes later
    except (ValueError, OverflowError):
        return None


def order_of(stamps: Sequence[Stamp], asked: str | None, file: str) -> tuple[bool, str]:
    """Whether the day comes before the month, and the sentence that says so.

    Raises InputError where both readings make sense.
    """
    if not any(s.loose for s in stamps):
        return False, ""
    if asked is not None:
        return asked == "dmy", f"dates are {'day' if asked == 'dmy' else 'month'} first, as you said"
    jumps = {}
    for day_first in (False, True):
        moments = [_naive(s, day_first=day_first) for s in stamps]
        if all(moments):
            times = [m for m in moments if m is not None]
            jumps[day_first] = max((abs(b - a) for a, b in pairwise(times)), default=timedelta(0))
    if not jumps:
        raise InputError(
            f"{file}: dates fit neither month/day/year nor day/month/year throughout; write year-month-day"
        )
    if len(jumps) == 2 and max(jumps.values()) < 5 * min(jumps.values()) + timedelta(days=2):
        raise InputError(
            f"{file}: the dates may be month/day or day/month, and both would do; add --date-order mdy or --date-order dmy"
        )
    day_first = min(jumps, key=lambda k: jumps[k])
    return day_first, f"dates are read {'day/month/year' if day_first else 'month/day/year'}: only that fits"


def zone_of(text: str) -> tzinfo:
    """A time zone as typed: an IANA name, UTC, or an offset such as UTC-5.  Raises InputError for anything else."""
    word = text.strip()
    if word.upper() in ("UTC", "GMT", "Z"):
        return UTC
    if (found := FIXED.fullmatch(word.lower())) is not None and int(found["h"]) <= 14:
        minutes = int(found["h"]) * 60 + int(found["m"] or 0)
        return timezone(timedelta(minutes=-minutes if found["sign"] == "-" else minutes))
    try:
        return ZoneInfo(word)
    except (KeyError, ValueError, OSError):
        raise InputError(
            f"--time-zone is {shorten(text)!r}: expected a name as America/New_York, UTC, or an offset as UTC-5"
        ) from None


def seconds_of(
    stamps: Sequence[Stamp], lines: Sequence[int], *, day_first: bool, zone: tzinfo, file: str
) -> tuple[I64, str]:
    """Seconds since 1970 UTC of each stamp, in the file's order, and a sentence about the clock where there is one.

    A clock that shows an hour that summer time leaves out, or passes the hour that comes twice only once, does not follow
    summer time: then the first reading's offset holds throughout.
    """
    moments: list[datetime] = []
    for stamp, line in zip(stamps, lines, strict=True):
        moment = _naive(stamp, day_first=day_first)
        if moment is None or not 1970 < moment.year < 2200:
            raise InputError.at(file, line, "the date is not one of the calendar")
        moments.append(moment)
    fixed = _keeps_one_offset(moments, zone)
    first = zone.utcoffset(moments[0]) or timedelta(0)
    out = np.empty(len(moments), np.int64)
    before = -(2**62)
    for i, (stamp, moment) in enumerate(zip(stamps, moments, strict=True)):
        if stamp.offset_s is not None:
            offset = stamp.offset_s
        elif fixed:
            offset = int(first.total_seconds())
        else:
            offset = int((zone.utcoffset(moment) or timedelta(0)).total_seconds())
            later = int((zone.utcoffset(moment.replace(fold=1)) or timedelta(0)).total_seconds())
            if _epoch(moment) - offset <= before < _epoch(moment) - later:
                offset = later
        out[i] = before = _epoch(moment) - offset
    return out, "the clock did not change between summer and winter time" if fixed else ""


def _epoch(moment: datetime) -> int:
    return int((moment - datetime(1970, 1, 1)) / timedelta(seconds=1))  # noqa: DTZ001  # clock arithmetic without a zone


def _keeps_one_offset(moments: Sequence[datetime], zone: tzinfo) -> bool:
    twice: list[datetime] = []
    for m in moments:
        early, late = zone.utcoffset(m), zone.utcoffset(m.replace(fold=1))
        if early is not None and late is not None and early != late:
            if early < late:  # an hour that was left out in spring
                return True
            twice.append(m)
    return bool(twice) and all(a < b for a, b in pairwise(twice)) and len(moments) > len(twice)


def place_zone(place: Place) -> tzinfo:
    """The clock on the wall at the place."""
    return zone_of(place.time_zone)
