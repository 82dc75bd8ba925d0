"""Daily weather tables: `date, tmin_c, tmax_c` and what else is known, one row a day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.sources.climate_check import refuse_fahrenheit
from underglass.sources.daily import DailyRecord, daily_record
from underglass.sources.own_csv import place_from_options, temperature_factor
from underglass.sources.table import parse_table, shorten

__all__ = ["DAILY_COLUMNS", "parse_daily_csv"]

F64 = NDArray[np.float64]

DAILY_COLUMNS: Mapping[str, str] = {
    "tmin_c": "tmin_k",
    "tmax_c": "tmax_k",
    "precipitation_mm": "precipitation_mm",
    "ghi_mj_m2": "ghi_mj_m2",
    "wind_m_s": "wind_m_s",
}
"""Column of the file → our name."""


def parse_daily_csv(
    text: str, file: str, *, place: Place | None = None, temperature_unit: str | None = None
) -> DailyRecord:
    """A daily table's text; `place` and `temperature_unit` ('C' or 'F') overrule the header lines."""
    table = parse_table(text, file)
    table.only((*DAILY_COLUMNS, "date"))
    table.need("date", "tmin_c", "tmax_c")
    dates = np.array(
        [_day(cell, file, line) for cell, line in zip(table.columns["date"], table.lines.tolist(), strict=True)]
    )
    scale, offset = temperature_factor(table, temperature_unit)
    columns: dict[str, F64] = {}
    for title, ours in DAILY_COLUMNS.items():
        if title in table.columns:
            shown = table.numbers(title)
            columns[ours] = shown * scale + offset + 273.15 if title in ("tmin_c", "tmax_c") else shown
    where = place_from_options(table, place)
    months = dates.astype("datetime64[M]").astype(np.int64) % 12
    refuse_fahrenheit(where, months, 0.5 * (columns["tmin_k"] + columns["tmax_k"]), file, "tmin_c and tmax_c")
    source = table.options.get("source", f"daily table {Path(file).name}")
    licence = table.options.get("licence", "")
    return daily_record(where, dates, columns, table.lines, file, source=source, licence=licence)


def _day(cell: str, file: str, line: int) -> np.datetime64:
    """A calendar day `YYYY-MM-DD`."""
    try:
        day = date.fromisoformat(cell.strip())
    except ValueError as error:
        fault = f"date is '{shorten(cell)}': expected a day of the calendar as YYYY-MM-DD"
        raise InputError.at(file, line, fault) from error
    if not 1850 <= day.year <= 2200:
        raise InputError.at(file, line, f"date is in the year {day.year}: expected 1850-2200")
    return np.datetime64(day)
