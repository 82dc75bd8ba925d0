"""The seed report: old onion seed is to be bought, a test corrects, storage counts only where it is known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.plan.seed_on_hand import with_sowable_seed
from underglass.services.seeds import needed_of_plan, seed_report
from underglass.sources.household_file import household_of_table

ON = np.datetime64("2027-02-01")


def report(seeds: list[dict[str, Any]], plants: dict[str, int] | None = None, chance: float = 0.9) -> dict[str, Any]:
    household = household_of_table({"place": {"latitude": 44.0, "longitude": -72.7}, "seeds": seeds})
    return seed_report(household, ON, plants or {}, chance=chance)


def only(**seed: Any) -> dict[str, Any]:
    (row,) = report([seed])["packets"]
    return dict(row)


def test_onion_seed_ages_fast_and_tomato_slowly() -> None:
    """Household life of onion 1 year, tomato 4 (checks of seed life: Susan, 2015)."""
    onion, tomato = only(crop="bulb onion", packed=2024, count=15), only(crop="tomato", packed=2024)
    assert onion["advice"] == "buy"
    assert tomato["advice"] in ("good", "use first")
    assert onion["germination"] < 0.3 < tomato["germination"]


def test_fresh_seed_is_expected_at_its_official_least() -> None:
    """7 CFR 201.31: lettuce 80, onion 70, carrot 55, spinach 60 percent."""
    for crop, least in (("leaf lettuce", 0.80), ("bulb onion", 0.70), ("carrot", 0.55), ("spinach", 0.60)):
        row = only(crop=crop, packed=2027)
        assert row["official_minimum"] == pytest.approx(least)
        assert row["germination"] == pytest.approx(least, abs=0.01)
        assert row["germination_low"] < row["germination"] < row["germination_high"]


def test_a_test_overrules_age() -> None:
    assert only(crop="bulb onion", packed=2024, tested=50, up=45)["germination"] > 0.7
    assert only(crop="tomato", packed=2027, tested=50, up=5)["advice"] == "buy"


def test_cool_and_dry_keeps_and_a_warm_room_does_not() -> None:
    cool = only(crop="leaf lettuce", packed=2023, storage="5 C", humidity=0.3)
    warm = only(crop="leaf lettuce", packed=2023, storage="25 C", humidity=0.6)
    assert "Ellis" in cool["basis"]
    assert cool["germination"] > warm["germination"]
    assert "household" in only(crop="leaf lettuce", packed=2023)["basis"]


def test_what_lacks_is_bought_in_whole_packets() -> None:
    found = report([{"crop": "tomato", "packed": 2026, "count": 5}], {"tomato": 12})
    (need,) = found["needs"]
    assert need["seeds"] > 12
    assert need["packets_to_buy"] == -(-(need["seeds"] - 5) // need["packet_seeds"])
    assert 0.0 < found["shopping"]["cost_low"] < found["shopping"]["cost_high"]


def test_more_certainty_takes_more_seed() -> None:
    seeds = [report([], {"kale": 20}, chance)["needs"][0]["seeds"] for chance in (0.5, 0.9, 0.99)]
    assert seeds == sorted(set(seeds))


@pytest.mark.parametrize(
    "seed", [{"humidity": 0.9}, {"storage": "5 C"}, {"storage": "300 C", "humidity": 0.4}, {"tested": 5, "up": 6}]
)
def test_faults_in_the_file_are_told(seed: dict[str, Any]) -> None:
    with pytest.raises(InputError, match=r"humidity|storage|tested"):
        report([{"crop": "kale", "packed": 2026, **seed}])


def test_a_chance_must_be_one() -> None:
    with pytest.raises(InputError, match="--chance is 1"):
        report([], {"kale": 5}, 1.0)


def test_a_plan_is_counted_sowing_by_sowing_as_it_was_planned() -> None:
    sowings = [
        {"crop": "kale", "plants": 4, "seeds": 9, "standing": False},
        {"crop": "kale", "plants": 3, "seeds": 7, "standing": False},
        {"crop": "leek", "plants": 9, "seeds": 0, "standing": True},
    ]
    plants, seeds = needed_of_plan({"sowings": sowings})
    assert (plants, seeds) == ({"kale": 7}, {"kale": 16})
    household = household_of_table({"place": {"latitude": 44.0, "longitude": -72.7}})
    (need,) = seed_report(household, ON, plants, seeds=seeds)["needs"]
    assert (need["plants"], need["seeds"]) == (7, 16)


def test_what_is_good_for_nothing_is_bought_anew() -> None:
    seeds = [{"crop": "bulb onion", "packed": 2023}, {"crop": "tomato", "packed": 2026}]
    household = household_of_table({"place": {"latitude": 44.0, "longitude": -72.7}, "seeds": seeds})
    kept = with_sowable_seed(household, ON)
    assert [p.crop_id for p in kept.seeds] == ["tomato"]
    assert "onion_bulb" not in kept.seed_ages(ON)
