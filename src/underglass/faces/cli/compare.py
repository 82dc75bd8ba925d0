"""`underglass compare`: shelters, or one with changes, side by side."""

from __future__ import annotations

import json
import sys
from typing import Any

from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date
from underglass.faces.cli.words import degrees, difference

__all__ = ["run"]


def run(asked: Asked, changes: str | None, years: int, seed: int, *, as_json: bool) -> None:
    """Compare and show."""
    from underglass.crop.catalogue import catalogue
    from underglass.crop.cautions import cautions_for
    from underglass.services.compare import compare
    from underglass.services.weather import hours_for
    from underglass.shelter.changes import changed

    household = household_of(asked)
    if not 1 <= years <= 100:
        raise InputError(f"--years is {years}: expected 1 to 100")
    shelters = list(household.shelters)
    if changes is not None:
        shelters = shelters[:1] + [changed(shelters[0], c.strip()) for c in changes.split(",") if c.strip()]
    crops = [catalogue()[c] for c in household.crops or tuple(catalogue())]
    wintering = [c for c in crops if not c.tender]
    with progress_bar() as progress:
        outside = hours_for(household, int(str(sowing_date(None))[:4]), years, seed, read_weather)
        rows = compare(shelters, outside, wintering, progress=progress)
    if as_json:
        json.dump({"version": 1, "weather": outside.provenance.source, "shelters": rows}, sys.stdout, indent=1)
        print()
        return
    _show(rows, household.units)
    print(f"\nWeather: {outside.provenance.source}.")
    for caution in cautions_for({"old glass", "treated wood", "heat in shelters", "snow and wind", "heaters"}):
        print(f"- {caution.text}")


def _show(rows: list[dict[str, Any]], units: str) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(width=110, highlight=False)
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in (
        "shelter",
        "night lift",
        "8 of 10 nights",
        "soil lift",
        "coldest",
        "hot h, shut",
        "hot h, worked",
        "light",
        "lives through winter",
    ):
        table.add_column(name, justify="left" if name == "shelter" else "right")
    for r in rows:
        table.add_row(
            r["shelter"],
            difference(r["night_lift"], units),
            f"{difference(r['night_lift_p10'], units)} to {difference(r['night_lift_p90'], units)}",
            difference(r["soil_lift"], units),
            degrees(r["coldest_c"], units),
            f"{r['hot_hours_shut']:.0f}",
            f"{r['hot_hours_worked']:.0f}",
            f"{100 * r['light_share']:.0f} %",
            f"{len(r['lives_through'])} of {len(r['chances'])}",
        )
    console.print(table)
    print(
        "lifts: °F or °C above outside at night, November to March (May to September in the south); hot: hours a year above 35 °C (95 °F)"
    )
    print("Grown and hardened plants of these live through at least four winters of five:")
    alike: dict[str, list[str]] = {}
    for r in rows:
        alike.setdefault(", ".join(r["lives_through"]) or "nothing", []).append(r["shelter"])
    for names, shelters in alike.items():
        console.print(f"[bold]{', '.join(shelters)}[/]: {names}")
