"""TMY3 and TMY2 files (typical meteorological years of the US): hour-ending on local standard time, like EPW.

Formats: Wilcox and Marion (2008), Users Manual for TMY3, NREL/TP-581-43156; Marion and Urban (1995), User's Manual for
TMY2s.  Neither holds longwave radiation.  The TMY3 column 'Lprecip depth (mm)' holds *tenths* of a mm (in the file of Greensboro
every value is a multiple of a hundredth of an inch so, and the year sums to 834 mm); sums over 3, 6 and 24 h stand
between the hourly ones and are left out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.sources.draft import HourlyDraft, number, place_of
from underglass.sources.hours import lay_out
from underglass.sources.quantities import QUANTITIES
from underglass.sources.table import shorten
from underglass.sources.typical import YearRows, year_minutes

__all__ = ["looks_like_tmy2", "looks_like_tmy3", "tmy2_draft", "tmy3_draft"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

LICENCE = "National Renewable Energy Laboratory, National Solar Radiation Data Base; US public data"

TMY3_COLUMNS: Mapping[str, tuple[str, float]] = {
    "ghi_w_m2": ("GHI (W/m^2)", 1.0),
    "dni_w_m2": ("DNI (W/m^2)", 1.0),
    "dhi_w_m2": ("DHI (W/m^2)", 1.0),
    "cloud_frac": ("OpqCld (tenths)", 0.1),
    "air_temp_k": ("Dry-bulb (C)", 1.0),
    "dew_point_k": ("Dew-point (C)", 1.0),
    "rh_frac": ("RHum (%)", 1.0),
    "pressure_pa": ("Pressure (mbar)", 100.0),
    "wind_m_s": ("Wspd (m/s)", 1.0),
    "precipitation_mm": ("Lprecip depth (mm)", 0.1),
}
"""Our name → (the file's column, factor to the shown unit)."""

TMY2_COLUMNS: Mapping[str, tuple[int, int, float, float]] = {
    "ghi_w_m2": (17, 21, 1.0, 9999.0),
    "dni_w_m2": (23, 27, 1.0, 9999.0),
    "dhi_w_m2": (29, 33, 1.0, 9999.0),
    "cloud_frac": (63, 65, 0.1, 99.0),
    "air_temp_k": (67, 71, 0.1, 9999.0),
    "dew_point_k": (73, 77, 0.1, 9999.0),
    "rh_frac": (79, 82, 1.0, 999.0),
    "pressure_pa": (84, 88, 100.0, 9999.0),
    "wind_m_s": (95, 98, 0.1, 999.0),
    "snow_depth_m": (133, 136, 0.01, 999.0),
}
"""Our name → (first and last+1 character of the row, factor to the shown unit, value that means missing)."""

TMY2_HEAD = re.compile(
    r"\s*(\d{3,6})\s+(.+?)\s+([A-Z]{2})\s+(-?\d+)\s+([NS])\s*(\d+)\s+(\d+)\s+([EW])\s*(\d+)\s+(\d+)\s+(-?\d+)\s*$"
)
TMY2_ROW_LETTERS = 142
MISSING_BELOW = -9000.0


def looks_like_tmy3(text: str) -> bool:
    """Whether the second line names TMY3 columns."""
    return "Date (MM/DD/YYYY)" in text[:4000]


def looks_like_tmy2(text: str) -> bool:
    """Whether the first line is a TMY2 station line."""
    return TMY2_HEAD.match(text[:200].split("\n", 1)[0].rstrip()) is not None


def tmy3_draft(text: str, file: str, *, time_zone: str | None = None) -> HourlyDraft:
    """A TMY3 file's text as a draft of hours."""
    rows = text.splitlines()
    head = [cell.strip().strip('"') for cell in rows[0].split(",")]
    if len(head) < 7 or len(rows) < 2:
        raise InputError.at(file, 1, f"expected a TMY3 station line with 7 parts, found '{shorten(rows[0])}'")
    names = ("time zone", "latitude", "longitude", "elevation")
    offset_h, lat, lon, height = (number(head[3 + k], file, 1, name) for k, name in enumerate(names))
    titles = [cell.strip().strip('"') for cell in rows[1].split(",")]
    lines = [k + 1 for k in range(2, len(rows)) if rows[k].strip()]
    cells = [rows[line - 1].split(",") for line in lines]
    _refuse_ragged(cells, lines, len(titles), file)
    line_of = np.array(lines, dtype=np.int64)
    begin, real = year_minutes(_tmy3_rows(cells, titles, line_of, file), _whole_clock(offset_h, file))
    columns = {key: _tmy3_column(cells, titles, line_of, key, file) for key in TMY3_COLUMNS}
    if "Lprecip quantity (hr)" in titles:
        hours = _numbers(cells, titles.index("Lprecip quantity (hr)"), line_of, "rain hours", file)
        columns["precipitation_mm"][hours != 1.0] = np.nan
    return HourlyDraft(
        place=place_of(file, lat, lon, height, time_zone, offset_h, f"{head[1]}, {head[2]}"),
        grid=lay_out(begin, columns, line_of, file),
        file=file,
        layer="hourly record" if real else "typical year",
        source=f"TMY3 file {head[1]}, {head[2]}",
        licence=LICENCE,
        instants_at_end=True,
    )


def _whole_clock(offset_h: float, file: str) -> float:
    if not -12.0 <= offset_h <= 14.0:
        raise InputError.at(file, 1, f"time zone is {offset_h:g} h: expected -12 to 14 hours ahead of UTC")
    return offset_h


def _refuse_ragged(cells: list[list[str]], lines: list[int], width: int, file: str) -> None:
    if not cells:
        raise InputError(f"{file}: no data rows below the header")
    for row, line in zip(cells, lines, strict=True):
        if len(row) != width:
            raise InputError.at(file, line, f"{len(row)} cells, but the header names {width} columns")


def _tmy3_rows(cells: list[list[str]], titles: list[str], lines: I64, file: str) -> YearRows:
    """Dates `MM/DD/YYYY` and times `01:00` … `24:00` (or `00:00` for midnight, counted to the day that ends)."""
    if "Time (HH:MM)" not in titles:
        raise InputError.at(file, 2, "no column 'Time (HH:MM)'")
    at_date, at_time = titles.index("Date (MM/DD/YYYY)"), titles.index("Time (HH:MM)")
    stamps = np.empty((len(cells), 4), dtype=np.int64)
    for k, row in enumerate(cells):
        match = re.fullmatch(
            r"(\d{1,2})/(\d{1,2})/(\d{4}) (\d{1,2}):00", f"{row[at_date].strip()} {row[at_time].strip()}"
        )
        if match is None:
            found = shorten(f"{row[at_date]} {row[at_time]}")
            raise InputError.at(
                file, int(lines[k]), f"date and time are '{found}': expected MM/DD/YYYY and 01:00-24:00"
            )
        month, day, year, hour = (int(part) for part in match.groups())
        stamps[k] = (year, month, day, hour)
    return YearRows(stamps[:, 0], stamps[:, 1], stamps[:, 2], stamps[:, 3], lines, file)


def _numbers(cells: list[list[str]], at: int, lines: I64, label: str, file: str) -> F64:
    return np.array([number(row[at], file, int(line), label) for row, line in zip(cells, lines, strict=True)])


def _tmy3_column(cells: list[list[str]], titles: list[str], lines: I64, key: str, file: str) -> F64:
    """One quantity in SI; all nan where the file has no such column."""
    title, factor = TMY3_COLUMNS[key]
    if title not in titles:
        return np.full(len(cells), np.nan)
    raw = _numbers(cells, titles.index(title), lines, title, file)
    raw[raw <= MISSING_BELOW] = np.nan
    if key == "cloud_frac":
        raw[raw >= 99.0] = np.nan
    return QUANTITIES[key].to_si(raw * factor)


def tmy2_draft(text: str, file: str, *, time_zone: str | None = None) -> HourlyDraft:
    """A TMY2 file's text as a draft of hours."""
    rows = text.splitlines()
    head = TMY2_HEAD.match(rows[0].rstrip())
    if head is None:
        raise InputError.at(file, 1, f"expected a TMY2 station line, found '{shorten(rows[0])}'")
    _, city, state, offset, ns, lat_deg, lat_min, ew, lon_deg, lon_min, height = head.groups()
    lat = (int(lat_deg) + int(lat_min) / 60.0) * (1.0 if ns == "N" else -1.0)
    lon = (int(lon_deg) + int(lon_min) / 60.0) * (1.0 if ew == "E" else -1.0)
    lines = np.array([k + 1 for k in range(1, len(rows)) if rows[k].strip()], dtype=np.int64)
    body = [rows[line - 1] for line in lines]
    _refuse_short(body, lines, file)
    stamps = np.array([[_digits(row, 1 + 2 * k, 3 + 2 * k, name, int(line), file)
                        for k, name in enumerate(("year", "month", "day", "hour"))]
                       for row, line in zip(body, lines, strict=True)]).astype(np.int64)  # fmt: skip
    stamps[:, 0] += 1900
    begin, real = year_minutes(
        YearRows(stamps[:, 0], stamps[:, 1], stamps[:, 2], stamps[:, 3], lines, file), _whole_clock(float(offset), file)
    )
    columns = {key: _tmy2_column(body, lines, key, file) for key in TMY2_COLUMNS}
    return HourlyDraft(
        place=place_of(file, lat, lon, float(height), time_zone, float(offset), f"{city}, {state}"),
        grid=lay_out(begin, columns, lines, file),
        file=file,
        layer="hourly record" if real else "typical year",
        source=f"TMY2 file {city}, {state}",
        licence=LICENCE,
        instants_at_end=True,
    )


def _refuse_short(body: list[str], lines: I64, file: str) -> None:
    if not body:
        raise InputError(f"{file}: no data rows below the station line")
    for row, line in zip(body, lines, strict=True):
        if len(row.rstrip()) < TMY2_ROW_LETTERS - 1:
            raise InputError.at(file, int(line), f"{len(row)} letters: expected {TMY2_ROW_LETTERS} in a TMY2 row")


def _digits(row: str, first: int, end: int, label: str, line: int, file: str) -> float:
    """A number between two letters of a row, the sign and leading blanks allowed."""
    return number(row[first:end], file, line, label)


def _tmy2_column(body: list[str], lines: I64, key: str, file: str) -> F64:
    """One quantity in SI, nan where the file says missing."""
    first, end, factor, missing = TMY2_COLUMNS[key]
    label = QUANTITIES[key].label
    raw = np.array([_digits(row, first, end, label, int(line), file) for row, line in zip(body, lines, strict=True)])
    raw[raw >= missing] = np.nan
    return QUANTITIES[key].to_si(raw * factor)
