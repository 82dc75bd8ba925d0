"""The shelters of a household's notebook, one at a time: looked at as described, changed, added, put away."""

from __future__ import annotations

from dataclasses import replace

from underglass.errors import InputError
from underglass.notebook.records import ShelterRecord
from underglass.notebook.store import Notebook
from underglass.services.household_store import household_in, household_record, shelter_in, shelter_named
from underglass.shelter.model import Shelter, Visits
from underglass.shelter.presets import preset
from underglass.shelter.schema import shelter_to_toml

__all__ = ["LONGEST_NAME", "add_shelter", "change_shelter", "described", "put_away_shelter"]

LONGEST_NAME = 40


def described(notebook: Notebook, name: str) -> tuple[ShelterRecord, Shelter]:
    """A shelter's record and the shelter as it was described, without what readings taught."""
    record, household = shelter_named(notebook, name), household_record(notebook)
    visits = Visits(household.weekday_h, household.weekend_h)
    return record, shelter_in(notebook, record, visits, tune=lambda shelter, _: shelter)


def change_shelter(notebook: Notebook, record: ShelterRecord, shelter: Shelter, seen: int) -> None:
    """Describe a shelter anew, under its name.  Raises Changed where its record is no longer of version `seen`."""
    with notebook.transaction(f"{record.name} described anew"):
        notebook.update(replace(record, toml=shelter_to_toml(replace(shelter, name=record.name)), version=seen))


def add_shelter(notebook: Notebook, like: str, name: str) -> ShelterRecord:
    """One more shelter from a preset.  Raises InputError for a name that is taken or none, or an unknown preset."""
    made, wanted = preset(like), " ".join(name.split()) or like
    if len(wanted) > LONGEST_NAME:
        raise InputError(f"the name has {len(wanted)} letters: at most {LONGEST_NAME} fit on a strip")
    known = {s.name.lower() for s in notebook.find(ShelterRecord)}
    if wanted.lower() in known:
        raise InputError(f"there is, or was, a shelter called {wanted}: give this one another name")
    household = household_in(notebook)
    shelter = replace(made, name=wanted, visits=household.visits)
    with notebook.transaction(f"{wanted} added"):
        return notebook.add(ShelterRecord(name=wanted, toml=shelter_to_toml(shelter), position=len(known)))


def put_away_shelter(notebook: Notebook, record: ShelterRecord, seen: int) -> None:
    """Use a shelter no more; what was noted of it stays.  Raises InputError for the last one, Changed as `change_shelter`."""
    if len(notebook.find(ShelterRecord, "active")) < 2:
        raise InputError(f"{record.name} is the only place to grow: add another before it is put away")
    with notebook.transaction(f"{record.name} put away"):
        notebook.update(replace(record, active=False, version=seen))
