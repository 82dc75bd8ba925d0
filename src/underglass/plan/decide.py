"""The decision: solve the task; where no plan keeps every decided sowing and limit, name the wish that breaks it; tell what a pin costs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from underglass.plan.bound import Bound
from underglass.plan.optimise import Task, build
from underglass.plan.polish import Search, Worth, polisher
from underglass.plan.programme import GAP, INFINITE, MOST_BRANCHED, Better, Solution, Step, gap_of, solve

__all__ = ["Decision", "counted", "decide", "pin_costs"]

LIMITS = ("area", "trays", "minutes", "rotation", "budget", "sowings")


@dataclass(frozen=True, slots=True, eq=False)
class Decision:
    """solution : the plan, infeasible where `broken` names wishes
    broken : kinds of limits, or 'pin 2', each of which alone, given up, would make a plan possible"""

    solution: Solution
    broken: tuple[str, ...] = ()


def decide(task: Task, step: Step = lambda: None) -> Decision:
    """The best plan within the gap, or what stands in its way.  step : called now and then, may raise to end it

    The bound comes first, as a plan rounded from it is a good one to begin with; small tasks whose gap is left too wide go on to the programme itself.
    """
    bound = Bound(task)
    step()
    if not bound.feasible:
        return Decision(Solution(np.zeros(0), -INFINITE, INFINITE), _broken(task))
    bound.settle(step)
    search = Search(task, bound.programme)
    enough = bound.value - GAP * abs(bound.value) / (1.0 + GAP)
    blocks = search.better(search.repaired(bound.x[: search.n].round()), step, enough=enough)
    if not search.fits(blocks):
        return _by_programme(task, polisher(task, bound.programme, step), step)
    value = search.worth.of(blocks)
    found = Solution(blocks, value, gap_of(value, bound.value))
    if found.gap <= GAP or search.n > MOST_BRANCHED:
        return Decision(found)
    return _by_programme(task, lambda x: search.filled(blocks, x), step)


def _by_programme(task: Task, better: Better, step: Step) -> Decision:
    found = solve(build(task), better=better, step=step)
    return Decision(found) if found.feasible else Decision(found, _broken(task))


def _broken(task: Task) -> tuple[str, ...]:
    """Kinds of limits, and pins, without which there would be a plan."""
    single = [f"pin {i}" for i in range(len(task.pinned))] + list(LIMITS)
    return tuple(kind for kind in single if solve(build(task, without=frozenset({kind})), relaxed=True).feasible)


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
        free = solve(build(task, without=frozenset({f"pin {i}"})), relaxed=True)
        costs.append(max(0.0, free.value - value))
    return costs
