"""The year's plan of a family that keeps a notebook: made, kept, decided upon, and made anew in the middle of the season.

What a page or a command asks, in the order in which a family does.  `notebook` is an open Notebook, `on` a local day (datetime.date), sowing ids
are those of `plan["sowings"][i]["id"]`, and a plan has the fields of `year --json` in docs/json.md.  Wishes themselves are kept by
services.household_store.change_wishes.

    plan_now(notebook, progress=…)                  the plan as it was last made, counted again (seconds); None where none was made yet
    make_plan(notebook, on, progress=…)             make it anew: keeps what stands in the ground and what was decided, and of the rest as much of
                                                    the last plan as it can; fresh=True looks for the best without regard to it
    keep_sowing(notebook, plan, sowing_id)          decide for a sowing: from now on it stays
    let_go(notebook, plan, sowing_id)               take that decision back
    drop_sowing(notebook, plan, sowing_id)          never propose it again: this crop in this bed within a fortnight of this date
    swap_sowing(notebook, plan, sowing_id, other)   drop the one and decide for the other: a row of `instead` in an explanation
    decided(notebook)                               all decisions: id, crop, name, wish ("keep" or "drop"), sow, grown_in, raised_in
    forget_decision(notebook, id)                   take one of them back
    explain_here(notebook, plan, sowing_id, …)      why this and not that: services.year_why.explain_sowing (sowing_id or a crop)
    help_here(notebook, plan, …)                    what would meet each want that is not met: services.year_help.what_would_help

A pin, a drop or a swap does not change the plan by itself: call make_plan then.  `progress(share, words)` is called about once a second or
oftener; to cancel, raise from it (as the pages' Job.progress does): nothing is kept then.  Decisions and plans are steps of the notebook that
can be undone.  `plan["stale"]` of plan_now is true where wishes, decisions, sowings or losses are newer than the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from underglass.crop.catalogue import catalogue
from underglass.errors import InputError
from underglass.notebook.records import Loss, Setting, ShelterRecord, Sowing
from underglass.notebook.store import Notebook
from underglass.plan.household import Household
from underglass.plan.task import new_kinds
from underglass.plan.wishes import Drop, Pin, Wishes
from underglass.services.household_store import beyond_the_year, change_wishes, household_in, household_record
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather
from underglass.services.wishes_store import wishes_of_table
from underglass.services.year import year_plan

__all__ = [
    "decided",
    "drop_sowing",
    "explain_here",
    "forget_decision",
    "help_here",
    "is_stale",
    "keep_sowing",
    "let_go",
    "make_plan",
    "plan_now",
    "swap_sowing",
    "year_household",
]

PLAN = "year plan"
"""Key of the setting that holds the sowings of the last plan."""

KEPT = ("id", "crop", "grown_in", "raised_in", "sow", "area_m2", "held", "standing")
By = Callable[..., Any]
"""Has a question answered: called with the question, what is given and what is asked."""


def here(question: Callable[..., Any], *given: Any, **asked: Any) -> Any:
    """Answered at once, where it is asked."""
    return question(*given, **asked)


SLACK_D = 3
OVERDUE = timedelta(days=7)
"""A sowing that is so late is taken as left out."""


def year_household(notebook: Notebook, on: date) -> Household:
    """The household as the planner is told of it on a day: decisions whose day is over don't matter, and what was sown once is not new."""
    household = household_in(notebook, on)
    wishes = household.wishes
    day = np.datetime64(on, "D")
    wishes = replace(wishes, pins=tuple(p for p in wishes.pins if p.sow is None or p.sow >= day))
    return replace(household, wishes=_still_new(notebook, household, wishes, on))


def _still_new(notebook: Notebook, household: Household, wishes: Wishes, on: date) -> Wishes:
    """New kinds are those that were never sown before."""
    if wishes.new_a_season < 1:
        return wishes
    sown = {s.crop_id for s in notebook.find(Sowing, "sown_on <= ?", on)}
    listed = household.crops if len(household.crops) < len(catalogue()) else ()  # 'all' names none
    named = set(listed) | {c for w in wishes.wants for c in w.crops}
    fresh = [c.id for c in new_kinds(catalogue(), wishes, named | sown) if c.id not in sown]
    return replace(wishes, new_from=tuple(fresh), new_a_season=wishes.new_a_season if fresh else 0)


def make_plan(
    notebook: Notebook,
    on: date,
    *,
    fresh: bool = False,
    n_years: int = 30,
    seed: int = 1,
    read: ReadWeather | None = None,
    use_cache: bool = True,
    by: By = here,
    progress: Progress = silent,
) -> dict[str, Any]:
    """The plan of the year from `on`, kept in the notebook where it is possible.

    fresh : look for the best without regard to the last plan; otherwise it changes as little as possible
    by : who works it out (services/apart.py: another process)
    Raises InputError as year_plan does.
    """
    last = None if fresh else _kept(notebook)
    household = year_household(notebook, on)
    plan: dict[str, Any] = by(
        year_plan, household, np.datetime64(on, "D"), n_years=n_years, seed=seed, earlier=last, read=read, use_cache=use_cache, progress=progress
    )  # fmt: skip
    progress(1.0, "keeping the plan")  # the last moment to stop it
    if plan["possible"]:
        value = {
            "date": plan["date"],
            "sowings": [{n: s[n] for n in KEPT} for s in plan["sowings"]],
            "stamp": _stamp(household),
        }
        with notebook.transaction(f"the plan of the year from {plan['date']}"):
            known = notebook.get_or_none(Setting, PLAN)
            if known is None:
                notebook.add(Setting(id=PLAN, value=value))
            elif known.value != value:
                notebook.update(replace(known, value=value))
    return plan | {
        "stale": False,
        "not_followed": plan["not_followed"] + beyond_the_year(notebook, household.shelters, on),
    }


def plan_now(
    notebook: Notebook,
    *,
    today: date | None = None,
    n_years: int = 30,
    seed: int = 1,
    read: ReadWeather | None = None,
    use_cache: bool = True,
    by: By = here,
    progress: Progress = silent,
) -> dict[str, Any] | None:
    """The last plan, as it was made on its own day; None where there is none.

    today : day up to which changes make it stale, None: its own;  by : as of make_plan
    """
    kept = _kept(notebook)
    if kept is None:
        return None
    made = date.fromisoformat(kept["date"])
    household = year_household(notebook, made)
    plan: dict[str, Any] = by(
        year_plan, household, np.datetime64(made, "D"), n_years=n_years, seed=seed, exactly=kept, read=read, use_cache=use_cache, progress=progress
    )  # fmt: skip
    not_followed = plan["not_followed"] + beyond_the_year(notebook, household.shelters, made)
    return plan | {"stale": is_stale(notebook, today), "not_followed": not_followed}


def is_stale(notebook: Notebook, today: date | None = None) -> bool:
    """Whether wishes, decisions, sowings or losses are newer than the last plan.  today : as of plan_now"""
    kept = _kept(notebook)
    if kept is None:
        return False
    made = date.fromisoformat(kept["date"])
    stamp = _stamp(year_household(notebook, made))
    return kept["stamp"] != stamp or _off_the_plan(notebook, kept, made, today or made)


def _off_the_plan(notebook: Notebook, kept: Mapping[str, Any], made: date, today: date) -> bool:
    """Whether something was sown that the plan had not, lost, or left undone for more than a week."""
    names = {s.id: s.name for s in notebook.find(ShelterRecord)}
    since = notebook.find(Sowing, "sown_on > ? AND sown_on <= ?", made, today)
    sown = {(s.crop_id, names[s.grown_in_id]) for s in since}
    planned = [s for s in kept["sowings"] if not s["standing"]]
    due = {(s["crop"], s["grown_in"]) for s in planned if made < date.fromisoformat(s["sow"]) < today - OVERDUE}
    lost = notebook.find(Loss, '"on" > ? AND "on" <= ?', made, today)
    return bool(lost or due - sown or sown - {(s["crop"], s["grown_in"]) for s in planned})


def explain_here(
    notebook: Notebook, plan: Mapping[str, Any], sowing_id: str, *, by: By = here, **asked: Any
) -> dict[str, Any]:
    """Why this sowing and not that, for the notebook's household on the plan's day; asked : as of explain_sowing, by : as of make_plan."""
    from underglass.services.year_why import explain_sowing

    made = date.fromisoformat(plan["date"])
    household = year_household(notebook, made)
    answer: dict[str, Any] = by(explain_sowing, household, np.datetime64(made, "D"), sowing_id, plan=plan, **asked)
    return answer


def help_here(notebook: Notebook, plan: Mapping[str, Any], *, by: By = here, **asked: Any) -> dict[str, Any]:
    """What would help, for the notebook's household on the plan's day; asked : as of what_would_help, by : as of make_plan."""
    from underglass.services.year_help import what_would_help

    made = date.fromisoformat(plan["date"])
    household = year_household(notebook, made)
    answer: dict[str, Any] = by(what_would_help, household, np.datetime64(made, "D"), plan=plan, **asked)
    return answer


def keep_sowing(notebook: Notebook, plan: Mapping[str, Any], sowing_id: str) -> None:
    """Decide for a sowing of the plan: it stays.  Raises InputError where the plan has none of this id."""
    row = _of_plan(plan, sowing_id)
    wishes = _without(_wishes(notebook), row)
    change_wishes(notebook, replace(wishes, pins=(*wishes.pins, _pin(row))), f"year: {_name(row)} is decided")


def drop_sowing(notebook: Notebook, plan: Mapping[str, Any], sowing_id: str) -> None:
    """Never propose this sowing again, nor one of the same crop in the same bed within a fortnight of it."""
    row = _of_plan(plan, sowing_id)
    wishes = _without(_wishes(notebook), row)
    change_wishes(notebook, replace(wishes, drops=(*wishes.drops, _drop(row))), f"year: no {_name(row)}")


def swap_sowing(notebook: Notebook, plan: Mapping[str, Any], sowing_id: str, other: Mapping[str, Any]) -> None:
    """Drop a sowing and decide for another one in its place.

    other : with crop, grown_in, raised_in, sow and area_m2, as a row of `instead` in an explanation
    Another date of the same crop in the same bed is only a change of date: then nothing is dropped, so that it may come.
    """
    gone = _of_plan(plan, sowing_id)
    wishes = _without(_without(_wishes(notebook), gone), other)
    near = abs((date.fromisoformat(gone["sow"]) - date.fromisoformat(str(other["sow"]))).days) < 14
    same = (gone["crop"], gone["grown_in"]) == (other["crop"], other["grown_in"])
    drops = wishes.drops if same and near else (*wishes.drops, _drop(gone))
    wishes = replace(wishes, pins=(*wishes.pins, _pin(other)), drops=drops)
    change_wishes(notebook, wishes, f"year: {_name(other)} in place of {_name(gone)}")


def let_go(notebook: Notebook, plan: Mapping[str, Any], sowing_id: str) -> None:
    """Take back what was decided about a sowing of the plan."""
    row = _of_plan(plan, sowing_id)
    change_wishes(notebook, _without(_wishes(notebook), row), f"year: {_name(row)} is left to the planner")


def decided(notebook: Notebook) -> list[dict[str, Any]]:
    """All decisions about sowings, those kept before those dropped."""
    wishes = _wishes(notebook)
    rows: list[tuple[str, str, str | None, np.datetime64 | None, str | None]]
    rows = [("keep", p.crop_id, p.grown_in, p.sow, p.raised_in) for p in wishes.pins]
    rows += [("drop", d.crop_id, d.grown_in, d.sow, None) for d in wishes.drops]
    return [
        {
            "id": f"{wish}|{crop}|{bed or ''}|{sow or ''}",
            "crop": crop,
            "name": catalogue()[crop].name,
            "wish": wish,
            "sow": None if sow is None else str(sow),
            "grown_in": bed,
            "raised_in": raised,
        }
        for wish, crop, bed, sow, raised in rows
    ]


def forget_decision(notebook: Notebook, decision_id: str) -> None:
    """Take back one decision.  Raises InputError where there is none of this id."""
    wishes = _wishes(notebook)
    pins = tuple(p for p in wishes.pins if f"keep|{p.crop_id}|{p.grown_in}|{p.sow or ''}" != decision_id)
    drops = tuple(d for d in wishes.drops if f"drop|{d.crop_id}|{d.grown_in or ''}|{d.sow or ''}" != decision_id)
    if (pins, drops) == (wishes.pins, wishes.drops):
        raise InputError("this was not decided, or was taken back already")
    change_wishes(notebook, replace(wishes, pins=pins, drops=drops), "year: a decision taken back")


def _wishes(notebook: Notebook) -> Wishes:
    return wishes_of_table(household_record(notebook).wishes)


def _name(row: Mapping[str, Any]) -> str:
    return f"{catalogue()[row['crop']].name.lower()} in {row['grown_in']}, {row['sow']}"


def _of_plan(plan: Mapping[str, Any], sowing_id: str) -> Mapping[str, Any]:
    found = [s for s in plan["sowings"] if s["id"] == sowing_id]
    if not found:
        raise InputError("this sowing is not in the plan any more; look at the plan again")
    row: Mapping[str, Any] = found[0]
    if row["standing"]:
        raise InputError("this stands in the ground already; what becomes of it is written in the notebook")
    return row


def _day(row: Mapping[str, Any]) -> np.datetime64:
    return np.datetime64(str(row["sow"]), "D")


def _pin(row: Mapping[str, Any]) -> Pin:
    raised = row["raised_in"]
    return Pin(
        str(row["crop"]),
        str(row["grown_in"]),
        _day(row),
        float(row["area_m2"]),
        raised,
        direct=raised is None,
        held=bool(row.get("held")),
    )


def _drop(row: Mapping[str, Any]) -> Drop:
    return Drop(str(row["crop"]), str(row["grown_in"]), _day(row))


def _without(wishes: Wishes, row: Mapping[str, Any]) -> Wishes:
    """The wishes with nothing decided about a sowing."""
    crop, bed, sow = str(row["crop"]), str(row["grown_in"]), _day(row)

    def about(crop_id: str, grown_in: str | None, day: np.datetime64 | None) -> bool:
        return (crop_id, grown_in) == (crop, bed) and day is not None and abs(int((day - sow).astype(int))) <= SLACK_D

    return replace(
        wishes,
        pins=tuple(p for p in wishes.pins if not about(p.crop_id, p.grown_in, p.sow)),
        drops=tuple(d for d in wishes.drops if not about(d.crop_id, d.grown_in, d.sow)),
    )


def _kept(notebook: Notebook) -> dict[str, Any] | None:
    record = notebook.get_or_none(Setting, PLAN)
    return record.value if record else None


def _stamp(household: Household) -> str:
    """Changes with everything that the planner is told of a family's wishes and ground."""
    return str(asdict(household.wishes))
