"""`underglass sow`: the guide as a table, as JSON or as CSV."""

from __future__ import annotations

import csv
import json
import shutil
import sys
from typing import Any

from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date
from underglass.faces.cli.words import RISKS, day, short_name, span, standing, until, years_of

__all__ = ["run"]

TITLES = {
    "sow now": "Sow now",
    "sow soon": "Sow soon (within four weeks)",
    "wait": "Wait",
    "not worth it here": "Not worth it here",
}
CSV_COLUMNS = (
    "crop", "name", "raised_in", "grown_in", "verdict", "sow", "chance", "years", "commonest_cause", "emerges_p10", "emerges_p50", "emerges_p90",
    "set_out_p10", "set_out_p50", "set_out_p90", "first_harvest_p10", "first_harvest_p50", "first_harvest_p90", "last_harvest_p10",
    "last_harvest_p50", "last_harvest_p90", "harvest_share", "opens", "best", "latest", "chance_today", "cause_today",
)  # fmt: skip
"""Columns of --csv, exact and stable; docs/json.md says what each one is."""

WIDE = 92


def run(
    asked: Asked,
    date: str | None,
    years: int,
    seed: int,
    *,
    all_routes: bool,
    as_json: bool,
    as_csv: bool,
    use_cache: bool,
) -> None:
    """Ask the guide and show it."""
    from underglass.services.guide import sowing_guide

    if as_json and as_csv:
        raise InputError("--json and --csv together: choose one")
    household = household_of(asked)
    on = sowing_date(date)
    with progress_bar() as progress:
        guide = sowing_guide(
            household, on, n_years=years, seed=seed, read=read_weather, use_cache=use_cache, progress=progress
        )
    if as_json:
        json.dump(guide, sys.stdout, indent=1)
        print()
    elif as_csv:
        _csv(guide)
    else:
        _show(guide, all_routes=all_routes)


def shown(row: dict[str, Any]) -> dict[str, Any]:
    """The outlook that a row shows: today's while it is time to sow, else the best date's ahead."""
    outlook: dict[str, Any] = row["today"] if row["verdict"] == "sow now" or row["best"] is None else row["best"]
    return outlook


def _route(row: dict[str, Any]) -> str:
    return row["grown_in"] if row["raised_in"] is None else f"{row['raised_in']} → {row['grown_in']}"


def _cause(outlook: dict[str, Any]) -> str:
    return next(iter(outlook["causes"]), "")


def _risk(outlook: dict[str, Any]) -> str:
    """The commonest cause of failure in a word or two."""
    return RISKS.get(_cause(outlook), "")


def _again(row: dict[str, Any]) -> str:
    """The later seasons in which it can be sown too: '18 Jul–29 Aug'."""
    return ", ".join(f"{day(season['opens'])}–{day(season['latest'])}" for season in row["again"])


def _remarks(row: dict[str, Any], outlook: dict[str, Any]) -> str:
    """What may go wrong and what it takes, in a few words."""
    return ", ".join(part for part in ("buy seed" if row["fresh_seed"] else "", _risk(outlook)) if part)


def _csv(guide: dict[str, Any]) -> None:
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(CSV_COLUMNS)
    for row in guide["rows"]:
        seen, today = shown(row), row["today"]
        cells: list[object] = [
            row["crop"],
            row["name"],
            row["raised_in"] or "",
            row["grown_in"],
            row["verdict"],
            seen["sow"],
            seen["chance"],
            seen["years"],
            _cause(seen),
        ]
        for mark in ("emerges", "set_out", "first_harvest", "last_harvest"):
            cells += [(seen[mark] or {}).get(p, "") for p in ("p10", "p50", "p90")]
        best = row["best"]["sow"] if row["best"] else ""
        cells += [seen["harvest_share"], row["opens"] or "", best, row["latest"] or "", today["chance"], _cause(today)]
        out.writerow(cells)


def _show(guide: dict[str, Any], *, all_routes: bool) -> None:
    """The table: what to do first, then what it stands on, then cautions."""
    from rich.console import Console

    from underglass.services.guide import best_routes, by_verdict

    console = Console(width=min(shutil.get_terminal_size((100, 24)).columns, 120), highlight=False)
    groups = by_verdict(guide["rows"]) if all_routes else best_routes(guide["rows"])
    place = guide["place"]
    console.print(
        f"[bold]Sowing guide[/] for {guide['household']}, {place['name']} ({place['elevation_m']:.0f} m), {day(guide['date'])} {guide['date'][:4]}"
    )
    for group, part in groups.items():
        if part:
            console.print(f"\n[bold]{TITLES[group]}[/]")
            if group == "not worth it here":
                _refused(console, part)
            elif console.width >= WIDE:
                _table(console, part, group)
            else:
                _lines(console, part, group)
    console.print()
    for sentence in _foot(guide):
        console.print(sentence)
    console.print("\n[bold]Take care[/]")
    for caution in guide["cautions"]:
        console.print(f"- {caution['text']}")


def _table(console: Any, rows: list[dict[str, Any]], group: str) -> None:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1))
    raised, later = any(r["raised_in"] for r in rows), group != "sow now"
    names = [
        "crop",
        "where",
        *(["from"] if later else []),
        "best",
        "until",
        "years",
        *(["set out"] if raised else []),
        "eat",
        "risk",
    ]
    for name in names:
        table.add_column(name, no_wrap=name != "where", min_width=12 if name == "where" else None)
    for r in rows:
        o = shown(r)
        best = r["best"] or o
        first, last = (o["first_harvest"] or {}).get("p50"), (o["last_harvest"] or {}).get("p50")
        seasons = [(r["opens"], r["latest"]), *((season["opens"], season["latest"]) for season in r["again"])]
        cells = [short_name(r["name"]), _route(r)]
        cells += ["\n".join(day(opens) for opens, _ in seasons)] if later else []
        untils = [until(*seasons[0]), *(until(*s) if later else f"{day(s[0])}–{day(s[1])}" for s in seasons[1:])]
        cells += [day(best["sow"]), "\n".join(untils)]
        cells += [years_of(o["chance"], o["years"])]
        cells += [day((o["set_out"] or {}).get("p50"))] if raised else []
        table.add_row(*cells, f"{day(first)}–{day(last)}" if first else "–", _remarks(r, o))
    console.print(table)


def _lines(console: Any, rows: list[dict[str, Any]], group: str) -> None:
    """Two short lines a crop, for a phone."""
    for r in rows:
        o = shown(r)
        when = (
            f"sow until {until(r['opens'], r['latest'])}"
            if group == "sow now"
            else f"sow {day(r['opens'])}–{day(r['latest'])}"
        )
        again = f", again {_again(r)}" if r["again"] else ""
        console.print(f"[bold]{short_name(r['name'])}[/] in {_route(r)}: {when}{again}")
        risk = f"; {_remarks(r, o)}" if _remarks(r, o) else ""
        console.print(f"  {years_of(o['chance'], o['years'])} years harvest, eat from {span(o['first_harvest'])}{risk}")


def _refused(console: Any, rows: list[dict[str, Any]]) -> None:
    for r in rows:
        o = r["best"] or r["today"]
        console.print(
            f"{r['name']} ({_route(r)}): {years_of(o['chance'], o['years'])} at best, {_cause(o) or 'no good date'}"
        )


def _foot(guide: dict[str, Any]) -> list[str]:
    stands = guide["stands_on"]
    lines = [
        f"Chances are years out of {stands['years']} in which the sowing ended in a harvest; dates are the middle of those years."
    ]
    lines += standing(stands, guide["frost"])
    dark = guide["under_ten_hours"]
    if dark:
        lines.append(
            f"Days are under ten hours from {day(dark['from'])} to {day(dark['to'])}: growth is slow then, have leaf crops near full size before."
        )
    if any(row["fresh_seed"] for row in guide["rows"]):
        lines.append(
            "Buy seed, or test yours (`underglass seeds`): less than enough of it is expected to come up; dates and chances are those of fresh seed."
        )
    lines += [note[0].upper() + note[1:] + "." for note in stands["notes"]]
    if stands["layer"] == "grid":
        lines.append(
            "A known last-frost date makes these dates much surer: ask a neighbour and add --last-frost MM-DD."
        )
    return [*lines, stands["licence"] + "." if stands["licence"] else ""]
