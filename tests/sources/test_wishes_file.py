"""Wishes in the household file: read as meant, and every fault named with its place."""

from __future__ import annotations

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.plan.wishes import Wishes
from underglass.sources.household_file import household_of_table

PLACE = {"place": {"latitude": 44.0, "longitude": -72.7}}


def wishes(**tables: object) -> Wishes:
    return household_of_table({**PLACE, **tables}).wishes


def test_nothing_said_is_the_default() -> None:
    assert wishes() == Wishes()


def test_all_keys_are_read() -> None:
    found = wishes(
        wishes={"people": 5, "never": ["radish"], "minutes": 200, "away": [["2027-07-01", "2027-07-14"]], "seed_budget": 30, "rotation": 3, "risk": 0.5},
        wants=[{"kind": "salad", "servings": 8, "weight": 2}, {"crop": "tomato"}, {"name": "sweet", "crops": ["strawberry", "melon"], "servings": "as much as fits"}],
        ground=[{"shelter": "box", "area": "20 sq ft", "manure": "2027-03-01"}],
        pins=[{"crop": "garlic", "in": "open", "sow": "2027-10-10", "area": 1.5}],
    )  # fmt: skip
    assert (found.people, found.minutes_a_week, found.rotation_years, found.risk) == (5, 200.0, 3, 0.5)
    assert found.away == ((np.datetime64("2027-07-01"), np.datetime64("2027-07-14")),)
    assert "spinach" in found.wants[0].crops
    assert found.wants[0].weight == 2.0
    assert found.wants[1].servings is None
    assert found.wants[2].label == "sweet"
    assert found.ground[0].area_m2 == pytest.approx(1.858, abs=1e-3)  # 1 ft = 0.3048 m exactly
    assert found.pins[0].sow == np.datetime64("2027-10-10")


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({"wishes": {"peopel": 4}}, "wishes.peopel is not a key of a household file; did you mean people?"),
        ({"wishes": {"people": 0}}, "people is 0: expected a number from 1 to 100"),
        ({"wishes": {"risk": 2}}, "risk is 2: expected a number from 0 to 1"),
        ({"wishes": {"away": ["2027-07-01"]}}, "away: expected pairs of dates"),
        ({"wishes": {"away": [["2027-07-10", "2027-07-01"]]}}, "the first day comes after the last"),
        ({"wishes": 3}, "expected a table, as in [wishes]"),
        ({"wants": [{"servings": 3}]}, "wants[1]: say what is wanted"),
        ({"wants": [{"kind": "cake"}]}, "kind is 'cake': expected one of salad"),
        ({"wants": [{"crop": "spinach", "servings": -1}]}, "servings is -1: expected a number from 0.1 to 500"),
        ({"wants": [{"crop": "spinich"}]}, "did you mean Spinach"),
        ({"ground": [{"area": 3}]}, "shelter is missing"),
        ({"ground": [{"shelter": "box", "area": "big"}]}, "area is 'big': expected square metres"),
        ({"ground": [{"shelter": "box", "manure": "spring"}]}, "manure is 'spring': expected a date, as 2027-03-15"),
        ({"pins": [{"crop": "garlic"}]}, "crop and in are needed"),
    ],
)
def test_faults_are_named(tables: dict[str, object], said: str) -> None:
    with pytest.raises(InputError) as error:
        wishes(**tables)
    assert said in str(error.value)
