"""What a household records, one function for each thing that happens; each is one transaction and one step that can be undone."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from underglass.crop.catalogue import find_crop
from underglass.crop.outcome import WORDS
from underglass.errors import InputError
from underglass.notebook import journal
from underglass.notebook.journal import Change
from underglass.notebook.records import (
    STAGES,
    HarvestRecord,
    LidAction,
    LidSetting,
    Loss,
    Note,
    Origin,
    Probe,
    Reading,
    ReadingKind,
    ShelterRecord,
    Sowing,
    Stage,
    VisitException,
    Watering,
)
from underglass.notebook.store import Notebook
from underglass.services.household_store import household_record, shelter_named
from underglass.units import INCH_M, k_to_c, k_to_f

__all__ = [
    "REACHED",
    "Standing",
    "add_note",
    "check_temperature",
    "lid_not_counted",
    "move_on",
    "record_harvest",
    "record_lid",
    "record_loss",
    "record_reading",
    "record_readings",
    "record_sowing",
    "record_visits",
    "record_watering",
    "redo",
    "sowing_named",
    "stage_on",
    "standing",
    "undo",
]

REACHED: dict[Stage, str] = {
    "seed": "sown_on",
    "seedling": "came_up_on",
    "hardening": "hardening_on",
    "standing": "standing_on",
    "large leaf": "large_leaf_on",
    "fruiting": "fruiting_on",
    "done": "done_on",
}
"""The field that holds the day on which each stage was reached."""

WARMEST_K, COLDEST_K = 353.15, 213.15
"""Bounds of what a thermometer in a garden may say: 80 and -60 degC; beyond them a unit was mistaken."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A sowing that stands somewhere on a day: the crop's name, the shelter's name and the stage on that day."""

    sowing: Sowing
    crop: str
    shelter: str
    stage: Stage


def stage_on(sowing: Sowing, on: date) -> Stage | None:
    """The furthest stage that a sowing had reached on a day, None before it was sown."""
    reached: list[Stage] = []
    for stage in STAGES:
        day: date | None = getattr(sowing, REACHED[stage])
        if day is not None and day <= on:
            reached.append(stage)
    return reached[-1] if reached else None


def standing(notebook: Notebook, on: date) -> list[Standing]:
    """What stands where on a day, oldest first.  Where a sowing stood before it was moved is not kept: the shelter is today's."""
    shelters = {s.id: s.name for s in notebook.find(ShelterRecord)}
    found = []
    for sowing in notebook.find(
        Sowing, "sown_on <= ? AND (done_on IS NULL OR done_on > ?)", on, on, order="sown_on, rowid"
    ):
        stage = stage_on(sowing, on)
        if stage is not None:
            name = find_crop(sowing.crop_id).name
            found.append(Standing(sowing, name, shelters[sowing.stands_in_id], stage))
    return found


def sowing_named(
    notebook: Notebook, name: str, on: date, shelter: str | None = None, sown_on: date | None = None
) -> Sowing:
    """The sowing that a person means: by its crop, among those that stand on a day, or by the beginning of its id.

    Raises InputError where none or several fit, and lists them.
    """
    by_id = notebook.find(Sowing, "substr(id, 1, ?) = ?", len(name), name.lower()) if len(name) >= 6 else []
    if len(by_id) == 1:
        return by_id[0]
    crop = find_crop(name)
    place = shelter_named(notebook, shelter).id if shelter else None
    fits = [
        s
        for s in standing(notebook, on)
        if s.sowing.crop_id == crop.id
        and place in (None, s.sowing.stands_in_id)
        and sown_on in (None, s.sowing.sown_on)
    ]
    if not fits:
        raise InputError(
            f"no {crop.name.lower()} stands {f'in the {shelter} ' if shelter else ''}on {on}; `underglass note list` shows what does"
        )
    if len(fits) > 1:
        rows = "; ".join(f"sown {s.sowing.sown_on} in the {s.shelter} ({s.sowing.id[:8]})" for s in fits)
        raise InputError(
            f"several sowings of {crop.name.lower()} stand on {on}: {rows}; say which with --in or --sown, or by its id"
        )
    return fits[0].sowing


def record_sowing(
    notebook: Notebook,
    crop: str,
    *,
    grown_in: str,
    on: date,
    raised_in: str | None = None,
    count: int | None = None,
    cells: int | None = None,
    area_m2: float | None = None,
    variety: str = "",
    packet_id: str | None = None,
    origin: Origin = "own",
    record_id: str = "",
) -> Sowing:
    """A sowing of a crop on a day, where it stays or raised elsewhere first."""
    found, bed = find_crop(crop), shelter_named(notebook, grown_in)
    nursery = shelter_named(notebook, raised_in) if raised_in else None
    for name, amount in (("count", count), ("cells", cells), ("area", area_m2)):
        if amount is not None and not 0 < amount < 1e6:
            raise InputError(f"{name} is {amount}: expected more than 0")
    with notebook.transaction(f"{found.name} sown in the {(nursery or bed).name} on {on}"):
        return notebook.add(
            Sowing(
                id=record_id,
                crop_id=found.id,
                sown_on=on,
                grown_in_id=bed.id,
                stands_in_id=(nursery or bed).id,
                raised_in_id=nursery.id if nursery else None,
                variety=variety,
                packet_id=packet_id,
                count=count,
                cells=cells,
                area_m2=area_m2,
                origin=origin,
            )
        )


def move_on(notebook: Notebook, sowing: Sowing, stage: Stage, on: date, shelter: str | None = None) -> Sowing:
    """A sowing reaches a stage on a day, and may move; set out, it stands where it is to grow unless another shelter is named."""
    if stage not in STAGES[1:]:
        raise InputError(f"stage is {stage!r}: expected one of {', '.join(STAGES[1:])}")
    if on < sowing.sown_on:
        raise InputError(f"{on} is before the day of sowing, {sowing.sown_on}")
    place = shelter_named(notebook, shelter).id if shelter else sowing.stands_in_id
    if stage == "standing" and not shelter:
        place = sowing.grown_in_id
    with notebook.transaction(f"{_crop(sowing)}: {stage} on {on}"):
        dates: dict[str, Any] = {REACHED[stage]: on}
        return notebook.update(replace(sowing, stage=stage, stands_in_id=place, **dates))


def check_temperature(value_k: float) -> None:
    """Raises InputError for what no thermometer in a garden says."""
    if not COLDEST_K <= value_k <= WARMEST_K:
        raise InputError(f"{k_to_c(value_k):.1f} °C is not what a thermometer in a garden says; is the unit right?")


def record_reading(
    notebook: Notebook,
    at: datetime,
    value_k: float,
    *,
    shelter: str | None,
    probe: Probe = "air",
    kind: ReadingKind = "now",
    depth_m: float | None = None,
    height_m: float | None = None,
    in_sun: bool | None = None,
    record_id: str = "",
) -> Reading:
    """What a thermometer says now, or its lowest or highest since it was last set back.  shelter None: outside."""
    return record_look(
        notebook, at, [(kind, value_k)], shelter=shelter, probe=probe, depth_m=depth_m, height_m=height_m, in_sun=in_sun,
        record_id=record_id,
    )[0]  # fmt: skip


def record_look(
    notebook: Notebook,
    at: datetime,
    values: Sequence[tuple[ReadingKind, float]],
    *,
    shelter: str | None,
    probe: Probe = "air",
    depth_m: float | None = None,
    height_m: float | None = None,
    in_sun: bool | None = None,
    record_id: str = "",
) -> list[Reading]:
    """All that one look at a thermometer tells, as one step.  values : kind and temperature [K];  record_id : of the only one"""
    for _, value_k in values:
        check_temperature(value_k)
    if depth_m is not None and probe != "soil":
        raise InputError(f"a depth belongs to a thermometer in the soil, and this one is in the {probe}")
    if height_m is not None and probe == "soil":
        raise InputError("a thermometer in the soil has a depth, not a height")
    place = shelter_named(notebook, shelter) if shelter else None
    where = f"in the {place.name}" if place else "outside"
    told = ", ".join(f"{kind} {_degrees(notebook, value_k)}" for kind, value_k in values)
    with notebook.transaction(f"reading {where}: {probe if place else 'air'} {told}"):
        return [
            notebook.add(
                Reading(
                    id=record_id if len(values) == 1 else "",
                    at=at,
                    value_k=value_k,
                    shelter_id=place.id if place else None,
                    probe=probe if place else "outside",
                    kind=kind,
                    depth_m=depth_m,
                    height_m=height_m,
                    in_sun=in_sun,
                )
            )
            for kind, value_k in values
        ]


def record_readings(notebook: Notebook, readings: Sequence[Reading], source_file: str) -> int:
    """The readings of a logger's file as one step; those that are there from an earlier import are left out.  Returns how many are new."""

    def mark(reading: Reading) -> tuple[object, ...]:
        return reading.shelter_id, reading.probe, reading.kind, reading.depth_m, reading.at, reading.value_k

    with notebook.transaction(f"{len(readings)} readings from {source_file}"):
        known = {mark(r) for r in notebook.find(Reading, "source_file IS NOT NULL")}
        new = [r for r in readings if mark(r) not in known]
        for reading in new:
            notebook.add(replace(reading, source_file=source_file))
        return len(new)


def record_lid(
    notebook: Notebook,
    at: datetime,
    shelter: str,
    setting: LidSetting,
    gap_m: float | None = None,
    *,
    record_id: str = "",
) -> LidAction:
    """What was done to the lid, the cover, the fleece or the trays of a shelter."""
    if (setting == "gap") != (gap_m is not None):
        raise InputError("a lid that is propped needs its gap, as 5cm; other settings have none")
    if gap_m is not None and not 0.0 < gap_m <= 3.0:
        raise InputError(f"gap is {gap_m} m: expected more than 0, up to 3 m")
    place = shelter_named(notebook, shelter)
    with notebook.transaction(f"{place.name}: {setting if gap_m is None else f'propped {_length(notebook, gap_m)}'}"):
        return notebook.add(LidAction(id=record_id, at=at, shelter_id=place.id, setting=setting, gap_m=gap_m))


def lid_not_counted(notebook: Notebook, shelter: str, setting: LidSetting) -> str:
    """A sentence where what was done is kept but the lid plan can't count it, as the shelter is described without it; else empty."""
    thing, _, laid = setting.partition(" ")
    key = {"cover": "night_cover", "fleece": "fleece"}.get(thing)
    place = shelter_named(notebook, shelter)
    if key is None or laid != "on" or tomllib.loads(place.toml).get(key, "none") != "none":
        return ""
    return f"the {place.name} is described without {'a night cover' if thing == 'cover' else 'a fleece'}, so the lid plan does not count it"


def record_watering(
    notebook: Notebook,
    at: datetime,
    *,
    shelter: str | None = None,
    sowing: Sowing | None = None,
    volume_m3: float | None = None,
    record_id: str = "",
) -> Watering:
    """Water given to a shelter or to one sowing."""
    if shelter is None and sowing is None:
        raise InputError("say what was watered: a shelter or a crop")
    if volume_m3 is not None and not 0.0 < volume_m3 <= 100.0:
        raise InputError(f"{volume_m3 * 1000:g} litres: expected more than 0")
    place = shelter_named(notebook, shelter) if shelter else None
    with notebook.transaction(f"watered: {place.name if place else _crop(sowing)}"):
        return notebook.add(
            Watering(
                id=record_id,
                at=at,
                shelter_id=place.id if place else None,
                sowing_id=sowing.id if sowing else None,
                volume_m3=volume_m3,
            )
        )


def record_harvest(
    notebook: Notebook,
    sowing: Sowing,
    on: date,
    *,
    mass_kg: float | None = None,
    servings: float | None = None,
    last: bool = False,
    record_id: str = "",
) -> HarvestRecord:
    """What came in from a sowing; with `last` it is done."""
    if mass_kg is None and servings is None:
        raise InputError("say how much came in: grams, ounces or servings")
    if any(amount is not None and not 0.0 < amount <= 1000.0 for amount in (mass_kg, servings)):
        raise InputError("a harvest is more than 0, and less than 1000 kg or servings")
    if on < sowing.sown_on:
        raise InputError(f"{on} is before the day of sowing, {sowing.sown_on}")
    with notebook.transaction(f"harvest of {_crop(sowing)} on {on}"):
        kept = notebook.add(HarvestRecord(id=record_id, sowing_id=sowing.id, on=on, mass_kg=mass_kg, servings=servings))
        if last:
            notebook.update(replace(sowing, stage="done", done_on=on))
        return kept


def record_loss(
    notebook: Notebook, sowing: Sowing, on: date, cause: str, count: int | None = None, *, record_id: str = ""
) -> Loss:
    """What was lost of a sowing and why; without a count all of it, and it is done.

    cause : words of our fates, the beginning of one, or the family's own
    """
    if on < sowing.sown_on:
        raise InputError(f"{on} is before the day of sowing, {sowing.sown_on}")
    if not cause.strip():
        raise InputError("say why it was lost, as 'killed by cold' or in your own words")
    if count is not None and count <= 0:
        raise InputError(f"count is {count}: expected more than 0")
    before = sum(loss.count or 0 for loss in notebook.find(Loss, "sowing_id = ?", sowing.id))
    if count is not None and sowing.count is not None and before + count > sowing.count:
        raise InputError(
            f"count is {count}: {sowing.count} were sown{f', of which {before} were lost before' if before else ''}"
        )
    known = [words for words in WORDS.values() if words == cause.strip().lower()] or [
        words for words in WORDS.values() if words.startswith(cause.strip().lower())
    ]
    why = known[0] if len(known) == 1 else cause.strip()
    with notebook.transaction(f"loss of {_crop(sowing)}: {why}"):
        kept = notebook.add(Loss(id=record_id, sowing_id=sowing.id, on=on, cause=why, count=count))
        if count is None:
            notebook.update(replace(sowing, stage="done", done_on=on))
        return kept


def add_note(
    notebook: Notebook,
    at: datetime,
    text: str,
    tags: Sequence[str] = (),
    *,
    shelter: str | None = None,
    sowing: Sowing | None = None,
    record_id: str = "",
) -> Note:
    """A few words, perhaps about a shelter or a sowing."""
    if not text.strip():
        raise InputError("the note is empty")
    place = shelter_named(notebook, shelter) if shelter else None
    short = text.strip().splitlines()[0]
    with notebook.transaction(f"note: {short if len(short) <= 40 else short[:39] + '…'}"):
        return notebook.add(
            Note(
                id=record_id,
                at=at,
                text=text.strip(),
                tags=tuple(dict.fromkeys(t.strip().lower() for t in tags if t.strip())),
                shelter_id=place.id if place else None,
                sowing_id=sowing.id if sowing else None,
            )
        )


def record_visits(notebook: Notebook, days: Sequence[date], hours: Sequence[float] | None, reason: str = "") -> None:
    """Days whose visits differ: at these hours, empty for nobody home; None: as usual again."""
    if not days or len(days) > 366:
        raise InputError("visits: name one day, or the first and the last of up to 366")
    if any(not 0.0 <= h < 24.0 for h in hours or ()):
        raise InputError("visits: expected times from 00:00 to 23:59")
    what = "as usual" if hours is None else "nobody home" if not hours else ", ".join(f"{h:g} h" for h in sorted(hours))
    with notebook.transaction(f"visits on {days[0]}{f' to {days[-1]}' if len(days) > 1 else ''}: {what}"):
        for day in days:
            for known in notebook.find(VisitException, '"on" = ?', day):
                notebook.remove(known)
            if hours is not None:
                notebook.add(VisitException(on=day, hours=tuple(sorted(hours)), reason=reason))


def undo(notebook: Notebook, change_id: int | None = None) -> Change:
    """Take back the last step that still holds, or the one named.  Returns it."""
    with notebook.transaction("undo"):
        return journal.undo(notebook, change_id)


def redo(notebook: Notebook) -> Change:
    """Take back the last undo.  Returns the step that holds again."""
    with notebook.transaction("redo"):
        return journal.redo(notebook)


def _degrees(notebook: Notebook, temp_k: float) -> str:
    fahrenheit = household_record(notebook).units == "f"
    return f"{k_to_f(temp_k):.1f} °F" if fahrenheit else f"{k_to_c(temp_k):.1f} °C"


def _length(notebook: Notebook, length_m: float) -> str:
    fahrenheit = household_record(notebook).units == "f"
    return f"{length_m / INCH_M:.2g} in" if fahrenheit else f"{length_m * 100:.2g} cm"


def _crop(sowing: Sowing | None) -> str:
    return find_crop(sowing.crop_id).name.lower() if sowing else ""
