"""A household in and out of its notebook: the file of a family goes in once, and from then on the notebook is what every command asks."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from underglass.errors import InputError
from underglass.notebook import tunings
from underglass.notebook.faults import Changed
from underglass.notebook.records import (
    GerminationTest,
    HouseholdRecord,
    Loss,
    PacketRecord,
    ShelterRecord,
    Sowing,
    Stage,
)
from underglass.notebook.store import Notebook
from underglass.place.place import Horizon, Place
from underglass.plan.household import Household, KnownClimate, SeedPacket, StandingCrop, Units
from underglass.plan.wishes import Wishes
from underglass.services.wishes_store import among, not_followed, standing_for_year, table_of_wishes, wishes_of_table
from underglass.shelter.model import Shelter, Visits
from underglass.shelter.schema import shelter_from_table, shelter_to_toml
from underglass.shelter.tunable import apply_tuning

__all__ = [
    "Tuner",
    "beyond_the_year",
    "change_units",
    "change_wishes",
    "describe_household",
    "forget_strange_weather",
    "household_in",
    "household_record",
    "keep_household",
    "shelter_in",
    "seed_packet",
    "shelter_named",
    "tests_of",
]

Tuner = Callable[[Shelter, Mapping[str, float]], Shelter]
"""Applies fitted parameters to a shelter as it was described."""


FROM_WORD: dict[str, Stage] = {
    "seed": "seed",
    "seedling": "seedling",
    "young": "standing",
    "hardened": "standing",
    "large leaf": "large leaf",
    "fruiting": "fruiting",
}
"""The notebook's stage for each word of a household file."""

SETTLED = timedelta(days=14)
"""A plant that was not hardened off counts as hardened after so long where it grows (estimate, twice a usual week of hardening off)."""


def describe_household(household: Household) -> HouseholdRecord:
    """The record of a household, without its shelters and seed."""
    place, climate = household.place, household.climate
    return HouseholdRecord(
        name=household.name,
        units=household.units,
        place_name=place.name,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=place.elevation_m,
        time_zone=place.time_zone,
        terrain=place.terrain,
        horizon=tuple(zip(place.horizon.azimuth_deg, place.horizon.elevation_deg, strict=True)),
        last_frost=climate.last_frost,
        tmin_c=climate.tmin_c,
        tmax_c=climate.tmax_c,
        sun_h=climate.sun_h,
        weather_file=household.weather_file,
        weekday_h=household.visits.weekday_h,
        weekend_h=household.visits.weekend_h,
        crops=household.crops,
        wishes=table_of_wishes(household.wishes),
    )


def keep_household(
    notebook: Notebook, household: Household, *, seen: int | None = None, put_away: bool = False
) -> None:
    """Put a household, its shelters and its seed into the notebook.  What the notebook knows by the same name is brought up to date.

    Shelters and seed that the household does not name stay: sowings and readings may belong to them; so do wishes where it has none.
    What stands where goes in with the household's first time, as sowings whose day nobody told; from then on it follows from the sowings.
    seen : version of the household's record that this was made from, 0 for none; raises Changed where somebody else was faster
    put_away : shelters that the household does not name are in use no more
    """
    with notebook.transaction(f"the household of {household.name}"):
        record, known = describe_household(household), notebook.find(HouseholdRecord)
        if seen is not None and seen != (known[0].version if known else 0):
            raise Changed(record, known[0] if known else None)
        if known:
            stands = known[0]
            wishes = record.wishes or stands.wishes
            notebook.update(
                replace(record, id=stands.id, created=stands.created, version=stands.version, wishes=wishes)
            )
        else:
            notebook.add(record)
        for position, shelter in enumerate(household.shelters):
            _keep_shelter(notebook, shelter, position, household.visits)
        if put_away:
            names = {s.name for s in household.shelters}
            for idle in notebook.find(ShelterRecord, "active"):
                if idle.name not in names:
                    notebook.update(replace(idle, active=False))
        have = {(p.crop_id, p.packed) for p in notebook.find(PacketRecord)}
        for packet in household.seeds:
            if (packet.crop_id, packet.packed) not in have:
                _keep_packet(notebook, packet)
        if not known:
            for standing in household.standing:
                _keep_standing(notebook, standing, today(notebook))


def today(notebook: Notebook) -> date:
    """The day it is on the household's clock."""
    return notebook.clock().astimezone(ZoneInfo(household_record(notebook).time_zone)).date()


def _keep_packet(notebook: Notebook, packet: SeedPacket) -> None:
    kept = notebook.add(
        PacketRecord(
            crop_id=packet.crop_id, packed=packet.packed, count=packet.count, storage_k=packet.storage_k, storage_rh=packet.storage_rh
        )
    )  # fmt: skip
    if packet.n_sown:
        notebook.add(GerminationTest(packet_id=kept.id, on=today(notebook), n_sown=packet.n_sown, n_up=packet.n_up))


def _keep_standing(notebook: Notebook, standing: StandingCrop, on: date) -> None:
    """What stood already when the notebook was begun: nobody said when it was sown."""
    place = notebook.find(ShelterRecord, "name = ?", standing.shelter)[0].id
    stage: Stage = (
        "hardening" if standing.in_tray and standing.stage not in ("seed", "seedling") else FROM_WORD[standing.stage]
    )
    out = stage not in ("seed", "seedling", "hardening")
    notebook.add(
        Sowing(
            crop_id=standing.crop_id,
            sown_on=on,
            sown_known=False,
            grown_in_id=place,
            stands_in_id=place,
            raised_in_id=place if standing.in_tray else None,
            stage=stage,
            came_up_on=None if stage == "seed" else on,
            hardening_on=on if stage == "hardening" or standing.stage in ("hardened", "large leaf") else None,
            standing_on=on if out else None,
            large_leaf_on=on if stage == "large leaf" else None,
            fruiting_on=on if stage == "fruiting" else None,
        )
    )


def _standing_crop(sowing: Sowing, shelters: Mapping[str, str], on: date) -> StandingCrop:
    """A sowing as the lid plan sees it."""
    raised = sowing.raised_in_id is not None or sowing.cells is not None
    word: str = sowing.stage
    begun = 0
    if word == "hardening":
        word = "young"
        begun = max((on - sowing.hardening_on).days, 0) if sowing.hardening_on else 0
    elif word == "standing":
        settled = sowing.standing_on is not None and on - sowing.standing_on >= SETTLED
        word = "hardened" if settled or sowing.hardening_on is not None else "young"
    in_tray = raised and sowing.stage in ("seed", "seedling", "hardening")
    return StandingCrop(sowing.crop_id, shelters[sowing.stands_in_id], word, in_tray, begun)


def _keep_shelter(notebook: Notebook, shelter: Shelter, position: int, visits: Visits) -> None:
    record = ShelterRecord(
        name=shelter.name, toml=shelter_to_toml(shelter), position=position, own_visits=shelter.visits != visits
    )
    known = notebook.find(ShelterRecord, "name = ?", shelter.name)
    if not known:
        notebook.add(record)
        return
    fresh = replace(record, id=known[0].id, created=known[0].created, version=known[0].version)
    if fresh != known[0]:
        notebook.update(fresh)


def change_units(notebook: Notebook, units: Units, seen: int | None = None) -> None:
    """Show temperatures in another unit.  seen : as for `keep_household`."""
    with notebook.transaction(f"shown in °{units.upper()}"):
        record = household_record(notebook)
        notebook.update(replace(record, version=record.version if seen is None else seen, units=units))


def change_wishes(
    notebook: Notebook, wishes: Wishes, what: str = "the wishes of the year", seen: int | None = None
) -> None:
    """Keep other wishes of the year.  seen : as for `keep_household`."""
    with notebook.transaction(what):
        record = household_record(notebook)
        version = record.version if seen is None else seen
        notebook.update(replace(record, version=version, wishes=table_of_wishes(wishes)))


def forget_strange_weather(notebook: Notebook, known: str | None) -> None:
    """Read no weather file that only an archive from elsewhere names: it could be any file of this machine.  known : the one in use before"""
    for record in notebook.find(HouseholdRecord):
        if record.weather_file not in (None, known):
            with notebook.transaction("a weather file of another machine left out"):
                notebook.update(replace(record, weather_file=None))


def household_record(notebook: Notebook) -> HouseholdRecord:
    """The record of the notebook's household.  Raises InputError where none was put in yet."""
    known = notebook.find(HouseholdRecord)
    if not known:
        raise InputError("the notebook knows no household yet; `underglass note start --household FILE` puts one in")
    return known[0]


@lru_cache(maxsize=64)
def _described(toml: str) -> Shelter:
    """The shelter in a text; kept, as reading it takes longer than all the rest of a household."""
    return shelter_from_table(tomllib.loads(toml))


def shelter_in(notebook: Notebook, record: ShelterRecord, visits: Visits, tune: Tuner = apply_tuning) -> Shelter:
    """A shelter as it is now: as described, at the household's visits unless it has its own, with its tuned values."""
    shelter = replace(_described(record.toml), name=record.name)
    if not record.own_visits:
        shelter = replace(shelter, visits=visits)
    tuning = tunings.active(notebook, record.id)
    return tune(shelter, tuning.parameters) if tuning else shelter


def seed_packet(record: PacketRecord, tests: Sequence[GerminationTest]) -> SeedPacket:
    """A packet as the planner takes it: weighed seed is counted by the kind's usual size, all of its tests count together."""
    from underglass.crop.catalogue import catalogue

    count = record.count
    if count is None and record.mass_kg is not None:
        per_gram = catalogue()[record.crop_id].seed.per_gram
        count = None if per_gram is None else round(1000.0 * record.mass_kg * per_gram)
    n_sown, n_up = sum(t.n_sown for t in tests), sum(t.n_up for t in tests)
    return SeedPacket(record.crop_id, record.packed, count, record.storage_k, record.storage_rh, n_sown, n_up)


def tests_of(notebook: Notebook) -> dict[str, list[GerminationTest]]:
    """All germination tests by packet id, oldest first."""
    found: dict[str, list[GerminationTest]] = {}
    for test in notebook.find(GerminationTest, order='"on", rowid'):
        found.setdefault(test.packet_id, []).append(test)
    return found


def household_in(notebook: Notebook, on: date | None = None, tune: Tuner = apply_tuning) -> Household:
    """The household as the notebook knows it, with tuned shelters, the seed on hand and what stands on a day (default: today).

    Raises InputError where no household was put in yet.
    """
    day = on or today(notebook)
    record = household_record(notebook)
    visits = Visits(record.weekday_h, record.weekend_h)
    records = notebook.find(ShelterRecord, "active", order="position, created")
    names = {s.id: s.name for s in records}
    shelters = tuple(shelter_in(notebook, s, visits, tune) for s in records)
    tests, wishes = tests_of(notebook), among(wishes_of_table(record.wishes), names.values())
    sowings = _in_ground(notebook, day)
    return Household(
        name=record.name,
        place=Place(
            record.latitude_deg,
            record.longitude_deg,
            record.elevation_m,
            record.time_zone,
            record.place_name,
            Horizon(tuple(a for a, _ in record.horizon), tuple(e for _, e in record.horizon)),
            record.terrain,
        ),
        shelters=shelters,
        crops=record.crops,
        seeds=tuple(seed_packet(p, tests.get(p.id, ())) for p in notebook.find(PacketRecord) if p.count != 0),
        visits=visits,
        climate=KnownClimate(record.tmin_c, record.tmax_c, record.sun_h, record.last_frost),
        weather_file=record.weather_file,
        standing=tuple(_standing_crop(s, names, day) for s in sowings if s.stands_in_id in names),
        units=record.units,
        wishes=replace(
            wishes, standing=standing_for_year(sowings, shelters, names, day, wishes.ground, _lost(notebook, day))
        ),
    )


def beyond_the_year(notebook: Notebook, shelters: Sequence[Shelter], on: date) -> list[dict[str, str]]:
    """What stands on a day but is no part of a year's plan, as wishes_store.not_followed.  shelters : of the household then"""
    names = {s.id: s.name for s in notebook.find(ShelterRecord, "active", order="position, created")}
    return not_followed(_in_ground(notebook, on), shelters, names, on)


def _in_ground(notebook: Notebook, on: date) -> list[Sowing]:
    return notebook.find(Sowing, "sown_on <= ? AND (done_on IS NULL OR done_on > ?)", on, on, order="sown_on, rowid")


def _lost(notebook: Notebook, on: date) -> dict[str, int]:
    """Plants lost of each sowing until a day, by its id."""
    found: dict[str, int] = {}
    for loss in notebook.find(Loss, '"on" <= ?', on):
        found[loss.sowing_id] = found.get(loss.sowing_id, 0) + (loss.count or 0)
    return found


def shelter_named(notebook: Notebook, name: str) -> ShelterRecord:
    """One of the notebook's shelters by its name, the beginning of it or a word in it.  Raises InputError that lists them."""
    wanted = " ".join(name.lower().split())
    known = notebook.find(ShelterRecord, "active", order="position, created")
    near = [s for s in known if s.name.lower() == wanted] or [
        s for s in known if wanted and (s.name.lower().startswith(wanted) or wanted in s.name.lower().split())
    ]
    if len(near) != 1:
        raise InputError(
            f"shelter {name!r} is not one of this household's: {', '.join(s.name for s in known) or 'it has none'}"
        )
    return near[0]
