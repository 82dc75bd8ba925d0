"""The tables of crop facts beside this module: rows by crop with their line in the file, cells read with every fault kept."""

from __future__ import annotations

import csv
import math
import re
from functools import cache
from importlib.resources import files
from typing import NamedTuple

__all__ = ["TABLES", "Cells", "Table", "known_sources", "parse_table", "shipped_tables", "source_keys"]

TABLES = ("kinds", "germination", "growth", "hardiness", "spacing_yield", "seeds", "kitchen")

SOURCED = {
    "kinds": {"family": "source"},
    "germination": {
        "soil_min_c": "source_range",
        "days_at_20c": "source_days",
        "pct_normal_at_10c": "source_pct",
        "thermal_time_use_cday": "source_use",
    },
    "growth": {
        "knott_opt_lo_month_c": "source_knott",
        "tbase_growth_c": "source_growth_temp",
        "days_sow_to_full_lo": "source_days",
        "dli_good_mol_m2_d": "source_dli",
        "weeks_sow_to_transplant_lo": "source_weeks",
        "hardening_min_night_c": "source_hardening_night",
        "hardening_start_min_c": "source_hardening_start",
        "bolt_cold_hours": "source_bolt",
        "bulb_day_h": "source_bulb",
        "height_cm": "source_height",
    },
    "hardiness": {
        "kill_unacclimated_c": "source_cold",
        "buds_below_ground": "source_buds",
        "kill_bloom_c": "source_bloom",
        "heat_lethal_tissue_c": "source_heat_general",
        "fruitset_max_day_c": "source_fruitset",
        "transplant_min_night_c": "source_planting",
    },
    "spacing_yield": {
        "plants_per_m2": "source_spacing",
        "row_yield_kg_per_m": "source_row_yield",
        "yield_typical_kg_m2": "source_yield",
        "harvest_mode": "source_harvest",
        "harvest_cuts_most": "source_season",
        "ripen_days": "source_season",
        "sowing_depth_mm": "source_depth",
        "seeds_per_gram": "source_seed_size",
    },
    "seeds": {"seed_life_years_use": "source_life", "fsa_germination_pct": "source_fsa", "er_ke": "source_er"},
    "kitchen": {
        "serving_g": "source_serving",
        "keep_weeks": "source_keep",
        "edible_touches_soil": "source_soil",
        "pollination": "source_pollination",
        "packet_seeds": "source_packet",
    },
}
"""Where the source of a value stands: for each table, a value's column and the column that must then name its source."""

Row = dict[str, str]


class Table(NamedTuple):
    """A table: its columns, and its rows by crop id, each with its line in the file."""

    name: str
    columns: tuple[str, ...]
    rows: dict[str, tuple[int, Row]]


def parse_table(name: str, text: str, faults: list[str]) -> Table:
    """Rows of a CSV text by crop id; what is wrong with its form goes to `faults`."""
    reader = csv.reader(text.splitlines())
    columns = tuple(next(reader, ()))
    rows: dict[str, tuple[int, Row]] = {}
    if "crop_id" not in columns:
        faults.append(f"{name}.csv line 1: no column crop_id among {', '.join(columns) or 'none'}")
        return Table(name, columns, rows)
    for cells in reader:
        line = reader.line_num
        if len(cells) != len(columns):
            faults.append(f"{name}.csv line {line}: {len(cells)} cells, expected {len(columns)}")
            continue
        row = {column: cell.strip() for column, cell in zip(columns, cells, strict=True)}
        crop_id = row["crop_id"]
        if crop_id in rows:
            faults.append(f"{name}.csv line {line}: {crop_id} stands there twice, first on line {rows[crop_id][0]}")
        rows.setdefault(crop_id, (line, row))
    return Table(name, columns, rows)


def _text(name: str) -> str:
    return (files("underglass.crop") / "data" / f"{name}.csv").read_text(encoding="utf-8")


@cache
def shipped_tables() -> tuple[dict[str, Table], tuple[str, ...]]:
    """The tables of the package by name, and the faults of their form."""
    faults: list[str] = []
    tables = {name: parse_table(name, _text(name), faults) for name in TABLES}
    return tables, tuple(faults)


@cache
def known_sources() -> dict[str, str]:
    """Citation and status of every source key."""
    return {row["key"]: f"{row['citation']} ({row['status']})" for row in csv.DictReader(_text("sources").splitlines())}


@cache
def source_keys(cell: str) -> tuple[str, ...]:
    """The keys in a source cell: 'KEY+KEY', a related crop's figures as 'KEY~crop', remarks in brackets.

    >>> source_keys("HM54~cabbage (fit)+mem")
    ('HM54', 'mem')
    """
    bare = re.sub(r"\([^)]*\)", "", cell)
    return tuple(part.split("~")[0].strip() for part in bare.split("+") if part.strip())


class Cells:
    """Reads the cells of one crop and keeps what is wrong instead of stopping at the first."""

    def __init__(self, tables: dict[str, Table], crop_id: str, faults: list[str]) -> None:
        self.tables, self.crop_id, self.faults = tables, crop_id, faults

    def fault(self, table: str, words: str) -> None:
        """Note a fault of this crop, with file and line."""
        line = self.tables[table].rows.get(self.crop_id, (0, {}))[0]
        self.faults.append(f"{table}.csv line {line}: {self.crop_id} {words}")

    def text(self, table: str, column: str) -> str:
        """A cell as it stands, '' where it is empty."""
        row = self.tables[table].rows.get(self.crop_id, (0, {}))[1]
        if column not in row:
            self.fault(table, f"has no column {column}")
        return row.get(column, "")

    def maybe(self, table: str, column: str, low: float, high: float) -> float | None:
        """A number within its bounds, or None where the cell is empty."""
        cell = self.text(table, column)
        if not cell:
            return None
        try:
            value = float(cell)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            self.fault(table, f"{column} is {cell}: expected {low:g} to {high:g}")
            return None
        return value

    def number(self, table: str, column: str, low: float, high: float) -> float:
        """A number that must be there; nan after the fault is noted."""
        if not self.text(table, column):
            self.fault(table, f"needs a number in {column}")
        value = self.maybe(table, column, low, high)
        return math.nan if value is None else value

    def span(self, table: str, column: str, low: float, high: float) -> tuple[float, float] | None:
        """Two numbers written 'least-most', or None where the cell is empty."""
        cell = self.text(table, column)
        if not cell:
            return None
        try:
            least, most = (float(part) for part in cell.split("-"))
        except ValueError:
            least = most = math.nan
        if not low <= least <= most <= high:
            self.fault(table, f"{column} is {cell}: expected least-most within {low:g} to {high:g}")
            return None
        return least, most

    def one_of(self, table: str, column: str, allowed: tuple[str, ...]) -> str:
        """A word of a list."""
        cell = self.text(table, column)
        if cell not in allowed:
            self.fault(table, f"{column} is {cell or 'empty'}: expected one of {', '.join(allowed)}")
        return cell

    def sources(self) -> None:
        """Every value has a source, and every source key is known."""
        known = known_sources()
        for table, columns in SOURCED.items():
            for value, source in columns.items():
                cell = self.text(table, source)
                if self.text(table, value) and not cell:
                    self.fault(table, f"{value} has no source in {source}")
                for key in source_keys(cell):
                    if key not in known:
                        self.fault(table, f"{source} names {key}, which sources.csv does not have")
