"""The year's programme against brute force, against an independent solver, and against its worth computed another way."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pulp
import pytest
from tests.plan.year_standins import ON, option, random_task, small_task

from underglass.plan.decide import decide, pin_costs
from underglass.plan.optimise import Task, build
from underglass.plan.polish import Worth, polisher
from underglass.plan.programme import Programme, solve
from underglass.plan.wishes import Pin, Wishes


def brute_force(task: Task) -> float:
    """Best worth over all whole numbers of blocks that keep the rows which only blocks stand in."""
    p, worth, n = build(task), Worth(task), len(task.options)
    rows = [(c, f, lo, hi) for (c, f), lo, hi in zip(p.rows, p.row_low, p.row_high, strict=True) if c.max() < n]
    best = -np.inf
    for blocks in product(*(range(int(lo), int(hi) + 1) for lo, hi in zip(p.low[:n], p.high[:n], strict=True))):
        x = np.array(blocks, float)
        if all(lo - 1e-9 <= f @ x[c] <= hi + 1e-9 for c, f, lo, hi in rows):
            best = max(best, worth.of(x))
    return best


def by_cbc(p: Programme, gap: float) -> float:
    """Value of the same programme found by CBC through PuLP."""
    problem = pulp.LpProblem("year", pulp.LpMaximize)
    bounds = zip(p.low, p.high, p.whole, strict=True)
    x = [
        pulp.LpVariable(f"x{i}", None if lo == -np.inf else lo, None if hi == np.inf else hi, "Integer" if whole else "Continuous")
        for i, (lo, hi, whole) in enumerate(bounds)
    ]  # fmt: skip
    problem += pulp.lpSum(g * v for g, v in zip(p.gain, x, strict=True))
    for (columns, factors), low, high in zip(p.rows, p.row_low, p.row_high, strict=True):
        total = pulp.lpSum(float(f) * x[int(c)] for c, f in zip(columns, factors, strict=True))
        if high < np.inf:
            problem += total <= high
        if low > -np.inf:
            problem += total >= low
    problem.solve(pulp.PULP_CBC_CMD(msg=False, gapRel=gap, threads=1))
    assert pulp.LpStatus[problem.status] == "Optimal"
    return float(pulp.value(problem.objective))


@pytest.mark.parametrize(
    "wishes", [Wishes(), Wishes(risk=0.0), Wishes(risk=1.0), Wishes(minutes_a_week=25.0), Wishes(rotation_years=3)]
)
def test_small_plans_are_the_best_of_all(wishes: Wishes) -> None:
    task = small_task(wishes)
    p = build(task)
    found = solve(p, gap=0.0, better=polisher(task, p))
    assert found.value == pytest.approx(brute_force(task), rel=1e-6)
    assert found.gap <= 1e-6


@pytest.mark.filterwarnings("ignore::DeprecationWarning:pulp.*")
@pytest.mark.parametrize(("n", "seed"), [(30, 1), (40, 2), (50, 3)])
def test_medium_plans_agree_with_another_solver(n: int, seed: int) -> None:
    task = random_task(n, seed)
    p = build(task)
    ours, theirs = solve(p, better=polisher(task, p)), by_cbc(p, 1e-4)
    assert ours.gap <= 0.02
    assert theirs * (1.0 - 0.02) - 1e-6 <= ours.value <= theirs * (1.0 + 1e-4) + 1e-6


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_worth_without_the_programme_is_the_programme_s(seed: int) -> None:
    task = random_task(25, seed)
    found = solve(build(task))
    assert Worth(task).of(found.x[:25].round()) == pytest.approx(found.value, rel=1e-6)


def test_one_block_more_is_worth_what_it_adds() -> None:
    task, rng = random_task(30, 4), np.random.default_rng(1)
    worth, blocks = Worth(task), rng.integers(0, 2, 30).astype(float)
    more = worth.with_one_more(blocks, np.arange(30))
    for j in range(30):
        after = blocks.copy()
        after[j] += 1.0
        assert more[j] == pytest.approx(worth.of(after), rel=1e-9)


def test_the_same_question_gives_the_same_plan() -> None:
    task = random_task(25, 5)
    first, second = (decide(task).solution.x for _ in range(2))
    assert (first == second).all()


def test_every_limit_holds() -> None:
    task = random_task(30, 6)
    p = build(task)
    x = decide(task).solution.x
    for (columns, factors), low, high, name in zip(p.rows, p.row_low, p.row_high, p.row_names, strict=True):
        assert low - 1e-6 <= factors @ x[columns] <= high + 1e-6, name


def test_more_time_or_room_is_never_worse() -> None:
    task = random_task(60, 7)
    less = replace(task, area_m2={"box": 1.0, "hoop": 1.5})
    assert solve(build(less), relaxed=True).value <= solve(build(task), relaxed=True).value + 1e-9


def test_pins_are_kept_and_their_cost_told() -> None:
    pins = (Pin("radish", "box", ON + 7 * 8, 2.0),)
    task = small_task(Wishes(pins=pins), pinned=((4,),))
    decision = decide(task)
    assert round(decision.solution.x[4]) >= 2
    cost = pin_costs(task, solve(build(task), relaxed=True).value)
    assert cost[0] >= 0.0
    assert decide(small_task()).solution.value >= decision.solution.value - 0.02 * abs(decision.solution.value)


def test_what_cannot_be_names_the_wish_in_the_way() -> None:
    pins = (Pin("spinach", "box", ON, 3.0), Pin("radish", "box", ON + 7, 3.0))
    task = small_task(Wishes(pins=pins), pinned=((0,), (3,)))
    decision = decide(task)
    assert not decision.solution.feasible
    assert set(decision.broken) == {"pin 0", "pin 1", "area"}


def test_a_pin_that_nothing_can_meet_is_named() -> None:
    task = small_task(Wishes(pins=(Pin("leek", "box"),)), pinned=((),))
    assert decide(task).broken == ("pin 0",)


def test_too_little_time_for_a_pin_names_the_minutes() -> None:
    task = small_task(Wishes(pins=(Pin("spinach", "box", ON, 3.0),), minutes_a_week=5.0), pinned=((0,),))
    assert "minutes" in decide(task).broken


def test_seed_money_buys_whole_packets() -> None:
    """With money for one packet (3.75 at most 4) only one crop is sown."""
    task = small_task(Wishes(seed_budget=4.0))
    x = decide(task).solution.x[:5]
    sown = {task.options[j].crop.id for j in np.flatnonzero(x > 0.5)}
    assert len(sown) == 1
    with_seed = replace(task, on_hand={"spinach": 10_000, "radish": 10_000})
    assert decide(with_seed).solution.value > decide(task).solution.value


def test_nobody_eats_on_holiday() -> None:
    away = ((ON, ON + 7 * 30),)
    task = small_task(Wishes(away=away))
    assert decide(task).solution.x[:5].sum() == 0.0


def test_an_earlier_plan_is_kept_where_it_costs_little() -> None:
    options = (option("spinach", 0, 6, 4, 20.0), option("spinach", 0, 6, 4, 21.0))
    task = replace(small_task(), options=options, area_m2={"box": 1.0})
    free, kept = decide(task).solution.x[:2], decide(replace(task, kept=((0, 1),))).solution.x[:2]
    assert free.tolist() == [0.0, 1.0]
    assert kept.tolist() == [1.0, 0.0]


def test_the_worst_years_weigh_as_asked() -> None:
    """Mean of the worst fifth: of five years the worst one, of ten the two worst (definition)."""
    worth = Worth(small_task(Wishes(risk=1.0)))
    assert float(worth.combine(np.array([3.0, 1.0, 5.0, 2.0, 4.0]))) == pytest.approx(1.0)
    assert float(worth.combine(np.arange(10.0))) == pytest.approx(0.5)
