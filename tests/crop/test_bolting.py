"""Running to seed: a rule for every kind that bolts, none for those that do not."""

from __future__ import annotations

import pytest

from underglass.crop.bolting import bolt_rule
from underglass.crop.catalogue import BOLTING_KINDS, catalogue

NEVER = ("none", "shortday_flowering", "needs_cold_to_bulb")
CROPS = sorted(catalogue())


@pytest.mark.parametrize("crop_id", CROPS)
def test_every_kind_has_its_rule(crop_id: str) -> None:
    crop = catalogue()[crop_id]
    rule = bolt_rule(crop)
    assert (rule is None) == (crop.bolting.kind in NEVER)
    if rule is None:
        return
    assert rule.needs_cold_h == (crop.bolting.cold_hours or 0.0) or crop.bolting.kind in (
        "longday",
        "longday_heat",
        "heat_longday",
    )
    assert 0.0 <= rule.gate_share < 1.0
    assert rule.at_once == (crop.bolting.kind in ("vernalization", "buttoning"))
    assert rule.at_once or rule.pace > 0.0


def test_every_kind_of_the_tables_is_used() -> None:
    assert {crop.bolting.kind for crop in catalogue().values()} == set(BOLTING_KINDS)


@pytest.mark.parametrize(
    ("crop_id", "mean_c", "day_h"), [("spinach", 16.0, 15.0), ("lettuce_leaf", 25.0, 15.0), ("cilantro", 20.0, 15.0)]
)
def test_long_warm_days_bolt_in_three_to_eight_weeks(crop_id: str, mean_c: float, day_h: float) -> None:
    """Common practice: a leaf crop left standing in the season that its table names is in flower within a month or two."""
    rule = bolt_rule(catalogue()[crop_id])
    assert rule is not None
    days = 1.0 / (rule.pace * (day_h - rule.day_h + 1.0) * (mean_c - rule.warm_c))
    assert 14 <= days <= 60


def test_biennials_want_size_before_cold_counts() -> None:
    """Oregon State Extension 2009: stems thinner than a pencil are safer; kohlrabi and pak choi bolt from cold at small size."""
    cabbage, choi = bolt_rule(catalogue()["cabbage"]), bolt_rule(catalogue()["pak_choi"])
    assert cabbage is not None
    assert choi is not None
    assert cabbage.gate_share > 3 * choi.gate_share
