"""How a year's plan keeps its promises in years that it has not seen, and how long choosing takes: `python -m benchmarks.year`."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue
from underglass.plan.basket import Chosen, chosen_of, servings_by_want
from underglass.plan.candidates import SOWING_WEEKS, candidates_of
from underglass.plan.decide import decide
from underglass.plan.optimise import Task
from underglass.plan.outlook import RouteFates
from underglass.services.year import year_task
from underglass.sources.household_file import demo_household, household_of_table

ON = np.datetime64("2027-03-01")
YEARS = 30
PLACES = {
    "cold continental (44 N, Vermont)": (44.02, -72.66),
    "mild maritime (51.9 N, south-west Ireland)": (51.9, -8.5),
    "hot summer (30 N, Gulf coast)": (30.3, -90.0),
    "southern (42.9 S, Tasmania)": (-42.9, 147.3),
}
ASKED = {"n_years": YEARS, "use_cache": True}


def at(latitude: float, longitude: float):
    place = household_of_table({"place": {"latitude": latitude, "longitude": longitude}}).place
    demo = demo_household()
    return replace(demo, place=place, climate=type(demo.climate)(), seeds=())


def in_other_years(chosen: list[Chosen], fates: tuple[RouteFates, ...]) -> list[Chosen]:
    """The same sowings and beds in other years; what feeds nobody there brings nothing."""
    held = []
    for c in chosen:
        k = c.option.candidate
        one = next(f for f in fates if (f.crop_id, f.route) == (k.crop_id, k.route))
        found = [x for x in candidates_of(c.option.crop, one, ON, least_chance=0.0, bed_to=k.bed_to) if x.sow == k.sow]
        if found:
            held.append(replace(c, option=replace(c.option, candidate=found[0])))
    return held


def total(task: Task, chosen: list[Chosen]) -> NDArray[np.float64]:
    return np.sum(list(servings_by_want(task, chosen).values()), axis=0)[:, :SOWING_WEEKS]


def promises() -> None:
    """Share of held-back years in which the basket of a week reaches what was promised for it."""
    print(
        f"{'place':56}{'weeks':>6}{'>= p10':>8}{'>= p50':>8}{'>= p90':>8}{'promised':>10}{'held':>8}{'gap':>7}{'sowings':>9}"
    )
    for name, where in PLACES.items():
        household = at(*where)
        task, _ = year_task(household, ON, seed=1, **ASKED)
        decision = decide(task)
        chosen = chosen_of(task, decision.solution.x)
        _, others = year_task(household, ON, seed=2, **ASKED)
        promised, held = total(task, chosen), total(task, in_other_years(chosen, others.found))
        weeks = np.quantile(promised, 0.5, axis=0) > 1.0
        reached = [
            float((held[:, weeks] >= np.quantile(promised[:, weeks], q, axis=0)).mean()) for q in (0.1, 0.5, 0.9)
        ]
        shares = "".join(f"{r:8.0%}" for r in reached)
        print(
            f"{name:56}{int(weeks.sum()):6d}{shares}{promised.sum(axis=1).mean():10.0f}{held.sum(axis=1).mean():8.0f}"
            f"{decision.solution.gap:7.1%}{len(chosen):9d}",
            flush=True,
        )


def speed() -> None:
    """Seconds of choosing, fates kept, for 10, 20 and 40 wanted crops in four shelters."""
    household = at(44.02, -72.66)
    household = replace(household, shelters=tuple(s for s in household.shelters if s.name != "jug"))
    names = [c.id for c in catalogue().values() if c.kitchen.dish != "flowers"]
    for count in (10, 20, 40):
        wanted = replace(household, crops=tuple(names[:: len(names) // count][:count]))
        year_task(wanted, ON, seed=1, **ASKED)
        start = time.perf_counter()
        task, _ = year_task(wanted, ON, seed=1, **ASKED)
        found = decide(task).solution
        print(
            f"{count} crops: {time.perf_counter() - start:.1f} s, {len(task.options)} options, gap {found.gap:.1%}",
            flush=True,
        )


if __name__ == "__main__":
    promises()
    speed()
