"""`underglass year --explain` and `--helps`: why this sowing and not that, and what would meet a want that is not met."""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Callable
from typing import Any

from underglass.faces.cli.words import day, short_name

__all__ = ["show_explanation", "show_help"]


def show_explanation(answer: dict[str, Any], *, as_json: bool) -> None:
    """Each sowing asked about, what would stand in its place, and what that costs."""
    if as_json:
        json.dump(answer, sys.stdout, indent=1)
        print()
        return
    from rich.console import Console

    console = Console(highlight=False)
    say = _teller(console)
    for one in answer["sowings"]:
        console.print(f"\n[bold]{_sowing(one['sowing'])}[/]")
        if one["sowing"]["standing"]:
            say("It stands in the ground already: the plan takes it as it is.")
            continue
        _beside(say, one["without"], "Without it the best plan has", "It is a near thing: without it the best plan has")
        for other in one["instead"]:
            cost = "costs nothing" if other["costs_servings"] < 0.5 else f"costs {other['costs_servings']:g} servings"
            say(f"or, all else as it is: {_sowing(other)}; {cost}", indent=4)
        if one["decided"] is not None:
            cost = one["decided"]["costs_servings"]
            say(
                f"It was decided.  That costs about {cost:g} servings a year against leaving it to the planner."
                if cost >= 0.5
                else "It was decided.  That costs nothing: the planner would not do better."
            )
    if answer["left_out"] is not None:
        _left_out(say, answer["left_out"])


def _left_out(say: Callable[..., None], left: dict[str, Any]) -> None:
    name = short_name(left["name"])
    if left["why"] == "not offered":
        say(
            f"{name} is not in the plan: here it feeds nobody in three years of four, or something that was wished forbids it."
        )
    elif left["why"] == "no room":
        say(f"{name} is not in the plan: no sowing of it fits beside what was decided and what stands.")
    else:
        say(
            f"{name} is not in the plan: others bring more.  Put in where it costs least, it would be {_sowing(left['sowing'])}."
        )
        _beside(say, left["with"], "With it the best plan has", "It is a near thing: with it the best plan has")


def _beside(say: Callable[..., None], beside: dict[str, Any], starts: str, near: str) -> None:
    """The other plan in a sentence of numbers, and its sowings."""
    before, after = beside["before"], beside["after"]
    parts = [
        f"{after['servings']:.0f} servings a year instead of {before['servings']:.0f}",
        f"{after['worst_years']:.0f} instead of {before['worst_years']:.0f} in the worst years",
    ]
    if after["weeks"] != before["weeks"]:
        parts.append(f"something wanted in {after['weeks']} instead of {before['weeks']} weeks, summed over the wants")
    say(
        f"{near if beside['costs_servings'] < 1.0 else starts} {', '.join(parts)}: worth {beside['costs_servings']:g} servings less."
    )
    for word in ("comes", "goes"):
        for row in beside[word][:4]:
            say(f"{word}: {_sowing(row)}", indent=4)


def _sowing(row: dict[str, Any]) -> str:
    where = f"{row['raised_in']} → {row['grown_in']}" if row["raised_in"] else f"in {row['grown_in']}"
    return f"{short_name(row['name'])} {day(row['sow'])} {where}, {row['area_m2']:.2g} m², {row['servings']['p50']:.0f} servings"


def show_help(answer: dict[str, Any], *, as_json: bool) -> None:
    """Of each want that is not met the smallest change that would meet it, and the others that help."""
    if as_json:
        json.dump(answer, sys.stdout, indent=1)
        print()
        return
    from rich.console import Console

    console = Console(highlight=False)
    say = _teller(console)
    for one in answer["each"]:
        console.print(f"\n[bold]{short_name(one['name'])}[/]: wished for at least once, and left out")
        for i, change in enumerate(one["changes"]):
            say(f"{'also' if i else 'the smallest change that lets it in'}: {_change(change)}", indent=4)
        if not one["changes"]:
            say("no single limit, three times as wide, lets it in: leave out something that was decided", indent=4)
    if not answer["wants"]:
        say(
            f"Every want is met to {answer['met_from']:.0%} or more in the weeks in which anything of it can be ready, and one more layer over a bed "
            "would not make them more."
        )
    for want in answer["wants"]:
        console.print(f"\n[bold]{want['want']}[/]")
        say(
            f"{want['met_in_season']:.0%} of {want['servings_a_week']:g} a week in the {want['weeks_possible']} weeks in which any could be ready; "
            f"some in {want['weeks_with_some']}"
        )
        if not want["changes"]:
            say("nothing that was tried would help: it does not grow here in these shelters", indent=4)
        for i, change in enumerate(want["changes"]):
            word = (
                "the smallest change"
                if i == 0 and change["meets"]
                else "also"
                if change["meets"]
                else "not enough, but it helps"
            )
            say(f"{word}: {_change(change)} → {change['met']:.0%}, some in {change['weeks_with_some']} weeks", indent=4)


def _change(change: dict[str, Any]) -> str:
    to, now, place = change["to"], change["from"], change["shelter"]
    return {
        "weight": "let it count for more (weight 4): then it comes before other things",
        "area": f"{place}: {to:g} m² instead of {now or 0:g}",
        "trays": f"room for trays on the {place}: {to:g} m² instead of {now or 0:g}",
        "minutes": f"{to:g} minutes a week instead of {now or 0:g}",
        "budget": f"{to:g} for seed instead of {now or 0:g}",
        "sowings": f"up to {to:g} sowings in a week",
        "cover": f"a row cover over the plants in the {place} at night",
        "film": f"a second film under the glazing of the {place}",
        "earlier": f"begin {to:g} weeks earlier, next time",
    }[change["kind"]]


def _teller(console: Any) -> Callable[..., None]:
    def say(text: str, indent: int = 0) -> None:
        pad = " " * indent
        console.print(textwrap.fill(text, console.width, initial_indent=pad, subsequent_indent=pad + "  "))

    return say
