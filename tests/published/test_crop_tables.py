"""More rows of the trade's tables: growth ranges, hardening, flowers in frost, cold that bolts; the source stands at each test."""

from __future__ import annotations

import numpy as np
import pytest

from underglass.crop.bolting import bolt_rule
from underglass.crop.catalogue import catalogue
from underglass.crop.cautions import cautions_for
from underglass.crop.growth import light_factor
from underglass.crop.tables import shipped_tables

A_WEEK = 1.0


def test_thermal_time_of_cabbage() -> None:
    """Least squares of 1/days on temperature, 10-30 degC, Harrington & Minges 1954: base 2.6 degC, 110 degree-days, 0.2 days rms."""
    temps, days = (np.array(x) for x in zip(*catalogue()["cabbage"].germination.days_at, strict=True))
    slope, level = np.polyfit(temps, 1.0 / days, 1)
    base, total = -level / slope, 1.0 / slope
    assert base == pytest.approx(2.6, rel=0.05)
    assert total == pytest.approx(110.0, rel=0.05)
    assert np.sqrt(np.mean((total / (temps - base) - days) ** 2)) == pytest.approx(0.2, abs=0.05)
    germination = catalogue()["cabbage"].germination
    assert (germination.base_c, germination.thermal_time_cday) == pytest.approx((base, total), rel=0.05)


@pytest.mark.parametrize(
    ("crop", "low", "high"),
    [("spinach", 15.6, 18.3), ("lettuce_leaf", 15.6, 18.3), ("tomato", 21.1, 23.9), ("eggplant", 21.1, 29.4)],
)
def test_best_months(crop: str, low: float, high: float) -> None:
    """Maynard & Hochmuth, Knott's Handbook 1997: monthly means for best growth and quality."""
    assert catalogue()[crop].growth.month_best_c == pytest.approx((low, high), abs=0.1)


@pytest.mark.parametrize(
    ("crop", "starts_c"), [("cabbage", 4.4), ("lettuce_leaf", 7.2), ("squash_summer", 10.0), ("tomato", 18.3)]
)
def test_where_hardening_off_starts(crop: str, starts_c: float) -> None:
    """Extension list of minimum temperatures for hardening: hardy 40 degF, half-hardy 45, tender 50-65."""
    assert catalogue()[crop].growth.harden_start_c == pytest.approx(starts_c, abs=1.0)


@pytest.mark.parametrize(
    ("crop", "which", "low", "high"),
    [
        ("lettuce_leaf", "baby", 28, 42),
        ("radish", "full", 25, 50),
        ("tomato", "set_out", 70, 90),
        ("celery", "set_out", 90, 120),
        ("cucumber", "set_out", 35, 50),
    ],
)
def test_days_in_good_conditions(crop: str, which: str, low: float, high: float) -> None:
    """Growers' baby-leaf lists (4-6 weeks); Britannica, Vegetable farming (radish, tomato, cucumber); Delaware and others (celery)."""
    g = catalogue()[crop].growth
    total = {"baby": g.to_baby_cday, "full": g.to_full_cday, "set_out": g.set_out_to_full_cday}[which]
    assert total is not None
    assert low <= total / (g.reference_c - g.base_c) <= high


def test_earliest_peas() -> None:
    """Delaware: 1250 degF-days above 40 degF = 694 above 4.4 degC for the earliest; ours, the early end of the table, takes as many days."""
    earliest_cday = 1250.0 / 1.8
    assert earliest_cday == pytest.approx(694.0, rel=0.01)
    g = catalogue()["pea"].growth
    ours = g.early_share * g.to_full_cday / (g.reference_c - g.base_c)
    assert ours == pytest.approx(earliest_cday / (g.reference_c - (40.0 - 32.0) / 1.8), rel=0.10)


def test_light_scales_and_never_switches() -> None:
    """Jayalath, van Iersel & Ferrarezi 2024: leaf crops want 12 mol/m2 d and more; Hobby Farms 2019: growth goes on below ten hours."""
    for crop in ("lettuce_leaf", "spinach", "kale", "mizuna"):
        g = catalogue()[crop].growth
        assert g.light_good == pytest.approx(12.0)
        dull = light_factor(g, np.array([3.0]))[0]
        assert 0.1 < dull < 0.5
    tomato = catalogue()["tomato"].growth
    assert 20.0 <= tomato.light_good <= 25.0  # C. Gomez: fruiting vegetables 20-25


@pytest.mark.parametrize(
    ("stage", "limit_c"), [("bloom_kill_c", -1.1), ("green_fruit_kill_c", -2.2), ("bud_kill_c", -5.6)]
)
def test_strawberry_flowers_in_frost(stage: str, limit_c: float) -> None:
    """Delaware and Purdue extension: open bloom -1.1, green fruit -2.2, tight bud -5.6 degC."""
    assert getattr(catalogue()["strawberry"].hardiness, stage) == pytest.approx(limit_c, abs=0.3)


def test_spinach_day_length() -> None:
    """Utah State Extension 2012: bolts in days over 12-15 h, by cultivar."""
    assert 12.0 <= (catalogue()["spinach"].bolting.day_length_h or 0.0) <= 15.0


def test_garlic_wants_a_winter() -> None:
    """Growers' trials: 6-8 weeks at 0-10 degC (20-56 days)."""
    garlic = catalogue()["garlic"].bolting
    assert garlic.cold_c == pytest.approx(10.0)
    assert 20 <= (garlic.cold_hours or 0.0) / 24.0 <= 56


def test_cole_crops_bolt_by_size_and_cold() -> None:
    """Oregon State 2009: stems under 4.8 mm are safer; growers: leaves over 5 cm and days at 4-10 degC induce."""
    cabbage = catalogue()["cabbage"]
    rule = bolt_rule(cabbage)
    assert rule is not None
    assert cabbage.bolting.cold_c == pytest.approx(10.0)
    assert "5 cm" in cabbage.bolting.size_gate
    assert rule.gate_share > 0.2


def test_carrot_vernalization() -> None:
    """Craigon et al. 1990: base -1, best 6.5 degC; 126 degree-days for the first bolters, 336 for 90 %: our hours lie with the 90 %."""
    hours = catalogue()["carrot"].bolting.cold_hours or 0.0
    at_best = (6.5 + 1.0) * hours / 24.0
    assert at_best == pytest.approx(336.0, rel=0.10)


def test_planting_groups_around_the_last_frost() -> None:
    """Colorado State GardenNotes 720: hardy 2-4 weeks before, semi-hardy 0-2 before, tender around it or after; ranges must meet these."""
    groups = {"very hardy": (-4, -2), "hardy": (-4, -2), "half-hardy": (-2, 0), "tender": (0, 8)}
    for crop_id, (_, row) in shipped_tables()[0]["hardiness"].rows.items():
        low, high = row["weeks_sow_outdoors_rel_last_frost_lo"], row["weeks_sow_outdoors_rel_last_frost_hi"]
        if not low or crop_id == "garlic":  # cloves go in the autumn before
            continue
        early, late = groups[row["hardiness_class"]]
        assert float(low) - A_WEEK <= late, crop_id
        assert float(high) + A_WEEK >= early, crop_id


def test_row_yields_are_what_they_say() -> None:
    """A row's kg/m over its spacing is its kg/m2; 1 lb per 10 ft of row is 0.149 kg/m (definitions of pound and foot)."""
    pound_per_ten_feet = 0.45359237 / (10 * 0.3048)
    assert pound_per_ten_feet == pytest.approx(0.149, abs=0.0005)
    for crop_id, (_, row) in shipped_tables()[0]["spacing_yield"].rows.items():
        if row["row_yield_as_kg_per_m2"]:
            area = float(row["row_yield_kg_per_m"]) / (float(row["garden_row_spacing_cm"]) / 100.0)
            assert float(row["row_yield_as_kg_per_m2"]) == pytest.approx(area, abs=0.06), crop_id


def test_plants_fit_their_spacing() -> None:
    for crop in catalogue().values():
        s = crop.spacing
        assert s.per_m2 == pytest.approx(1.0 / (s.in_row_m * s.between_m), rel=0.03), crop.id


def test_manure_and_compost() -> None:
    """7 CFR 205.203(c): 120 days where the edible part touches soil, 90 otherwise; compost 55 degC for three days."""
    words = " ".join(c.text for c in cautions_for(["manure"]))
    assert "120 days" in words
    assert "90 days for the rest" in words
    assert "55 °C, 131 °F, for 3 days" in words


def test_what_must_hold_in_every_row() -> None:
    for crop in catalogue().values():
        g, hard = crop.growth, crop.hardiness
        assert hard.kill_hard_c <= hard.kill_soft_c, crop.id
        assert g.base_c < g.best_low_c <= g.best_high_c < g.ceiling_c, crop.id
        assert (g.to_baby_cday or 0.0) < g.to_full_cday, crop.id
        assert (g.set_out_to_full_cday or 0.0) < g.to_full_cday, crop.id
