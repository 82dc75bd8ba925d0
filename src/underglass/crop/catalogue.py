"""The crops, loaded once from the tables in `data/` and checked whole: every fault is listed, with its file and line."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import cast, get_args

from underglass.crop.tables import Cells, Table, known_sources, shipped_tables, source_keys
from underglass.crop.types import (
    Bolting,
    Crop,
    Germination,
    Growth,
    Hardiness,
    Harvest,
    Kind,
    Kitchen,
    SeedFacts,
    Spacing,
)
from underglass.errors import InputError

__all__ = ["DISHES", "build_crops", "catalogue", "crop_source", "find_crop", "source_citation"]

DAY_TEMPS_C = (0, 5, 10, 15, 20, 25, 30, 35, 40)
METHODS = ("interp", "interp_proxy", "thermal")
HARDINESS_NAMES = ("tender", "half-hardy", "hardy", "very hardy")
BOLTING_KINDS = (
    "biennial_vernalization",
    "buttoning",
    "heat_longday",
    "longday",
    "longday_heat",
    "needs_cold_to_bulb",
    "none",
    "shortday_flowering",
    "vernalization",
    "vernalization_longday",
)
DISHES = ("salad", "greens", "roots", "fruits", "herbs", "onions", "beans", "heads", "flowers")
POLLINATION = ("none", "shake", "insects", "wind")
LOW_LID = {"yes": "yes", "until 30 cm tall": "while young", "seedling stage only": "seedling only"}


def _germination(read: Cells) -> Germination:
    days, normal = [], []
    for temp in DAY_TEMPS_C:
        none = read.text("germination", f"days_at_{temp}c") == "NG"
        tabled = math.inf if none else read.maybe("germination", f"days_at_{temp}c", 0.5, 200.0)
        if tabled is not None:
            days.append((float(temp), tabled))
        share = read.maybe("germination", f"pct_normal_at_{temp}c", 0.0, 100.0)
        if share is not None:
            normal.append((float(temp), share / 100.0))
    method = read.one_of("germination", "use_method", METHODS)
    return Germination(
        days_at=tuple(days),
        normal_at=tuple(normal),
        method="interp" if method != "thermal" and len(days) > 1 else "thermal",
        base_c=read.number("germination", "tbase_use_c", -5, 20),
        thermal_time_cday=read.number("germination", "thermal_time_use_cday", 10, 600),
        floor_c=read.number("germination", "emergence_floor_use_c", -2, 25),
        ceiling_c=read.number("germination", "emergence_ceiling_use_c", 15, 45),
        depth_m=read.number("spacing_yield", "sowing_depth_mm", 0, 100) / 1000.0,
    )


def _growth(read: Cells) -> Growth:
    low, high = (read.maybe("growth", f"weeks_sow_to_transplant_{end}", 1, 20) for end in ("lo", "hi"))
    days = read.span("growth", "hardening_days", 3, 21) or (7.0, 10.0)
    return Growth(
        base_c=read.number("growth", "tbase_growth_c", -2, 16),
        best_low_c=read.number("growth", "topt_growth_lo_c", 8, 35),
        best_high_c=read.number("growth", "topt_growth_hi_c", 10, 40),
        ceiling_c=read.number("growth", "tceil_growth_c", 18, 45),
        month_best_c=(
            read.number("growth", "knott_opt_lo_month_c", 5, 30),
            read.number("growth", "knott_opt_hi_month_c", 10, 35),
        ),
        reference_c=read.number("growth", "ref_temp_for_days_c", 10, 32),
        to_baby_cday=read.maybe("growth", "cday_sow_to_baby", 50, 2000),
        to_full_cday=read.number("growth", "cday_sow_to_full", 100, 4000),
        set_out_to_full_cday=read.maybe("growth", "cday_transplant_to_full", 50, 3000),
        early_share=_early(read, "sow"),
        early_share_set_out=_early(read, "transplant"),
        bulb_day_h=read.maybe("growth", "bulb_day_h", 9, 18),
        light_least=read.number("growth", "dli_min_mol_m2_d", 1, 30),
        light_good=read.number("growth", "dli_good_mol_m2_d", 4, 50),
        raise_weeks=None if low is None or high is None else (low, high),
        harden_days=sum(days) / 2.0,
        harden_night_c=read.maybe("growth", "hardening_min_night_c", -10, 20),
        harden_start_c=read.maybe("growth", "hardening_start_min_c", 0, 25),
        set_out_night_c=read.number("hardiness", "transplant_min_night_c", -10, 20),
    )


def _early(read: Cells, since: str) -> float:
    """The short end of the tabled days to full size as a share of their middle, since sowing or set-out; 1 where there are none."""
    low, high = (read.maybe("growth", f"days_{since}_to_full_{end}", 10, 400) for end in ("lo", "hi"))
    return 1.0 if low is None or high is None else 2.0 * low / (low + high)


def _hardiness(read: Cells) -> Hardiness:
    return Hardiness(
        name=read.one_of("hardiness", "hardiness_class", HARDINESS_NAMES),
        kill_soft_c=read.number("hardiness", "kill_unacclimated_c", -30, 5),
        kill_hard_c=read.number("hardiness", "kill_acclimated_c", -30, 5),
        buds_below_ground=read.one_of("hardiness", "buds_below_ground", ("yes", "")) == "yes",
        bud_kill_c=read.maybe("hardiness", "kill_bud_c", -15, 2),
        bloom_kill_c=read.maybe("hardiness", "kill_bloom_c", -10, 2),
        green_fruit_kill_c=read.maybe("hardiness", "kill_green_fruit_c", -10, 2),
        stress_c=read.number("hardiness", "heat_stress_air_c", 15, 45),
        injury_c=read.number("hardiness", "heat_injury_air_c", 25, 50),
        lethal_c=read.number("hardiness", "heat_lethal_tissue_c", 40, 55),
        set_day_max_c=read.maybe("hardiness", "fruitset_max_day_c", 20, 45),
        set_night_max_c=read.maybe("hardiness", "fruitset_max_night_c", 10, 35),
        set_night_min_c=read.maybe("hardiness", "fruitset_min_night_c", 0, 25),
        set_light_per_c=read.maybe("hardiness", "fruitset_light_per_c", 0.2, 5),
    )


def _harvest(read: Cells) -> Harvest:
    amounts = tuple(read.maybe("spacing_yield", f"yield_{level}_kg_m2", 0, 50) for level in ("low", "typical", "high"))
    low, typical, high = amounts
    cuts = int(read.maybe("spacing_yield", "harvest_cuts", 1, 40) or 1)
    return Harvest(
        mode=read.text("spacing_yield", "harvest_mode"),
        interval_days=read.maybe("spacing_yield", "harvest_interval_days", 1, 90),
        cuts=cuts,
        most_cuts=int(read.maybe("spacing_yield", "harvest_cuts_most", 1, 60) or cuts),
        regrow_cday=read.maybe("spacing_yield", "regrow_cday_above_base", 20, 1000),
        ripen_days=read.maybe("spacing_yield", "ripen_days", 3, 90),
        yield_kg_m2=None if low is None or typical is None or high is None else (low, typical, high),
        baby_cut_kg_m2=read.maybe("spacing_yield", "baby_yield_kg_m2_per_cut", 0, 5),
    )


def _spacing(read: Cells) -> Spacing:
    lid = LOW_LID.get(read.one_of("growth", "fits_under_30cm_lid", tuple(LOW_LID)))
    return Spacing(
        in_row_m=read.number("spacing_yield", "bed_in_row_cm", 1, 200) / 100.0,
        between_m=read.number("spacing_yield", "bed_between_rows_cm", 1, 300) / 100.0,
        per_m2=read.number("spacing_yield", "plants_per_m2", 0.3, 1000),
        height_m=read.number("growth", "height_cm", 3, 400) / 100.0,
        low_lid=lid or "yes",  # type: ignore[arg-type]  # one of LOW_LID's values
    )


def _seed(read: Cells) -> SeedFacts:
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


def _kitchen(read: Cells) -> Kitchen:
    return Kitchen(
        dish=read.one_of("kitchen", "dish", DISHES),
        serving_kg=read.number("kitchen", "serving_g", 1, 500) / 1000.0,
        keep_weeks=read.number("kitchen", "keep_weeks", 1, 40),
        touches_soil=read.one_of("kitchen", "edible_touches_soil", ("yes", "no")) == "yes",
        pollination=read.one_of("kitchen", "pollination", POLLINATION),
        packet_seeds=int(read.maybe("kitchen", "packet_seeds", 1, 5000) or 1),
    )


def _bolting(read: Cells) -> Bolting:
    return Bolting(
        kind=read.one_of("growth", "bolt_type", BOLTING_KINDS),
        trigger=read.text("growth", "bolt_trigger"),
        size_gate=read.text("growth", "bolt_size_gate"),
        cold_c=read.maybe("growth", "bolt_cold_below_c", -5, 20),
        cold_hours=read.maybe("growth", "bolt_cold_hours", 10, 5000),
        day_length_h=read.maybe("growth", "bolt_photoperiod_h", 8, 18),
    )


def _crop(read: Cells) -> Crop:
    read.sources()
    crop = Crop(
        id=read.crop_id,
        name=read.text("growth", "common_name"),
        latin=read.text("germination", "latin_name"),
        family=read.text("kinds", "family"),
        kind=cast("Kind", read.one_of("kinds", "kind", get_args(Kind))),
        germination=_germination(read),
        growth=_growth(read),
        hardiness=_hardiness(read),
        bolting=_bolting(read),
        harvest=_harvest(read),
        spacing=_spacing(read),
        seed=_seed(read),
        kitchen=_kitchen(read),
    )
    _consistent(crop, read)
    return crop


def _consistent(crop: Crop, read: Cells) -> None:
    """What must hold between the values of one crop."""
    germ, g, hard = crop.germination, crop.growth, crop.hardiness
    must = (
        ("kinds", bool(crop.family), "has no botanical family"),
        ("germination", not germ.base_c >= germ.ceiling_c and not germ.floor_c >= germ.ceiling_c, "comes up at no temperature"),
        ("hardiness", not hard.kill_hard_c > hard.kill_soft_c, "is killed sooner when hardened"),
        ("hardiness", not hard.stress_c >= hard.injury_c and not hard.injury_c >= hard.lethal_c, "heat limits are not in order"),
        ("growth", not (g.base_c >= g.best_low_c or g.best_low_c > g.best_high_c or g.best_high_c >= g.ceiling_c),
         "growth temperatures are not in order"),
        ("growth", not g.light_least >= g.light_good, "least light is not below good light"),
        ("growth", not (g.to_baby_cday or 0.0) >= g.to_full_cday, "is a baby leaf later than full-grown"),
        ("growth", not (g.set_out_to_full_cday or 0.0) >= g.to_full_cday, "needs longer from set-out than from sowing"),
        ("spacing_yield", crop.harvest.most_cuts >= crop.harvest.cuts, "is worn out before its tabled pickings are done"),
        ("growth", g.raise_weeks is None or g.raise_weeks[0] <= g.raise_weeks[1], "weeks to set-out are not in order"),
    )  # fmt: skip
    for table, holds, words in must:
        if not holds:
            read.fault(table, words)


def build_crops(tables: dict[str, Table], faults: list[str]) -> dict[str, Crop]:
    """Crops by id out of the tables; every fault found goes to `faults`, with file and line."""
    ids = list(tables["growth"].rows)
    for name, table in tables.items():
        missing = set(ids) ^ set(table.rows)
        if missing:
            faults.append(f"{name}.csv: crops that not every table has: {', '.join(sorted(missing))}")
    if faults:
        return {}
    return {crop_id: _crop(Cells(tables, crop_id, faults)) for crop_id in ids}


@cache
def catalogue() -> Mapping[str, Crop]:
    """All crops by id.  Raises InputError with every fault if the shipped tables are broken.

    >>> len(catalogue()) >= 45
    True
    """
    tables, form = shipped_tables()
    faults = list(form)
    crops = build_crops(tables, faults)
    if faults:
        raise InputError.of(faults)
    return MappingProxyType(crops)


def find_crop(text: str) -> Crop:
    """A crop by id, by its name, or by the beginning of it; otherwise an InputError with the nearest names.

    >>> find_crop("Leaf lettuce").id
    'lettuce_leaf'
    """
    crops = catalogue()
    wanted = " ".join(text.lower().split())
    if not wanted:
        raise InputError("a crop's name is empty; `underglass crops` lists them all")
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
    return shipped_tables()[0][table].rows[crop_id][1].get(column, "")


def source_citation(cell: str) -> str:
    """The citation behind a source cell; composed ones ('BHG+UDEL', 'HM54~cabbage') give each part.

    >>> source_citation("FSA")[:13]
    '7 CFR 201.31 '
    """
    return "; ".join(known_sources().get(key, key) for key in source_keys(cell))
