"""Why this sowing and not that: the plan found again without it, and what that would cost; what a decided one costs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan.basket import chosen_of, servings_by_want
from underglass.plan.candidates import SOWING_WEEKS
from underglass.plan.optimise import TAIL, Task, build, target
from underglass.plan.polish import Search
from underglass.plan.programme import Step

__all__ = ["Instead", "Measure", "Without", "instead_of", "measure", "with_crop", "without_pin", "without_sowing"]

F64 = NDArray[np.float64]

ROUNDS = 100
MOST_INSTEAD = 5
MOST_FORCED = 12


@dataclass(frozen=True, slots=True)
class Measure:
    """A plan in a few numbers, of the years that judge: servings in a year, in the worst fifth of the years, weeks with something of each want

    servings : mean over the years, what is wanted and not more;  worst : the same in the worst fifth;  weeks : want-weeks with something
    """

    servings: float
    worst: float
    weeks: int


@dataclass(frozen=True, slots=True, eq=False)
class Without:
    """Another plan beside the one that was chosen.

    costs : worth lost against the chosen one, in servings, 0 where nothing;  before, after : both in numbers
    comes, goes : blocks by option that come in and go out
    """

    costs: float
    before: Measure
    after: Measure
    comes: dict[int, int]
    goes: dict[int, int]


@dataclass(frozen=True, slots=True)
class Instead:
    """One other sowing in the place of one that goes, all else as it is.  costs : worth lost, in servings"""

    option: int
    costs: float


def measure(task: Task, blocks: F64) -> Measure:
    """A plan in numbers."""
    served = servings_by_want(task, chosen_of(task, blocks))
    counted = np.zeros(next(iter(served.values())).shape[0])
    weeks = 0
    for want in task.wants:
        values = served[want.label][:, :SOWING_WEEKS]
        counted += np.minimum(values, target(want)).sum(axis=1)
        weeks += int((np.median(values, axis=0) > 0.25 * target(want)).sum())
    worst = np.sort(counted)[: max(1, round(TAIL * len(counted)))]
    return Measure(float(counted.mean()), float(worst.mean()), weeks)


def _beside(task: Task, search: Search, blocks: F64, other: F64) -> Without:
    change = (other - blocks).round().astype(int)
    return Without(
        max(0.0, search.worth.of(blocks) - search.worth.of(other)),
        measure(task, blocks),
        measure(task, other),
        {int(j): int(change[j]) for j in np.flatnonzero(change > 0)},
        {int(j): int(-change[j]) for j in np.flatnonzero(change < 0)},
    )


def _free(task: Task) -> Task:
    return replace(task, kept=())


def without_sowing(task: Task, blocks: F64, option: int, step: Step) -> Without:
    """The plan if a sowing were forbidden: found again from what is left of it."""
    task = _free(task)
    dropped = frozenset(f"pin {i}" for i, numbers in enumerate(task.pinned) if option in numbers)
    crop = task.options[option].crop.id
    if sum(o.crop.id == crop for o in task.options) == 1:
        dropped |= {f"each {crop}"}
    search = Search(task, build(task, without=dropped))
    search.most[option] = 0.0
    rest = blocks.copy()
    rest[option] = 0.0
    return _beside(task, search, blocks, search.better(search.repaired(rest), step, ROUNDS))


def without_pin(task: Task, blocks: F64, pin: int, step: Step) -> Without:
    """The plan if a decided sowing were left to the planner.  `costs` is what the decision costs."""
    task = _free(task)
    search = Search(task, build(task, without=frozenset({f"pin {pin}"})))
    other = search.better(blocks, step, ROUNDS)
    found = _beside(task, search, blocks, other)
    return replace(found, costs=max(0.0, search.worth.of(other) - search.worth.of(blocks)))


def instead_of(task: Task, blocks: F64, option: int) -> list[Instead]:
    """The best single sowings in its place, all else as it is, best first: of a crop in a bed only its best date."""
    task = _free(task)
    dropped = frozenset(f"pin {i}" for i, numbers in enumerate(task.pinned) if option in numbers)
    search = Search(task, build(task, without=dropped))
    base = blocks.copy()
    base[option] = 0.0
    known, gains = search.worth.of(blocks), []
    for j in range(search.n):
        if j == option or base[j] >= search.most[j]:
            continue
        more = base.copy()
        more[j] += 1.0
        if search.fits(more):
            gains.append(j)
    worth = search.worth.with_one_more(base, np.array(gains, np.int64)) if gains else np.zeros(0)
    seen: set[tuple[str, str]] = set()
    out: list[Instead] = []
    for k in np.argsort(-worth, kind="stable"):
        o = task.options[gains[k]]
        key = (o.crop.id, o.candidate.route.grown_in)
        if key not in seen and len(out) < MOST_INSTEAD:
            seen.add(key)
            out.append(Instead(gains[k], max(0.0, known - float(worth[k]))))
    return out


def with_crop(task: Task, blocks: F64, crop_id: str, step: Step) -> tuple[int, Without] | None:
    """A crop that the plan leaves out, put in where that costs least: its option and the plan with it.  None where it can't be put in."""
    task = _free(task)
    search = Search(task, build(task))
    js = [j for j, o in enumerate(task.options) if o.crop.id == crop_id and not o.standing]
    js = sorted(js, key=lambda j: -task.options[j].candidate.worth_a_day())[:MOST_FORCED]
    best: tuple[float, int, F64] | None = None
    for j in js:
        search.least[j] = 1.0
        forced = blocks.copy()
        forced[j] = max(forced[j], 1.0)
        forced = search.repaired(forced)
        if search.fits(forced) and forced[j] >= 1.0:
            forced = search.better(forced, step, 0)
            value = search.worth.of(forced)
            if best is None or value > best[0]:
                best = (value, j, forced)
        search.least[j] = 0.0
    return None if best is None else (best[1], _beside(task, search, blocks, best[2]))
