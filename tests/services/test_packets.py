"""Seed on hand in the notebook: added, changed, tested, removed, undone; two people at once; and what it is good for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from underglass.crop.catalogue import catalogue
from underglass.errors import InputError
from underglass.notebook.faults import Changed
from underglass.notebook.records import GerminationTest, PacketRecord
from underglass.notebook.store import Notebook, open_notebook
from underglass.plan.household import SeedPacket
from underglass.services import notes
from underglass.services.household_store import household_in, keep_household, seed_packet
from underglass.services.packets import (
    Packet,
    add_packet,
    change_packet,
    record_test,
    remove_packet,
    seed_shelf,
)
from underglass.sources.household_file import demo_household

ON = date(2027, 3, 10)
DEMO = replace(demo_household(), seeds=(), standing=())


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    clock = lambda: datetime(2027, 3, 10, 12, tzinfo=UTC)  # noqa: E731
    with open_notebook(tmp_path / "notebook.sqlite", create=True, clock=clock) as opened:
        keep_household(opened, DEMO)
        yield opened


def row(book: Notebook, packet: PacketRecord) -> dict[str, object]:
    return next(r for r in seed_shelf(book, DEMO, ON, {})["packets"] if r["id"] == packet.id)


def test_a_packet_is_kept_as_said(book: Notebook) -> None:
    packet = add_packet(
        book,
        Packet(
            crop="leek",
            packed=2025,
            variety=" Blue Hill ",
            count=150,
            bought_from="swap",
            storage_k=278.15,
            storage_rh=0.4,
        ),
        ON,
    )
    found = row(book, packet)
    assert (found["crop"], found["packed"], found["variety"], found["seeds"]) == ("leek", 2025, "Blue Hill", 150)
    assert (found["storage_c"], found["storage_humidity"], found["bought_from"]) == (5.0, 0.4, "swap")
    low, mean, high = (float(str(found[k])) for k in ("germination_low", "germination", "germination_high"))
    assert 0.0 < low < mean < high <= 1.0


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (Packet(crop="leek", packed=1890), "1950 to 2028"),
        (Packet(crop="leek", packed=2029), "1950 to 2028"),
        (Packet(crop="leek", packed=2025, count=-1), "0 to"),
        (Packet(crop="leek", packed=2025, count=10, mass_kg=0.001), "either"),
        (Packet(crop="leek", packed=2025, mass_kg=0.0), "more than 0"),
        (Packet(crop="leek", packed=2025, storage_k=350.0), "is the unit right"),
        (Packet(crop="leek", packed=2025, storage_rh=1.2), "up to 100 %"),
        (Packet(crop="moonflour", packed=2025), "moonflour"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(book: Notebook, said: Packet, why: str) -> None:
    with pytest.raises(InputError, match=why):
        add_packet(book, said, ON)
    assert not book.find(PacketRecord)


def test_weighed_seed_is_counted_by_its_size(book: Notebook) -> None:
    packet = add_packet(book, Packet(crop="tomato", packed=2026, mass_kg=0.002), ON)
    per_gram = catalogue()["tomato"].seed.per_gram
    assert per_gram
    assert seed_packet(packet, []).count == round(2.0 * per_gram)


def test_a_test_moves_what_is_expected_and_narrows_it(book: Notebook) -> None:
    packet = add_packet(book, Packet(crop="tomato", packed=2023), ON)
    before = row(book, packet)
    record_test(book, packet.id, ON, 20, 19, ON)
    after = row(book, packet)
    assert float(str(after["germination"])) > float(str(before["germination"]))
    width = [float(str(r["germination_high"])) - float(str(r["germination_low"])) for r in (before, after)]
    assert width[1] < width[0]
    assert after["tests"] == [{"on": "2027-03-10", "sown": 20, "up": 19}]
    for sown, up, on in ((0, 0, ON), (10, 11, ON), (10, -1, ON), (10, 5, date(2027, 3, 11)), (10, 5, date(1999, 1, 1))):
        with pytest.raises(InputError):
            record_test(book, packet.id, on, sown, up, ON)


def test_two_people_at_one_packet(book: Notebook) -> None:
    packet = add_packet(book, Packet(crop="leek", packed=2025, count=100), ON)
    change_packet(book, packet.id, packet.version, Packet(crop="leek", packed=2025, count=60), ON)
    with pytest.raises(Changed) as caught:
        change_packet(book, packet.id, packet.version, Packet(crop="leek", packed=2025, count=80), ON)
    assert isinstance(caught.value.theirs, PacketRecord)
    assert caught.value.theirs.count == 60
    with pytest.raises(Changed):
        remove_packet(book, packet.id, packet.version)
    assert book.get(PacketRecord, packet.id).count == 60


def test_a_packet_goes_with_its_tests_and_comes_back(book: Notebook) -> None:
    packet = add_packet(book, Packet(crop="leek", packed=2025), ON)
    record_test(book, packet.id, ON, 10, 8, ON)
    remove_packet(book, packet.id, packet.version)
    assert not book.find(PacketRecord)
    assert not book.find(GerminationTest)
    notes.undo(book)
    assert row(book, packet)["tests"]
    with pytest.raises(InputError, match="not there"):
        remove_packet(book, "0" * 32, 1)


def test_used_up_seed_is_told_apart_and_not_counted_on(book: Notebook) -> None:
    packet = add_packet(book, Packet(crop="leek", packed=2026, count=0), ON)
    shelf = seed_shelf(book, DEMO, ON, {"leek": 10})
    assert row(book, packet)["advice"] == "used up"
    assert shelf["needs"][0]["on_hand"] == 0
    assert shelf["shopping"]["packets"] >= 1
    assert shelf["shopping"]["cost_low"] < shelf["shopping"]["cost_high"]


def test_what_a_file_says_of_a_packet_goes_into_the_notebook(tmp_path: Path) -> None:
    said = SeedPacket("leek", 2025, 80, 278.15, 0.4, 10, 9)
    with open_notebook(tmp_path / "other.sqlite", create=True) as book:
        keep_household(book, replace(DEMO, seeds=(said,)))
        assert household_in(book).seeds == (said,)
