"""The household lives in its notebook: the page reads there what it wrote, what the command line changed, and what was learnt."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from underglass.faces.web.desk import Desk
from underglass.faces.web.household_form import as_form, read_form
from underglass.faces.web.texts import say_in
from underglass.notebook import tunings
from underglass.notebook.faults import Changed
from underglass.notebook.records import ShelterRecord
from underglass.notebook.store import open_notebook
from underglass.plan.household import Household
from underglass.plan.wishes import Wishes
from underglass.services import notes
from underglass.services.household_store import change_wishes, keep_household, shelter_named
from underglass.sources.household_file import demo_household, household_of_table

SAY = say_in("en")


def desk(folder: Path) -> Desk:
    return Desk(folder, now=lambda: datetime(2027, 3, 10, 12, tzinfo=UTC))


def known(desk: Desk) -> Household:
    found = desk.household()
    assert found is not None
    return found


def changed(old: Household | None, fields: Mapping[str, str] = {}, **ticked: bool) -> Household:
    filled = as_form(old)
    names = [n for n in filled.shelters if ticked.get(n, True)] + [n for n, on in ticked.items() if on]
    made, faults = read_form(filled.fields | dict(fields), names, list(filled.crops), SAY, old)
    assert made is not None, faults
    return made


def test_an_old_file_moves_into_the_notebook_once(tmp_path: Path) -> None:
    table = {"name": "we", "language": "de", "place": {"near": "Oslo, Norway"}, "shelters": [{"like": "box"}]}
    (tmp_path / "household.json").write_text(json.dumps(table), encoding="utf-8")
    assert known(desk(tmp_path)).name == "we"
    assert not (tmp_path / "household.json").exists()
    (tmp_path / "household.json").write_text(json.dumps(table | {"name": "others"}), encoding="utf-8")
    assert known(desk(tmp_path)).name == "we", "a notebook that knows its household is what counts"


@pytest.mark.parametrize("text", ["", "[]", '{"place": {}}', '{"place": 3}'])
def test_an_old_file_that_cannot_be_read_leaves_the_first_visit(tmp_path: Path, text: str) -> None:
    (tmp_path / "household.json").write_text(text, encoding="utf-8")
    assert desk(tmp_path).household() is None


def test_an_old_choice_of_the_demo_stays(tmp_path: Path) -> None:
    (tmp_path / "household.json").write_text('{"demo": true}', encoding="utf-8")
    at = desk(tmp_path)
    assert at.home.is_demo()
    assert known(at).name == demo_household().name


def test_the_invented_family_never_mixes_with_ones_own(tmp_path: Path) -> None:
    at = desk(tmp_path)
    at.home.show_demo()
    with at.home.open() as book:
        notes.add_note(book, at.now(), "tried")
    own = household_of_table({"name": "we", "place": {"near": "Oslo, Norway"}, "shelters": [{"like": "box"}]})
    at.home.keep(own, at.home.own_version())
    assert known(at).name == "we"
    assert not at.home.is_demo()
    with at.home.open() as book:
        assert [s.name for s in book.find(ShelterRecord)] == ["box"]
        assert not notes.standing(book, datetime(2027, 3, 10, tzinfo=UTC).date())


def test_what_the_command_line_changes_is_seen_at_once(tmp_path: Path) -> None:
    at = desk(tmp_path)
    with open_notebook(tmp_path / "notebook.sqlite", create=True, clock=at.now) as book:
        keep_household(book, demo_household())
        before, mark = known(at), at.mark()
        with book.transaction("tuned"):
            tunings.add(book, shelter_named(book, "south box").id, {"leak_factor": 2.0}, {"leak_factor": (1.5, 2.5)})
        change_wishes(book, Wishes(people=7))
        notes.record_sowing(book, "radish", grown_in="south box", on=datetime(2027, 3, 9).date())
    after = known(at)
    box = {h.shelters[2].airtightness.leak_area_m2 for h in (before, after)}
    assert len(box) == 2, "the tuned shelter"
    assert after.wishes.people == 7
    assert ("radish", "seed") in [(s.crop_id, s.stage) for s in after.standing]
    assert at.mark() != mark, "outlooks are computed anew for the tuned shelter"


def test_a_note_alone_lets_no_answer_be_computed_anew(tmp_path: Path) -> None:
    at = desk(tmp_path)
    at.home.show_demo()
    mark = at.mark()
    with at.home.open() as book:
        notes.add_note(book, at.now(), "the lid sticks")
    assert at.mark() == mark


def test_a_form_changes_what_it_shows_and_keeps_the_rest(tmp_path: Path) -> None:
    old = demo_household()
    assert changed(old) == old, "a form that nobody touched changes nothing"
    warm = changed(old, {"last_frost": "2027-05-02", "weekday": "6:15"}, jug=False, cloche=True)
    assert warm.climate.last_frost == (5, 2)
    assert [s.name for s in warm.shelters] == ["sill", "south box", "hoop house", "open", "cloche"]
    assert {s.visits.weekday_h for s in warm.shelters} == {(6.25,)}
    assert warm.place == old.place
    assert (warm.seeds, warm.standing) == (old.seeds, old.standing)
    moved = changed(old, {"near": "Oslo, Norway"})
    assert round(moved.place.latitude_deg) == 60
    assert moved.place.elevation_m < 200.0, "the height of the place that was left does not come along"
    assert changed(old, {"elevation": "100"}).place.elevation_m == pytest.approx(30.5, abs=0.05), "feet, as shown"


def test_shelters_that_are_not_ticked_are_put_away_with_their_records(tmp_path: Path) -> None:
    at = desk(tmp_path)
    at.home.keep(demo_household(), 0)
    old = at.home.as_described()
    at.home.keep(changed(old, jug=False), at.home.own_version())
    assert "jug" not in [s.name for s in known(at).shelters]
    with at.home.open() as book:
        assert len(book.find(ShelterRecord)) == 5
    at.home.keep(changed(at.home.as_described(), jug=True), at.home.own_version())
    assert "jug" in [s.name for s in known(at).shelters]


def test_the_slower_of_two_is_told(tmp_path: Path) -> None:
    at = desk(tmp_path)
    at.home.keep(demo_household(), 0)
    version = at.home.own_version()
    at.home.keep(replace(demo_household(), name="first"), version)
    with pytest.raises(Changed):
        at.home.keep(replace(demo_household(), name="second"), version)
    with pytest.raises(Changed):
        at.home.keep(replace(demo_household(), name="third"), 0)
    assert known(at).name == "first"
