"""From fates to candidates: nothing is eaten twice, beds are free when promised, manure and holidays are kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.plan.test_outlook import PLACE, YEARS, days

from underglass.crop.catalogue import catalogue, find_crop
from underglass.plan.candidates import WEEKS, _cleared, candidates_of, prune, weekly
from underglass.plan.outlook import sowing_fates, weekly_dates
from underglass.plan.outlook_types import Route
from underglass.plan.quality import too_warm_days
from underglass.plan.task import manure_free, task_of, wants_of, wished_crops
from underglass.plan.wishes import Ground, Pin, Want, Wishes, claimed, usual_wants
from underglass.plan.work import areas, seeds_to_sow
from underglass.shelter.presets import preset

ON = np.datetime64("2027-01-01")


def fates_of(crop: str, route: Route):
    found = sowing_fates(
        [find_crop(crop)], lambda _: [route], days(), weekly_dates(ON, 52), n_years=YEARS, latitude_deg=PLACE.latitude_deg
    )  # fmt: skip
    return next(iter(found))


def test_weekly_amounts_add_up() -> None:
    spread = weekly(np.array([3.0, 20.0]), np.array([24.0, 21.0]), np.array([21.0, 5.0]))
    assert spread.sum(axis=1) == pytest.approx([21.0, 5.0])
    assert spread[0, :4] == pytest.approx([4.0, 7.0, 7.0, 3.0])
    assert spread[1, 2] == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("crop", "route"), [("radish", Route("open")), ("leaf lettuce", Route("box")), ("tomato", Route("open", "sill"))]
)
def test_candidates_give_no_more_than_a_worn_out_plant(crop: str, route: Route) -> None:
    one = find_crop(crop)
    found = candidates_of(one, fates_of(crop, route), ON)
    assert found
    assert one.harvest.yield_kg_m2 is not None
    most = one.harvest.yield_kg_m2[1] / one.kitchen.serving_kg * one.harvest.most_cuts / one.harvest.cuts
    for c in found:
        assert c.servings.shape == (YEARS, WEEKS)
        assert (c.servings.sum(axis=1) <= most * (1.0 + 1e-6)).all()
        assert c.bed_from <= c.bed_to
        assert c.earliest >= c.sow
        assert c.first.p10 <= c.first.p50 <= c.first.p90
        assert c.first.p50 <= c.bed_to


def test_pruning_keeps_the_best_and_the_count() -> None:
    found = candidates_of(find_crop("radish"), fates_of("radish", Route("open")), ON)
    kept = prune(found, ON, 1000)
    assert {id(c) for c in kept} <= {id(c) for c in found}
    assert max(c.worth_a_day() for c in kept) == max(c.worth_a_day() for c in found)
    assert len(prune(found, ON, 3)) <= 3


def task_with(wishes: Wishes, crop: str = "radish"):
    crops = {find_crop(crop).id: find_crop(crop)}
    shelters = (preset("open"), preset("sill"))
    return task_of(crops, [fates_of(crop, Route("open"))], {}, shelters, wishes, ON, seed_shares={}, on_hand={})


def test_manure_days_are_hard() -> None:
    """7 CFR 205.203(c)(1): 120 days where the edible part touches soil, 90 where it does not."""
    manure = np.datetime64("2027-04-01")
    wishes = Wishes(ground=(Ground("open", None, manure),))
    assert manure_free(find_crop("radish"), "open", wishes) == np.datetime64("2027-07-30")
    assert manure_free(find_crop("tomato"), "open", wishes) == np.datetime64("2027-06-30")
    task = task_with(wishes)
    assert min(o.candidate.earliest for o in task.options) >= np.datetime64("2027-07-30")
    assert min(o.candidate.earliest for o in task_with(Wishes()).options) < np.datetime64("2027-07-30")


def test_nothing_is_sown_on_holiday() -> None:
    away = ((np.datetime64("2027-06-01"), np.datetime64("2027-06-30")),)
    sown = [o.candidate.sow for o in task_with(Wishes(away=away)).options]
    assert not any(away[0][0] <= d <= away[0][1] for d in sown)


def test_a_pin_finds_its_date() -> None:
    task = task_with(Wishes(pins=(Pin("radish", "open", np.datetime64("2027-05-15")),)))
    (numbers,) = task.pinned
    assert abs(int((task.options[numbers[0]].candidate.sow - np.datetime64("2027-05-15")).astype(int))) <= 3


def test_a_crop_counts_for_the_narrowest_want() -> None:
    wants = claimed((Want("fruits", ("tomato", "pepper"), 8.0), Want("tomato", ("tomato",), 4.0)))
    assert wants == (Want("fruits", ("pepper",), 8.0), Want("tomato", ("tomato",), 4.0))


def test_who_says_nothing_gets_some_of_every_kind() -> None:
    labels = {w.label for w in usual_wants(catalogue(), 4)}
    assert {"salad", "greens", "roots", "fruits"} <= labels


def test_the_never_list_is_kept_but_for_what_is_decided() -> None:
    wishes = Wishes(never=("radish", "leek"), pins=(Pin("leek", "open"),))
    crops = wished_crops(catalogue(), wishes)
    assert "radish" not in crops
    assert "leek" in crops
    assert all("radish" not in w.crops for w in wants_of(crops, wishes))


def test_areas_are_the_floor_or_what_the_family_says() -> None:
    shelters = [preset("box"), preset("hoop")]
    assert areas(shelters, (Ground("box", 0.5),))["box"] == 0.5
    box = preset("box")
    assert areas([box], ())["box"] == pytest.approx(box.shape.length_m * box.shape.depth_m)  # type: ignore[union-attr]


def test_old_seed_is_sown_thicker() -> None:
    onion = find_crop("bulb onion")
    assert seeds_to_sow(onion, 20, 0.3, in_cells=True) > seeds_to_sow(onion, 20, 1.0, in_cells=True)


def test_what_stands_counts_as_it_is() -> None:
    wishes = replace(Wishes(), pins=())
    assert all(not o.standing for o in task_with(wishes).options)


def test_nothing_is_picked_in_months_too_warm_for_it() -> None:
    """Knott's table: radish to a monthly mean of 23.9 °C, sweet corn to 35; two degrees more are let pass."""
    means = [5.0] * 5 + [27.0, 28.0, 27.0] + [12.0] * 4
    warm = too_warm_days("radish", means, ON)
    assert warm.any()
    assert not too_warm_days("sweet_corn", means, ON).any()
    start, end = (int((np.datetime64(d) - ON).astype(int)) for d in ("2027-06-01", "2027-09-01"))
    assert warm[start:end].all()
    assert not warm[:start].any()
    free, found = (
        candidates_of(find_crop("radish"), fates_of("radish", Route("open")), ON, warm=w) for w in (None, warm)
    )
    within = slice(start // 7 + 3, end // 7)  # what was pulled before keeps two weeks
    assert max(c.servings[:, within].sum() for c in free) > 0.0
    assert found
    assert all(c.servings[:, within].sum() == 0.0 for c in found)


def test_picking_that_is_ended_early_gives_its_part() -> None:
    """What ends with the lean weeks or with heat brings the pickings until then, not all of them in fewer days."""
    fates = fates_of("tomato", Route("open", "sill"))
    whole = {c.sow: c for c in candidates_of(find_crop("tomato"), fates, ON)}
    dark = (np.datetime64("2027-09-15"), np.datetime64("2028-02-01"))
    cut = {c.sow: c for c in candidates_of(find_crop("tomato"), fates, ON, dark=dark)}
    both = sorted(whole.keys() & cut.keys())
    assert both
    for sow in both:
        assert cut[sow].servings.sum() <= whole[sow].servings.sum() * (1.0 + 1e-6)
    ended = [s for s in both if whole[s].bed_to > dark[0]]
    assert ended
    assert any(cut[s].servings.sum() < 0.95 * whole[s].servings.sum() for s in ended)


def test_nothing_is_planted_to_stand_through_the_heat() -> None:
    """Common practice in hot summers: fall crops are set out when the heat is nearly over."""
    warm = np.zeros(7 * WEEKS + 400, bool)
    warm[90:270] = True
    found = candidates_of(find_crop("leek"), fates_of("leek", Route("open")), ON, warm=warm)
    for c in found:
        start, first = (int((d - ON).astype(int)) for d in (c.bed_from, c.first.p50))
        assert warm[start:first].sum() <= 45 + 14


def test_a_bed_is_cleared_when_waiting_brings_little() -> None:
    """Six years in ten end by frost in midwinter, four go on to spring: the bed is not held for these; where all end alike, until four in five have."""
    held, first = np.full(20, 0.0), np.full(20, 60.0)
    split = np.concatenate([np.linspace(120.0, 130.0, 12), np.linspace(290.0, 300.0, 8)])
    assert _cleared(held, first, split) <= 130.0
    alike = np.linspace(120.0, 139.0, 20)
    assert _cleared(held, first, alike) == pytest.approx(135.0, abs=1.0)
    late = np.linspace(60.0, 200.0, 10)
    assert _cleared(held, late, late + 21.0) > np.quantile(late, 0.75), "not before most years were picked from at all"
