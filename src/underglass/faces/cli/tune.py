"""`underglass tune`: a logger's file, the readings in the notebook, or both correct a shelter."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date, uses_notebook

if TYPE_CHECKING:
    from underglass.plan.household import Household
    from underglass.shelter.model import Shelter
    from underglass.shelter.tune_types import Readings
    from underglass.shelter.working import Handling
    from underglass.sources.readings import Logbook
    from underglass.weather.outside import OutsideWeather

__all__ = ["run", "undo"]

YEAR_BEFORE = timedelta(days=370)


def run(
    asked: Asked,
    file: Path | None,
    *,
    time_zone: str | None,
    date_order: str | None,
    columns: list[str],
    since: str | None,
    out: Path | None,
    keep: bool,
    as_json: bool,
) -> None:
    """Read, fit, show; with `out` write the corrected shelter, with `keep` put it into force in the notebook.

    file : readings of a logger; the notebook's are taken beside it, or alone without one
    """
    from underglass.services.noted_readings import need_readings
    from underglass.services.tune import tune_shelter
    from underglass.sources.readings import Logbook

    if date_order not in (None, "mdy", "dmy"):
        raise InputError(f"--date-order is {date_order!r}: expected mdy or dmy")
    household, noted = _household(asked)
    if file is None and not noted:
        raise InputError("tune needs the readings: add --readings FILE, or note some: `underglass note read --help`")
    if keep and not noted:
        raise InputError(
            "--keep is for the notebook's shelters: leave out the options that say where; `note start` begins one"
        )
    shelter = _shelter(household)
    with progress_bar() as progress:
        progress(0.05, "weather of those days")
        book, handling = _noted(shelter, since, by_hand_only=file is not None) if noted else (Logbook((), ()), _nothing)
        if file is not None:
            logged, outside = _logged(household, asked, file, time_zone, date_order, columns)
            book = Logbook((*logged.readings, *book.readings), (*logged.understood, *book.understood))
        else:
            need_readings(book.readings, shelter.name)
            outside = _weather(household, book.readings)
        answer, tuned = tune_shelter(shelter, outside, book.readings, book.understood, progress, handling(outside))
    if out is not None:
        _write(tuned, out)
    if keep:
        _keep(answer)
    if as_json:
        json.dump(answer, sys.stdout, indent=1, allow_nan=False)
        print()
        return
    _show(answer, household.units)
    if out is not None:
        print(f"written: {out}; use it as --shelter {out}")
    if keep:
        print(
            f'kept: every command now takes the corrected {shelter.name}; --undo --shelter "{shelter.name}" takes it back'
        )


def undo(asked: Asked) -> None:
    """Take the newest correction of a shelter back."""
    from underglass.notebook.places import notebook_path
    from underglass.notebook.store import open_notebook
    from underglass.services.tune import undo_tuning

    if asked.shelter is None:
        raise InputError("--undo needs --shelter with the name of the shelter")
    with open_notebook(notebook_path()) as notebook:
        print(undo_tuning(notebook, asked.shelter))


def _household(asked: Asked) -> tuple[Household, bool]:
    """The household with its shelters as they were described, and whether it is the notebook's."""
    placeless = replace(asked, weather=None)
    if not uses_notebook(placeless):
        return household_of(asked), False
    household = household_of(placeless, tuned=False)
    return replace(household, weather_file=str(asked.weather) if asked.weather else household.weather_file), True


def _write(shelter: Shelter, out: Path) -> None:
    from underglass.shelter.schema import shelter_to_toml

    try:
        out.write_text(shelter_to_toml(shelter), encoding="utf-8")
    except OSError as error:
        raise InputError(f"{out}: cannot be written ({error.strerror})") from None


def _keep(answer: dict[str, Any]) -> None:
    from underglass.notebook.places import notebook_path
    from underglass.notebook.store import open_notebook
    from underglass.services.tune import keep_tuning

    with open_notebook(notebook_path()) as notebook:
        keep_tuning(notebook, answer)


def _shelter(household: Household) -> Shelter:
    if len(household.shelters) != 1:
        raise InputError(
            f"tune takes one shelter: add --shelter with one of {', '.join(s.name for s in household.shelters)}"
        )
    return household.shelters[0]


def _nothing(outside: OutsideWeather) -> None:
    """No notebook tells how lids were worked."""


def _noted(
    shelter: Shelter, since: str | None, *, by_hand_only: bool
) -> tuple[Logbook, Callable[[OutsideWeather], Handling | None]]:
    """The notebook's readings of a shelter, and what it knows of how the lid was worked in given hours."""
    from underglass.notebook.places import notebook_path
    from underglass.notebook.store import open_notebook
    from underglass.services.lids import handling_in
    from underglass.services.noted_readings import noted_readings
    from underglass.sources.readings import Logbook

    first = None if since is None else sowing_date(since, "--since").astype(date)
    with open_notebook(notebook_path()) as notebook:
        readings, understood = noted_readings(notebook, shelter.name, since=first, by_hand_only=by_hand_only)

    def handling(outside: OutsideWeather) -> Handling | None:
        with open_notebook(notebook_path()) as notebook:
            return handling_in(notebook, shelter, outside)

    return Logbook(readings, understood), handling


def _logged(
    household: Household, asked: Asked, file: Path, time_zone: str | None, date_order: str | None, columns: list[str]
) -> tuple[Logbook, OutsideWeather]:
    """The file of readings and the weather of its days."""
    from underglass.sources.by_name import SERVICES
    from underglass.sources.readings import read_readings

    def read(units: str | None, outside: OutsideWeather | None) -> Logbook:
        return read_readings(
            file, place=household.place, outside=outside, time_zone=time_zone, units=units, date_order=date_order, columns=columns,
        )  # fmt: skip

    units_known = household.weather_file in SERVICES
    outside = _weather(household, read("c", None).readings if units_known else ())
    return read(asked.units, outside), outside


def _weather(household: Household, readings: Sequence[Readings]) -> OutsideWeather:
    """The weather of the days of the readings, with the year before them where a service has it."""
    from underglass.sources.by_name import SERVICES, weather_between

    name = household.weather_file
    if not name:
        raise InputError("the weather of those days is needed: add --weather FILE, or --weather open-meteo")
    if name not in SERVICES:
        return read_weather(name, household.place)
    times = [int(s) for r in readings for s in (r.at_s.min(), r.at_s.max())]
    first, last = (datetime.fromtimestamp(pick(times), UTC).date() for pick in (min, max))
    return weather_between(name, household.place, first - YEAR_BEFORE, last)


def _show(answer: dict[str, Any], units: str) -> None:
    factor, unit = (1.8, "°F") if units == "f" else (1.0, "K")

    def size(value: float | None) -> str:
        return "–" if value is None else f"{value * factor:.1f} {unit}"

    print("Understood:")
    for sentence in answer["understood"]:
        print(f"- {sentence}")
    if answer["lids_noted"]:
        print("Lids and covers as the notebook says; where it does not, worked as the shelter's file has it.")
    for question in answer["questions"]:
        print(f"To be surer, {question}.")
    print(f"\nWhat they tell of the {answer['shelter']} (nineteen times in twenty between the two numbers):")
    for e in answer["estimates"].values():
        print(f"- {e['words']}")
    print(f"- {answer['clock_h']['words']}")
    if answer["ground_k"]:
        print(f"- {_in_units(answer['ground_k']['words'], factor, unit)}")
    if answer["layering_k_m"]:
        print(f"- {_in_units(answer['layering_k_m']['words'], factor, unit)}")
    print("\nThermometers:")
    for p in answer["probes"]:
        o = p["offset"]
        span = f"{o['low'] * factor:+.1f} to {o['high'] * factor:+.1f} {unit}".replace("-", "−")
        print(
            f"- {p['probe']}: {_in_units(p['words'], factor, unit)}; offset {span}; {p['n_readings']} readings, "
            f"worth {p['worth']:.0f} independent ones; spread {size(p['noise_k'])}"
        )
    held = answer["held_back"]
    if held["before"]:
        before, after = held["before"], held["after"]
        print(f"\nComputed against measured on {held['days']} days held back, before → after:")
        print(f"- all readings {size(before['error_k'])} → {size(after['error_k'])}")
        print(f"- the night's lowest {size(before['night_error_k'])} → {size(after['night_error_k'])}")
    print(held["words"][0].upper() + held["words"][1:] + ".")


def _in_units(words: str, factor: float, unit: str) -> str:
    """Numbers of kelvin in a sentence as the person sees differences."""
    import re

    return re.sub(r"(\d+(?:\.\d+)?) K\b", lambda m: f"{float(m[1]) * factor:.{1 if '.' in m[1] else 0}f} {unit}", words)
