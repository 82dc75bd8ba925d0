"""How a year's plan keeps its promises in years that it has not seen, and how long choosing takes: `python -m benchmarks.year`."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue
from underglass.plan.basket import Chosen, chosen_of
from underglass.plan.candidates import SOWING_WEEKS, WEEKS, candidates_of, held_candidates_of
from underglass.plan.decide import decide
from underglass.plan.lean import lean_weeks
from underglass.plan.optimise import Task, sample_years
from underglass.plan.quality import too_warm_days
from underglass.plan.years import judging, quantiles
from underglass.services.fates import YearFates
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
SEEDS = (1, 2, 3)


def at(latitude: float, longitude: float):
    place = household_of_table({"place": {"latitude": latitude, "longitude": longitude}}).place
    demo = demo_household()
    return replace(demo, place=place, climate=type(demo.climate)(), seeds=())


def in_other_years(task: Task, chosen: list[Chosen], other: YearFates, latitude_deg: float) -> list[Chosen]:
    """The same sowings and beds in other years; what feeds nobody there brings nothing."""
    lean, held = lean_weeks(latitude_deg, ON), []
    for c in chosen:
        k = c.option.candidate
        fates = other.grown if k.held else other.found
        one = next(f for f in fates if (f.crop_id, f.route) == (k.crop_id, k.route))
        if k.held:
            assert lean is not None
            found = held_candidates_of(c.option.crop, one, ON, lean, least_chance=0.0, bed_to=k.bed_to)
        else:
            found = candidates_of(
                c.option.crop,
                one,
                ON,
                least_chance=0.0,
                bed_to=k.bed_to,
                dark=lean,
                warm=too_warm_days(k.crop_id, task.month_mean_c, ON),
            )
        same = [x for x in found if x.sow == k.sow]
        if same:
            held.append(replace(c, option=replace(c.option, candidate=same[0])))
    return held


def total(task: Task, chosen: list[Chosen], years: NDArray[np.int64]) -> NDArray[np.float64]:
    """Servings of all wants in these years and the weeks of the year."""
    weeks = sum((c.option.candidate.servings[years] * c.area_m2 for c in chosen), np.zeros((len(years), WEEKS)))
    return np.asarray(weeks[:, :SOWING_WEEKS])


def promises() -> None:
    """Share of held-back years in which the basket of a week reaches what was promised for it: plans of some seeds, years of the others."""
    print(
        f"{'place':48}{'weeks':>6}{'>= p10':>8}{'>= p50':>8}{'>= p90':>8}{'promised':>10}{'held':>7}{'chosen on':>11}{'gap':>7}{'sowings':>9}"
    )
    every = []
    for name, where in PLACES.items():
        household, rows = at(*where), []
        told = {seed: year_task(household, ON, seed=seed, **ASKED) for seed in SEEDS}
        for seed, (task, _) in told.items():
            solution = decide(task).solution
            chosen = chosen_of(task, solution.x)
            promised, on_which = total(task, chosen, judging(YEARS)), total(task, chosen, sample_years(YEARS))
            others = [in_other_years(task, chosen, told[s][1], where[0]) for s in SEEDS if s != seed]
            seen = np.concatenate([total(task, held, np.arange(YEARS)) for held in others])
            weeks = np.quantile(promised, 0.5, axis=0) > 1.0
            reached = [float((seen[:, weeks] >= q).mean()) for q in quantiles(promised[:, weeks])]
            year = [float(t.sum(axis=1).mean()) for t in (promised, seen, on_which)]
            rows.append([weeks.sum(), *reached, *year, solution.gap, len(chosen)])
        mean = np.mean(rows, axis=0)
        every.append(mean[1:4])
        shares = "".join(f"{r:8.0%}" for r in mean[1:4])
        print(
            f"{name:48}{mean[0]:6.0f}{shares}{mean[4]:10.0f}{mean[5]:7.0f}{mean[6]:11.0f}{mean[7]:7.2%}{mean[8]:9.0f}",
            flush=True,
        )
    print(f"{'all together':48}{'':6}" + "".join(f"{r:8.0%}" for r in np.mean(every, axis=0)))


def speed() -> None:
    """Seconds of the processor for choosing, fates kept, for 10, 20 and 40 wanted crops in four shelters; and for all from nothing."""
    names = [c.id for c in catalogue().values() if c.kitchen.dish != "flowers"]
    for name, where in PLACES.items():
        household = at(*where)
        household = replace(household, shelters=tuple(s for s in household.shelters if s.name != "jug"))
        for count in (10, 20, 40):
            wanted = replace(household, crops=tuple(names[:: len(names) // count][:count]))
            start = time.process_time()
            year_task(wanted, ON, seed=1, n_years=YEARS, use_cache=False)
            cold = time.process_time() - start
            year_task(wanted, ON, seed=1, **ASKED)
            start = time.process_time()
            task, _ = year_task(wanted, ON, seed=1, **ASKED)
            found = decide(task).solution
            kept = time.process_time() - start
            print(
                f"{name:48}{count:3d} crops: fates {cold:.1f} s, then {kept:.1f} s, {len(task.options)} options, "
                f"gap {found.gap:.2%}, {len(chosen_of(task, found.x))} sowings",
                flush=True,
            )


if __name__ == "__main__":
    promises()
    speed()
