"""What a household records, and what stands where because of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from underglass.errors import InputError
from underglass.notebook.journal import changes
from underglass.notebook.records import HarvestRecord, LidAction, Loss, Note, Reading, Sowing, VisitException, Watering
from underglass.notebook.store import Notebook, open_notebook
from underglass.services import notes
from underglass.services.household_store import keep_household, shelter_named
from underglass.sources.household_file import demo_household

NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)
MARCH, APRIL, MAY, JUNE = date(2027, 3, 10), date(2027, 4, 10), date(2027, 5, 10), date(2027, 6, 10)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "notebook.sqlite", create=True) as opened:
        keep_household(opened, replace(demo_household(), standing=()))
        yield opened


def test_a_tomato_from_seed_to_the_end(book: Notebook) -> None:
    sowing = notes.record_sowing(book, "tomato", grown_in="hoop", raised_in="sill", on=MARCH, count=12, cells=12)
    assert book.find(Sowing) == [sowing]
    (stands,) = notes.standing(book, MARCH)
    assert (stands.crop, stands.shelter, stands.stage) == ("Tomato", "sill", "seed")
    sowing = notes.move_on(book, sowing, "seedling", date(2027, 3, 18))
    sowing = notes.move_on(book, sowing, "hardening", APRIL, "south box")
    assert notes.standing(book, APRIL)[0].shelter == "south box"
    sowing = notes.move_on(book, sowing, "standing", MAY)
    assert notes.standing(book, MAY)[0].shelter == "hoop house", "set out, it stands where it is to grow"
    assert notes.stage_on(sowing, date(2027, 4, 30)) == "hardening", "a day gone by is told as it was"
    notes.record_harvest(book, sowing, JUNE, mass_kg=0.4)
    notes.record_harvest(book, notes.sowing_named(book, "tomato", JUNE), JUNE, servings=2.0, last=True)
    assert notes.standing(book, JUNE) == []
    assert [h.mass_kg for h in book.find(HarvestRecord)] == [0.4, None]
    notes.undo(book)
    assert len(notes.standing(book, JUNE)) == 1
    assert len(book.find(HarvestRecord)) == 1, "one step was the harvest and its end"


def test_losses_in_part_and_whole(book: Notebook) -> None:
    sowing = notes.record_sowing(book, "spinach", grown_in="south", on=MARCH, count=60)
    notes.record_loss(book, sowing, APRIL, "slugs", count=10)
    assert len(notes.standing(book, APRIL)) == 1
    notes.record_loss(book, sowing, APRIL, "cooked")
    assert notes.standing(book, APRIL) == []
    assert [(loss.cause, loss.count) for loss in book.find(Loss)] == [("slugs", 10), ("cooked by heat", None)]


def test_no_more_is_lost_than_was_sown(book: Notebook) -> None:
    sowing = notes.record_sowing(book, "kale", grown_in="open", on=MARCH, count=12)
    notes.record_loss(book, sowing, APRIL, "slugs", 10)
    with pytest.raises(InputError, match="12 were sown, of which 10 were lost before"):
        notes.record_loss(book, sowing, APRIL, "slugs", 3)
    notes.record_loss(book, sowing, APRIL, "slugs", 2)


def test_several_sowings_of_a_crop_are_told_apart(book: Notebook) -> None:
    first = notes.record_sowing(book, "spinach", grown_in="south", on=MARCH)
    second = notes.record_sowing(book, "spinach", grown_in="hoop", on=APRIL)
    with pytest.raises(InputError, match="several sowings of spinach"):
        notes.sowing_named(book, "spinach", MAY)
    assert notes.sowing_named(book, "spinach", MAY, "hoop") == second
    assert notes.sowing_named(book, "spinach", MAY, sown_on=MARCH) == first
    assert notes.sowing_named(book, first.id[:8], MAY) == first
    assert notes.sowing_named(book, "spinach", MARCH) == first, "the other was not sown yet"
    with pytest.raises(InputError, match="no kale stands"):
        notes.sowing_named(book, "kale", MAY)


def test_readings_lids_water_words(book: Notebook) -> None:
    box = shelter_named(book, "south box")
    notes.record_reading(book, NOON, 271.15, shelter="south box", kind="min", in_sun=False)
    notes.record_reading(book, NOON, 268.15, shelter=None)
    notes.record_lid(book, NOON, "south box", "gap", 0.05)
    notes.record_watering(book, NOON, shelter="south box", volume_m3=0.005)
    notes.add_note(book, NOON, " the lid sticks ", ["Lid", "lid", ""], shelter="south box")
    assert [(r.shelter_id, r.probe, r.kind) for r in book.find(Reading)] == [
        (box.id, "air", "min"),
        (None, "outside", "now"),
    ]
    assert book.find(LidAction)[0].gap_m == 0.05
    assert book.find(Watering)[0].volume_m3 == 0.005
    assert (book.find(Note)[0].text, book.find(Note)[0].tags) == ("the lid sticks", ("lid",))
    assert changes(book, 5)[-1].what == "reading in the south box: air min 28.4 °F", "the household sees °F"


def test_a_loggers_file_twice_is_kept_once(book: Notebook) -> None:
    box = shelter_named(book, "south box")
    rows = [Reading(at=NOON.replace(hour=h), value_k=270.0 + h, shelter_id=box.id) for h in range(24)]
    assert notes.record_readings(book, rows[:20], "shed.csv") == 20
    assert notes.record_readings(book, rows, "shed.csv") == 4
    assert len(book.find(Reading)) == 24
    notes.undo(book)
    assert len(book.find(Reading)) == 20


def test_days_with_other_visits(book: Notebook) -> None:
    days = [date(2027, 12, d) for d in range(20, 25)]
    notes.record_visits(book, days, [], "holidays")
    notes.record_visits(book, days[:1], [17.0, 8.0])
    notes.record_visits(book, days[-1:], None)
    kept = book.find(VisitException, order='"on"')
    assert [(v.on.day, v.hours) for v in kept] == [(20, (8.0, 17.0)), (21, ()), (22, ()), (23, ())]


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ("unit right", lambda b: notes.record_reading(b, NOON, 28.0, shelter="south")),
        ("needs its gap", lambda b: notes.record_lid(b, NOON, "south", "gap")),
        ("needs its gap", lambda b: notes.record_lid(b, NOON, "south", "shut", 0.1)),
        ("up to 3 m", lambda b: notes.record_lid(b, NOON, "south", "gap", 5.0)),
        ("what was watered", lambda b: notes.record_watering(b, NOON)),
        ("more than 0", lambda b: notes.record_sowing(b, "kale", grown_in="open", on=MARCH, count=-3)),
        ("not one of this household's", lambda b: notes.record_sowing(b, "kale", grown_in="castle", on=MARCH)),
        ("did you mean Tomato", lambda b: notes.record_sowing(b, "tomatto", grown_in="open", on=MARCH)),
        ("the note is empty", lambda b: notes.add_note(b, NOON, "  ")),
        ("00:00 to 23:59", lambda b: notes.record_visits(b, [MARCH], [25.0])),
        ("nothing to redo", notes.redo),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_kept(book: Notebook, words: str, wrong: object) -> None:
    before = changes(book)
    with pytest.raises(InputError, match=words):
        wrong(book)  # type: ignore[operator]
    assert changes(book) == before


def test_nothing_happens_to_a_sowing_before_it_was_sown(book: Notebook) -> None:
    sowing = notes.record_sowing(book, "kale", grown_in="open", on=APRIL)
    for wrong in (
        lambda: notes.move_on(book, sowing, "seedling", MARCH),
        lambda: notes.record_harvest(book, sowing, MARCH, servings=1.0),
        lambda: notes.record_loss(book, sowing, MARCH, "hail"),
    ):
        with pytest.raises(InputError, match="before the day of sowing"):
            wrong()
    with pytest.raises(InputError, match="how much came in"):
        notes.record_harvest(book, sowing, MAY)
