"""What was done to the lids, and who comes when, as the lid plan is told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from underglass.notebook.store import Notebook, open_notebook
from underglass.services import notes
from underglass.services.household_store import household_in, keep_household
from underglass.services.lids import exceptions_in, settings_in
from underglass.services.worked import record_setting
from underglass.shelter.model import NightCover
from underglass.sources.household_file import demo_household
from underglass.tend.setting import Setting

NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    demo = demo_household()
    covered = tuple(replace(s, night_cover=NightCover(0.6)) if s.name == "south box" else s for s in demo.shelters)
    with open_notebook(tmp_path / "notebook.sqlite", create=True) as opened:
        keep_household(opened, replace(demo, shelters=covered))
        yield opened


def test_lids_are_as_they_were_left(book: Notebook) -> None:
    shelters = household_in(book).shelters
    assert settings_in(book, shelters, NOON) == {}
    notes.record_lid(book, NOON - timedelta(hours=20), "south box", "cover on")
    notes.record_lid(book, NOON - timedelta(hours=4), "south box", "gap", 0.05)
    notes.record_lid(book, NOON + timedelta(hours=1), "south box", "shut")
    assert settings_in(book, shelters, NOON) == {"south box": Setting(0.05, night_cover=True)}
    assert settings_in(book, shelters, NOON + timedelta(hours=2)) == {"south box": Setting(0.0, night_cover=True)}
    assert settings_in(book, shelters, NOON + timedelta(days=9)) == {}, "a week later nobody knows"


def test_only_what_a_shelter_has(book: Notebook) -> None:
    shelters = household_in(book).shelters
    hoop = next(s for s in shelters if s.name == "hoop house")
    notes.record_lid(book, NOON, "hoop", "cover on")
    notes.record_lid(book, NOON, "hoop", "fleece on")
    notes.record_lid(book, NOON, "hoop", "open")
    assert settings_in(book, shelters, NOON) == {"hoop house": Setting(hoop.lid.full_gap_m, fleece=True)}


def test_days_with_other_visits(book: Notebook) -> None:
    notes.record_visits(book, [date(2027, 3, 11)], [])
    notes.record_visits(book, [date(2027, 3, 12)], [9.0, 16.5])
    assert exceptions_in(book) == {np.datetime64("2027-03-11"): (), np.datetime64("2027-03-12"): (9.0, 16.5)}


def test_trays_are_where_they_were_left(book: Notebook) -> None:
    shelters = household_in(book).shelters
    notes.record_lid(book, NOON - timedelta(hours=3), "sill", "trays in")
    assert settings_in(book, shelters, NOON) == {"sill": Setting(trays_in=True)}
    notes.record_lid(book, NOON, "sill", "trays out")
    assert settings_in(book, shelters, NOON) == {"sill": Setting()}


def test_a_jug_s_top_comes_off_and_a_hoop_house_stays(book: Notebook) -> None:
    shelters = household_in(book).shelters
    full = {s.name: s.lid.full_gap_m for s in shelters}
    for name in ("jug", "hoop house"):
        notes.record_lid(book, NOON, name, "off")
    assert settings_in(book, shelters, NOON) == {
        "jug": Setting(full["jug"], off=True), "hoop house": Setting(full["hoop house"]),
    }  # fmt: skip
    notes.record_lid(book, NOON + timedelta(hours=1), "jug", "shut")
    assert settings_in(book, shelters, NOON + timedelta(hours=2))["jug"] == Setting()


def test_a_shelter_set_as_the_plan_says_is_found_so(book: Notebook) -> None:
    """Lid off and trays in, recorded with one tap and read back."""
    shelters = household_in(book).shelters
    by_name = {s.name: s for s in shelters}
    jug = by_name["jug"]
    planned = Setting(jug.lid.full_gap_m, off=True)
    record_setting(book, NOON, jug, planned)
    record_setting(book, NOON, by_name["sill"], Setting(trays_in=True), trays=True)
    assert settings_in(book, shelters, NOON) == {"jug": planned, "sill": Setting(trays_in=True)}
    record_setting(book, NOON + timedelta(hours=1), by_name["sill"], Setting(), trays=True)
    assert settings_in(book, shelters, NOON + timedelta(hours=2))["sill"] == Setting()
