"""EPW files (EnergyPlus weather): typical or real years of hours, for several thousand places.

Format: EnergyPlus Auxiliary Programs, 'EPW data dictionary'.  Rows are hour-ending on local standard time; the sun is the
mean of the hour that ends, temperature, humidity, wind and cloud are taken at its end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.sources.draft import HourlyDraft, number, place_of
from underglass.sources.hours import lay_out
from underglass.sources.quantities import QUANTITIES
from underglass.sources.table import shorten
from underglass.sources.typical import YearRows, year_minutes

__all__ = ["epw_draft", "looks_like_epw"]

F64 = NDArray[np.float64]

DATA_CELLS = 32
"""Cells a data row must have: up to days since snowfall (albedo and rain were added later)."""


@dataclass(frozen=True, slots=True)
class Field:
    """Where a quantity stands in a row, the value from which on it means 'missing', and the factor to the shown unit."""

    cell: int
    missing_from: float
    factor: float = 1.0


FIELDS: Mapping[str, Field] = {
    "air_temp_k": Field(6, 99.9),
    "dew_point_k": Field(7, 99.9),
    "rh_frac": Field(8, 999.0),
    "pressure_pa": Field(9, 999_999.0),
    "longwave_down_w_m2": Field(12, 9999.0),
    "ghi_w_m2": Field(13, 9999.0),
    "dni_w_m2": Field(14, 9999.0),
    "dhi_w_m2": Field(15, 9999.0),
    "wind_m_s": Field(21, 999.0),
    "cloud_frac": Field(23, 99.0, 0.1),
    "snow_depth_m": Field(30, 999.0, 0.01),
    "precipitation_mm": Field(33, 999.0),
}
RAIN_HOURS_CELL = 34


def looks_like_epw(text: str) -> bool:
    """Whether the text begins as an EPW file does."""
    return text[:9].upper() == "LOCATION,"


def epw_draft(text: str, file: str, *, time_zone: str | None = None) -> HourlyDraft:
    """An EPW file's text as a draft of hours; longwave from the sky comes from the file."""
    rows = text.splitlines()
    location = _location(rows[0], file)
    first = _first_data_row(rows, file)
    cells, lines = _cells(rows, first, file)
    stamp = np.array([[number(row[k], file, line, name) for k, name in enumerate(("year", "month", "day", "hour"))]
                      for row, line in zip(cells, lines, strict=True)]).astype(np.int64)  # fmt: skip
    offset_h = location[2]
    line_of = np.array(lines, dtype=np.int64)
    begin, real = year_minutes(YearRows(stamp[:, 0], stamp[:, 1], stamp[:, 2], stamp[:, 3], line_of, file), offset_h)
    columns = {key: _column(cells, lines, key, field, file) for key, field in FIELDS.items()}
    columns["precipitation_mm"] = spread_back(columns["precipitation_mm"], _rain_hours(cells))
    city = ", ".join(part for part in (cell.strip() for cell in rows[0].split(",")[1:4]) if part and part != "-")
    return HourlyDraft(
        place=place_of(file, location[0], location[1], location[3], time_zone, offset_h, city),
        grid=lay_out(begin, columns, line_of, file),
        file=file,
        layer="hourly record" if real else "typical year",
        source=f"EPW file {city}, {rows[0].split(',')[4].strip()}",
        longwave="the file's own (EPW horizontal infrared)",
        instants_at_end=True,
    )


def _location(row: str, file: str) -> tuple[float, float, float, float]:
    """Latitude, longitude, hours ahead of UTC and elevation from the LOCATION line."""
    cells = row.split(",")
    if len(cells) < 10:
        raise InputError.at(file, 1, f"LOCATION line has {len(cells)} parts, expected 10: '{shorten(row)}'")
    names = ("latitude", "longitude", "time zone", "elevation")
    lat, lon, offset, height = (number(cells[6 + k], file, 1, name) for k, name in enumerate(names))
    if not -12.0 <= offset <= 14.0:
        raise InputError.at(file, 1, f"time zone is {offset:g} h: expected -12 to 14 hours ahead of UTC")
    return lat, lon, offset, height


def _first_data_row(rows: list[str], file: str) -> int:
    """Index of the first data row; refuses files with several records an hour."""
    for k, row in enumerate(rows[:40]):
        if row.upper().startswith("DATA PERIODS"):
            per_hour = row.split(",")[2].strip() if row.count(",") >= 2 else "1"
            if per_hour not in ("1", "1.0"):
                raise InputError.at(
                    file, k + 1, f"{shorten(per_hour)} records an hour: expected 1; make hourly means first"
                )
            return k + 1
    raise InputError(f"{file}: no DATA PERIODS line among the first 40 lines; is this a whole EPW file?")


def _cells(rows: list[str], first: int, file: str) -> tuple[list[list[str]], list[int]]:
    """Data rows cut into cells, with their line numbers."""
    lines = [k + 1 for k in range(first, len(rows)) if rows[k].strip()]
    cells = [rows[line - 1].split(",") for line in lines]
    if not cells:
        raise InputError(f"{file}: no data rows below the DATA PERIODS line")
    for row, line in zip(cells, lines, strict=True):
        if len(row) < DATA_CELLS:
            raise InputError.at(file, line, f"{len(row)} cells: expected at least {DATA_CELLS} in an EPW data row")
    return cells, lines


def _column(cells: list[list[str]], lines: list[int], key: str, field: Field, file: str) -> F64:
    """One quantity in SI, nan where the file says missing."""
    label = QUANTITIES[key].label
    raw = np.array([
        number(row[field.cell], file, line, label) if len(row) > field.cell else np.nan
        for row, line in zip(cells, lines, strict=True)
    ])  # fmt: skip
    raw[raw >= field.missing_from] = np.nan
    factor = field.factor if key != "rh_frac" else 1.0
    shown = raw * factor
    if key in ("precipitation_mm", "snow_depth_m"):
        shown[shown < 0.0] = np.nan
    return QUANTITIES[key].to_si(shown)


def _rain_hours(cells: list[list[str]]) -> F64:
    """Hours over which each row's rain fell, 1 where the file does not say."""
    out = np.ones(len(cells))
    for k, row in enumerate(cells):
        text = row[RAIN_HOURS_CELL].strip() if len(row) > RAIN_HOURS_CELL else ""
        if text.replace(".", "", 1).isdigit() and 1.0 <= float(text) <= 24.0:
            out[k] = float(text)
    return out


def spread_back(amount: F64, over_h: F64) -> F64:
    """Sums that fell over several hours, spread evenly over the hours that end with their row."""
    out = amount.copy()
    for k in np.flatnonzero((over_h >= 2.0) & (amount > 0.0)):
        first = max(0, int(k) + 1 - int(over_h[k]))
        share = amount[k] / (int(k) + 1 - first)
        out[k] = 0.0
        out[first : k + 1] = np.nan_to_num(out[first : k + 1]) + share
    return out
