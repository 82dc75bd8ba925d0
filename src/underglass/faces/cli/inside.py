"""`underglass inside`: months of inside weather, hours in a file, the year as a picture, where the heat went."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date
from underglass.faces.cli.words import degrees, difference

__all__ = ["run", "show"]


def show(name: str) -> None:
    """Print a preset as a commented file to start from."""
    from underglass.shelter.presets import preset_toml

    print(preset_toml(name), end="")


def run(
    asked: Asked,
    date: str | None,
    years: int,
    seed: int,
    *,
    out: Path | None,
    png: Path | None,
    svg: Path | None,
    heat: bool,
    as_json: bool,
) -> None:
    """Simulate each shelter and show its months; files and pictures for the first one."""
    from underglass.services.inside import heat_table, monthly_table, write_hours
    from underglass.services.weather import hours_for
    from underglass.shelter.simulate import simulate

    household = household_of(asked)
    if not 1 <= years <= 100:
        raise InputError(f"--years is {years}: expected 1 to 100")
    with progress_bar() as progress:
        progress(0.05, "weather of the place")
        outside = hours_for(household, int(str(sowing_date(date))[:4]), years, seed, read_weather)
        shelters = household.shelters if asked.shelter or not (out or png or svg) else household.shelters[:1]
        insides = []
        for i, shelter in enumerate(shelters):
            progress(0.1 + 0.9 * i / len(shelters), shelter.name)
            insides.append(simulate(shelter, outside, heat=heat))
    if (out or png or svg) and len(insides) > 1:
        raise InputError("--out, --png and --svg take one shelter: name it with --shelter")
    if out:
        write_hours(insides[0], outside, out)
    if png or svg:
        _carpet(insides[0], household.units, png, svg)
    if as_json:
        answer = [
            {
                "shelter": i.shelter_name,
                "months": monthly_table(i, outside),
                "heat_w_m2": heat_table(i) if heat else None,
            }
            for i in insides
        ]
        json.dump({"version": 1, "weather": outside.provenance.source, "shelters": answer}, sys.stdout, indent=1)
        print()
        return
    for inside in insides:
        _months(inside.shelter_name, monthly_table(inside, outside), household.units)
        if heat:
            _heat(heat_table(inside))
    print(f"Weather: {outside.provenance.source}; sky heat: {outside.provenance.longwave}.")
    if outside.provenance.filled_hours:
        filled = outside.provenance.filled_hours
        print(f"{filled} missing {'hour was' if filled == 1 else 'hours were'} filled.")
    for note in outside.provenance.notes:
        print(f"{note[0].upper()}{note[1:]}.".replace("?.", "?"))
    for path in (out, png, svg):
        if path:
            print(f"written: {path}")


def _carpet(inside: Any, units: str, png: Path | None, svg: Path | None) -> None:
    from underglass.faces.charts.carpet import year_carpet
    from underglass.faces.cli.drawing import write_drawing

    write_drawing(year_carpet(inside, units=units), svg, png)


def _months(name: str, rows: list[dict[str, Any]], units: str) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(title=f"inside the {name}", title_justify="left", box=None, pad_edge=False, header_style="dim")
    for column in (
        "month",
        "mean",
        "night",
        "day peak",
        "coldest",
        "hottest",
        "h < 0 °C",
        "h > 35 °C",
        "soil 5 cm",
        "night lift",
        "light",
        "of open",
    ):
        table.add_column(column, justify="left" if column == "month" else "right", no_wrap=True)
    for r in rows:
        t = [degrees(r[k], units) for k in ("mean", "night_min", "day_peak", "coldest", "hottest")]
        table.add_row(
            r["month"], *t, f"{r['hours_below_0']:.0f}", f"{r['hours_above_35']:.0f}", degrees(r["soil_5cm"], units),
            difference(r["lift"], units), f"{r['light']:.1f}", f"{100 * r['light_share']:.0f} %",
        )  # fmt: skip
    Console(width=110, highlight=False).print(table)
    print(
        "night: mean of the days' lowest; night lift: that less outside's; light: mol/m² a day on the crop; hours are per month\n"
    )


def _heat(flows: dict[str, float]) -> None:
    words = {
        "sun_in_w": "sun let in", "cover_convection_w": "wind and air at the cover", "cover_longwave_w": "cover to the sky",
        "walls_w": "through walls and frame", "air_leak_w": "air in and out", "soil_down_w": "from the soil below",
        "soil_sideways_w": "sideways through the soil", "latent_w": "water vapour in and out", "room_and_gains_w": "room and heat put in",
    }  # fmt: skip
    print("where the heat came from (+) and went (−), mean W per m² of bed:")
    for name, value in sorted(flows.items(), key=lambda item: -item[1]):
        shown = f"{value:+8.1f}" if abs(value) >= 0.05 else f"{0.0:8.1f}"
        print(f"  {words[name]:28} {shown.replace('-', '−')}")
    print()
