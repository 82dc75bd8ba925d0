"""The year's programme against brute force, against an independent solver, and against its worth computed another way."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pulp
import pytest
from tests.plan.year_standins import ON, option, random_task, small_task

from underglass.plan.bound import Bound
from underglass.plan.branch import branch
from underglass.plan.decide import decide, each_that_fits, pin_costs
from underglass.plan.explain import instead_of, with_crop, without_pin, without_sowing
from underglass.plan.helps import best_for, met_in_season, possible_weeks, smallest_changes, smallest_to_grow, unmet
from underglass.plan.optimise import Task, build
from underglass.plan.polish import Search, Worth
from underglass.plan.programme import Programme, relaxed
from underglass.plan.search_kernel import climbed, fresh_state
from underglass.plan.wishes import Pin, Want, Wishes


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
    found = decide(task, gap=0.0).solution
    assert found.value == pytest.approx(brute_force(task), rel=1e-6)
    assert found.gap <= 1e-3


@pytest.mark.parametrize(
    "wishes", [Wishes(), Wishes(risk=0.0), Wishes(risk=1.0), Wishes(minutes_a_week=25.0), Wishes(rotation_years=3)]
)
def test_the_solver_alone_finds_the_best_of_all_too(wishes: Wishes) -> None:
    """Without the search it is whole numbers and cuts that must lead there: a cut too deep, or a bound too low, would miss it."""
    task = small_task(wishes)
    bound, search, plans = Bound(task), Search(task, build(task)), []

    def keep(x: np.ndarray) -> float:
        plans.append(x[: search.n].round())
        return -np.inf

    branch(bound, keep, -np.inf, 0.0, lambda: None, None)
    best = brute_force(task)
    assert max(search.worth.of(blocks) for blocks in plans) == pytest.approx(best, rel=1e-6)
    assert best - 1e-6 <= bound.value <= best * 1.001


@pytest.mark.filterwarnings("ignore::DeprecationWarning:pulp.*")
@pytest.mark.parametrize(("n", "seed"), [(30, 1), (40, 2), (50, 3)])
def test_medium_plans_agree_with_another_solver(n: int, seed: int) -> None:
    task = random_task(n, seed)
    ours, theirs = decide(task).solution, by_cbc(build(task), 1e-4)
    assert ours.gap <= 0.02
    assert theirs * (1.0 - 0.02) - 1e-6 <= ours.value <= theirs * (1.0 + 1e-4) + 1e-6


@pytest.mark.filterwarnings("ignore::DeprecationWarning:pulp.*")
@pytest.mark.parametrize("budget", [4.0, 8.0])
def test_with_little_money_too(budget: float) -> None:
    """One or two packets among four crops, each of several sowings: what the relaxation sees least of."""
    task = random_task(30, 5)
    task = replace(task, wishes=replace(task.wishes, seed_budget=budget))
    ours, theirs = decide(task).solution, by_cbc(build(task), 1e-4)
    assert ours.gap <= 0.02
    assert theirs * (1.0 - 0.02) - 1e-6 <= ours.value <= theirs * (1.0 + 1e-4) + 1e-6


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_worth_without_the_programme_is_the_programme_s(seed: int) -> None:
    task = random_task(25, seed)
    blocks = decide(task).solution.x
    fixed = build(task)
    fixed.low[:25], fixed.high[:25] = list(blocks), list(blocks)
    assert Worth(task).of(blocks) == pytest.approx(relaxed(fixed).value, rel=1e-6)


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
        if columns.max() >= len(task.options):
            continue  # what is eaten follows from the blocks
        assert low - 1e-6 <= factors @ x[columns] <= high + 1e-6, name


def test_more_time_or_room_is_never_worse() -> None:
    task = random_task(60, 7)
    less = replace(task, area_m2={"box": 1.0, "hoop": 1.5})
    assert relaxed(build(less)).value <= relaxed(build(task)).value + 1e-9


def test_pins_are_kept_and_their_cost_told() -> None:
    pins = (Pin("radish", "box", ON + 7 * 8, 2.0),)
    task = small_task(Wishes(pins=pins), pinned=((4,),))
    decision = decide(task)
    assert round(decision.solution.x[4]) >= 2
    cost = pin_costs(task, relaxed(build(task)).value)
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


def test_no_more_is_sown_in_a_week_than_a_family_can() -> None:
    options = tuple(option("spinach", 2, 8 + 2 * k, 4, 30.0, seed=k) for k in range(6))
    task = replace(small_task(), options=options, area_m2={"box": 6.0})
    for most in (1, 2, 4):
        x = decide(replace(task, wishes=Wishes(sowings_a_week=most))).solution.x[:6]
        assert 0 < round(x.sum()) <= most


def test_the_children_get_each_of_what_they_chose() -> None:
    """Where one crop alone would feed best, the others come in too, once each, as far as the ground reaches."""
    options = (
        option("spinach", 0, 6, 8, 40.0), option("spinach", 8, 14, 8, 40.0), option("arugula", 2, 8, 3, 4.0), option("radish", 3, 9, 2, 4.0),
    )  # fmt: skip
    wants = (Want("salad", ("spinach", "arugula", "radish"), 5.0),)
    task = replace(small_task(), options=options, wants=wants, area_m2={"box": 4.0})
    plain = decide(task).solution.x[:4]
    assert (plain[2:] == 0.0).all()
    chosen = each_that_fits(replace(task, wants=(replace(wants[0], each=True),)))
    assert chosen.each == ("spinach", "arugula", "radish")
    x = decide(chosen).solution.x[:4]
    assert x[:2].sum() > 0.0
    assert (x[2:] > 0.0).all()
    assert decide(chosen, gap=0.0).solution.value == pytest.approx(brute_force(chosen), rel=1e-6)


def test_each_is_a_rule_and_what_it_leaves_out_is_told() -> None:
    """A worthless crop is sown all the same; with a bed of one block beside it one of two crops that stand together goes, the first named stays."""
    options = (
        option("spinach", 0, 6, 8, 40.0, block=0.5), option("radish", 0, 6, 8, 0.01, block=0.5), option("arugula", 0, 6, 8, 0.01, block=0.5),
    )  # fmt: skip
    wants = (Want("spinach", ("spinach",), 5.0), Want("chosen", ("radish", "arugula"), 1.0, each=True))
    task = replace(small_task(), options=options, wants=wants, area_m2={"box": 1.5})
    assert decide(task).solution.x[1:].sum() == 0.0
    both = each_that_fits(task)
    assert (decide(both).solution.x[1:] >= 1.0).all()
    narrow = each_that_fits(replace(task, area_m2={"box": 0.5}))
    assert narrow.each == ("radish",)
    assert decide(narrow).solution.x.tolist() == [0.0, 1.0, 0.0]
    (change,) = [c for c in smallest_to_grow(narrow, "arugula", lambda: None) if c.kind == "area"]
    assert change.to == 1.0
    poor = each_that_fits(replace(task, wishes=Wishes(seed_budget=0.0)))
    assert poor.each == ()


def test_what_must_be_grown_changes_its_date_in_the_search() -> None:
    options = (option("radish", 0, 6, 3, 2.0), option("radish", 8, 13, 3, 18.0, seed=7))
    wants = (Want("radish", ("radish",), 5.0, each=True),)
    task = each_that_fits(
        replace(small_task(Wishes(sowings_a_week=1)), options=options, wants=wants, area_m2={"box": 1.0})
    )
    search = Search(task, build(task))
    search.most[:] = 1.0
    state = fresh_state(search.terms(), np.array([1.0, 0.0]))
    climbed(search.terms(), state)
    assert state.blocks[1] == 1.0
    assert search.fits(state.blocks)


@pytest.mark.parametrize(
    ("wishes", "bed_m2"), [(Wishes(), 1.0), (Wishes(rotation_years=3), 3.0), (Wishes(minutes_a_week=1.0), 3.0)]
)
def test_more_than_a_limit_allows_may_stand_and_nothing_comes_beside_it(wishes: Wishes, bed_m2: float) -> None:
    """A bed of one square metre with two in it, as a notebook may say; cabbage kin on two thirds of a bed; more work than there is time for."""
    there = tuple(replace(option("kale", 0, 4, 40, 20.0, block=1.0, seed=s), standing=True) for s in (1, 2))
    options = (*there, option("kale", 2, 8, 4, 60.0), option("kale", 3, 9, 4, 60.0))
    wants = (Want("kale", ("kale",), 9.0),)
    task = replace(small_task(wishes), options=options, wants=wants, area_m2={"box": bed_m2})
    found = decide(task)
    assert found.solution.feasible
    assert found.solution.x.tolist() == [1.0, 1.0, 0.0, 0.0]


def test_one_new_kind_comes_in_each_season() -> None:
    options = (
        option("spinach", 0, 6, 8, 40.0), option("mizuna", 2, 8, 3, 5.0), option("tatsoi", 3, 9, 3, 5.0), option("mustard", 20, 26, 3, 5.0),
    )  # fmt: skip
    wants = (Want("salad", ("spinach",), 5.0), Want("something new", ("mizuna", "tatsoi", "mustard"), 1.0))
    task = replace(
        small_task(Wishes(new_a_season=1)), options=options, wants=wants, news={"mizuna": 0, "tatsoi": 0, "mustard": 1}
    )
    x = decide(task).solution.x[:4]
    assert (x[1] > 0.0) + (x[2] > 0.0) == 1
    assert x[3] > 0.0
    assert decide(task, gap=0.0).solution.value == pytest.approx(brute_force(task), rel=1e-6)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_search_keeps_all_limits_and_knows_its_worth(seed: int) -> None:
    """The compiled search against the plain worth and limits, seed money and an earlier plan among them."""
    task = random_task(40, seed)
    task = replace(task, wishes=replace(task.wishes, seed_budget=12.0), kept=((3, 1), (7, 2)))
    p = build(task)
    search = Search(task, p)
    terms = search.terms()
    state = fresh_state(terms, np.zeros(40))
    gained = climbed(terms, state)
    assert search.fits(state.blocks)
    assert search.worth.of(state.blocks) == pytest.approx(gained, rel=1e-9)
    better = search.better(np.zeros(40), rounds=100)
    assert search.fits(better)
    assert search.worth.of(better) >= search.worth.of(state.blocks) - 1e-9
    assert search.worth.of(better) <= relaxed(p).value + 1e-6


@pytest.mark.parametrize("seed", [1, 2])
def test_the_search_alone_comes_close_to_the_best(seed: int) -> None:
    task = random_task(40, seed)
    p = build(task)
    search = Search(task, p)
    found = search.worth.of(search.better(np.zeros(40)))
    assert found >= 0.97 * decide(task, gap=0.002).solution.value


def test_what_a_sowing_is_worth_is_what_is_lost_without_it() -> None:
    """The cost of forbidding each sowing of the best plan against brute force over all plans without it."""
    task = small_task()
    blocks = decide(task, gap=0.0).solution.x
    best = brute_force(task)
    for j in np.flatnonzero(blocks):
        options = tuple(o for i, o in enumerate(task.options) if i != j)
        without = brute_force(replace(task, options=options))
        found = without_sowing(task, blocks, int(j), lambda: None)
        assert found.costs == pytest.approx(best - without, abs=1e-6)
        assert int(j) in found.goes
        singles = instead_of(task, blocks, int(j))
        assert all(s.costs >= found.costs - 1e-6 for s in singles)


def test_a_pin_costs_what_its_leaving_would_win() -> None:
    free = small_task()
    best = brute_force(free)
    task = replace(free, wishes=Wishes(pins=(Pin("radish", "box", ON + 7 * 8, 2.0),)), pinned=((4,),))
    blocks = decide(task, gap=0.0).solution.x
    found = without_pin(task, blocks, 0, lambda: None)
    assert found.costs == pytest.approx(best - brute_force(task), abs=1e-6)


def test_a_crop_left_out_tells_what_it_would_push_aside() -> None:
    options = (option("spinach", 0, 6, 8, 40.0), option("arugula", 0, 6, 8, 8.0))
    wants = (Want("salad", ("spinach", "arugula"), 5.0),)
    task = replace(small_task(), options=options, wants=wants, area_m2={"box": 1.0})
    blocks = np.array([1.0, 0.0])
    found = with_crop(task, blocks, "arugula", lambda: None)
    assert found is not None
    assert found[0] == 1
    assert found[1].goes == {0: 1}
    assert found[1].costs > 0.0


def test_the_smallest_change_is_found_by_planning_again() -> None:
    """A bed of one block feeds a fraction of the want; three are enough; nothing else is in the way."""
    options = tuple(option("spinach", 2 * k, 6, 10, 20.0, seed=k, block=1.0) for k in range(6))
    wants = (Want("salad", ("spinach",), 5.0),)
    task = replace(small_task(), options=options, wants=wants, area_m2={"box": 1.0})
    blocks = decide(task).solution.x[:6].round()
    (want,) = unmet(task, blocks)
    found = smallest_changes(task, blocks, want, lambda: None)
    assert (found[0].change.kind, found[0].change.to) == ("area", 3.0)
    assert found[0].met >= 0.75
    wider = replace(task, area_m2={"box": 2.0})
    weeks = possible_weeks(task, want)
    assert met_in_season(wider, best_for(wider, blocks, want, lambda: None), want, weeks)[0] < 0.75


@pytest.mark.parametrize("after", [0, 3, 20])
def test_it_can_be_stopped_in_the_relaxation_the_search_and_the_solver(after: int) -> None:
    class Enough(Exception):
        pass

    calls = 0

    def step() -> None:
        nonlocal calls
        calls += 1
        if calls > after:
            raise Enough

    with pytest.raises(Enough):
        decide(random_task(50, 3), step, gap=0.0001)
