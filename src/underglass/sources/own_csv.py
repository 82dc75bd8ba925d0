"""Our own hourly weather table, read and written: one row an hour, column names with units, ISO 8601 times.

The columns are fixed and documented in docs/formats.md; a file that `write_hourly_csv` wrote reads back the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.sources.draft import HourlyDraft, place_of
from underglass.sources.hours import lay_out, minutes_of
from underglass.sources.quantities import QUANTITIES
from underglass.sources.table import Table, parse_table
from underglass.units import k_to_c
from underglass.weather.outside import OutsideWeather

__all__ = [
    "HOURLY_COLUMNS",
    "hourly_csv_draft",
    "hourly_csv_text",
    "place_from_options",
    "temperature_factor",
    "write_hourly_csv",
]

F64 = NDArray[np.float64]

HOURLY_COLUMNS: Mapping[str, str] = {
    "air_c": "air_temp_k",
    "dew_point_c": "dew_point_k",
    "rh": "rh_frac",
    "wind_m_s": "wind_m_s",
    "dni_w_m2": "dni_w_m2",
    "dhi_w_m2": "dhi_w_m2",
    "ghi_w_m2": "ghi_w_m2",
    "longwave_down_w_m2": "longwave_down_w_m2",
    "cloud": "cloud_frac",
    "precipitation_mm": "precipitation_mm",
    "snow_depth_m": "snow_depth_m",
    "pressure_pa": "pressure_pa",
}
"""Column of the file → our name.  `rh` is in percent, `cloud` 0-1; all others carry their unit."""

TIME_COLUMNS = ("time", "time_end")


def place_from_options(table: Table, place: Place | None) -> Place:
    """The given place, else the one the `# latitude: …` lines of the table name."""
    if place is not None:
        return place
    lat, lon = table.option_number("latitude"), table.option_number("longitude")
    if lat is None or lon is None:
        raise InputError(
            f"{table.file}: no place; add lines '# latitude: 44.1' and '# longitude: -72.6' above the header, "
            "or give latitude and longitude as options"
        )
    zone = table.options.get("time_zone")
    height = table.option_number("elevation")
    return place_of(table.file, lat, lon, height, zone, name=table.options.get("name", ""))


def temperature_factor(table: Table, unit: str | None) -> tuple[float, float]:
    """(scale, offset) from the table's temperatures to degrees Celsius; Celsius unless the file or caller says F."""
    word = (unit or table.options.get("temperature_unit", "c")).strip().lower().lstrip("°")
    if word in ("c", "celsius"):
        return 1.0, 0.0
    if word in ("f", "fahrenheit"):
        return 1.0 / 1.8, -32.0 / 1.8
    raise InputError(f"{table.file}: temperature_unit is '{word[:20]}': expected C or F")


def hourly_csv_draft(
    text: str, file: str, *, place: Place | None = None, temperature_unit: str | None = None
) -> HourlyDraft:
    """Our hourly table's text as a draft; `place` and `temperature_unit` ('C' or 'F') overrule the header lines."""
    table = parse_table(text, file)
    table.only((*HOURLY_COLUMNS, *TIME_COLUMNS))
    ends = "time_end" in table.columns
    if ends == ("time" in table.columns):
        found = "both" if ends else "neither"
        fault = f"{found} of the columns 'time' (start of the hour) and 'time_end' (its end): expected exactly one"
        raise InputError.at(file, table.header_line, fault)
    table.need("air_c", "wind_m_s")
    if not {"dew_point_c", "rh"} & set(table.columns):
        raise InputError.at(file, table.header_line, "no humidity: expected a column dew_point_c or rh (percent)")
    stamps = zip(table.columns[TIME_COLUMNS[ends]], table.lines.tolist(), strict=True)
    begin = np.array([minutes_of(cell, file, line) for cell, line in stamps], dtype=np.int64) - 60 * ends
    scale, offset = temperature_factor(table, temperature_unit)
    columns: dict[str, F64] = {}
    for title in HOURLY_COLUMNS:
        if title in table.columns:
            shown = table.numbers(title)
            shown = shown * scale + offset if title in ("air_c", "dew_point_c") else shown
            columns[HOURLY_COLUMNS[title]] = QUANTITIES[HOURLY_COLUMNS[title]].to_si(shown)
    return HourlyDraft(
        place=place_from_options(table, place),
        grid=lay_out(begin, columns, table.lines, file),
        file=file,
        layer=table.options.get("layer", "hourly record"),
        source=table.options.get("source", f"hourly table {Path(file).name}"),
        licence=table.options.get("licence", ""),
        longwave=table.options.get("longwave", "measured"),
        names={ours: title for title, ours in HOURLY_COLUMNS.items()},
    )


def hourly_csv_text(outside: OutsideWeather) -> str:
    """An OutsideWeather as our hourly table; reading it back gives the same hours to the digits written."""
    p, seen = outside.place, outside.provenance
    head = {
        "latitude": f"{p.latitude_deg:.6g}", "longitude": f"{p.longitude_deg:.6g}", "elevation": f"{p.elevation_m:.6g}",
        "time_zone": p.time_zone, "name": p.name, "layer": seen.layer, "source": seen.source,
        "licence": seen.licence, "longwave": seen.longwave,
    }  # fmt: skip
    options = [f"# {key}: {' '.join(value.split())}" for key, value in head.items() if value]
    shown = {
        "air_c": (k_to_c(outside.air_temp_k), 3), "dew_point_c": (k_to_c(outside.dew_point_k), 3),
        "wind_m_s": (outside.wind_m_s, 3), "dni_w_m2": (outside.dni_w_m2, 2), "dhi_w_m2": (outside.dhi_w_m2, 2),
        "longwave_down_w_m2": (outside.longwave_down_w_m2, 2), "precipitation_mm": (outside.precipitation_mm, 3),
        "snow_depth_m": (outside.snow_depth_m, 4), "pressure_pa": (outside.pressure_pa, 0),
    }  # fmt: skip
    times = np.datetime_as_string(outside.times.astype("datetime64[m]")).tolist()
    cells = [[f"{value:.{places}f}" for value in values.tolist()] for values, places in shown.values()]
    rows = [",".join((f"{time}Z", *row)) for time, row in zip(times, zip(*cells, strict=True), strict=True)]
    return "\n".join([*options, ",".join(("time", *shown)), *rows]) + "\n"


def write_hourly_csv(outside: OutsideWeather, path: Path) -> None:
    """Write `hourly_csv_text` to a file, UTF-8."""
    try:
        path.write_text(hourly_csv_text(outside), encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})") from error
