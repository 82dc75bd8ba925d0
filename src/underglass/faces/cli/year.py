"""`underglass year`: the plan of a year, by month and by shelter, with the basket; or as JSON or CSV."""

from __future__ import annotations

import csv
import json
import sys
import textwrap
from pathlib import Path
from typing import Any

from underglass.crop.catalogue import catalogue
from underglass.errors import InputError
from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date
from underglass.faces.cli.words import day, short_name, span, standing, years_of

__all__ = ["YEAR_COLUMNS", "run"]

YEAR_COLUMNS = (
    "sow", "crop", "name", "raised_in", "grown_in", "area_m2", "plants", "seeds", "set_out_p50", "bed_from", "bed_to", "first_harvest_p10",
    "first_harvest_p50", "first_harvest_p90", "chance", "servings_p10", "servings_p50", "servings_p90", "want", "not_before",
)  # fmt: skip
"""Columns of --csv; docs/json.md says what each one is."""

MOST_COLUMNS = 8
"""Wants beside which each week's row still shows the middle of each."""


def run(
    asked: Asked,
    date: str | None,
    years: int,
    seed: int,
    *,
    earlier: Path | None,
    explain: str | None,
    helps: bool,
    as_json: bool,
    as_csv: bool,
    use_cache: bool,
    svg: Path | None = None,
    png: Path | None = None,
) -> None:
    """Ask for the year and show it."""
    from underglass.services.year import year_plan

    household = household_of(asked)
    on = sowing_date(date)
    how: dict[str, Any] = {"n_years": years, "seed": seed, "read": read_weather, "use_cache": use_cache}
    with progress_bar() as progress:
        plan = year_plan(household, on, earlier=_earlier(earlier), progress=progress, **how)
    if svg or png:
        _draw(plan, svg, png)
    if explain is not None:
        from underglass.faces.cli.year_why import show_explanation
        from underglass.services.year_why import explain_sowing

        with progress_bar() as progress:
            why = explain_sowing(household, on, explain, plan=plan, progress=progress, **how)
        show_explanation(why, as_json=as_json)
        return
    if helps:
        from underglass.faces.cli.year_why import show_help
        from underglass.services.year_help import what_would_help

        with progress_bar() as progress:
            found = what_would_help(household, on, plan=plan, progress=progress, **how)
        show_help(found, as_json=as_json)
        return
    if as_json:
        json.dump(plan, sys.stdout, indent=1)
        print()
    elif as_csv:
        _csv(plan)
    else:
        _show(plan)
        for path in (svg, png):
            if path:
                print(f"written: {path}")


def _draw(plan: dict[str, Any], svg: Path | None, png: Path | None) -> None:
    """The basket of all that is wanted, in English."""
    from underglass.faces.charts.basket import basket_chart
    from underglass.faces.cli.drawing import write_drawing
    from underglass.faces.web.texts import say_in

    if not plan["possible"]:
        raise InputError("there is no plan to draw: see what is in its way with `underglass year`")
    open_ended = any(w["as_much_as_fits"] for w in plan["wants"])
    wanted = None if open_ended else sum(w["servings_a_week"] for w in plan["wants"])
    title = f"Servings in a week: {plan['household']}, {plan['place']['name']}, from {plan['date']}"
    drawing = basket_chart(
        plan["basket"], say_in("en"), day, title=title, wanted=wanted, lean=plan["under_ten_hours"], headed=True
    )
    write_drawing(drawing, svg, png)


def _earlier(path: Path | None) -> dict[str, Any] | None:
    if path is None:
        return None
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except OSError:
        raise InputError(f"--keep {path}: the file cannot be read") from None
    except ValueError:
        raise InputError(f"--keep {path}: not JSON; write it with `underglass year --json`") from None
    if not isinstance(found, dict):
        raise InputError(f"--keep {path}: not a plan; write it with `underglass year --json`")
    return found


def _csv(plan: dict[str, Any]) -> None:
    out = csv.writer(sys.stdout)
    out.writerow(YEAR_COLUMNS)
    for s in plan["sowings"]:
        flat = {**s}
        for name in ("first_harvest", "servings", "set_out"):
            flat |= {f"{name}_{q}": v for q, v in (s[name] or {}).items()}
        out.writerow([flat.get(column, "") for column in YEAR_COLUMNS])


def _show(plan: dict[str, Any]) -> None:
    from rich.console import Console

    console = Console(highlight=False)
    place = plan["place"]["name"]
    console.print(f"[bold]A year of sowings for {plan['household']}[/], {place}, from {plan['date']}")
    if not plan["possible"]:
        console.print("No plan keeps everything that was decided.  Giving up any one of these would make one possible:")
        for line in plan["in_the_way"] or [
            "nothing single: several limits together; loosen area, minutes or seed money"
        ]:
            console.print(f"- {line}")
        return
    _sowings(console, plan)
    _basket(console, plan)
    _autumn(console, plan)
    _met(console, plan)
    _changes(console, plan)
    for line in _foot(plan):
        console.print(line)
    console.print("\n[bold]Take care[/]")
    for caution in plan["cautions"]:
        console.print(f"- {caution['text']}")


def _sowings(console: Any, plan: dict[str, Any]) -> None:
    """Two plain lines a sowing, under the month in which it is sown: what, where, how much; then when it is eaten and how sure that is."""
    month = ""
    for s in plan["sowings"]:
        if s["sow"][:7] != month:
            month = s["sow"][:7]
            console.print(f"\n[bold]{month}[/]")
        mark = (
            " (stands)"
            if s["standing"]
            else " (decided)"
            if s["pinned"]
            else " (for the lean weeks)"
            if s["held"]
            else ""
        )
        seeds = "" if s["standing"] else f", {s['seeds']} {'cloves' if s['crop'] == 'garlic' else 'seeds'}"
        if s["raised_in"] is None:
            where = f"in {s['grown_in']}"
        else:
            where = f"{s['raised_in']} → {s['grown_in']} {day(s['set_out']['p50'])}"
        eaten = f"eat {span(s['first_harvest'])}, {s['servings']['p50']:.0f} servings, {years_of(s['chance'], plan['judged_on_years'])} years"
        for line in (
            f"{day(s['sow']):>6}  {short_name(s['name'])}{mark}{seeds}, {where}, {_area(s['area_m2'])}",
            f"        {eaten}, bed to {day(s['bed_to'])}",
        ):
            console.print(textwrap.fill(line, console.width, subsequent_indent=" " * 8))
    notes = {(short_name(s["name"]), s["pollination"]) for s in plan["sowings"] if s["pollination"]}
    for name, note in sorted(notes):
        console.print(f"{name}: {note}.")
    for s in plan["sowings"]:
        if s["not_before"]:
            console.print(
                f"{short_name(s['name'])} in {s['grown_in']}: no harvest before {day(s['not_before'])}, because of manure."
            )


def _area(area_m2: float) -> str:
    """Square metres with one decimal, two where it is less than one."""
    return f"{area_m2:.1f} m²" if area_m2 >= 1.0 else f"{area_m2:.2f} m²"


def _basket(console: Any, plan: dict[str, Any]) -> None:
    """A row each week: of all wants the likely range, then the middle of each want."""
    from rich.table import Table

    wants = [w["want"] for w in plan["wants"] if w["crops"]]
    many = len(wants) > MOST_COLUMNS
    console.print(
        f"\n[bold]The basket[/]: servings in a week, of {plan['judged_on_years']} years"
        f"{' that did not choose the plan' if plan['held_out'] else ''}: one in ten has less than the first number of all, half have the second, "
        "one in ten more than the third; of each want the middle"
    )
    heads = ["week of", "all", *([] if many else [w[:6] for w in wants])]
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 1, 0, 0))
    for name in heads:
        table.add_column(name, no_wrap=True, justify="left" if name == "week of" else "right")
    for first, last in _alike(plan["basket"]):
        row = plan["basket"][first]
        every = row["all"]
        if first == last:
            likely = "–" if every["p90"] < 0.5 else f"{every['p10']:.0f} {every['p50']:.0f} {every['p90']:.0f}"
            table.add_row(day(row["week_of"]), likely, *([] if many else [_some(row["servings"][w]) for w in wants]))
        else:
            table.add_row(f"{day(row['week_of'])} and {last - first} more", "–", *([] if many else ["–"] * len(wants)))
    console.print(table)


def _alike(basket: list[dict[str, Any]]) -> list[tuple[int, int]]:
    """Weeks as (first, last): each by itself, but weeks without anything that follow each other together."""
    out: list[tuple[int, int]] = []
    for i, row in enumerate(basket):
        empty = row["all"]["p90"] < 0.5
        if out and empty and out[-1][1] == i - 1 and basket[i - 1]["all"]["p90"] < 0.5:
            out[-1] = (out[-1][0], i)
        else:
            out.append((i, i))
    return out


def _some(r: dict[str, float]) -> str:
    return "–" if r["p90"] < 0.5 else f"{r['p50']:.0f}"


def _autumn(console: Any, plan: dict[str, Any]) -> None:
    """The latest sowings before the lean weeks, a line for each crop."""
    autumn = plan["autumn"]
    if autumn["lean_from"] is None:
        console.print("\n[bold]Autumn[/]: no day here has less than ten hours, so hardy crops grow on through winter.")
        return
    console.print(
        f"\n[bold]Autumn backwards[/]: days are under ten hours from {day(autumn['lean_from'])} to {day(autumn['lean_to'])}, and little grows then. "
        "Latest sowings where they stay that are three quarters grown before, in four years of five:"
    )
    by_crop: dict[str, list[str]] = {}
    for row in autumn["latest"]:
        if row["raised_in"] is None:  # raised ahead it must be sown earlier still: --json has those dates
            by_crop.setdefault(short_name(row["name"]), []).append(f"{row['grown_in']} {day(row['sow_by'])}")
    for name, places in by_crop.items():
        console.print(textwrap.fill(f"{name}: {', '.join(places)}", console.width, subsequent_indent="  "))
    if not by_crop:
        console.print("None that is wanted gets so far from now on.")


def _changes(console: Any, plan: dict[str, Any]) -> None:
    """What differs from the earlier plan."""
    changes = plan["changes"]
    if changes is None:
        return
    rows = {s["id"]: s for s in plan["sowings"]}
    console.print(
        f"\n[bold]Against the earlier plan[/]: {changes['kept']} sowings stay, within three days and more or less of each"
    )
    for word, found in (("new", [rows[i] for i in changes["new"]]), ("gone", changes["gone"])):
        for s in found:
            console.print(f"{word}: {s['crop']} {day(s['sow'])} in {s['grown_in']}, {_area(s['area_m2'])}")
    if changes["later"]:
        console.print(f"and {len(changes['later'])} sowings later than the earlier plan went")


def _names(crops: list[str]) -> str:
    return ", ".join(short_name(catalogue()[c].name) for c in crops)


def _met(console: Any, plan: dict[str, Any]) -> None:
    console.print("\n[bold]What is wanted[/]")
    for w in plan["wants"]:
        console.print(
            f"{w['want']}: {w['met']:.0%} of {w['servings_a_week']:g} a week over the year; "
            f"some in {w['weeks_with_some']} weeks of {w['weeks_possible']} in which anything could be ready"
        )
        if w["each_left_out"]:
            console.print(
                f"  wished for at least once, but the limits leave nothing for: {_names(w['each_left_out'])}; --helps tells the smallest change that would"
            )
        by_wind = [c for c in w["never_feeds_here"] if catalogue()[c].kitchen.pollination == "wind"]
        others = [c for c in w["never_feeds_here"] if c not in by_wind]
        if by_wind:
            console.print(
                f"  pollinated by wind, so only offered in the open, where it feeds somebody: {_names(by_wind)}"
            )
        if others:
            console.print(
                "  not offered, as here it feeds nobody in three years of four, grows too tall, or something that was wished forbids it: "
                + _names(others)
            )
    for p in plan["pins"]:
        cost = f"costs about {p['costs_servings']:g} servings a year" if p["costs_servings"] >= 0.5 else "costs nothing"
        console.print(f"decided: {p['crop']} in {p['grown_in']} {cost}")


def _foot(plan: dict[str, Any]) -> list[str]:
    stands = plan["stands_on"]
    beyond = ", ".join(f"{short_name(s['name'])} in {s['grown_in']}" for s in plan["not_followed"])
    bought = ", ".join(sorted({short_name(s["name"]) for s in plan["sowings"] if s["crop"] in plan["fresh_seed"]}))
    return [
        "",
        *(
            [f"Said to stand, but living so long in none of the years; the bed counts as free: {beyond}."]
            if beyond
            else []
        ),
        *(
            [
                f"Buy, or test yours (`underglass seeds`): {bought}.  Less than enough of what is on hand is expected to come up; the plan counts on fresh seed."
            ]
            if bought
            else []
        ),
        f"Chosen on {plan['planned_on_years']} years of weather, counted on {plan['judged_on_years']}{' others' if plan['held_out'] else ''}; no plan of the sowings weighed is better by more than {plan['gap']:.1%}.",
        "The ranges are by weather alone.  Yields are typical ones: soil and skill make them half as much to 1.7 times as much.  Minutes and servings are estimates.",
        *standing(stands, plan["frost"]),
        *[stands["licence"] + "." if stands["licence"] else ""],
    ]
