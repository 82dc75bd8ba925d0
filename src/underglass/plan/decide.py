"""The decision: solve the task; where no plan keeps every decided sowing and limit, name the wish that breaks it; tell what a pin costs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.plan.bound import Bound
from underglass.plan.branch import MOST_WORK, branch, possible
from underglass.plan.optimise import Moment, Task, build, each_crops
from underglass.plan.polish import Search, Worth
from underglass.plan.programme import GAP, INFINITE, Programme, Solution, Step, gap_of, relaxed

__all__ = ["Decision", "counted", "decide", "each_that_fits", "fits_too", "pin_costs"]

LIMITS = ("area", "trays", "minutes", "rotation", "budget", "sowings")

ROUNDS_ON_THE_WAY = 200
"""Rounds of the search from each whole plan that the solver comes by."""

NOWHERE = Solution(np.zeros(0), -INFINITE, INFINITE)


@dataclass(frozen=True, slots=True, eq=False)
class Decision:
    """solution : the plan, infeasible where `broken` names wishes
    broken : kinds of limits, or 'pin 2', each of which alone, given up, would make a plan possible"""

    solution: Solution
    broken: tuple[str, ...] = ()


class _Best:
    """The best plan that keeps all limits so far.  blocks : none yet"""

    def __init__(self, search: Search) -> None:
        self.search, self.worth = search, -INFINITE
        self.blocks: NDArray[np.float64] | None = None

    def from_columns(self, x: NDArray[np.float64], step: Step, rounds: int) -> float:
        """The search goes on from columns of the programme, rounded; the best worth known after it."""
        blocks = self.search.repaired(x[: self.search.n].round())
        if self.search.fits(blocks):
            blocks = self.search.better(blocks, step, rounds)
            if (worth := self.search.worth.of(blocks)) > self.worth:
                self.blocks, self.worth = blocks, worth
        return self.worth


def decide(task: Task, step: Step = lambda: None, gap: float = GAP, rounds: int = 600) -> Decision:
    """The best plan within the gap, or what stands in its way.  step : called now and then, may raise to end it

    The bound comes first, as a plan rounded from it is a good one to begin with; where the two stay too far apart, branch and bound brings them together.
    """
    bound = Bound(task)
    step()
    if not bound.feasible:
        return Decision(NOWHERE, _broken(task))
    bound.settle(step)
    best = _Best(Search(task, bound.programme))
    best.from_columns(bound.x, step, rounds)
    if best.blocks is None or gap_of(best.worth, bound.value) > gap:
        work = MOST_WORK if best.blocks is not None else 10 * MOST_WORK  # any plan at all is worth waiting for
        looks = work // len(task.options) if gap >= GAP else None
        branch(bound, lambda x: best.from_columns(x, step, ROUNDS_ON_THE_WAY), best.worth, gap, step, looks)
    if best.blocks is None:
        return Decision(NOWHERE, _broken(task))
    return Decision(Solution(best.blocks, best.worth, gap_of(best.worth, bound.value)))


def _broken(task: Task) -> tuple[str, ...]:
    """Kinds of limits, and pins, without which there would be a plan of whole blocks."""
    single = [f"pin {i}" for i in range(len(task.pinned))] + list(LIMITS)
    return tuple(kind for kind in single if possible(build(task, without=frozenset({kind}), meet=_nothing_eaten)))


def fits_too(task: Task, crop: str) -> bool:
    """Whether something of a crop can be sown besides all that must be."""
    return possible(build(replace(task, each=(*task.each, crop)), meet=_nothing_eaten))


def each_that_fits(task: Task) -> Task:
    """The task in which of each crop that its wants ask for something must be sown; those for which there is no room are left out, the first named go first."""
    wanted = tuple(each_crops(task))
    if not wanted or possible(build(replace(task, each=wanted), meet=_nothing_eaten)):
        return replace(task, each=wanted)
    task = replace(task, each=())
    for crop in wanted:
        if fits_too(task, crop):
            task = replace(task, each=(*task.each, crop))
    return task


def _nothing_eaten(p: Programme, moment: Moment) -> NDArray[np.int64]:
    """For what can be sown at all it does not matter what is eaten."""
    return np.zeros(0, np.int64)


def counted(task: Task) -> Decision:
    """The earlier plan as it is: its blocks and what stands, nothing chosen."""
    blocks = np.array([1.0 if o.standing else 0.0 for o in task.options])
    for j, many in task.kept:
        blocks[j] = max(blocks[j], float(many))
    worth = Worth(replace(task, kept=())).of(blocks)
    return Decision(Solution(blocks, worth, 0.0))


def pin_costs(task: Task, value: float) -> list[float]:
    """What each pin costs against leaving it to the planner, in servings, from the relaxed programmes; 0 where it costs nothing.

    value : worth of the relaxed programme with all pins
    """
    costs = []
    for i in range(len(task.pinned)):
        free = relaxed(build(task, without=frozenset({f"pin {i}"})))
        costs.append(max(0.0, free.value - value))
    return costs
