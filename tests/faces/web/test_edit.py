"""An entry is changed or taken out; two phones at the same entry are told of each other; nothing is overwritten unseen."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.faces.web.hand import Hand, demo_hand
from underglass.notebook.records import HarvestRecord, Note, Reading, Record, Sowing
from underglass.services import notes
from underglass.units import k_to_f

NOW = datetime(2027, 3, 10, 12, 20, tzinfo=UTC)


@pytest.fixture
def hand(tmp_path: Path) -> Hand:
    hand = demo_hand(tmp_path, now=lambda: NOW)
    with hand.desk.home.open() as book:
        notes.add_note(book, NOW, "The lid sticks", shelter="south box")
        notes.record_reading(book, NOW, 280.0, shelter="south box")
        sowing = notes.record_sowing(book, "radish", grown_in="south box", on=NOW.date(), count=60)
        notes.record_harvest(book, sowing, NOW.date(), mass_kg=0.2)
    return hand


KINDS: dict[str, tuple[type[Record], dict[str, str], dict[str, str]]] = {
    "note": (Note, {"note": "The lid is planed"}, {"note": " "}),
    "reading": (Reading, {"value": "50"}, {"value": "warm"}),
    "harvest": (HarvestRecord, {"amount": "9oz"}, {"amount": "lots"}),
    "sowing": (Sowing, {"on": "2027-03-08", "count": "55", "area": "2", "shelter": "hoop house"}, {"count": "5.5"}),
}


def newest(hand: Hand, kind: type[Record]) -> Record:
    with hand.desk.home.open() as book:
        return book.find(kind, order="created DESC, rowid DESC")[0]


@pytest.mark.parametrize("name", KINDS)
def test_an_entry_is_changed(hand: Hand, name: str) -> None:
    kind, fields, bad = KINDS[name]
    entry = newest(hand, kind)
    address = f"/notebook/{name}/{entry.id}"
    assert address in hand.open("/notebook").text
    hand.open(address)
    assert hand.send(address, **bad).status_code == 422
    assert hand.send(address, **fields).status_code == 200
    assert newest(hand, kind).version == entry.version + 1


def test_values_are_read_in_the_familys_units(hand: Hand) -> None:
    for name in ("reading", "sowing", "harvest"):
        address = f"/notebook/{name}/{newest(hand, KINDS[name][0]).id}"
        hand.open(address)
        hand.send(address, **KINDS[name][1])
    reading, sowing, harvest = (newest(hand, k) for k in (Reading, Sowing, HarvestRecord))
    assert isinstance(reading, Reading)
    assert k_to_f(reading.value_k) == pytest.approx(50.0)
    assert isinstance(sowing, Sowing)
    assert (sowing.count, sowing.sown_on.day, sowing.area_m2) == (55, 8, pytest.approx(0.1858, abs=1e-4))
    assert isinstance(harvest, HarvestRecord)
    assert harvest.mass_kg == pytest.approx(0.2551, abs=1e-4)


def test_a_form_that_nobody_touched_keeps_the_values(hand: Hand) -> None:
    for name in ("reading", "sowing", "harvest"):
        entry = newest(hand, KINDS[name][0])
        address = f"/notebook/{name}/{entry.id}"
        hand.open(address)
        assert hand.send(address).status_code == 200
    harvest = newest(hand, HarvestRecord)
    assert isinstance(harvest, HarvestRecord)
    assert harvest.mass_kg == pytest.approx(0.2, rel=0.005)


def test_the_slower_of_two_phones_sees_both_versions_and_may_decide(hand: Hand) -> None:
    other = Hand(hand.desk)
    entry = newest(hand, Note)
    address = f"/notebook/note/{entry.id}"
    for phone in (hand, other):
        phone.open(address)
    hand.send(address, note="Planed in March")
    answer = other.send(address, note="It sticks in rain")
    assert answer.status_code == 409
    assert "Changed meanwhile" in answer.text
    assert "Planed in March" in answer.text, "theirs"
    assert "It sticks in rain" in answer.text, "mine"
    note = newest(hand, Note)
    assert isinstance(note, Note)
    assert note.text == "Planed in March"
    assert other.send(address, note="It sticks in rain").status_code == 200, "sent again, knowing both"
    note = newest(hand, Note)
    assert isinstance(note, Note)
    assert note.text == "It sticks in rain"


def test_a_bad_value_does_not_hide_that_somebody_was_faster(hand: Hand) -> None:
    other = Hand(hand.desk)
    address = f"/notebook/reading/{newest(hand, Reading).id}"
    for phone in (hand, other):
        phone.open(address)
    hand.send(address, value="50")
    assert other.send(address, value="warm").status_code == 422
    assert other.send(address, value="52").status_code == 409


def test_an_entry_that_was_taken_out_meanwhile_leaves_what_was_typed(hand: Hand) -> None:
    other = Hand(hand.desk)
    address = f"/notebook/note/{newest(hand, Note).id}"
    for phone in (hand, other):
        phone.open(address)
    assert hand.send(f"{address}/remove").status_code == 200
    answer = other.send(address, note="It sticks in rain")
    assert answer.status_code == 409
    assert "It sticks in rain" in answer.text
    hand.open("/notebook")
    hand.send("/notebook/undo")
    assert isinstance(newest(hand, Note), Note), "the last step brings it back"


def test_what_others_belong_to_is_not_taken_out(hand: Hand) -> None:
    address = f"/notebook/sowing/{newest(hand, Sowing).id}"
    hand.open(address)
    answer = hand.send(f"{address}/remove")
    assert answer.status_code == 422
    assert "take those out first" in answer.text


@pytest.mark.parametrize("path", ["note/nothing", "devices/x", "note/..%2f..%2fetc", "settings/x"])
def test_no_other_entry_can_be_reached(hand: Hand, path: str) -> None:
    assert hand.open(f"/notebook/{path}").status_code == 404
