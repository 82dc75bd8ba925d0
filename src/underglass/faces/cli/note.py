"""`underglass note`: what was typed, understood and handed to the notebook; each command says what was kept."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, cast, get_args
from zoneinfo import ZoneInfo

from underglass.errors import InputError
from underglass.faces.cli.note_words import amount_of, day_of, hours_of, lid_of, temperature_k, time_of
from underglass.faces.cli.options import Asked, household_of
from underglass.faces.cli.words import day, short_name
from underglass.notebook.archive import export_archive, import_archive
from underglass.notebook.backup import backups, make_backup, newest_backup
from underglass.notebook.backup import restore as bring_back
from underglass.notebook.journal import changes
from underglass.notebook.places import notebook_path
from underglass.notebook.records import STAGES, HouseholdRecord, Note, Probe, ReadingKind
from underglass.notebook.store import Notebook, open_notebook
from underglass.services import notes
from underglass.services.household_store import household_record, keep_household, shelter_named
from underglass.units import parse_quantity

__all__ = [
    "backup",
    "export",
    "harvest",
    "import_",
    "lid",
    "loss",
    "move",
    "photo",
    "read",
    "redo",
    "restore",
    "show",
    "sow",
    "start",
    "undo",
    "visits",
    "water",
    "write",
]


@contextmanager
def _recording() -> Iterator[tuple[Notebook, ZoneInfo]]:
    """The notebook and the household's clock; says afterwards what was kept."""
    with open_notebook(notebook_path()) as book:
        last = changes(book, 1)
        yield book, ZoneInfo(household_record(book).time_zone)
        seen = last[0].id if last else 0
        new = changes(book, 20, "id > ?", seen)
        for change in reversed(new):
            print(f"kept: {change.what}")
        if not new:
            print("it stands so already: nothing was written")
        if book.backup_fault:
            print(book.backup_fault, file=sys.stderr)


def _today(zone: ZoneInfo) -> date:
    return datetime.now(zone).date()


def start(asked: Asked, *, update: bool) -> None:
    """Put a household into the notebook, which is made where there is none."""
    if asked.household is None and not asked.demo and not asked.near:
        raise InputError('say whose notebook it is: --household FILE, or --near "Town", or --demo')
    household = household_of(asked)
    if household.weather_file and Path(household.weather_file).is_file():
        household = replace(household, weather_file=str(Path(household.weather_file).resolve()))
    with open_notebook(notebook_path(), create=True) as book:
        if book.find(HouseholdRecord) and not update:
            raise InputError(
                f"{notebook_path()} is the notebook of {household_record(book).name} already; add --update to bring it up to date with this household"
            )
        keep_household(book, household)
    print(f"kept: {household.name}, {len(household.shelters)} shelters, in {notebook_path()}")


def sow(
    crop: str,
    grown_in: str,
    raised_in: str | None,
    on: str | None,
    *,
    count: int | None,
    cells: int | None,
    area: str | None,
    variety: str,
) -> None:
    """A sowing."""
    with _recording() as (book, zone):
        notes.record_sowing(
            book,
            crop,
            grown_in=grown_in,
            raised_in=raised_in,
            on=day_of(on, _today(zone)),
            count=count,
            cells=cells,
            area_m2=_quantity(area, "area_m2", "--area"),
            variety=variety,
        )


def _quantity(text: str | None, name: str, option: str) -> float | None:
    try:
        return None if text is None else parse_quantity(text, name)
    except InputError as error:
        raise InputError(f"{option}: {error}") from None


def move(crop: str, stage: str, to: str | None, grown_in: str | None, sown: str | None, on: str | None) -> None:
    """A sowing reaches a stage."""
    words = {"up": "seedling", "out": "standing", "set out": "standing"}
    wanted = words.get(stage.lower(), stage.lower())
    if wanted not in STAGES:
        raise InputError(f"stage is {stage!r}: expected one of {', '.join(STAGES[1:])}")
    with _recording() as (book, zone):
        when = day_of(on, _today(zone))
        sowing = notes.sowing_named(book, crop, when, grown_in, day_of(sown, None))
        notes.move_on(book, sowing, wanted, when, to)


def read(
    shelter: str,
    value: str | None,
    lowest: str | None,
    highest: str | None,
    *,
    probe: str,
    depth: str | None,
    height: str | None,
    in_sun: bool | None,
    at: str | None,
) -> None:
    """What a thermometer says: now, its lowest, its highest."""
    if probe not in get_args(Probe):
        raise InputError(f"--probe is {probe!r}: expected one of {', '.join(get_args(Probe))}")
    given: list[tuple[ReadingKind, str]] = [
        (kind, text)
        for kind, text in zip(get_args(ReadingKind), (value, lowest, highest), strict=True)
        if text is not None
    ]
    if not given:
        raise InputError('say what it reads: note read "south box" 3.5C, or --min 28F --max 71F')
    with _recording() as (book, zone):
        units = household_record(book).units
        values = [(kind, temperature_k(text, units)) for kind, text in given]
        if len({k for k, _ in values}) > 1 and dict(values).get("min", 0.0) > dict(values).get("max", 1e9):
            raise InputError("the lowest is above the highest")
        notes.record_look(
            book,
            time_of(at, zone),
            values,
            shelter=None if shelter.lower() == "outside" else shelter,
            probe=cast("Probe", probe),
            depth_m=_quantity(depth, "depth_m", "--depth"),
            height_m=_quantity(height, "height_m", "--height"),
            in_sun=in_sun,
        )


def lid(shelter: str, setting: str, at: str | None) -> None:
    """What was done to a lid or a cover."""
    with _recording() as (book, zone):
        done, gap_m = lid_of(setting)
        notes.record_lid(book, time_of(at, zone), shelter, done, gap_m)
        not_counted = notes.lid_not_counted(book, shelter, done)
    if not_counted:
        print(not_counted)


def water(what: str, volume: str | None, at: str | None) -> None:
    """Water for a shelter, or else for a sowing."""
    with _recording() as (book, zone):
        when, volume_m3 = time_of(at, zone), _quantity(volume, "volume_m3", "the amount")
        try:
            shelter = shelter_named(book, what).name
        except InputError as no_shelter:
            try:
                sowing = notes.sowing_named(book, what, when.astimezone(zone).date())
            except InputError as no_sowing:
                raise InputError.of([str(no_shelter), str(no_sowing)]) from None
            notes.record_watering(book, when, sowing=sowing, volume_m3=volume_m3)
        else:
            notes.record_watering(book, when, shelter=shelter, volume_m3=volume_m3)


def harvest(crop: str, amount: str, grown_in: str | None, sown: str | None, on: str | None, *, last: bool) -> None:
    """What came in."""
    with _recording() as (book, zone):
        when = day_of(on, _today(zone))
        sowing = notes.sowing_named(book, crop, when, grown_in, day_of(sown, None))
        mass_kg, servings = amount_of(amount)
        notes.record_harvest(book, sowing, when, mass_kg=mass_kg, servings=servings, last=last)


def loss(crop: str, cause: str, count: int | None, grown_in: str | None, sown: str | None, on: str | None) -> None:
    """What was lost."""
    with _recording() as (book, zone):
        when = day_of(on, _today(zone))
        sowing = notes.sowing_named(book, crop, when, grown_in, day_of(sown, None))
        notes.record_loss(book, sowing, when, cause, count)


def write(text: str, tags: str, shelter: str | None, about: str | None, at: str | None) -> None:
    """A few words."""
    with _recording() as (book, zone):
        when = time_of(at, zone)
        sowing = notes.sowing_named(book, about, when.astimezone(zone).date()) if about else None
        notes.add_note(book, when, text, tags.split(","), shelter=shelter, sowing=sowing)


def photo(file: Path, caption: str, shelter: str | None, about: str | None, at: str | None) -> None:
    """A picture."""
    from underglass.services.photos import add_photo

    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputError(f"{file}: cannot be read ({error.strerror})") from None
    with _recording() as (book, zone):
        when = time_of(at, zone)
        sowing = notes.sowing_named(book, about, when.astimezone(zone).date()) if about else None
        add_photo(book, when, data, caption, shelter=shelter, sowing=sowing)


def visits(first: str, when: str, until: str | None, reason: str) -> None:
    """Days whose visits differ."""
    with _recording() as (book, zone):
        start_day, last = day_of(first, _today(zone)), day_of(until, None)
        many = ((last or start_day) - start_day).days + 1
        if many < 1:
            raise InputError(f"--until is {until}: expected a day from {start_day} on")
        notes.record_visits(book, [start_day + timedelta(days=n) for n in range(many)], hours_of(when), reason)


def show(on: str | None, words: str | None, *, as_json: bool) -> None:
    """What stands where on a day, notes, and the latest entries."""
    with open_notebook(notebook_path()) as book:
        zone = ZoneInfo(household_record(book).time_zone)
        when = day_of(on, _today(zone))
        stands = notes.standing(book, when)
        said = book.find(
            Note, "text LIKE '%' || ? || '%' OR tags LIKE '%' || ? || '%'", words or "", words or "", order="at DESC"
        )
        steps = changes(book, 12)
        name = household_record(book).name
    if as_json:
        _show_json(name, when, stands, said[:50], steps)
        return
    print(f"Notebook of {name}, {day(str(when))} {when.year}")
    for s in stands:
        amount = f", {s.sowing.count} sown" if s.sowing.count else ""
        since = f"{'sown' if s.sowing.sown_known else 'there already on'} {day(str(s.sowing.sown_on))}"
        print(f"  {short_name(s.crop)} in the {s.shelter}: {s.stage}, {since}{amount} ({s.sowing.id[:8]})")
    if not stands:
        print("  nothing stands anywhere")
    if said:
        print("Notes")
    for note in said[:10]:
        print(
            f"  {note.at.astimezone(zone):%Y-%m-%d %H:%M}  {note.text}{' #' + ' #'.join(note.tags) if note.tags else ''}"
        )
    if not words:
        print("Latest entries")
        for step in steps:
            print(
                f"  {step.id:4}  {step.at.astimezone(zone):%Y-%m-%d %H:%M}  {step.what}{'  (undone)' if step.undone else ''}"
            )


def _show_json(name: str, when: date, stands: list[notes.Standing], said: list[Note], steps: list[Any]) -> None:
    answer = {
        "household": name,
        "on": when.isoformat(),
        "standing": [
            {
                "id": s.sowing.id,
                "crop": s.sowing.crop_id,
                "shelter": s.shelter,
                "stage": s.stage,
                "sown_on": s.sowing.sown_on.isoformat(),
                "count": s.sowing.count,
            }
            for s in stands
        ],
        "notes": [{"id": n.id, "at": n.at.isoformat(), "text": n.text, "tags": list(n.tags)} for n in said],
        "changes": [
            {"id": c.id, "at": c.at.isoformat(), "what": c.what, "kind": c.kind, "undone": c.undone} for c in steps
        ],
    }
    json.dump(answer, sys.stdout, indent=1)
    print()


def undo(number: int | None) -> None:
    """Take back a step."""
    with open_notebook(notebook_path()) as book:
        print(f"taken back: {notes.undo(book, number).what}")


def redo() -> None:
    """Take back an undo."""
    with open_notebook(notebook_path()) as book:
        print(f"holds again: {notes.redo(book).what}")


def export(file: Path) -> None:
    """Write the archive."""
    with open_notebook(notebook_path()) as book:
        rows = export_archive(book, file)
    print(f"{rows} rows written to {file}")


def import_(file: Path, *, replace: bool) -> None:
    """Read an archive."""
    former = import_archive(file, notebook_path(), datetime.now(UTC), replace=replace)
    print(f"the notebook is now what {file} says{f'; the former one is kept as {former}' if former else ''}")


def backup() -> None:
    """Copy now, and list."""
    with open_notebook(notebook_path()) as book:
        make_backup(book.db, book.path, "hand", datetime.now(UTC))
    for kept in backups(notebook_path()):
        print(kept)


def restore(file: Path | None) -> None:
    """Bring a backup back."""
    wanted = file or newest_backup(notebook_path())
    if wanted is None:
        raise InputError(f"there is no backup of {notebook_path()}")
    former = bring_back(notebook_path(), wanted, datetime.now(UTC))
    print(f"the notebook is now as in {wanted}{f'; the former state is kept as {former}' if former else ''}")
