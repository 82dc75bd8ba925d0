"""What was written down, newest first, and found again by its words: notes, pictures, readings, water, harvests, losses, lids."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Literal
from zoneinfo import ZoneInfo

from underglass.crop.catalogue import catalogue
from underglass.notebook.records import (
    HarvestRecord,
    LidAction,
    Loss,
    Note,
    Photo,
    Reading,
    ShelterRecord,
    Sowing,
    Watering,
)
from underglass.notebook.store import Notebook
from underglass.services.household_store import household_record
from underglass.units import INCH_M, OUNCE_KG, US_GALLON_M3, k_to_c, k_to_f

__all__ = ["Entry", "EntryKind", "entries"]

EntryKind = Literal["note", "photo", "reading", "water", "harvest", "loss", "lid", "sowing"]


@dataclass(frozen=True, slots=True)
class Entry:
    """Something that was written down.

    words : what a person wrote, or the value with its unit;  said : words of ours besides (setting, probe and kind, cause of loss)
    crop : id;  file : a picture's name
    """

    kind: EntryKind
    id: str
    at: datetime
    words: str
    shelter: str = ""
    crop: str = ""
    tags: tuple[str, ...] = ()
    file: str = ""
    said: tuple[str, ...] = ()


def entries(notebook: Notebook, words: str, limit: int) -> list[Entry]:
    """The newest entries that hold every one of the words (in text, tag, crop, shelter or kind); all for no words.

    Readings of a logger's file are left out: there are thousands.
    """
    wanted = words.lower().split()
    many = limit if not wanted else 100_000
    found = [e for e in _all(notebook, many) if all(w in _text(e) for w in wanted)]
    return sorted(found, key=lambda e: e.at, reverse=True)[:limit]


def _text(entry: Entry) -> str:
    crop = catalogue()[entry.crop].name if entry.crop else ""
    return " ".join((entry.kind, entry.words, entry.shelter, crop, *entry.tags, *entry.said)).lower()


def _all(notebook: Notebook, many: int) -> Iterator[Entry]:
    household = household_record(notebook)
    zone, fahrenheit = ZoneInfo(household.time_zone), household.units == "f"
    shelters = {s.id: s.name for s in notebook.find(ShelterRecord)}
    sowings = {s.id: s for s in notebook.find(Sowing)}

    def noon(day: date) -> datetime:
        return datetime.combine(day, time(12), zone).astimezone(UTC)

    def crop(sowing_id: str | None) -> str:
        return sowings[sowing_id].crop_id if sowing_id else ""

    def shelter(shelter_id: str | None, sowing_id: str | None = None) -> str:
        place = shelter_id or (sowings[sowing_id].stands_in_id if sowing_id else None)
        return shelters[place] if place else ""

    newest = f"at DESC LIMIT {many}"
    for n in notebook.find(Note, order=newest):
        yield Entry("note", n.id, n.at, n.text, shelter(n.shelter_id, n.sowing_id), crop(n.sowing_id), n.tags)
    for p in notebook.find(Photo, order=newest):
        yield Entry("photo", p.id, p.at, p.caption, shelter(p.shelter_id, p.sowing_id), crop(p.sowing_id), file=p.file)
    for r in notebook.find(Reading, "source_file IS NULL", order=newest):
        degrees = f"{k_to_f(r.value_k):.1f} °F" if fahrenheit else f"{k_to_c(r.value_k):.1f} °C"
        yield Entry("reading", r.id, r.at, degrees, shelter(r.shelter_id), said=(r.probe, r.kind))
    for w in notebook.find(Watering, order=newest):
        amount = "" if w.volume_m3 is None else _volume(w.volume_m3, fahrenheit)
        yield Entry("water", w.id, w.at, amount, shelter(w.shelter_id, w.sowing_id), crop(w.sowing_id))
    for a in notebook.find(LidAction, order=newest):
        gap = "" if a.gap_m is None else f"{a.gap_m / INCH_M:.2g} in" if fahrenheit else f"{100 * a.gap_m:.2g} cm"
        yield Entry("lid", a.id, a.at, gap, shelter(a.shelter_id), said=(a.setting,))
    newest = f'"on" DESC LIMIT {many}'
    for h in notebook.find(HarvestRecord, order=newest):
        mass = _mass(h.mass_kg, fahrenheit) if h.mass_kg is not None else f"{h.servings:g} ×"
        yield Entry("harvest", h.id, noon(h.on), mass, shelter(None, h.sowing_id), crop(h.sowing_id))
    for loss in notebook.find(Loss, order=newest):
        yield Entry(
            "loss", loss.id, noon(loss.on), "", shelter(None, loss.sowing_id), crop(loss.sowing_id), said=(loss.cause,)
        )
    for s in sowings.values():
        if s.sown_known:
            yield Entry("sowing", s.id, noon(s.sown_on), s.variety, shelters[s.stands_in_id], s.crop_id)


def _mass(mass_kg: float, fahrenheit: bool) -> str:
    return f"{mass_kg / OUNCE_KG:.3g} oz" if fahrenheit else f"{1000.0 * mass_kg:.3g} g"


def _volume(volume_m3: float, fahrenheit: bool) -> str:
    return f"{volume_m3 / US_GALLON_M3:.3g} gal" if fahrenheit else f"{1000.0 * volume_m3:.3g} l"
