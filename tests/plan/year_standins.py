"""Small tasks of made-up sowings, for the planner's tests."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from underglass.crop.catalogue import catalogue
from underglass.plan.candidates import WEEKS, Candidate, Eaten
from underglass.plan.optimise import Option, Task
from underglass.plan.outlook_types import DateSpread, Route
from underglass.plan.wishes import Want, Wishes

ON = np.datetime64("2027-03-01")


def option(crop: str, sow_week: int, eat_week: int, weeks: int, servings: float, *, years: int = 4, bed: str = "box", block: float = 1.0, seed: int = 0) -> Option:  # fmt: skip
    """A sowing that feeds evenly for some weeks, in each year a little differently, and in one year of `years` not at all."""
    luck = np.random.default_rng(seed + sow_week * 31 + eat_week).uniform(0.6, 1.4, years)
    luck[(sow_week + seed) % years] = 0.0
    amount = np.zeros((years, WEEKS))
    amount[:, eat_week : eat_week + weeks] = servings / weeks * luck[:, None]
    sow, first = ON + 7 * sow_week, ON + 7 * eat_week
    candidate = Candidate(
        crop, Route(bed), sow, 0.75, sow, sow, ON + 7 * (eat_week + weeks), None, DateSpread(first, first, first), first, Eaten.of(amount),
        np.where(luck > 0.0, 7.0 * eat_week, np.nan), np.ones(years, bool),
    )  # fmt: skip
    return Option(candidate, catalogue()[crop], block)


def small_task(wishes: Wishes | None = None, **more: object) -> Task:
    """Five sowings of two salads and a root in a bed of three blocks."""
    options = (
        option("spinach", 0, 6, 4, 30.0),
        option("spinach", 4, 10, 4, 30.0),
        option("arugula", 2, 7, 5, 20.0, seed=3),
        option("radish", 1, 6, 3, 18.0, seed=5),
        option("radish", 8, 13, 3, 18.0, seed=7),
    )
    wants = (Want("salad", ("spinach", "arugula"), 6.0), Want("radish", ("radish",), None))
    task = Task(ON, options, wants, wishes or Wishes(), {"box": 3.0}, {}, {})
    return replace(task, **more)  # type: ignore[arg-type]


def random_task(n: int, seed: int) -> Task:
    """So many sowings of four crops in two beds."""
    rng = np.random.default_rng(seed)
    crops = ("spinach", "arugula", "radish", "carrot")
    options = tuple(
        option(
            str(rng.choice(crops)),
            int(w := rng.integers(0, 40)),
            int(w + rng.integers(5, 12)),
            int(rng.integers(2, 8)),
            float(rng.uniform(5.0, 40.0)),
            bed=str(rng.choice(["box", "hoop"])),
            seed=int(rng.integers(1000)),
            block=float(rng.choice([0.5, 1.0])),
        )
        for _ in range(n)
    )
    wants = (
        Want("salad", ("spinach", "arugula"), 5.0),
        Want("radish", ("radish",), 3.0, 0.8),
        Want("carrot", ("carrot",), 4.0),
    )
    return Task(ON, options, wants, Wishes(risk=0.4, minutes_a_week=40.0), {"box": 2.0, "hoop": 3.0}, {}, {})
