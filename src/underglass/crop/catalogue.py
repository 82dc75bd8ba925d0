"""The crops, loaded once from the tables in `data/` and checked whole: every fault is listed, with its file and line."""

from __future__ import annotations

import csv
import difflib
import math
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import cast

from underglass.crop.types import Bolting, Crop, Germination, Growth, Hardiness, Harvest, Kind, SeedFacts, Spacing
from underglass.errors import InputError

__all__ = ["catalogue", "crop_source", "find_crop", "source_citation"]

TABLES = ("kinds", "germination", "growth", "hardiness", "spacing_yield", "seeds")
DAY_TEMPS_C = (0, 5, 10, 15, 20, 25, 30, 35, 40)
LOW_LID = {"yes": "yes", "until 30 cm tall": "while young", "seedling stage only": "seedling only"}

Row = dict[str, str]


@cache
def _table(name: str) -> dict[str, tuple[int, Row]]:
    """Rows of a table by crop id, each with its line in the file."""
    text = (files("underglass.crop") / "data" / f"{name}.csv").read_text(encoding="utf-8")
    reader = csv.DictReader(text.splitlines())
    return {row["crop_id"]: (reader.line_num, row) for row in reader}


class _Faults:
    """Reads cells of one crop and keeps what is wrong instead of stopping at the first."""

    def __init__(self, crop_id: str, out: list[str]) -> None:
        self.crop_id, self.out = crop_id, out

    def text(self, table: str, column: str) -> str:
        line, row = _table(table).get(self.crop_id, (0, {}))
        if column not in row:
            self.out.append(f"{table}.csv line {line}: {self.crop_id} has no column {column}")
        return row.get(column, "").strip()

    def maybe(self, table: str, column: str, low: float = -1e9, high: float = 1e9) -> float | None:
        cell = self.text(table, column)
        if not cell:
            return None
        try:
            value = float(cell)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            line = _table(table).get(self.crop_id, (0, {}))[0]
            self.out.append(f"{table}.csv line {line}: {self.crop_id} {column} is {cell}: expected {low:g} to {high:g}")
            return None
        return value

    def number(self, table: str, column: str, low: float = -1e9, high: float = 1e9) -> float:
        value = self.maybe(table, column, low, high)
        if value is None:
            line = _table(table).get(self.crop_id, (0, {}))[0]
            self.out.append(f"{table}.csv line {line}: {self.crop_id} needs a number in {column}")
            return math.nan
        return value


def _germination(read: _Faults) -> Germination:
    days, normal = [], []
    for temp in DAY_TEMPS_C:
        cell = read.text("germination", f"days_at_{temp}c")
        if cell:
            days.append((float(temp), math.inf if cell == "NG" else float(cell)))
        share = read.maybe("germination", f"pct_normal_at_{temp}c", 0.0, 100.0)
        if share is not None:
            normal.append((float(temp), share / 100.0))
    method = "thermal" if read.text("germination", "use_method") == "thermal" else "interp"
    return Germination(
        days_at=tuple(days),
        normal_at=tuple(normal),
        method="interp" if method == "interp" and len(days) > 1 else "thermal",
        base_c=read.number("germination", "tbase_use_c", -5, 20),
        thermal_time_cday=read.number("germination", "thermal_time_use_cday", 10, 600),
        floor_c=read.number("germination", "emergence_floor_use_c", -2, 25),
        ceiling_c=read.number("germination", "emergence_ceiling_use_c", 15, 45),
        depth_m=read.number("spacing_yield", "sowing_depth_mm", 0, 100) / 1000.0,
    )


def _growth(read: _Faults) -> Growth:
    low, high = (read.maybe("growth", f"weeks_sow_to_transplant_{end}", 1, 20) for end in ("lo", "hi"))
    days = read.text("growth", "hardening_days") or "7-10"
    return Growth(
        base_c=read.number("growth", "tbase_growth_c", -2, 16),
        best_low_c=read.number("growth", "topt_growth_lo_c", 8, 35),
        best_high_c=read.number("growth", "topt_growth_hi_c", 10, 40),
        ceiling_c=read.number("growth", "tceil_growth_c", 18, 45),
        reference_c=read.number("growth", "ref_temp_for_days_c", 10, 32),
        to_baby_cday=read.maybe("growth", "cday_sow_to_baby", 50, 2000),
        to_full_cday=read.number("growth", "cday_sow_to_full", 100, 4000),
        set_out_to_full_cday=read.maybe("growth", "cday_transplant_to_full", 50, 3000),
        early_share=_early(read),
        light_least=read.number("growth", "dli_min_mol_m2_d", 1, 30),
        light_good=read.number("growth", "dli_good_mol_m2_d", 4, 50),
        raise_weeks=None if low is None or high is None else (low, high),
        harden_days=sum(float(x) for x in days.split("-")) / len(days.split("-")),
        set_out_night_c=read.number("hardiness", "transplant_min_night_c", -10, 20),
    )


def _early(read: _Faults) -> float:
    """The short end of the tabled days from sowing to full size, as a share of their middle."""
    low, high = (read.number("growth", f"days_sow_to_full_{end}", 10, 400) for end in ("lo", "hi"))
    return 2.0 * low / (low + high)


def _hardiness(read: _Faults) -> Hardiness:
    return Hardiness(
        name=read.text("hardiness", "hardiness_class"),
        kill_soft_c=read.number("hardiness", "kill_unacclimated_c", -30, 5),
        kill_hard_c=read.number("hardiness", "kill_acclimated_c", -30, 5),
        stress_c=read.number("hardiness", "heat_stress_air_c", 15, 45),
        injury_c=read.number("hardiness", "heat_injury_air_c", 25, 50),
        lethal_c=read.number("hardiness", "heat_lethal_tissue_c", 40, 55),
        set_day_max_c=read.maybe("hardiness", "fruitset_max_day_c", 20, 45),
        set_night_max_c=read.maybe("hardiness", "fruitset_max_night_c", 10, 35),
        set_night_min_c=read.maybe("hardiness", "fruitset_min_night_c", 0, 25),
    )


def _harvest(read: _Faults) -> Harvest:
    amounts = tuple(read.maybe("spacing_yield", f"yield_{level}_kg_m2", 0, 50) for level in ("low", "typical", "high"))
    low, typical, high = amounts
    return Harvest(
        mode=read.text("spacing_yield", "harvest_mode"),
        interval_days=read.maybe("spacing_yield", "harvest_interval_days", 1, 90),
        cuts=int(read.maybe("spacing_yield", "harvest_cuts", 1, 40) or 1),
        regrow_cday=read.maybe("spacing_yield", "regrow_cday_above_base", 20, 1000),
        yield_kg_m2=None if low is None or typical is None or high is None else (low, typical, high),
        baby_cut_kg_m2=read.maybe("spacing_yield", "baby_yield_kg_m2_per_cut", 0, 5),
    )


def _spacing(read: _Faults) -> Spacing:
    lid = LOW_LID.get(read.text("growth", "fits_under_30cm_lid"))
    if lid is None:
        read.out.append(f"growth.csv: {read.crop_id} fits_under_30cm_lid: expected one of {', '.join(LOW_LID)}")
    return Spacing(
        in_row_m=read.number("spacing_yield", "bed_in_row_cm", 1, 200) / 100.0,
        between_m=read.number("spacing_yield", "bed_between_rows_cm", 1, 300) / 100.0,
        per_m2=read.number("spacing_yield", "plants_per_m2", 0.3, 1000),
        height_m=read.number("growth", "height_cm", 3, 400) / 100.0,
        low_lid=lid or "yes",  # type: ignore[arg-type]  # one of LOW_LID's values
    )


def _seed(read: _Faults) -> SeedFacts:
    constants = tuple(read.maybe("seeds", f"er_{name}", 0, 20) for name in ("ke", "cw", "ch", "cq"))
    official = read.maybe("seeds", "fsa_germination_pct", 0, 100)
    oil = read.maybe("seeds", "seed_oil_pct_dry_approx", 0, 60)
    ke, cw, ch, cq = constants
    known = None if ke is None or cw is None or ch is None or cq is None else (ke, cw, ch, cq)
    return SeedFacts(
        life_years=read.maybe("seeds", "seed_life_years_use", 0.5, 15),
        official_germination=None if official is None else official / 100.0,
        per_gram=read.maybe("spacing_yield", "seeds_per_gram", 0.1, 20000),
        viability=known,
        oil_share=None if oil is None else oil / 100.0,
    )


def _crop(crop_id: str, faults: list[str]) -> Crop:
    read = _Faults(crop_id, faults)
    bolting = Bolting(
        kind=read.text("growth", "bolt_type"),
        trigger=read.text("growth", "bolt_trigger"),
        cold_c=read.maybe("growth", "bolt_cold_below_c", -5, 20),
        cold_hours=read.maybe("growth", "bolt_cold_hours", 10, 5000),
        day_length_h=read.maybe("growth", "bolt_photoperiod_h", 8, 18),
    )
    crop = Crop(
        id=crop_id,
        name=read.text("growth", "common_name"),
        latin=read.text("germination", "latin_name"),
        family=read.text("kinds", "family"),
        kind=cast("Kind", read.text("kinds", "kind")),
        germination=_germination(read),
        growth=_growth(read),
        hardiness=_hardiness(read),
        bolting=bolting,
        harvest=_harvest(read),
        spacing=_spacing(read),
        seed=_seed(read),
    )
    _consistent(crop, faults)
    return crop


def _consistent(crop: Crop, faults: list[str]) -> None:
    """What must hold between the values of one crop."""
    g, hard = crop.growth, crop.hardiness
    if hard.kill_hard_c > hard.kill_soft_c:
        faults.append(
            f"hardiness.csv: {crop.id} is killed sooner when hardened ({hard.kill_hard_c:g} > {hard.kill_soft_c:g} degC)"
        )
    if not g.base_c < g.best_low_c <= g.best_high_c < g.ceiling_c:
        faults.append(f"growth.csv: {crop.id} growth temperatures are not in order")
    if g.to_baby_cday is not None and g.to_baby_cday >= g.to_full_cday:
        faults.append(f"growth.csv: {crop.id} is a baby leaf later than full-grown")
    if g.set_out_to_full_cday is not None and g.set_out_to_full_cday >= g.to_full_cday:
        faults.append(f"growth.csv: {crop.id} needs longer from set-out than from sowing")


@cache
def catalogue() -> Mapping[str, Crop]:
    """All crops by id.  Raises InputError with every fault if the shipped tables are broken.

    >>> len(catalogue()) >= 45
    True
    """
    faults: list[str] = []
    ids = list(_table("growth"))
    for name in TABLES:
        missing = set(ids) ^ set(_table(name))
        if missing:
            faults.append(f"{name}.csv: crops that not every table has: {', '.join(sorted(missing))}")
    if faults:
        raise InputError.of(faults)
    crops = {crop_id: _crop(crop_id, faults) for crop_id in ids}
    if faults:
        raise InputError.of(faults)
    return MappingProxyType(crops)


def find_crop(text: str) -> Crop:
    """A crop by id, by its name, or by the beginning of it; otherwise an InputError with the nearest names.

    >>> find_crop("Leaf lettuce").id
    'lettuce_leaf'
    """
    crops = catalogue()
    wanted = text.strip().lower()
    if wanted.replace(" ", "_") in crops:
        return crops[wanted.replace(" ", "_")]
    names = {crop.name.lower(): crop for crop in crops.values()}
    if wanted in names:
        return names[wanted]
    starts = [
        crop
        for name, crop in names.items()
        if name.startswith(wanted) or wanted in name.replace("(", "").replace(")", "").split()
    ]
    if len(starts) == 1:
        return starts[0]
    near = [c.name for c in starts] or [
        names[n].name for n in difflib.get_close_matches(wanted, names, n=4, cutoff=0.4)
    ]
    hint = f"; did you mean {' or '.join(near)}?" if near else "; `underglass crops` lists them all"
    raise InputError(f"crop {text!r} is not in the catalogue{hint}")


def crop_source(crop_id: str, table: str, column: str) -> str:
    """Key of the source of a group of values, as the table names it ('' where the table has none).

    >>> crop_source("lettuce_leaf", "germination", "source_days")
    'HM54'
    """
    return _table(table)[crop_id][1].get(column, "")


@cache
def source_citation(key: str) -> str:
    """The citation behind a source key; composed keys ('BHG+UDEL', 'HM54~cabbage') give each part."""
    text = (files("underglass.crop") / "data" / "sources.csv").read_text(encoding="utf-8")
    known = {row["key"]: f"{row['citation']} ({row['status']})" for row in csv.DictReader(text.splitlines())}
    parts = [part.split("~")[0].split("(")[0].strip() for part in key.split("+")]
    return "; ".join(known.get(part, part) for part in parts)
