"""The command `underglass`.  This file only names the commands; each one lives in a file of its own and loads what it needs.

Exit codes: 0 done, 1 something went wrong, 2 a file, option or value is wrong, 3 a weather service could not be used,
4 the notebook could not be read or written, 130 stopped.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from underglass.errors import InputError, UnderglassError
from underglass.faces.cli.note_commands import note_app

__all__ = ["app", "main"]

app = typer.Typer(
    name="underglass",
    help="What to sow, where and when, under cheap unheated shelters: computed from the weather of your own place.",
    invoke_without_command=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

app.add_typer(note_app)

HouseholdOpt = Annotated[
    Path | None, typer.Option("--household", help="Household file (TOML): place, shelters, visits, crops, seed.")
]
DemoOpt = Annotated[bool, typer.Option("--demo", help="An invented family in Vermont.")]
NearOpt = Annotated[str | None, typer.Option("--near", help='A town, offline: "Montpelier, Vermont".')]
LatOpt = Annotated[float | None, typer.Option("--lat", help="Latitude, degrees, north positive.")]
LonOpt = Annotated[float | None, typer.Option("--lon", help="Longitude, degrees, east positive.")]
ElevationOpt = Annotated[str | None, typer.Option("--elevation", help='Metres, or "1150 ft".')]
WeatherOpt = Annotated[
    Path | None, typer.Option("--weather", help="EPW, TMY3, TMY2 or CSV file, or open-meteo, nasa-power, pvgis, acis.")
]
FrostOpt = Annotated[str | None, typer.Option("--last-frost", help="Middle date of the last frost, month-day: 05-18.")]
ShelterOpt = Annotated[str | None, typer.Option("--shelter", help="Presets, own names or .toml files, with commas.")]
CropOpt = Annotated[str | None, typer.Option("--crop", help="Crops, with commas; default all.")]
DateOpt = Annotated[str | None, typer.Option("--date", help="Day of sowing, year-month-day; default today.")]
YearsOpt = Annotated[int, typer.Option("--years", help="Years of weather behind the chances.")]


def _seed(value: int) -> int:
    if value < 0:
        raise InputError(f"--seed is {value}: expected 0 or a whole number above it")
    return value


SeedOpt = Annotated[int, typer.Option("--seed", help="Seed of the generated weather.", callback=_seed)]
UnitsOpt = Annotated[str | None, typer.Option("--units", help="c or f.")]
JsonOpt = Annotated[bool, typer.Option("--json", help="Everything as JSON (docs/json.md).")]
NoCacheOpt = Annotated[bool, typer.Option("--no-cache", help="Compute again, keep nothing.")]


@app.callback()
def start(
    context: typer.Context,
    port: Annotated[
        int | None, typer.Option("--port", help="Port of the page; default 8471.", min=1, max=65535)
    ] = None,
    lan: Annotated[bool, typer.Option("--lan", help="Also for paired phones on the house's network.")] = False,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
) -> None:
    """What to sow, where and when, under cheap unheated shelters: computed from the weather of your own place.  Without a command: the page."""
    if context.invoked_subcommand is None:
        from underglass.faces.web.serve import serve

        serve(port, lan=lan, browser=not no_browser)


@app.command()
def sow(
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    weather: WeatherOpt = None,
    last_frost: FrostOpt = None,
    shelter: ShelterOpt = None,
    crop: CropOpt = None,
    date: DateOpt = None,
    years: YearsOpt = 30,
    seed: SeedOpt = 1,
    units: UnitsOpt = None,
    all_routes: Annotated[
        bool, typer.Option("--all-routes", help="Every route of every crop, not only the best.")
    ] = False,
    json: JsonOpt = False,
    csv: Annotated[bool, typer.Option("--csv", help="One row per crop and route as CSV.")] = False,
    no_cache: NoCacheOpt = False,
) -> None:
    """The guide: what to sow now, what soon, what should wait, with chances, dates and reasons."""
    from underglass.faces.cli.options import Asked
    from underglass.faces.cli.sow import run

    asked = Asked(household, demo, near, lat, lon, elevation, weather, last_frost, shelter, crop, units)
    run(asked, date, years, seed, all_routes=all_routes, as_json=json, as_csv=csv, use_cache=not no_cache)


@app.command()
def year(
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    weather: WeatherOpt = None,
    last_frost: FrostOpt = None,
    shelter: ShelterOpt = None,
    crop: CropOpt = None,
    date: Annotated[str | None, typer.Option("--date", help="First day of the plan; default today.")] = None,
    years: YearsOpt = 30,
    seed: SeedOpt = 1,
    units: UnitsOpt = None,
    keep: Annotated[
        Path | None, typer.Option("--keep", help="An earlier plan (--json) to change as little as possible.")
    ] = None,
    explain: Annotated[
        str | None,
        typer.Option("--explain", metavar="CROP|SOWING", help="Why this and not that, for a crop or a sowing's id."),
    ] = None,
    helps: Annotated[bool, typer.Option("--helps", help="What would meet each want that is not met.")] = False,
    json: JsonOpt = False,
    csv: Annotated[bool, typer.Option("--csv", help="One row per sowing as CSV.")] = False,
    svg: Annotated[Path | None, typer.Option("--svg", help="The basket as a drawing.")] = None,
    png: Annotated[Path | None, typer.Option("--png", help="The basket as a picture.")] = None,
    no_cache: NoCacheOpt = False,
) -> None:
    """The whole year: which sowings, where and when, for what the family likes to eat, with the basket by week."""
    from underglass.faces.cli.options import Asked
    from underglass.faces.cli.year import run

    asked = Asked(household, demo, near, lat, lon, elevation, weather, last_frost, shelter, crop, units)
    run(
        asked, date, years, seed,
        earlier=keep, explain=explain, helps=helps, as_json=json, as_csv=csv, use_cache=not no_cache, svg=svg, png=png,
    )  # fmt: skip


@app.command()
def seeds(
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    date: Annotated[str | None, typer.Option("--date", help="Day to count ages to; default today.")] = None,
    plants: Annotated[str | None, typer.Option("--plants", help="Plants wanted: tomato=12,kale=30.")] = None,
    plan: Annotated[Path | None, typer.Option("--plan", help="A year's plan (--json) whose plants are wanted.")] = None,
    chance: Annotated[float, typer.Option("--chance", help="Chance of at least so many plants.")] = 0.9,
    json: JsonOpt = False,
) -> None:
    """Seed on hand: what still germinates, what to use first, test or buy, and how many to sow."""
    from underglass.faces.cli.options import Asked
    from underglass.faces.cli.seeds import run

    run(Asked(household, demo), date, plants, plan, chance, as_json=json)


@app.command()
def why(
    crop: Annotated[str, typer.Argument(help="The crop, as spinach.")],
    in_: Annotated[str, typer.Option("--in", help="Shelter it grows in.")],
    on: Annotated[str | None, typer.Option("--on", help="Day of sowing; default today.")] = None,
    raised_in: Annotated[
        str | None, typer.Option("--raised-in", help="Shelter it is raised in and set out from.")
    ] = None,
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    weather: WeatherOpt = None,
    last_frost: FrostOpt = None,
    shelter: ShelterOpt = None,
    years: YearsOpt = 30,
    seed: SeedOpt = 1,
    units: UnitsOpt = None,
    json: JsonOpt = False,
) -> None:
    """The story of one sowing: in how many years it fails, and which weeks or hours decide."""
    from underglass.faces.cli.options import Asked
    from underglass.faces.cli.why import run

    asked = Asked(household, demo, near, lat, lon, elevation, weather, last_frost, shelter, None, units)
    run(asked, crop, in_, on, raised_in, years, seed, as_json=json)


@app.command()
def inside(
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    weather: WeatherOpt = None,
    last_frost: FrostOpt = None,
    shelter: ShelterOpt = None,
    date: DateOpt = None,
    years: Annotated[int, typer.Option("--years", help="Years to generate where no weather file is given.")] = 5,
    seed: SeedOpt = 1,
    units: UnitsOpt = None,
    out: Annotated[Path | None, typer.Option("--out", help="Hourly CSV file.")] = None,
    png: Annotated[Path | None, typer.Option("--png", help="Year carpet as a picture.")] = None,
    svg: Annotated[Path | None, typer.Option("--svg", help="Year carpet as a drawing.")] = None,
    heat: Annotated[bool, typer.Option("--heat", help="Where the heat came from and went.")] = False,
    show_shelter: Annotated[
        str | None, typer.Option("--show-shelter", help="Print a preset as a commented file.")
    ] = None,
    json: JsonOpt = False,
) -> None:
    """The inside weather of a shelter, month by month, or hour by hour in a file."""
    from underglass.faces.cli.inside import run, show
    from underglass.faces.cli.options import Asked

    if show_shelter is not None:
        show(show_shelter)
        return
    asked = Asked(household, demo, near, lat, lon, elevation, weather, last_frost, shelter, None, units)
    run(asked, date, years, seed, out=out, png=png, svg=svg, heat=heat, as_json=json)


@app.command()
def compare(
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    weather: WeatherOpt = None,
    last_frost: FrostOpt = None,
    shelter: ShelterOpt = None,
    with_: Annotated[
        str | None,
        typer.Option("--with", help="Changes to the first shelter: double,night-cover,tighter,jugs,fleece,arm,shut."),
    ] = None,
    crop: CropOpt = None,
    years: Annotated[int, typer.Option("--years", help="Years to generate where no weather file is given.")] = 5,
    seed: SeedOpt = 1,
    units: UnitsOpt = None,
    json: JsonOpt = False,
) -> None:
    """Shelters, or one with changes, side by side: nights, heat, light, and what lives through the winter."""
    from underglass.faces.cli.compare import run
    from underglass.faces.cli.options import Asked

    asked = Asked(household, demo, near, lat, lon, elevation, weather, last_frost, shelter, crop, units)
    run(asked, with_, years, seed, as_json=json)


@app.command()
def today(
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    last_frost: FrostOpt = None,
    shelter: ShelterOpt = None,
    crop: Annotated[
        str | None, typer.Option("--crop", help="What stands in every shelter, with commas; default the household's.")
    ] = None,
    forecast: Annotated[
        str | None, typer.Option("--forecast", help="open-meteo, nws, met-norway, a weather file, or climate.")
    ] = None,
    days: Annotated[int, typer.Option("--days", help="Days ahead, 1 to 10.")] = 3,
    at: Annotated[str | None, typer.Option("--at", help="Another time than now, as 2027-03-15T07:00.")] = None,
    away: Annotated[
        str | None, typer.Option("--away", help="Dates at which nobody is home, with commas: 2027-03-16.")
    ] = None,
    set_out: Annotated[str | None, typer.Option("--set-out", help="Go or wait: set this crop out now?")] = None,
    before: Annotated[
        str | None, typer.Option("--before", help="With --set-out: until this date; default 30 days.")
    ] = None,
    seed: SeedOpt = 1,
    units: UnitsOpt = None,
    json: JsonOpt = False,
) -> None:
    """What to do with lids, covers and water over the next days, at the times somebody is there."""
    from underglass.faces.cli.options import Asked
    from underglass.faces.cli.today import run, run_set_out

    asked = Asked(household, demo, near, lat, lon, elevation, None, last_frost, shelter, crop, units)
    if set_out is not None:
        run_set_out(asked, set_out, forecast, at, before, seed, as_json=json)
        return
    if before is not None:
        raise InputError("--before is the date of --set-out: add the crop, or leave it out")
    run(asked, forecast, days, at, away, seed, as_json=json)


@app.command()
def tune(
    readings: Annotated[
        Path | None, typer.Option("--readings", help="CSV file of a thermometer or logger; default the notebook's.")
    ] = None,
    household: HouseholdOpt = None,
    demo: DemoOpt = False,
    near: NearOpt = None,
    lat: LatOpt = None,
    lon: LonOpt = None,
    elevation: ElevationOpt = None,
    weather: WeatherOpt = None,
    shelter: ShelterOpt = None,
    time_zone: Annotated[
        str | None,
        typer.Option("--time-zone", help="The logger's clock: America/New_York, UTC, UTC-5; default the place's."),
    ] = None,
    units: Annotated[
        str | None, typer.Option("--units", help="c or f: of readings that do not say, and of the answer.")
    ] = None,
    date_order: Annotated[str | None, typer.Option("--date-order", help="mdy or dmy, where both could be.")] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            help='Where a column\'s probe is, once each: "temp 1=air in the shade 30 cm high", "temp 2=soil 10 cm".',
        ),
    ] = None,
    since: Annotated[
        str | None, typer.Option("--since", help="Day from which the notebook's readings count; default a season.")
    ] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Write the corrected shelter as a .toml file.")] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Correct the notebook's shelter for every command.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Take the newest correction of the shelter back.")] = False,
    json: JsonOpt = False,
) -> None:
    """Correct a shelter by thermometer readings: how tight, light and moist it is, and how far to trust that."""
    from underglass.faces.cli.options import Asked
    from underglass.faces.cli.tune import run
    from underglass.faces.cli.tune import undo as take_back

    asked = Asked(household, demo, near, lat, lon, elevation, weather, None, shelter, None, units)
    if undo:
        take_back(asked)
        return
    run(
        asked, readings, time_zone=time_zone, date_order=date_order, columns=column or [], since=since, out=out, keep=keep, as_json=json,
    )  # fmt: skip


@app.command()
def crops() -> None:
    """Every crop of the catalogue, with its Latin name and how hardy it is."""
    from underglass.faces.cli.crops import run

    run()


@app.command()
def places(name: Annotated[str, typer.Argument(help="The beginning of a town's name.")]) -> None:
    """Towns by name, offline, with coordinates, a guess of their height and time zone."""
    from underglass.faces.cli.places import run

    run(name)


def main(args: Sequence[str] | None = None) -> None:
    """Run the command; a fault of the person's own is one sentence, never a traceback."""
    try:
        app(args=list(args) if args is not None else None)
    except UnderglassError as error:
        print(error, file=sys.stderr)
        raise SystemExit(error.exit_code) from None
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        raise SystemExit(130) from None
    except BrokenPipeError:
        sys.stderr.close()
        raise SystemExit(0) from None
    except Exception as error:
        print(
            f"something went wrong inside underglass ({type(error).__name__}: {error}); {_write_log()}", file=sys.stderr
        )
        raise SystemExit(1) from None


def _write_log() -> str:
    """Write the traceback to a file and say where; the person sees one sentence."""
    import traceback

    import platformdirs

    try:
        folder = platformdirs.user_log_path("underglass", ensure_exists=True)
        (folder / "last-error.txt").write_text(traceback.format_exc(), encoding="utf-8")
        return f"details are in {folder / 'last-error.txt'}: please send them to us"
    except OSError:
        return "please tell us what you typed"


if __name__ == "__main__":
    main()
