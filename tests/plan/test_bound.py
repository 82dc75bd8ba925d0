"""The bound of a year's programme: no plan of whole blocks exceeds it, and no cut takes one away."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from tests.plan.test_year_choice import brute_force
from tests.plan.year_standins import ON, random_task, small_task

from underglass.plan.bound import Bound
from underglass.plan.cuts_kernel import Moments, lines
from underglass.plan.decide import decide, each_that_fits
from underglass.plan.optimise import build
from underglass.plan.polish import Search
from underglass.plan.programme import relaxed
from underglass.plan.wishes import Pin, Wishes


def nothing() -> None:
    """Nobody waits."""


@pytest.mark.parametrize(
    "wishes",
    [Wishes(), Wishes(risk=0.0), Wishes(risk=1.0), Wishes(rotation_years=3)],
)
def test_the_best_of_all_plans_is_within_the_bound(wishes: Wishes) -> None:
    task = small_task(wishes)
    bound = Bound(task)
    bound.settle(nothing)
    assert bound.value >= brute_force(task) - 1e-6


@pytest.mark.parametrize("budget", [0.0, 4.0, 8.0, 12.0])
@pytest.mark.parametrize("each", [False, True])
def test_the_best_that_money_buys_is_within_the_bound(budget: float, *, each: bool) -> None:
    """Every whole number of blocks, its packets counted one by one."""
    task = small_task(Wishes(seed_budget=budget))
    task = each_that_fits(replace(task, wants=tuple(replace(w, each=each) for w in task.wants)))
    bound = Bound(task)
    while bound.lower():
        pass
    search, best = Search(task, bound.programme), 0.0
    for blocks in product(*(range(int(most) + 1) for most in search.most)):
        x = np.array(blocks, float)
        if search.fits(x):
            best = max(best, search.worth.of(x))
    assert bound.value >= best - 1e-6
    if budget < 12.0:
        assert bound.value < Bound(replace(task, wishes=Wishes())).value - 1.0, "fewer packets than crops"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_cuts_bring_the_bound_at_least_to_the_relaxed_programme(seed: int) -> None:
    task = random_task(40, seed)
    bound = Bound(task)
    begun = bound.value
    while bound.lower():
        pass
    p = build(task)
    assert bound.value <= relaxed(p).value + 1e-3
    assert bound.value < begun - 1.0
    best = decide(task, gap=0.002).solution
    assert bound.value >= best.value - 1e-6


def test_plans_of_whole_blocks_keep_every_limit_of_the_cut_programme() -> None:
    task = random_task(40, 4)
    bound = Bound(task)
    bound.settle(nothing)
    search = Search(task, bound.programme)
    found = search.better(search.repaired(bound.x[:40].round()))
    assert search.fits(found)
    exact = build(task)
    for (columns, factors), high in zip(exact.rows, exact.row_high, strict=True):
        if columns.max() < 40:
            assert factors @ found[columns] <= high + 1e-6


def test_what_is_decided_is_put_in_where_rounding_lost_it() -> None:
    task = small_task(Wishes(pins=(Pin("radish", "box", ON + 7 * 8, 0.3),)), pinned=((4,),))
    search = Search(task, Bound(task).programme)
    found = search.repaired(np.zeros(search.n))
    assert found[4] >= 1.0
    assert search.fits(found)


@pytest.mark.parametrize("seed", range(20))
def test_lines_lie_above_what_whole_blocks_meet(seed: int) -> None:
    """Every whole number of blocks, counted one by one, against the line; and the line is met by the broken plan that it was made to cut."""
    rng = np.random.default_rng(seed)
    amount, cap = rng.uniform(0.2, 3.0, 4), float(rng.uniform(1.0, 3.0))
    level = np.cumsum(rng.uniform(0.5, 2.0, 3))
    k = Moments(
        np.array([0, 2]), np.array([0, 2, 4]), np.arange(4), amount, np.array([cap]), np.array([[4, 5, 6]]), level[None, :], np.array([-1, -1])
    )  # fmt: skip
    x = np.concatenate([rng.uniform(0.0, 1.6, 4), level])
    factors, most, beyond = np.zeros((3, 4)), np.zeros((3, 1)), np.zeros((3, 1))
    lines(k, x, factors, np.zeros((3, 2)), most, beyond)
    for step in range(3):
        for blocks in product(range(5), repeat=4):
            eaten = amount * blocks
            counted = min(min(eaten[0] + eaten[1], cap) + min(eaten[2] + eaten[3], cap), level[step])
            assert counted <= most[step, 0] + factors[step] @ np.array(blocks) + 1e-9
        value = most[step, 0] + factors[step] @ x[:4]
        assert beyond[step, 0] * np.sqrt(step + 1.0 + (factors[step] ** 2).sum()) == pytest.approx(
            x[4 : 5 + step].sum() - value
        )
