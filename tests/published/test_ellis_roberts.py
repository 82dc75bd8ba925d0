"""Seed storage against figures worked out from the published constants and formulas; the source stands at each test."""

from __future__ import annotations

import pytest

from underglass.crop.catalogue import catalogue
from underglass.crop.seeds import (
    dry_enough,
    probit_days,
    seed_moisture,
    seeds_for_plants,
    seeds_per_cell,
    viability_after,
)

ONE_PERCENT = 0.01


@pytest.mark.parametrize(
    ("crop", "moisture", "days"), [("onion_bulb", 0.08, 741), ("lettuce_leaf", 0.06, 599), ("lettuce_leaf", 0.08, 179)]
)
def test_days_of_one_probit_at_20_c(crop: str, moisture: float, days: float) -> None:
    """Constants of Ellis & Roberts 1981 (onion) and Kraak & Vos 1987 (lettuce), from Hong, Linington & Ellis 1996 (IPGRI Handbook 4)."""
    assert probit_days(catalogue()[crop].seed, moisture, 20.0) == pytest.approx(days, rel=ONE_PERCENT)


@pytest.mark.parametrize(("oil", "percent"), [(0.02, 11.5), (0.36, 7.8)])
def test_moisture_at_half_humidity(oil: float, percent: float) -> None:
    """Cromarty, Ellis & Roberts 1982, at 20 degC and 50 % humidity."""
    assert 100.0 * seed_moisture(0.5, 20.0, oil) == pytest.approx(percent, abs=0.1)


def test_years_from_95_to_50_percent() -> None:
    """The same two formulas together: onion 1.8, pea 9.0, tomato 1.9 years at 20 degC and 50 % humidity."""
    for crop, years in (("onion_bulb", 1.8), ("pea", 9.0), ("tomato", 1.9)):
        seed = catalogue()[crop].seed
        assert seed.oil_share is not None
        moisture = seed_moisture(0.5, 20.0, seed.oil_share)
        assert viability_after(seed, 0.95, years * 365.25, moisture, 20.0) == pytest.approx(0.5, abs=0.02)


def test_the_hundred_rule() -> None:
    """West Virginia Univ. Extension 2014: degF plus percent humidity at most 100."""
    assert dry_enough(50.0, 0.40)
    assert not dry_enough(70.0, 0.50)


def test_how_many_seeds() -> None:
    """Exact binomial: 97 % for one in a cell at 0.9 / 0.8 / 0.7: 2 / 3 / 3; 90 % for twelve plants at 0.9 / 0.7 / 0.5: 15 / 21 / 31."""
    assert [seeds_per_cell(p) for p in (0.9, 0.8, 0.7)] == [2, 3, 3]
    assert seeds_per_cell(0.5) in (5, 6)
    assert [seeds_for_plants(12, p) for p in (0.9, 0.7, 0.5)] == [15, 21, 31]
