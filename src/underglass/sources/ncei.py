"""NOAA NCEI: daily summaries of stations world-wide, and the US normals' frost dates.  No token.

Traps: values are strings, often padded with blanks; units must be asked for; frost dates are `MM/DD` and may wrap the New Year;
-4444 means freezing can come in any month, -6666 that freezes are too rare for a date, -7777 a rounding to zero, -9999 missing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError, SourceError
from underglass.place.place import Place
from underglass.sources.daily import DailyRecord, daily_record
from underglass.sources.shape import dig, from_service
from underglass.sources.web import Reply, WebClient

__all__ = ["BASE_URL", "FreezeDate", "FreezeDates", "ncei_daily", "ncei_freeze_dates"]

F64 = NDArray[np.float64]

SERVICE = "NOAA NCEI"
BASE_URL = "https://www.ncei.noaa.gov"
LICENCE = "Data from NOAA's National Centers for Environmental Information (https://www.ncei.noaa.gov), public domain"
SENTINELS = {
    -4444.0: "freezing can come in any month",
    -6666.0: "freezes are too rare for a date",
    -7777.0: "a value that rounds to zero",
    -9999.0: "missing",
}
COLUMN = re.compile(r"ANN-TMIN-PRB(LST|FST)-T(24|28|32|36)FP([1-9]0)")

Season = Literal["last", "first"]


@dataclass(frozen=True, slots=True)
class FreezeDate:
    """A date of a freeze table, or why there is none.

    month_day : (month, day) or None        why : the reason where there is no date, else ''
    """

    month_day: tuple[int, int] | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class FreezeDates:
    """Chances of frost by date at one station, from its thirty-year normals.

    dates : (season, threshold °F, percent) → date.  'last' with 10 % is the late, safe one: only one spring in ten freezes
    after it.  'first' with 10 % is the early one: only one autumn in ten freezes before it.
    """

    station: str
    dates: dict[tuple[Season, int, int], FreezeDate]
    source: str
    licence: str
    fetched: datetime
    notes: tuple[str, ...] = ()

    def date(self, season: Season, threshold_f: int = 32, percent: int = 50) -> FreezeDate:
        """One date of the table; threshold 24, 28, 32 or 36 °F, percent 10-90."""
        return self.dates.get((season, threshold_f, percent), FreezeDate(None, "missing"))


def _ask(client: WebClient, params: dict[str, str], base_url: str, keep: timedelta) -> Reply:
    params = params | {"format": "json", "includeAttributes": "false"}
    return client.get_json(SERVICE, f"{base_url}/access/services/data/v1", params, keep=keep)


def ncei_daily(
    client: WebClient, station: str, place: Place, first: date, last: date, *, base_url: str = BASE_URL
) -> DailyRecord:
    """Daily lowest and highest temperature and rain of a GHCN station (id such as 'USW00024233'), in metric units."""
    if last < first:
        raise InputError(f"from {first} to {last}: the last day comes before the first")
    params = {
        "dataset": "daily-summaries", "stations": station, "startDate": first.isoformat(), "endDate": last.isoformat(),
        "dataTypes": "TMAX,TMIN,PRCP", "units": "metric",
    }  # fmt: skip
    reply = _ask(client, params, base_url, timedelta(days=7))
    rows = _rows(reply.data)
    if not rows:
        raise SourceError(f"{SERVICE}: station {station} has no data from {first} to {last}; is the id right?")
    dates = np.array([_day(row.get("DATE")) for row in rows])
    columns = {
        ours: np.array([_value(row.get(theirs), theirs) for row in rows]) + offset
        for ours, theirs, offset in (
            ("tmin_k", "TMIN", 273.15),
            ("tmax_k", "TMAX", 273.15),
            ("precipitation_mm", "PRCP", 0.0),
        )
    }
    swapped = columns["tmin_k"] > columns["tmax_k"]
    columns["tmin_k"][swapped] = columns["tmax_k"][swapped] = np.nan
    notes = reply.notes + ((f"{swapped.sum()} days with Tmin above Tmax left out",) if swapped.any() else ())
    return from_service(SERVICE, lambda: daily_record(
        place, dates, columns, np.arange(1, len(rows) + 1), SERVICE,
        source=f"NOAA NCEI daily summaries, station {station}", licence=LICENCE, fetched=reply.fetched, notes=notes,
    ))  # fmt: skip


def ncei_freeze_dates(
    client: WebClient, station: str, *, normals: str = "1991-2020", base_url: str = BASE_URL
) -> FreezeDates:
    """The frost-date table of a US station's normals; `normals` is '1991-2020' or '1981-2010'."""
    if normals not in ("1991-2020", "1981-2010"):
        raise InputError(f"normals are {normals[:20]!r}: expected 1991-2020 or 1981-2010")
    names = [f"ANN-TMIN-PRB{end}-T{f}FP{p}0" for end in ("LST", "FST") for f in (24, 28, 32, 36) for p in range(1, 10)]
    params = {"dataset": f"normals-annualseasonal-{normals}", "stations": station, "dataTypes": ",".join(names)}
    reply = _ask(client, params | {"units": "standard"}, base_url, timedelta(days=365))
    rows = _rows(reply.data)
    if not rows:
        raise SourceError(f"{SERVICE}: station {station} has no frost dates in the normals {normals}")
    dates: dict[tuple[Season, int, int], FreezeDate] = {}
    for name, value in rows[0].items():
        match = COLUMN.fullmatch(name.strip().upper())
        if match is not None:
            season: Season = "last" if match[1] == "LST" else "first"
            dates[season, int(match[2]), int(match[3])] = _freeze_date(value, name)
    if not dates:
        raise SourceError(f"{SERVICE}: station {station} has no frost dates in the normals {normals}")
    return FreezeDates(
        station, dates, f"NOAA normals {normals}, station {station}", LICENCE, reply.fetched, reply.notes
    )


def _rows(data: Any) -> list[dict[str, Any]]:
    rows: list[Any] = dig(SERVICE, {"reply": data}, "reply", kind=list)
    if any(not isinstance(row, dict) for row in rows):
        raise SourceError(f"{SERVICE}: the reply is not a list of rows")
    return rows


def _day(value: Any) -> np.datetime64:
    try:
        return np.datetime64(date.fromisoformat(str(value).strip()))
    except ValueError as error:
        raise SourceError(f"{SERVICE}: a day is {str(value)[:20]!r}: expected YYYY-MM-DD") from error


def _value(value: Any, name: str) -> float:
    """A padded string as a number, nan where it is absent or a sentinel."""
    text = "" if value is None else str(value).strip()
    if not text:
        return float("nan")
    try:
        number = float(text)
    except ValueError as error:
        raise SourceError(f"{SERVICE}: {name} is {text[:20]!r}: expected a number") from error
    if not np.isfinite(number):
        raise SourceError(f"{SERVICE}: {name} is {text[:20]!r}: expected a number")
    return float("nan") if number in SENTINELS else number


def _freeze_date(value: Any, name: str) -> FreezeDate:
    """`' 04/22'` → (4, 22); a sentinel → why there is none."""
    text = "" if value is None else str(value).strip()
    try:
        month, day = (int(part) for part in text.split("/"))
        date(2000, month, day)
    except ValueError:
        try:
            why = SENTINELS.get(float(text or -9999.0))
        except ValueError:
            why = None
        if why is None:
            raise SourceError(f"{SERVICE}: {name} is {text[:20]!r}: expected MM/DD") from None
        return FreezeDate(None, why)
    return FreezeDate((month, day))
