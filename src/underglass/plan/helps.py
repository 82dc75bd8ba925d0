"""What would help a want that is not met: the limits widened step by step, each time with the plan found again for that want.

All else of the plan stays as it is, and the want counts as much as the planner can make it, so that what is missing then is not will but room,
time, money or hands.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan.basket import chosen_of, servings_by_want
from underglass.plan.candidates import SOWING_WEEKS
from underglass.plan.decide import fits_too
from underglass.plan.optimise import Task, build, sowings_cap, target
from underglass.plan.polish import Search
from underglass.plan.programme import Step
from underglass.plan.wishes import Want

__all__ = [
    "MET",
    "Change",
    "Found",
    "best_for",
    "met_in_season",
    "possible_weeks",
    "smallest_changes",
    "smallest_to_grow",
    "unmet",
]

F64 = NDArray[np.float64]

MET = 0.75
"""Share of a want, over the weeks in which anything of it could be ready, from which it is called met (judgement)."""

STEPS = (1.25, 1.5, 2.0, 3.0)
MORE_SOWINGS = (1, 2, 4)
STRONGER = 4.0
ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Change:
    """One limit widened.  kind : 'weight', 'area', 'trays', 'minutes', 'budget' or 'sowings';  place : shelter where it has one;  to : new value"""

    kind: str
    place: str | None
    to: float


@dataclass(frozen=True, slots=True)
class Found:
    """A change and how far it goes: share of the want that is met in its season, and weeks with some of it"""

    change: Change
    met: float
    weeks: int


def possible_weeks(task: Task, want: Want, start: int = 0) -> NDArray[np.bool_]:
    """Weeks of the year in which anything of a want could be ready, shape (SOWING_WEEKS,).  start : week of the task where the year begins"""
    growing = [o.candidate for o in task.options if o.crop.id in want.crops]
    some = [np.median(c.servings, axis=0)[start : start + SOWING_WEEKS] > 0.0 for c in growing]
    return np.any(some, axis=0) if some else np.zeros(SOWING_WEEKS, bool)


def met_in_season(task: Task, blocks: F64, want: Want, weeks: NDArray[np.bool_], start: int = 0) -> tuple[float, int]:
    """Share of a want that is met in these weeks, and in how many weeks of the year there is some.  start : week of the task where they begin"""
    served = servings_by_want(task, chosen_of(task, blocks))[want.label][:, start : start + SOWING_WEEKS]
    share = np.minimum(served[:, weeks] / target(want), 1.0)
    some = int((np.median(served, axis=0) > 0.25 * target(want)).sum())
    return (float(share.mean()) if weeks.any() else 0.0), some


def unmet(task: Task, blocks: F64) -> list[Want]:
    """Wants with servings that the plan meets less than well, even in the weeks in which they could be met."""
    return [
        w for w in task.wants
        if w.servings is not None and met_in_season(task, blocks, w, possible_weeks(task, w))[0] < MET
    ]  # fmt: skip


def best_for(task: Task, blocks: F64, want: Want, step: Step) -> F64:
    """The plan with as much for one want as its limits allow, all else as it is."""
    stronger = tuple(replace(w, weight=w.weight * STRONGER) if w.label == want.label else w for w in task.wants)
    task = replace(task, wants=stronger, kept=())
    search = Search(task, build(task))
    own = np.array([o.crop.id in want.crops for o in task.options])
    search.most = np.where(own, search.most, blocks)
    search.least = np.where(own, search.least, blocks)
    return search.better(blocks, step, ROUNDS)


def _widened(task: Task, change: Change) -> Task:
    wishes = task.wishes
    match change.kind:
        case "area":
            return replace(task, area_m2={**task.area_m2, str(change.place): change.to})
        case "trays":
            return replace(task, tray_m2={**task.tray_m2, str(change.place): change.to})
        case "minutes":
            return replace(task, wishes=replace(wishes, minutes_a_week=change.to))
        case "budget":
            return replace(task, wishes=replace(wishes, seed_budget=change.to))
        case "sowings":
            return replace(task, wishes=replace(wishes, sowings_a_week=int(change.to)))
        case _:
            return task


def _ladders(task: Task, want: Want) -> Iterator[Sequence[Change]]:
    """Changes of each limit that bears on a want, the smallest first."""
    yield [Change("weight", None, STRONGER)]
    routes = {o.candidate.route for o in task.options if o.crop.id in want.crops}
    for bed in [b for b in task.area_m2 if any(r.grown_in == b for r in routes)]:
        yield [Change("area", bed, task.area_m2[bed] * s) for s in STEPS]
    for nursery in [n for n in task.tray_m2 if any(r.raised_in == n for r in routes)]:
        yield [Change("trays", nursery, task.tray_m2[nursery] * s) for s in STEPS]
    if task.wishes.minutes_a_week is not None:
        yield [Change("minutes", None, task.wishes.minutes_a_week * s) for s in STEPS]
    if task.wishes.seed_budget is not None:
        yield [Change("budget", None, max(task.wishes.seed_budget, 4.0) * s) for s in STEPS]
    yield [Change("sowings", None, float(sowings_cap(task) + more)) for more in MORE_SOWINGS]


def smallest_to_grow(task: Task, crop: str, step: Step) -> list[Change]:
    """Of each limit the smallest step with which something of a crop can be sown besides all that must be."""
    found = []
    for ladder in list(_ladders(task, Want(crop, (crop,))))[1:]:  # weight lets nothing in
        for change in ladder:
            step()
            if fits_too(_widened(task, change), crop):
                found.append(change)
                break
    return found


def smallest_changes(task: Task, blocks: F64, want: Want, step: Step) -> list[Found]:
    """Of each limit the smallest step with which the want is met; of those that never meet it the largest, if it helps at all.

    The first is no change of a limit: the want counted for more, at the cost of work and of other things.  Where that meets it, nothing else
    is tried, as no limit is in the way.
    """
    weeks = possible_weeks(task, want)
    before = met_in_season(task, blocks, want, weeks)[0]
    found: list[Found] = []
    for ladder in _ladders(task, want):
        last = None
        for change in ladder:
            wider = _widened(task, change)
            last = Found(change, *met_in_season(wider, best_for(wider, blocks, want, step), want, weeks))
            if last.met >= MET:
                break
        if last is not None and last.met > before + 0.02:
            found.append(last)
            if last.change.kind == "weight":
                before = last.met
                if last.met >= MET:
                    return found
    return sorted(found, key=lambda f: (f.met < MET, -f.met))
