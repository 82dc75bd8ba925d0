"""The guide as a service: which routes it shows, and what it does about seed that is too old."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from underglass.plan.household import Household
from underglass.services.guide import best_routes, sowing_guide
from underglass.services.route_outlook import route_outlook
from underglass.sources.household_file import demo_household

ON = np.datetime64("2027-02-20")


@pytest.fixture(scope="module")
def family() -> Household:
    """The demo family with little to ask, so that few shelters are computed."""
    demo = demo_household()
    few = tuple(s for s in demo.shelters if s.name in ("sill", "hoop house"))
    return replace(demo, shelters=few, crops=("onion_bulb", "kale"))


def test_where_seed_is_too_old_the_guide_says_to_buy_and_tells_what_fresh_seed_does(family: Household) -> None:
    rows = sowing_guide(family, ON, n_years=4, use_cache=False)["rows"]
    onions, kale = ([row for row in rows if row["crop"] == crop] for crop in family.crops)
    assert all(row["fresh_seed"] and row["seed_age_years"] == 3.0 for row in onions)
    assert max(row["score"] for row in onions) > 0.5
    assert not any(row["fresh_seed"] for row in kale)


def test_fresh_seed_is_what_it_is(family: Household) -> None:
    """Without old packets nothing is said of buying, and the chances are the same."""
    fresh = sowing_guide(replace(family, seeds=()), ON, n_years=4, use_cache=False)["rows"]
    old = sowing_guide(family, ON, n_years=4, use_cache=False)["rows"]
    assert [row["score"] for row in fresh] == [row["score"] for row in old]
    assert not any(row["fresh_seed"] for row in fresh)


def test_one_route_of_each_crop_stands_under_one_verdict(family: Household) -> None:
    rows = sowing_guide(family, ON, n_years=4, use_cache=False)["rows"]
    groups = best_routes(rows)
    assert list(groups) == ["sow now", "sow soon", "wait", "not worth it here"]
    shown = [row for part in groups.values() for row in part]
    assert sorted(row["crop"] for row in shown) == sorted(family.crops)
    for row in shown:
        assert row["score"] >= max(r["score"] for r in rows if r["crop"] == row["crop"]) - 0.1


def test_the_curve_of_a_route_stands_on_the_same_seed_as_its_line_in_the_guide(family: Household) -> None:
    curve = route_outlook(family, "bulb onion", "hoop house", ON, raised_in="sill", n_years=4)
    rows = sowing_guide(family, ON, n_years=4, use_cache=False)["rows"]
    row = next(r for r in rows if r["crop"] == "onion_bulb" and r["raised_in"] == "sill")
    assert curve["fresh_seed"]
    assert [d["chance"] for d in curve["dates"]] == row["by_date"]["chance"]
