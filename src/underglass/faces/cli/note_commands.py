"""The commands of `underglass note`.  This file only names them; what they do stands in note.py, which loads what it needs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["note_app"]

note_app = typer.Typer(
    name="note",
    help="Record what happens: sowings, readings, lids, water, harvests, losses, notes.  Every step can be undone.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

# values such as -3C begin with a minus and are no options
MINUS = {"ignore_unknown_options": True}

CropArg = Annotated[str, typer.Argument(help="The crop, as spinach, or the beginning of a sowing's id.")]
ShelterArg = Annotated[str, typer.Argument(help="One of your shelters; a word of its name is enough.")]
InOpt = Annotated[str | None, typer.Option("--in", help="The shelter it stands in.")]
OnOpt = Annotated[str | None, typer.Option("--on", help="The day, year-month-day; default today.")]
AtOpt = Annotated[
    str | None, typer.Option("--at", help='The time, "07:30" or "2027-03-10 07:30", your clock; default now.')
]
SownOpt = Annotated[str | None, typer.Option("--sown", help="The day it was sown, where several stand.")]
AboutOpt = Annotated[str | None, typer.Option("--about", help="The crop it is about.")]


@note_app.command()
def start(
    household: Annotated[Path | None, typer.Option("--household", help="Household file (TOML).")] = None,
    demo: Annotated[bool, typer.Option("--demo", help="An invented family in Vermont.")] = False,
    near: Annotated[str | None, typer.Option("--near", help="A town, offline.")] = None,
    last_frost: Annotated[
        str | None, typer.Option("--last-frost", help="Middle date of the last frost: 05-18.")
    ] = None,
    shelter: Annotated[str | None, typer.Option("--shelter", help="Presets or .toml files, with commas.")] = None,
    update: Annotated[bool, typer.Option("--update", help="Bring a household that is there up to date.")] = False,
) -> None:
    """Begin the notebook with your household; from then on every command uses it."""
    from underglass.faces.cli import note
    from underglass.faces.cli.options import Asked

    note.start(Asked(household, demo, near, last_frost=last_frost, shelter=shelter), update=update)


@note_app.command()
def sow(
    crop: CropArg,
    in_: Annotated[str, typer.Option("--in", help="Shelter it grows in.")],
    raised_in: Annotated[str | None, typer.Option("--raised-in", help="Shelter it is raised in first.")] = None,
    on: OnOpt = None,
    count: Annotated[int | None, typer.Option("--count", help="Seeds or plants.")] = None,
    cells: Annotated[int | None, typer.Option("--cells", help="Cells of a tray.")] = None,
    area: Annotated[str | None, typer.Option("--area", help='Bed it takes: "0.5 m2", "5 ft2".')] = None,
    variety: Annotated[str, typer.Option("--variety", help="Its variety.")] = "",
) -> None:
    """A sowing: underglass note sow spinach --in "south box" --count 60."""
    from underglass.faces.cli import note

    note.sow(crop, in_, raised_in, on, count=count, cells=cells, area=area, variety=variety)


@note_app.command()
def move(
    crop: CropArg,
    stage: Annotated[
        str, typer.Argument(help="seedling, hardening, standing (set out), large leaf, fruiting or done.")
    ],
    to: Annotated[str | None, typer.Option("--to", help="The shelter it stands in from now on.")] = None,
    in_: InOpt = None,
    sown: SownOpt = None,
    on: OnOpt = None,
) -> None:
    """A sowing comes up, is hardened off, set out, bears, is done."""
    from underglass.faces.cli import note

    note.move(crop, stage, to, in_, sown, on)


@note_app.command(context_settings=MINUS)
def read(
    shelter: Annotated[str, typer.Argument(help="One of your shelters, or outside.")],
    value: Annotated[
        str | None, typer.Argument(help="What it says now: 3.5C, 38F; a bare number is in your units.")
    ] = None,
    lowest: Annotated[str | None, typer.Option("--min", help="Its lowest since it was set back.")] = None,
    highest: Annotated[str | None, typer.Option("--max", help="Its highest since it was set back.")] = None,
    probe: Annotated[str, typer.Option("--probe", help="air, soil or leaf.")] = "air",
    depth: Annotated[str | None, typer.Option("--depth", help="Depth in the soil: 5cm, 2in.")] = None,
    height: Annotated[str | None, typer.Option("--height", help="Height over the soil: 20cm, 8in.")] = None,
    in_sun: Annotated[bool | None, typer.Option("--sun/--shade", help="Whether the sun shone on it.")] = None,
    at: AtOpt = None,
) -> None:
    """A thermometer: underglass note read "south box" 3.5C, or --min 28F --max 71F."""
    from underglass.faces.cli import note

    note.read(shelter, value, lowest, highest, probe=probe, depth=depth, height=height, in_sun=in_sun, at=at)


@note_app.command()
def lid(
    shelter: ShelterArg,
    setting: Annotated[
        str,
        typer.Argument(help="shut, open, off, a gap as 5cm or 2in; cover on|off, fleece on|off, trays in|out."),
    ],
    at: AtOpt = None,
) -> None:
    """What was done to a lid or a cover: underglass note lid "south box" 5cm."""
    from underglass.faces.cli import note

    note.lid(shelter, setting, at)


@note_app.command()
def water(
    what: Annotated[str, typer.Argument(help="A shelter, or a crop that stands somewhere.")],
    volume: Annotated[str | None, typer.Argument(help="How much, where measured: 5l, 1gal.")] = None,
    at: AtOpt = None,
) -> None:
    """Water given."""
    from underglass.faces.cli import note

    note.water(what, volume, at)


@note_app.command()
def harvest(
    crop: CropArg,
    amount: Annotated[str, typer.Argument(help="200g, 7oz, or servings as 3.")],
    in_: InOpt = None,
    sown: SownOpt = None,
    on: OnOpt = None,
    last: Annotated[bool, typer.Option("--last", help="It is the last of it.")] = False,
) -> None:
    """What came in: underglass note harvest spinach 200g."""
    from underglass.faces.cli import note

    note.harvest(crop, amount, in_, sown, on, last=last)


@note_app.command()
def loss(
    crop: CropArg,
    cause: Annotated[str, typer.Argument(help='Why: "killed by cold", cooked, slugs.')],
    count: Annotated[int | None, typer.Option("--count", help="How many; without it all.")] = None,
    in_: InOpt = None,
    sown: SownOpt = None,
    on: OnOpt = None,
) -> None:
    """What was lost, and why."""
    from underglass.faces.cli import note

    note.loss(crop, cause, count, in_, sown, on)


@note_app.command()
def write(
    text: Annotated[str, typer.Argument(help="The note.")],
    tag: Annotated[str, typer.Option("--tag", help="Words to find it by, with commas.")] = "",
    in_: Annotated[str | None, typer.Option("--in", help="The shelter it is about.")] = None,
    about: AboutOpt = None,
    at: AtOpt = None,
) -> None:
    """A few words."""
    from underglass.faces.cli import note

    note.write(text, tag, in_, about, at)


@note_app.command()
def photo(
    file: Annotated[
        Path, typer.Argument(help="JPEG, PNG or WebP; a smaller copy is kept, without its place and camera.")
    ],
    caption: Annotated[str, typer.Option("--caption", help="A few words.")] = "",
    in_: Annotated[str | None, typer.Option("--in", help="The shelter it shows.")] = None,
    about: AboutOpt = None,
    at: AtOpt = None,
) -> None:
    """A picture."""
    from underglass.faces.cli import note

    note.photo(file, caption, in_, about, at)


@note_app.command()
def visits(
    day: Annotated[str, typer.Argument(help="The day, year-month-day.")],
    when: Annotated[str, typer.Argument(help='"07:00 17:30", nobody, or usual.')],
    until: Annotated[str | None, typer.Option("--until", help="The last day, for several.")] = None,
    reason: Annotated[str, typer.Option("--reason", help="Why.")] = "",
) -> None:
    """A day on which somebody is there at other times, or nobody: underglass note visits 2027-03-20 nobody --until 2027-03-27."""
    from underglass.faces.cli import note

    note.visits(day, when, until, reason)


@note_app.command("list")
def list_(
    on: OnOpt = None,
    find: Annotated[str | None, typer.Option("--find", help="Only notes with these words.")] = None,
    json: Annotated[bool, typer.Option("--json", help="As JSON (docs/json.md).")] = False,
) -> None:
    """What stands where, and the latest entries."""
    from underglass.faces.cli import note

    note.show(on, find, as_json=json)


@note_app.command()
def undo(
    number: Annotated[int | None, typer.Argument(help="Number of the entry in `note list`; default the last.")] = None,
) -> None:
    """Take back the last entry, or the one named."""
    from underglass.faces.cli import note

    note.undo(number)


@note_app.command()
def redo() -> None:
    """Take back the last undo."""
    from underglass.faces.cli import note

    note.redo()


@note_app.command()
def export(file: Annotated[Path, typer.Argument(help="The archive to write, as notebook.zip.")]) -> None:
    """Everything as one archive: a zip of CSV tables, a manifest and the photos."""
    from underglass.faces.cli import note

    note.export(file)


@note_app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="An archive that `note export` wrote.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="In place of the notebook that is there, which is kept as a backup.")
    ] = False,
) -> None:
    """Make the notebook what an archive says."""
    from underglass.faces.cli import note

    note.import_(file, replace=replace)


@note_app.command()
def backup() -> None:
    """A dated copy now, and a list of all of them."""
    from underglass.faces.cli import note

    note.backup()


@note_app.command()
def restore(
    file: Annotated[Path | None, typer.Argument(help="The backup; default the newest.")] = None,
) -> None:
    """Bring a backup back; what is there now is kept as a backup too."""
    from underglass.faces.cli import note

    note.restore(file)
