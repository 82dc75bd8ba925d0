"""What a plan brings: servings by want and week in each year, and how far each want is met."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.plan.candidates import WEEKS
from underglass.plan.optimise import Option, Task, away_weeks, minutes_by_week, target
from underglass.plan.years import judging

__all__ = ["Chosen", "chosen_of", "met_share", "servings_by_want", "work_by_week"]

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """A sowing of the plan.  number : of its option;  blocks : how many"""

    number: int
    option: Option
    blocks: int

    @property
    def area_m2(self) -> float:
        """Area sown [m2]."""
        return self.option.block_m2 * self.blocks

    @property
    def servings(self) -> F64:
        """Servings in each week of each year that judges, (years, WEEKS)."""
        servings = self.option.candidate.servings
        return np.asarray(servings[judging(len(servings))] * self.area_m2)


def chosen_of(task: Task, x: F64) -> list[Chosen]:
    """The sowings of a solution (its columns, or only blocks by option), by date of sowing."""
    blocks = x[: len(task.options)].round().astype(int)
    picked = [Chosen(j, o, int(blocks[j])) for j, o in enumerate(task.options) if blocks[j] > 0]
    return sorted(picked, key=lambda c: (c.option.candidate.sow, c.option.crop.id, c.option.candidate.route.grown_in))


def servings_by_want(task: Task, chosen: Sequence[Chosen]) -> dict[str, F64]:
    """Servings of each want in each week of each year that judges, (years, WEEKS); nothing while nobody is home."""
    years = len(judging(task.options[0].candidate.counted.shape[0])) if task.options else 1
    home = (~away_weeks(task)).astype(float)
    out = {w.label: np.zeros((years, WEEKS)) for w in task.wants}
    for want in task.wants:
        for c in chosen:
            if c.option.crop.id in want.crops:
                out[want.label] += c.servings * home
    return out


def met_share(task: Task, servings: dict[str, F64], weeks: int) -> dict[str, float]:
    """Mean share of each want that is met, over years and weeks, 0-1."""
    return {w.label: float(np.minimum(servings[w.label][:, :weeks] / target(w), 1.0).mean()) for w in task.wants}


def work_by_week(task: Task, chosen: Sequence[Chosen]) -> F64:
    """Minutes of work in each week, shape (WEEKS,)."""
    return np.asarray(sum((minutes_by_week(task, c.option) * c.blocks for c in chosen), np.zeros(WEEKS)))
