"""`underglass tune`: a logger's file corrects a shelter."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, uses_notebook

if TYPE_CHECKING:
    from underglass.place.place import Place
    from underglass.plan.household import Household
    from underglass.shelter.model import Shelter
    from underglass.sources.readings import Logbook
    from underglass.weather.outside import OutsideWeather

__all__ = ["run", "undo"]

YEAR_BEFORE = timedelta(days=370)


def run(
    asked: Asked,
    file: Path,
    *,
    time_zone: str | None,
    date_order: str | None,
    columns: list[str],
    out: Path | None,
    keep: bool,
    as_json: bool,
) -> None:
    """Read, fit, show; with `out` write the corrected shelter, with `keep` put it into force in the notebook."""
    from underglass.services.tune import tune_shelter

    if date_order not in (None, "mdy", "dmy"):
        raise InputError(f"--date-order is {date_order!r}: expected mdy or dmy")
    household, noted = _household(asked)
    if keep and not noted:
        raise InputError(
            "--keep is for the notebook's shelters: leave out the options that say where; `note start` begins one"
        )
    shelter = _shelter(household)
    with progress_bar() as progress:
        progress(0.05, "weather of those days")
        book, outside = _readings(household, asked, file, time_zone, date_order, columns)
        answer, tuned = tune_shelter(shelter, outside, book.readings, book.understood, progress)
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


def _readings(
    household: Household, asked: Asked, file: Path, time_zone: str | None, date_order: str | None, columns: list[str]
) -> tuple[Logbook, OutsideWeather]:
    """The file of readings and the weather of its days."""
    from underglass.sources.by_name import SERVICES
    from underglass.sources.readings import read_readings

    def read(units: str | None, outside: OutsideWeather | None) -> Logbook:
        return read_readings(
            file, place=household.place, outside=outside, time_zone=time_zone, units=units, date_order=date_order, columns=columns,
        )  # fmt: skip

    name = household.weather_file
    if not name:
        raise InputError("the weather of those days is needed: add --weather FILE, or --weather open-meteo")
    if name in SERVICES:
        times = [int(s) for r in read("c", None).readings for s in (r.at_s.min(), r.at_s.max())]
        first, last = (datetime.fromtimestamp(pick(times), UTC).date() for pick in (min, max))
        outside = _between(name, household.place, first - YEAR_BEFORE, last)
    else:
        outside = read_weather(name, household.place)
    return read(asked.units, outside), outside


def _between(name: str, place: Place, first: date, last: date) -> OutsideWeather:
    from underglass.sources.by_name import weather_between

    return weather_between(name, place, first, last)


def _show(answer: dict[str, Any], units: str) -> None:
    factor, unit = (1.8, "°F") if units == "f" else (1.0, "K")

    def size(value: float | None) -> str:
        return "–" if value is None else f"{value * factor:.1f} {unit}"

    print("Understood:")
    for sentence in answer["understood"]:
        print(f"- {sentence}")
    if answer["short_lead"]:
        print("The weather begins less than a month before the readings: the ground's warmth is a guess.")
    print(f"\nWhat they tell of the {answer['shelter']} (nineteen times in twenty between the two numbers):")
    for e in answer["estimates"].values():
        print(f"- {e['words']}")
    print(f"- {answer['clock_h']['words']}")
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
