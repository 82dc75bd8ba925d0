"""From what was typed to a household: file or demo first, options on top."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from underglass.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from underglass.place.place import Place
    from underglass.plan.household import Household
    from underglass.services.progress import Progress
    from underglass.shelter.model import Shelter
    from underglass.weather.outside import OutsideWeather

__all__ = ["Asked", "household_of", "progress_bar", "read_weather", "sowing_date", "uses_notebook"]

DEFAULT_SHELTERS = "sill,box,tunnel,open"


@dataclass(frozen=True, slots=True)
class Asked:
    """The options that say who and where; empty where they were not given."""

    household: Path | None = None
    demo: bool = False
    near: str | None = None
    lat: float | None = None
    lon: float | None = None
    elevation: str | None = None
    weather: Path | None = None
    last_frost: str | None = None
    shelter: str | None = None
    crop: str | None = None
    units: str | None = None


def household_of(asked: Asked, *, tuned: bool = True) -> Household:
    """The household that the options describe.  Raises InputError that says what is missing or wrong.

    tuned : whether the notebook's shelters come with what readings taught about them, or as they were described
    """
    from underglass.sources.household_file import demo_household, household_of_table, read_household

    if asked.household is not None:
        base = read_household(asked.household)
    elif asked.demo:
        base = demo_household()
    elif asked.near or asked.lat is not None or asked.lon is not None:
        base = household_of_table({"name": "our place", "place": _place_table(asked)})
    elif asked.weather is not None:
        base = replace(demo_household(), name="our place", place=read_weather(str(asked.weather), None).place, crops=())
    else:
        base = _of_notebook(tuned)
    return _with_options(base, asked)


def uses_notebook(asked: Asked) -> bool:
    """Whether nothing that was typed says who or where, and there is a notebook that does."""
    from underglass.notebook.places import notebook_path

    told = (
        asked.household or asked.demo or asked.near or asked.lat is not None or asked.lon is not None or asked.weather
    )
    return not told and notebook_path().exists()


def _of_notebook(tuned: bool) -> Household:
    """The household of the notebook, where there is one; says so on standard error."""
    import sys

    from underglass.notebook.places import notebook_path

    if not notebook_path().exists():
        raise InputError(
            'say where you live: --near "Town", or --lat and --lon, or --household FILE; --demo shows an invented family'
        )
    from underglass.notebook.store import open_notebook
    from underglass.services.household_store import household_in

    with open_notebook(notebook_path()) as notebook:
        household = household_in(notebook) if tuned else household_in(notebook, tune=lambda shelter, _: shelter)
    print(f"from the notebook of {household.name}", file=sys.stderr)
    return household


def _place_table(asked: Asked) -> dict[str, object]:
    table: dict[str, object] = {}
    if asked.near:
        table["near"] = asked.near
    if asked.lat is not None:
        table["latitude"] = asked.lat
    if asked.lon is not None:
        table["longitude"] = asked.lon
    return table


def _with_options(base: Household, asked: Asked) -> Household:
    from underglass.crop.catalogue import find_crop
    from underglass.sources.household_file import month_day
    from underglass.units import parse_quantity

    place = base.place
    if (asked.near or asked.lat is not None or asked.lon is not None) and (asked.household or asked.demo):
        from underglass.sources.household_file import household_of_table

        place = household_of_table({"place": _place_table(asked)}).place
        base = replace(base, climate=replace(base.climate, last_frost=None, tmin_c=(), tmax_c=(), sun_h=()))
    if asked.elevation is not None:
        try:
            place = replace(place, elevation_m=parse_quantity(asked.elevation, "elevation_m"))
        except InputError as error:
            raise InputError(f"--elevation: {error}") from None
    climate = base.climate
    if asked.last_frost is not None:
        try:
            climate = replace(climate, last_frost=month_day(asked.last_frost))
        except InputError as error:
            raise InputError(f"--last-frost: {error}") from None
    shelters = base.shelters
    if asked.shelter is not None or not shelters:
        shelters = tuple(
            _shelter(name.strip(), base) for name in (asked.shelter or DEFAULT_SHELTERS).split(",") if name.strip()
        )
    crops = tuple(find_crop(c).id for c in asked.crop.split(",")) if asked.crop else base.crops
    if asked.units is not None and asked.units not in ("c", "f"):
        raise InputError(f"--units is {asked.units!r}: expected c or f")
    return replace(
        base,
        place=place,
        climate=climate,
        shelters=shelters,
        crops=crops,
        weather_file=str(asked.weather) if asked.weather else base.weather_file,
        standing=tuple(s for s in base.standing if s.shelter in {shelter.name for shelter in shelters}),
        units="c" if asked.units == "c" else "f" if asked.units == "f" else base.units,
    )


def _shelter(name: str, base: Household) -> Shelter:
    """A preset, a file that ends in .toml, or one of the household's own by name; worked at the household's visits."""
    from underglass.shelter.model import Visits
    from underglass.shelter.presets import preset
    from underglass.sources.shelter_file import read_shelter

    own = [s for s in base.shelters if s.name == name]
    if own:
        return own[0]
    shelter = read_shelter(Path(name)) if name.endswith(".toml") else preset(name)
    own_times = shelter.visits != Visits()
    return shelter if own_times else replace(shelter, visits=base.visits)


def read_weather(path: str, place: Place | None) -> OutsideWeather:
    """A weather file, or a service by its name, for a place: the reader that services are handed."""
    from underglass.sources.by_name import SERVICES, weather_by_name
    from underglass.sources.files import read_weather_file

    if path in SERVICES:
        if place is None:
            raise InputError(f"--weather {path} needs a place: add --near or --lat and --lon")
        return weather_by_name(path, place, datetime.now().astimezone().year - 1)
    return read_weather_file(path, place=place)


def sowing_date(text: str | None, option: str = "--date") -> np.datetime64:
    """A date typed as 2027-03-15, or today's.  Raises InputError for anything else, naming the option."""
    import numpy as np

    if text is None:
        return np.datetime64(datetime.now().astimezone().date())
    try:
        date = np.datetime64(datetime.strptime(text, "%Y-%m-%d").date())  # noqa: DTZ007  # a date, no clock
    except ValueError:
        raise InputError(f"{option} is {text!r}: write year-month-day, as 2027-03-15") from None
    if not np.datetime64("1950-01-01") <= date <= np.datetime64("2150-01-01"):
        raise InputError(f"{option} is {text}: expected a year from 1950 to 2150")
    return date


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A bar on stderr while it is a terminal; silent otherwise."""
    import sys

    if not sys.stderr.isatty():
        from underglass.services.progress import silent

        yield silent
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:<28}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)
        yield lambda share, doing: bar.update(task, completed=share, description=doing)
