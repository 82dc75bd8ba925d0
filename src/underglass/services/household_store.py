"""A household in and out of its notebook: the file of a family goes in once, and from then on the notebook is what every command asks."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace

from underglass.errors import InputError, NotebookError
from underglass.notebook import tunings
from underglass.notebook.records import HouseholdRecord, PacketRecord, ShelterRecord, Sowing
from underglass.notebook.store import Notebook
from underglass.place.place import Horizon, Place
from underglass.plan.household import Household, KnownClimate, SeedPacket, StandingCrop
from underglass.shelter.model import Shelter, Visits
from underglass.shelter.schema import shelter_from_table, shelter_to_toml

__all__ = [
    "Tuner",
    "describe_household",
    "household_in",
    "household_record",
    "keep_household",
    "shelter_in",
    "shelter_named",
]

Tuner = Callable[[Shelter, Mapping[str, float]], Shelter]
"""Applies fitted parameters to a shelter as it was described."""


def _cannot_tune(shelter: Shelter, parameters: Mapping[str, float]) -> Shelter:
    raise NotebookError(f"the {shelter.name} has tuned values ({', '.join(parameters)}) that this program cannot apply")


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
    )


def keep_household(notebook: Notebook, household: Household) -> None:
    """Put a household, its shelters and its seed into the notebook.  What the notebook knows by the same name is brought up to date.

    Shelters and seed that the household does not name stay: sowings and readings may belong to them.  What stands where is not taken over:
    in the notebook it follows from the sowings, which have dates.
    """
    with notebook.transaction(f"the household of {household.name}"):
        record, known = describe_household(household), notebook.find(HouseholdRecord)
        if known:
            notebook.update(
                replace(
                    record, id=known[0].id, created=known[0].created, version=known[0].version, wishes=known[0].wishes
                )
            )
        else:
            notebook.add(record)
        for position, shelter in enumerate(household.shelters):
            _keep_shelter(notebook, shelter, position, household.visits)
        have = {(p.crop_id, p.packed) for p in notebook.find(PacketRecord)}
        for packet in household.seeds:
            if (packet.crop_id, packet.packed) not in have:
                notebook.add(PacketRecord(crop_id=packet.crop_id, packed=packet.packed, count=packet.count))


def _keep_shelter(notebook: Notebook, shelter: Shelter, position: int, visits: Visits) -> None:
    record = ShelterRecord(
        name=shelter.name, toml=shelter_to_toml(shelter), position=position, own_visits=shelter.visits != visits
    )
    known = notebook.find(ShelterRecord, "name = ?", shelter.name)
    if known:
        notebook.update(replace(record, id=known[0].id, created=known[0].created, version=known[0].version))
    else:
        notebook.add(record)


def household_record(notebook: Notebook) -> HouseholdRecord:
    """The record of the notebook's household.  Raises InputError where none was put in yet."""
    known = notebook.find(HouseholdRecord)
    if not known:
        raise InputError("the notebook knows no household yet; `underglass note start --household FILE` puts one in")
    return known[0]


def shelter_in(notebook: Notebook, record: ShelterRecord, visits: Visits, tune: Tuner = _cannot_tune) -> Shelter:
    """A shelter as it is now: as described, at the household's visits unless it has its own, with its tuned values."""
    shelter = replace(shelter_from_table(tomllib.loads(record.toml)), name=record.name)
    if not record.own_visits:
        shelter = replace(shelter, visits=visits)
    tuning = tunings.active(notebook, record.id)
    return tune(shelter, tuning.parameters) if tuning else shelter


def household_in(notebook: Notebook, tune: Tuner = _cannot_tune) -> Household:
    """The household as the notebook knows it, with tuned shelters and the seed on hand.  Raises InputError where none was put in yet."""
    record = household_record(notebook)
    visits = Visits(record.weekday_h, record.weekend_h)
    shelters = notebook.find(ShelterRecord, "active", order="position, created")
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
        shelters=tuple(shelter_in(notebook, s, visits, tune) for s in shelters),
        crops=record.crops,
        seeds=tuple(SeedPacket(p.crop_id, p.packed, p.count) for p in notebook.find(PacketRecord) if p.count != 0),
        visits=visits,
        climate=KnownClimate(record.tmin_c, record.tmax_c, record.sun_h, record.last_frost),
        weather_file=record.weather_file,
        units=record.units,
        standing=_standing(notebook, {s.id: s.name for s in shelters}),
    )


STAGES = {"seed": "seed", "seedling": "seedling", "hardening": "young", "standing": "hardened", "fruiting": "fruiting"}
"""The notebook's stages in the lid plan's words."""


def _standing(notebook: Notebook, shelter_names: Mapping[str, str]) -> tuple[StandingCrop, ...]:
    """What the sowings say stands where now."""
    return tuple(
        StandingCrop(
            s.crop_id, shelter_names[s.stands_in_id], STAGES[s.stage],
            s.cells is not None and s.stage in ("seed", "seedling", "hardening"),
        )
        for s in notebook.find(Sowing, "stage <> 'done'")
        if s.stands_in_id in shelter_names
    )  # fmt: skip


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
