"""For each want that is not met: the smallest change that would meet it, found by planning again.  Plain data, documented in docs/json.md."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue
from underglass.errors import InputError
from underglass.plan.decide import counted
from underglass.plan.helps import (
    MET,
    Change,
    Found,
    best_for,
    met_in_season,
    possible_weeks,
    smallest_changes,
    smallest_to_grow,
    unmet,
)
from underglass.plan.household import Household
from underglass.plan.lean import stands_winter
from underglass.plan.optimise import Task, each_crops, target
from underglass.plan.wishes import Want
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather
from underglass.services.year import stepper, year_plan, year_task
from underglass.shelter.changes import changed
from underglass.shelter.model import Fleece, OpenGround

__all__ = ["what_would_help"]

VERSION = 1
EARLIER_WEEKS = (4, 8, 16)

BARE_WEEKS, LONGER_WEEKS = 4, 2
"""Weeks of the year in which nothing of a want can be ready from which it is asked whether one more layer would help, and by how many weeks it
must (judgement)."""


def what_would_help(
    household: Household,
    on: np.datetime64,
    *,
    plan: Mapping[str, Any] | None = None,
    n_years: int = 30,
    seed: int = 1,
    read: ReadWeather | None = None,
    use_cache: bool = True,
    progress: Progress = silent,
) -> dict[str, Any]:
    """What would meet each want that the plan does not meet: more room, trays, minutes, money, hands; an inner cover; an earlier beginning.

    plan : the answer of year_plan to ask about, None: the plan is made first
    Slow where a change needs its own weather inside (covers, earlier beginnings): half a minute for each such want.
    """
    asked: dict[str, Any] = {"n_years": n_years, "seed": seed, "read": read, "use_cache": use_cache}
    if plan is None:
        plan = year_plan(household, on, progress=progress, **asked)
    if not plan["possible"]:
        raise InputError("there is no plan to ask about: see what is in its way with `underglass year`")
    task, _ = year_task(household, on, earlier=plan, progress=progress, **asked)
    blocks = counted(task).solution.x
    missed = unmet(task, blocks)
    bare = [w for w in task.wants if w not in missed and _has_bare_weeks(task, w)]
    rows = []
    for i, want in enumerate(missed + bare):
        start, end = (0.1 + 0.85 * k / len(missed + bare) for k in (i, i + 1))
        step = stepper(progress, start, end, f"what would help {want.label}")
        row = _row(household, on, task, blocks, want, plan, asked, step, only_layers=want in bare)
        if want in missed or row["changes"]:
            rows.append(row)
    progress(1.0, "done")
    return {
        "version": VERSION,
        "date": str(on),
        "household": household.name,
        "met_from": MET,
        "wants": rows,
        "each": _each(household, task, lambda: progress(0.97, "what would let the others in")),
    }


def _has_bare_weeks(task: Task, want: Want) -> bool:
    """Whether a want that is met in its season has weeks in which nothing of it can be ready, and crops that might stand through them."""
    if want.servings is None or not any(stands_winter(catalogue()[c]) for c in want.crops):
        return False
    return int((~possible_weeks(task, want)).sum()) >= BARE_WEEKS


def _row(
    household: Household, on: np.datetime64, task: Task, blocks: NDArray[np.float64], want: Want, plan: Mapping[str, Any],
    asked: Mapping[str, Any], step: Callable[[], None], *, only_layers: bool,
) -> dict[str, Any]:  # fmt: skip
    """What helps one want.  only_layers : it is met in its season; told is what makes the season longer by some weeks"""
    weeks = possible_weeks(task, want)
    met, some = met_in_season(task, blocks, want, weeks)
    bare = _has_bare_weeks(task, want)
    found = (
        []
        if only_layers or not weeks.any()
        else [_plain(household, task, f) for f in smallest_changes(task, blocks, want, step)]
    )
    enough = only_layers or any(f["meets"] for f in found)
    layers = _layers(household, on, want, plan, asked, weeks, step) if bare or not enough else []
    if enough:
        layers = [f for f in layers if f["weeks_with_some"] >= some + LONGER_WEEKS]
    else:
        found += _earlier(household, on, want, plan, asked, weeks, step)
    helping = [f for f in found + layers if f["met"] > met + 0.02 or f["weeks_with_some"] > some]
    helping.sort(key=lambda f: (not f["meets"], f["effort"], -f["met"]))
    return {
        "want": want.label,
        "servings_a_week": round(target(want), 2),
        "met_in_season": round(met, 3),
        "weeks_with_some": some,
        "weeks_possible": int(weeks.sum()),
        "never_feeds_here": sorted(c for c in want.crops if all(o.crop.id != c for o in task.options)),
        "changes": helping,
    }


def _each(household: Household, task: Task, step: Callable[[], None]) -> list[dict[str, Any]]:
    """Of each crop that should be grown and is left out, what would let it in, the least effort first."""
    rows: list[dict[str, Any]] = []
    for crop in (c for c in each_crops(task) if c not in task.each):
        changes = [_limit(household, task, change) for change in smallest_to_grow(task, crop, step)]
        changes.sort(key=lambda c: int(c["effort"]))
        rows.append({"crop": crop, "name": catalogue()[crop].name, "changes": changes})
    return rows


def _limit(household: Household, task: Task, change: Change) -> dict[str, Any]:
    """A limit that is widened: which, from what, to what."""
    now = {
        "weight": 1.0,
        "area": task.area_m2.get(change.place or "", 0.0),
        "trays": task.tray_m2.get(change.place or "", 0.0),
        "minutes": household.wishes.minutes_a_week,
        "budget": household.wishes.seed_budget,
        "sowings": None,
    }[change.kind]
    return {
        "kind": change.kind, "shelter": change.place, "from": None if now is None else round(now, 2), "to": round(change.to, 2),
        "effort": EFFORT.index(change.kind),
    }  # fmt: skip


def _plain(household: Household, task: Task, found: Found) -> dict[str, Any]:
    return _limit(household, task, found.change) | _brings(found.met, found.weeks)


def _brings(met: float, weeks: int) -> dict[str, Any]:
    return {"met": round(met, 3), "weeks_with_some": weeks, "meets": met >= MET}


EFFORT = ("weight", "sowings", "minutes", "budget", "trays", "cover", "film", "earlier", "area")
"""Kinds of change, from what costs least to what costs most (judgement): the first that meets the want is the smallest."""


def _change(kind: str, place: str | None, now: float | None, to: float, met: float, weeks: int) -> dict[str, Any]:
    known = {"kind": kind, "shelter": place, "from": now, "to": to, "effort": EFFORT.index(kind)}
    return known | _brings(met, weeks)


def _layers(
    household: Household, on: np.datetime64, want: Want, plan: Mapping[str, Any], asked: Mapping[str, Any], weeks: NDArray[np.bool_],
    step: Callable[[], None],
) -> list[dict[str, Any]]:  # fmt: skip
    """One more layer over a bed, each bed by itself: a row cover at night, where that is there a second film under the glazing."""
    found = []
    for shelter in household.shelters:
        if shelter.kind == "nursery" or isinstance(shelter.shape, OpenGround):
            continue
        if shelter.fleece is None:
            kind, warmer = "cover", replace(shelter, fleece=Fleece(night_only=True))
        elif shelter.cover is not None and len(shelter.cover.sheets) == 1:
            kind, warmer = "film", replace(changed(shelter, "double"), name=shelter.name)
        else:
            continue
        other = replace(household, shelters=tuple(warmer if s is shelter else s for s in household.shelters))
        met, some = _again(other, on, want, plan, asked, weeks, 0, step)
        found.append(_change(kind, shelter.name, None, 1.0, met, some))
    return found


def _earlier(
    household: Household, on: np.datetime64, want: Want, plan: Mapping[str, Any], asked: Mapping[str, Any], weeks: NDArray[np.bool_],
    step: Callable[[], None],
) -> list[dict[str, Any]]:  # fmt: skip
    """Had the family begun so many weeks earlier: the first that meets the want, else the last."""
    for ahead in EARLIER_WEEKS:
        met, some = _again(household, on - 7 * ahead, want, plan, asked, weeks, ahead, step)
        if met >= MET or ahead == EARLIER_WEEKS[-1]:
            return [_change("earlier", None, 0.0, float(ahead), met, some)]
    return []


def _again(
    household: Household, on: np.datetime64, want: Want, plan: Mapping[str, Any], asked: Mapping[str, Any], weeks: NDArray[np.bool_],
    ahead: int, step: Callable[[], None],
) -> tuple[float, int]:  # fmt: skip
    """How far a want would be met with other shelters or another beginning: its sowings found again beside those of the plan."""
    crops = [c for c in want.crops if c in catalogue()]
    there_then = tuple(s for s in household.wishes.standing if s.sow <= on)
    household = replace(household, wishes=replace(household.wishes, standing=there_then))
    task, _ = year_task(household, on, earlier=plan, progress=lambda share, doing: step(), **asked)
    own = next((w for w in task.wants if w.label == want.label), replace(want, crops=tuple(crops)))
    there = possible_weeks(task, own, ahead)
    weeks = weeks if weeks.any() else there
    return met_in_season(task, best_for(task, counted(task).solution.x, own, step), own, weeks, ahead)
