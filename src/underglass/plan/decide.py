"""The decision: solve the task; where no plan keeps every decided sowing and limit, name the wish that breaks it; tell what a pin costs."""

from __future__ import annotations

from dataclasses import dataclass

from underglass.plan.optimise import Task, build
from underglass.plan.polish import polisher
from underglass.plan.programme import Solution, solve

__all__ = ["Decision", "decide", "pin_costs"]

LIMITS = ("area", "trays", "minutes", "rotation", "budget")


@dataclass(frozen=True, slots=True, eq=False)
class Decision:
    """solution : the plan, infeasible where `broken` names wishes
    broken : kinds of limits, or 'pin 2', each of which alone, given up, would make a plan possible"""

    solution: Solution
    broken: tuple[str, ...] = ()


def decide(task: Task) -> Decision:
    """The best plan within the gap, or what stands in its way."""
    programme = build(task)
    found = solve(programme, better=polisher(task, programme))
    if found.feasible:
        return Decision(found)
    single = [f"pin {i}" for i in range(len(task.pinned))] + list(LIMITS)
    broken = tuple(kind for kind in single if solve(build(task, without=frozenset({kind})), relaxed=True).feasible)
    return Decision(found, broken)


def pin_costs(task: Task, value: float) -> list[float]:
    """What each pin costs against leaving it to the planner, in servings, from the relaxed programmes; 0 where it costs nothing.

    value : worth of the relaxed programme with all pins
    """
    costs = []
    for i in range(len(task.pinned)):
        free = solve(build(task, without=frozenset({f"pin {i}"})), relaxed=True)
        costs.append(max(0.0, free.value - value))
    return costs
