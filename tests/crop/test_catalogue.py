"""The catalogue: whole, consistent, sourced; and what it says when a table is damaged."""

from __future__ import annotations

import math
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.crop.catalogue import build_crops, catalogue, crop_source, find_crop, source_citation
from underglass.crop.tables import TABLES, Table, known_sources, parse_table, shipped_tables
from underglass.errors import InputError


def as_csv(table: Table) -> list[list[str]]:
    return [list(table.columns), *([row[c] for c in table.columns] for _, row in table.rows.values())]


def with_cell(name: str, crop_id: str, column: str, value: str) -> list[str]:
    """Faults found when one cell of a shipped table is changed."""
    tables = dict(shipped_tables()[0])
    rows = {key: (line, dict(row)) for key, (line, row) in tables[name].rows.items()}
    rows[crop_id][1][column] = value
    tables[name] = Table(name, tables[name].columns, rows)
    faults: list[str] = []
    build_crops(tables, faults)
    return faults


def test_the_shipped_tables_have_no_fault() -> None:
    faults = list(shipped_tables()[1])
    crops = build_crops(shipped_tables()[0], faults)
    assert faults == []
    assert len(crops) == len(catalogue()) >= 45


def test_loading_is_quick() -> None:
    """Fifty milliseconds at most, measured as the best of three."""
    best = math.inf
    for _ in range(3):
        start = time.perf_counter()
        build_crops(shipped_tables()[0], [])
        best = min(best, time.perf_counter() - start)
    assert best < 0.05


@pytest.mark.parametrize(
    ("table", "column", "value", "said"),
    [
        ("growth", "tbase_growth_c", "warm", "tbase_growth_c is warm: expected -2 to 16"),
        ("growth", "tbase_growth_c", "inf", "tbase_growth_c is inf"),
        ("growth", "tbase_growth_c", "", "needs a number in tbase_growth_c"),
        ("growth", "topt_growth_lo_c", "29", "growth temperatures are not in order"),
        ("growth", "hardening_days", "a week", "hardening_days is a week: expected least-most"),
        ("growth", "bolt_type", "sulking", "bolt_type is sulking: expected one of"),
        ("growth", "source_days", "", "days_sow_to_full_lo has no source in source_days"),
        ("growth", "source_days", "BRIT+NOBODY", "source_days names NOBODY, which sources.csv does not have"),
        ("germination", "days_at_20c", "soon", "days_at_20c is soon: expected 0.5 to 200"),
        ("germination", "pct_normal_at_20c", "980", "pct_normal_at_20c is 980: expected 0 to 100"),
        ("hardiness", "kill_acclimated_c", "0", "is killed sooner when hardened"),
        ("hardiness", "hardiness_class", "tough", "hardiness_class is tough: expected one of tender"),
        ("kinds", "kind", "tree", "kind is tree: expected one of leaf"),
        ("spacing_yield", "sowing_depth_mm", "5 mm", "sowing_depth_mm is 5 mm: expected 0 to 100"),
    ],
)
def test_each_fault_is_told_with_its_line(table: str, column: str, value: str, said: str) -> None:
    faults = with_cell(table, "lettuce_leaf", column, value)
    assert any(f.startswith(f"{table}.csv line 2: lettuce_leaf") and said in f for f in faults), faults


def test_all_faults_are_told_at_once() -> None:
    tables = dict(shipped_tables()[0])
    rows = {key: (line, dict(row)) for key, (line, row) in tables["growth"].rows.items()}
    for crop_id in rows:
        rows[crop_id][1]["dli_good_mol_m2_d"] = "bright"
    tables["growth"] = Table("growth", tables["growth"].columns, rows)
    faults: list[str] = []
    build_crops(tables, faults)
    assert sum("dli_good_mol_m2_d is bright" in f for f in faults) == len(rows)


def test_a_crop_that_one_table_lacks_is_named() -> None:
    tables = dict(shipped_tables()[0])
    rows = {k: v for k, v in tables["seeds"].rows.items() if k != "kale"}
    tables["seeds"] = Table("seeds", tables["seeds"].columns, rows)
    faults: list[str] = []
    assert build_crops(tables, faults) == {}
    assert faults == ["seeds.csv: crops that not every table has: kale"]


def test_rows_out_of_form_are_told() -> None:
    faults: list[str] = []
    parse_table("growth", "crop_id,a\nkale,1\nkale,2\nleek,1,2\n", faults)
    assert faults == [
        "growth.csv line 3: kale stands there twice, first on line 2",
        "growth.csv line 4: 3 cells, expected 2",
    ]
    faults.clear()
    parse_table("growth", "", faults)
    assert faults == ["growth.csv line 1: no column crop_id among none"]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(TABLES),
    st.integers(0, 10_000),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=12),
)
def test_a_damaged_cell_is_a_fault_or_harmless_never_a_crash(name: str, where: int, value: str) -> None:
    table = shipped_tables()[0][name]
    cells = [(crop_id, column) for crop_id in table.rows for column in table.columns if column != "crop_id"]
    crop_id, column = cells[where % len(cells)]
    faults = with_cell(name, crop_id, column, value)
    assert all(isinstance(f, str) and ".csv" in f for f in faults)


@pytest.mark.parametrize(
    ("text", "crop_id"),
    [("kale", "kale"), ("Bulb onion", "onion_bulb"), ("lettuce_leaf", "lettuce_leaf"), ("  LEAF   lettuce ", "lettuce_leaf"),
     ("arugula", "arugula"), ("bok choy", "pak_choi")],
)  # fmt: skip
def test_crops_are_found_by_id_name_and_part(text: str, crop_id: str) -> None:
    if text == "bok choy":
        with pytest.raises(InputError, match="Pak choi"):
            find_crop(text)
    else:
        assert find_crop(text).id == crop_id


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("spinich", "Spinach"),
        ("tomatos", "Tomato"),
        ("bean", "Snap bean"),
        ("zzzz", "underglass crops"),
        ("  ", "empty"),
    ],
)
def test_an_unknown_crop_brings_the_nearest_names(text: str, hint: str) -> None:
    with pytest.raises(InputError, match=hint):
        find_crop(text)


def test_every_crop_is_told_with_family_and_latin_name() -> None:
    for crop in catalogue().values():
        assert crop.family.endswith("aceae"), crop.id
        assert crop.latin[0].isupper(), crop.id
        assert " " in crop.latin, crop.id


def test_a_source_cell_gives_each_citation() -> None:
    cell = crop_source("kale", "germination", "source_pct")
    assert cell == "HM54PCT~cabbage"
    assert source_citation("BRIT(180)+mem").count(";") >= 1
    assert "Britannica" in source_citation("BRIT(180)+mem")
    assert len(set(known_sources().values())) == len(known_sources())
