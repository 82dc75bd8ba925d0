"""Seed on hand as the notebook keeps it: packets with their germination tests; each step is one transaction and can be undone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from underglass.crop.catalogue import catalogue, find_crop
from underglass.errors import InputError
from underglass.notebook.records import GerminationTest, PacketRecord
from underglass.notebook.store import Notebook
from underglass.plan.household import Household
from underglass.plan.seed_on_hand import COLDEST_K, WARMEST_K
from underglass.services.household_store import seed_packet, tests_of
from underglass.services.seeds import seed_report

__all__ = [
    "Packet",
    "add_packet",
    "change_packet",
    "packet_named",
    "record_test",
    "remove_packet",
    "seed_shelf",
]

MOST_SEEDS, MOST_KG, MOST_TESTED = 1_000_000, 20.0, 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """What a family says of a packet.  packed : year on it;  count seeds or mass_kg, none: not counted;  storage_k, storage_rh : None: not known"""

    crop: str
    packed: int
    variety: str = ""
    count: int | None = None
    mass_kg: float | None = None
    bought_from: str = ""
    storage_k: float | None = None
    storage_rh: float | None = None


def packet_named(notebook: Notebook, packet_id: str) -> PacketRecord:
    """A packet by its id.  Raises InputError where there is none (any more)."""
    found = notebook.get_or_none(PacketRecord, packet_id)
    if found is None:
        raise InputError("this packet is not there (any more); look at the seeds again")
    return found


def _record(said: Packet, on: date) -> PacketRecord:
    """The record of what was said.  Raises InputError with one sentence for the first thing that cannot be."""
    if not 1950 <= said.packed <= on.year + 1:
        raise InputError(f"packed is {said.packed}: expected the year on the packet, 1950 to {on.year + 1}")
    if said.count is not None and said.mass_kg is not None:
        raise InputError("say either how many seeds there are or how much they weigh")
    if said.count is not None and not 0 <= said.count <= MOST_SEEDS:
        raise InputError(f"{said.count} seeds: expected 0 to {MOST_SEEDS}")
    if said.mass_kg is not None and not 0.0 < said.mass_kg <= MOST_KG:
        raise InputError(f"{said.mass_kg * 1000:g} g of seed: expected more than 0, up to {MOST_KG * 1000:g}")
    if said.storage_k is not None and not COLDEST_K <= said.storage_k <= WARMEST_K:
        raise InputError(f"kept at {said.storage_k - 273.15:.0f} °C: expected -40 to 50 °C; is the unit right?")
    if said.storage_rh is not None and not 0.0 < said.storage_rh <= 1.0:
        raise InputError(f"humidity of {said.storage_rh:.0%}: expected more than 0, up to 100 %")
    return PacketRecord(
        crop_id=find_crop(said.crop).id,
        packed=said.packed,
        variety=said.variety.strip(),
        count=said.count,
        mass_kg=said.mass_kg,
        bought_from=said.bought_from.strip(),
        storage_k=said.storage_k,
        storage_rh=said.storage_rh,
    )


def _called(record: PacketRecord) -> str:
    return f"{catalogue()[record.crop_id].name.lower()} packed for {record.packed}"


def add_packet(notebook: Notebook, said: Packet, on: date, *, record_id: str = "") -> PacketRecord:
    """One more packet."""
    record = _record(said, on)
    with notebook.transaction(f"seed: {_called(record)}"):
        return notebook.add(replace(record, id=record_id))


def change_packet(notebook: Notebook, packet_id: str, version: int, said: Packet, on: date) -> PacketRecord:
    """A packet is other than was written.  version : that it was read with; raises Changed where somebody else was faster."""
    known, record = packet_named(notebook, packet_id), _record(said, on)
    with notebook.transaction(f"seed changed: {_called(record)}"):
        return notebook.update(replace(record, id=known.id, created=known.created, version=version))


def remove_packet(notebook: Notebook, packet_id: str, version: int) -> None:
    """A packet goes, with its tests.  Raises Changed where it was changed since this version, InputError where sowings name it."""
    known = packet_named(notebook, packet_id)
    with notebook.transaction(f"seed gone: {_called(known)}"):
        for test in notebook.find(GerminationTest, "packet_id = ?", known.id):
            notebook.remove(test)
        notebook.remove(replace(known, version=version))


def record_test(
    notebook: Notebook, packet_id: str, on: date, n_sown: int, n_up: int, today: date, *, record_id: str = ""
) -> GerminationTest:
    """A germination test: of so many seeds so many came up by the day."""
    packet = packet_named(notebook, packet_id)
    if not 1 <= n_sown <= MOST_TESTED:
        raise InputError(f"{n_sown} seeds laid out: expected 1 to {MOST_TESTED}")
    if not 0 <= n_up <= n_sown:
        raise InputError(f"{n_up} of {n_sown} came up: expected 0 to {n_sown}")
    if not date(packet.packed - 1, 1, 1) <= on <= today:
        raise InputError(f"a test on {on}: expected a day from {packet.packed - 1} to today")
    with notebook.transaction(f"test of {_called(packet)}: {n_up} of {n_sown} came up"):
        return notebook.add(GerminationTest(id=record_id, packet_id=packet.id, on=on, n_sown=n_sown, n_up=n_up))


def seed_shelf(
    notebook: Notebook,
    household: Household,
    on: date,
    plants: Mapping[str, int],
    *,
    chance: float = 0.9,
    seeds: Mapping[str, int] | None = None,
) -> dict[str, Any]:
    """The seed report with every packet's own words and tests beside its row, used-up ones last; docs/json.md has the fields.

    household : whose seed it is;  plants : wanted by crop id;  seeds : for them by crop id, where a plan has reckoned them
    """
    day, tests = np.datetime64(on, "D"), tests_of(notebook)
    rows = []
    for record in notebook.find(PacketRecord, order="crop_id, packed, created"):
        mine = tests.get(record.id, [])
        alone = seed_report(replace(household, seeds=(seed_packet(record, mine),)), day, {}, chance=chance)
        rows.append({
            **alone["packets"][0],
            **({"advice": "used up"} if record.count == 0 else {}),
            "id": record.id,
            "version": record.version,
            "variety": record.variety,
            "mass_g": None if record.mass_kg is None else round(1000.0 * record.mass_kg, 3),
            "seeds": record.count,
            "bought_from": record.bought_from,
            "storage_c": None if record.storage_k is None else round(record.storage_k - 273.15, 2),
            "storage_humidity": record.storage_rh,
            "tests": [{"on": t.on.isoformat(), "sown": t.n_sown, "up": t.n_up} for t in mine],
        })  # fmt: skip
    full = tuple(seed_packet(r, tests.get(r.id, [])) for r in notebook.find(PacketRecord) if r.count != 0)
    report = seed_report(replace(household, seeds=full), day, plants, chance=chance, seeds=seeds)
    return {**report, "packets": rows}
