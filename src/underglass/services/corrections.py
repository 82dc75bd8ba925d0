"""An entry is put right, or taken out: always over the version that it was read with, so that nobody's change is overwritten unseen."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TypeVar

from underglass.errors import InputError
from underglass.notebook.records import HarvestRecord, Note, Photo, Reading, Record, Sowing
from underglass.notebook.store import Notebook
from underglass.services.household_store import shelter_named
from underglass.services.notes import REACHED, check_temperature

__all__ = ["correct_caption", "correct_harvest", "correct_note", "correct_reading", "correct_sowing", "take_out"]

R = TypeVar("R", bound=Record)


def _read_with(notebook: Notebook, kind: type[R], record_id: str, version: int) -> R:
    """The record as somebody read it: with that version, so that writing it fails where it was changed since."""
    return replace(notebook.get(kind, record_id), version=version)


def correct_note(notebook: Notebook, record_id: str, version: int, text: str) -> None:
    """Other words in a note."""
    if not text.strip():
        raise InputError("the note is empty")
    with notebook.transaction("a note changed"):
        notebook.update(replace(_read_with(notebook, Note, record_id, version), text=text.strip()))


def correct_caption(notebook: Notebook, record_id: str, version: int, caption: str) -> None:
    """Other words under a picture."""
    with notebook.transaction("the words of a picture changed"):
        notebook.update(replace(_read_with(notebook, Photo, record_id, version), caption=caption.strip()))


def correct_reading(notebook: Notebook, record_id: str, version: int, value_k: float) -> None:
    """Another value of a thermometer."""
    check_temperature(value_k)
    with notebook.transaction("a reading changed"):
        notebook.update(replace(_read_with(notebook, Reading, record_id, version), value_k=value_k))


def correct_harvest(
    notebook: Notebook, record_id: str, version: int, mass_kg: float | None, servings: float | None
) -> None:
    """Another amount that came in."""
    if not any(amount is not None and 0.0 < amount <= 1000.0 for amount in (mass_kg, servings)):
        raise InputError("a harvest is more than 0, and less than 1000 kg or servings")
    with notebook.transaction("a harvest changed"):
        old = _read_with(notebook, HarvestRecord, record_id, version)
        notebook.update(replace(old, mass_kg=mass_kg, servings=servings))


def correct_sowing(
    notebook: Notebook, record_id: str, version: int, *, sown_on: date, stands_in: str, count: int | None, area_m2: float | None,
    variety: str,
) -> None:  # fmt: skip
    """Another day, place, amount or variety of a sowing.  A day that is told makes it known."""
    if any(amount is not None and not 0 < amount < 1e6 for amount in (count, area_m2)):
        raise InputError("an amount is more than 0")
    place = shelter_named(notebook, stands_in)
    with notebook.transaction("a sowing changed"):
        old = _read_with(notebook, Sowing, record_id, version)
        later = [day for name in REACHED.values() if (day := getattr(old, name)) is not None and name != "sown_on"]
        if any(day < sown_on for day in later):
            raise InputError(f"{sown_on} is after a day on which it had come further: {min(later)}")
        grown = place.id if old.raised_in_id is None else old.grown_in_id
        notebook.update(
            replace(
                old, sown_on=sown_on, sown_known=old.sown_known or sown_on != old.sown_on, stands_in_id=place.id, grown_in_id=grown,
                count=count, area_m2=area_m2, variety=variety.strip(),
            )
        )  # fmt: skip


def take_out(notebook: Notebook, kind: type[Record], record_id: str, version: int) -> None:
    """Take an entry out.  Raises Changed where it was changed meanwhile, InputError where others belong to it or it is gone."""
    with notebook.transaction(f"a {kind.__name__.lower().removesuffix('record')} taken out"):
        notebook.remove(_read_with(notebook, kind, record_id, version))
