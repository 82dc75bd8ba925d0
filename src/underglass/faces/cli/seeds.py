"""`underglass seeds`: seed on hand, what to use first, test or buy, and how many to sow."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from underglass.crop.catalogue import find_crop
from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, sowing_date
from underglass.faces.cli.words import short_name

__all__ = ["run"]


def run(asked: Asked, date: str | None, plants: str | None, plan: Path | None, chance: float, *, as_json: bool) -> None:
    """Ask for the seed report and show it."""
    from underglass.services.seeds import seed_report

    wanted, (planned, seeds) = _wanted(plants), _of_plan(plan)
    told = {crop: n for crop, n in seeds.items() if crop not in wanted}
    report = seed_report(household_of(asked), sowing_date(date), {**planned, **wanted}, chance=chance, seeds=told)
    if as_json:
        json.dump(report, sys.stdout, indent=1)
        print()
    else:
        _show(report)


def _wanted(text: str | None) -> dict[str, int]:
    """'tomato=12, kale=30' as plants by crop id."""
    found: dict[str, int] = {}
    for part in (text or "").split(","):
        if part.strip():
            name, _, number = part.partition("=")
            if not number.strip().isdigit():
                raise InputError(f"--plants {part.strip()!r}: write crop=number, as tomato=12")
            found[find_crop(name).id] = int(number)
    return found


def _of_plan(path: Path | None) -> tuple[dict[str, int], dict[str, int]]:
    """Plants, and seeds for them, by crop of a year's plan in a file."""
    from underglass.services.seeds import needed_of_plan

    if path is None:
        return {}, {}
    try:
        return needed_of_plan(json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, KeyError, TypeError):
        raise InputError(f"--plan {path}: not a plan; write it with `underglass year --json`") from None


def _show(report: dict[str, Any]) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    console.print(f"[bold]Seed of {report['household']}[/], {report['date']}")
    if report["packets"]:
        table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1))
        for name in ("crop", "packed", "germinates", "of fresh, at least", "in a cell", "advice", "stands on"):
            table.add_column(name)
        for p in report["packets"]:
            likely = f"{p['germination']:.0%} ({p['germination_low']:.0%}–{p['germination_high']:.0%})"
            official = "–" if p["official_minimum"] is None else f"{p['official_minimum']:.0%}"
            table.add_row(
                short_name(p["name"]),
                str(p["packed"]),
                likely,
                official,
                str(p["seeds_per_cell"]) if p["counted_on"] else "–",
                p["advice"],
                p["basis"],
            )
        console.print(table)
        console.print(
            "In brackets nine packets in ten.  A test: 10 seeds on damp paper in a warm place, counted after 7 and 14 days."
        )
        dropped = ", ".join(f"{short_name(p['name'])} {p['packed']}" for p in report["packets"] if not p["counted_on"])
        if dropped:
            console.print(
                f"Not counted on: {dropped}.  Half of it or less is expected to come up, so guide, year and this list reckon with fresh seed, until a test says better."
            )
    else:
        console.print("No seed is named: add \\[\\[seeds]] to the household file.")
    for n in report["needs"]:
        buy = (
            f", buy {n['packets_to_buy']} packet{'s' if n['packets_to_buy'] > 1 else ''}" if n["packets_to_buy"] else ""
        )
        console.print(
            f"{short_name(n['name'])}: {n['seeds']} {'cloves' if n['crop'] == 'garlic' else 'seeds'} for {n['plants']} plants at {report['chance']:.0%}; {n['on_hand']} on hand{buy}"
        )
    shopping = report["shopping"]
    if shopping["packets"]:
        console.print(
            f"Shopping: {shopping['packets']} packets, {shopping['cost_low']:g} to {shopping['cost_high']:g}; {shopping['note']}."
        )
