"""Crop facts and responses against the trade's published tables; the source stands at each test."""

from __future__ import annotations

import numpy as np
import pytest

from underglass.crop.catalogue import catalogue, crop_source, source_citation
from underglass.crop.germination import aged_share, days_to_emerge, success
from underglass.crop.hardiness import hardened, kill_chance, kill_temp_c

A_DAY = 1.0
INF = float("inf")


@pytest.mark.parametrize(
    ("crop", "temps", "days"),
    [
        ("lettuce_leaf", (0, 5, 10, 15, 20), (49, 15, 7, 4, 3)),
        ("tomato", (10, 15, 20, 25), (43, 14, 8, 6)),
        ("spinach", (0, 5, 10, 20), (63, 23, 12, 6)),
        ("onion_bulb", (5, 10, 20), (31, 13, 5)),
        ("carrot", (5, 10, 20, 35), (51, 17, 7, 9)),
        ("pepper", (15, 20, 25), (25, 13, 8)),
        ("pea", (5, 10, 20), (36, 14, 8)),
        ("parsley", (10, 20), (29, 14)),
        ("lettuce_leaf", (35,), (INF,)),
        ("tomato", (5,), (INF,)),
        ("cucumber", (10,), (INF,)),
        ("pepper", (10,), (INF,)),
        ("bean_snap", (10,), (INF,)),
        ("celery", (30,), (INF,)),
    ],
)
def test_days_to_come_up(crop: str, temps: tuple[int, ...], days: tuple[float, ...]) -> None:
    """Harrington & Minges 1954, as printed in Knott's Handbook."""
    for temp, expected in zip(temps, days, strict=True):
        assert days_to_emerge(catalogue()[crop], float(temp)) == pytest.approx(expected, abs=A_DAY)


def test_spinach_fails_warm_and_lettuce_fails_hot() -> None:
    """Percent of normal seedlings, Harrington: spinach 96 % at 5, 52 % at 20, 28 % at 25 degC; lettuce 12 % at 30 (Gray 1975: 0-90 by kind)."""
    spinach, lettuce = catalogue()["spinach"].germination, catalogue()["lettuce_leaf"].germination
    assert success(spinach, np.array([5.0, 20.0, 25.0])) == pytest.approx([0.96, 0.52, 0.28], abs=0.05)
    assert success(lettuce, np.array([30.0]))[0] <= 0.15


def test_claytonia_and_mache() -> None:
    """Cornell: claytonia up in 7-10 days at 10-13 degC; seed houses: mache dormant above 21 degC."""
    assert 7 - 2 <= days_to_emerge(catalogue()["claytonia"], 11.5) <= 10 + 2
    assert days_to_emerge(catalogue()["mache"], 22.0) == INF


def test_best_month_ranges_of_knott() -> None:
    """Knott 1997: spinach and lettuce 15.6-18.3, tomato 21.1-23.9: the growth optimum reaches into the range."""
    for crop, low, high in (("spinach", 15.6, 18.3), ("lettuce_leaf", 15.6, 18.3), ("tomato", 21.1, 23.9)):
        g = catalogue()[crop].growth
        assert g.best_low_c - 3.0 <= high
        assert g.best_high_c >= low


def test_weeks_from_sowing_to_setting_out() -> None:
    """Delaware Extension and others: 4-8 weeks for most, cucurbits 2-4, onion 8-12, celery 10-12."""
    for crop in catalogue().values():
        weeks = crop.growth.raise_weeks
        if weeks is None:
            continue
        low, high = {"Cucurbitaceae": (2, 4), "Amaryllidaceae": (6, 12)}.get(crop.family, (3, 9))
        if crop.id in ("celery", "strawberry"):
            low, high = 10, 14
        assert low <= weeks[0] <= weeks[1] <= high, crop.id


def test_hardening_nights() -> None:
    """Seven to ten days of hardening off (common practice; up to 14)."""
    assert all(7 <= c.growth.harden_days <= 14 for c in catalogue().values())


def test_spinach_acclimates_as_measured() -> None:
    """Fennell & Li: gains 2-4 K in one day at 5/2 degC, most in three days; loses 3-5 K after one day at 20/17 degC."""
    spinach = catalogue()["spinach"]
    one = hardened(0.0, 3.5)
    assert 2.0 <= kill_temp_c(spinach, 0.0) - kill_temp_c(spinach, one) <= 4.0
    three = hardened(hardened(one, 3.5), 3.5)
    full = kill_temp_c(spinach, 0.0) - kill_temp_c(spinach, 1.0)
    assert kill_temp_c(spinach, 0.0) - kill_temp_c(spinach, three) >= 0.7 * full
    assert 3.0 <= kill_temp_c(spinach, hardened(1.0, 18.5)) - kill_temp_c(spinach, 1.0) <= 5.0


def test_spinach_in_midwinter_stands_what_was_measured() -> None:
    """Tamura 2002: tissue limit -12 to -16 degC in an unheated greenhouse in midwinter."""
    assert -16.0 <= kill_temp_c(catalogue()["spinach"], 1.0) <= -12.0


def test_hardened_cabbage() -> None:
    """Kohn & Levitt 1965: cabbage seedlings hardened at +3 degC are killed at -7 to -10 degC."""
    assert -10.5 <= kill_temp_c(catalogue()["cabbage"], hardened(hardened(hardened(0.0, 3.0), 3.0), 3.0)) <= -6.5


@pytest.mark.parametrize("crop", ["basil", "tomato", "cucumber", "bean_snap", "pepper"])
def test_tender_crops_die_of_the_first_frost(crop: str) -> None:
    """Dawling & Bezilla 2012: dead at or just below 0 degC of the air; a frost of -2.5 degC at the leaf kills nearly all."""
    limit = kill_temp_c(catalogue()[crop], 1.0)
    assert kill_chance(-3.5, limit, 0.35) > 0.8


def test_hardening_never_makes_it_worse() -> None:
    """Same night, hardened or not: canola -3 / -7 / -19 degC (Plant Physiol. 135:1642); the order must hold for every crop."""
    for crop in catalogue().values():
        assert kill_temp_c(crop, 1.0) <= kill_temp_c(crop, 0.5) <= kill_temp_c(crop, 0.0), crop.id


@pytest.mark.parametrize(
    ("crop", "percent"),
    [
        ("lettuce_leaf", 80),
        ("onion_bulb", 70),
        ("carrot", 55),
        ("pepper", 55),
        ("pea", 80),
        ("spinach", 60),
        ("parsley", 60),
        ("celery", 55),
    ],
)
def test_official_germination(crop: str, percent: int) -> None:
    """7 CFR 201.31 (1994 list)."""
    assert catalogue()[crop].seed.official_germination == pytest.approx(percent / 100)


@pytest.mark.parametrize(
    ("crop", "years"),
    [("onion_bulb", 1), ("parsley", 1), ("sweet_corn", 2), ("pepper", 2), ("pea", 3), ("tomato", 4), ("cucumber", 5)],
)
def test_seed_life_in_a_household(crop: str, years: int) -> None:
    """Averages of extension lists (Oregon, Colorado, Purdue, Virginia)."""
    assert catalogue()[crop].seed.life_years == pytest.approx(years, abs=1)


def test_old_seed_is_still_useful_for_years() -> None:
    """Common practice: seed within its household life is sown a little thicker, at twice that life it is thrown away."""
    assert aged_share(4.0, 3.0) > 0.85
    assert aged_share(4.0, 8.0) < 0.3


@pytest.mark.parametrize(("crop", "per_gram"), [("lettuce_leaf", 882), ("carrot", 882), ("pea", 4.2), ("tomato", 388)])
def test_seeds_per_gram(crop: str, per_gram: float) -> None:
    """Olds: 25,000 / 25,000 / 120 / 11,000 an ounce."""
    assert catalogue()[crop].seed.per_gram == pytest.approx(per_gram, rel=0.01)


def test_fruit_set_limits() -> None:
    """Illinois, Oklahoma and South Dakota extension: tomato nights 13-16 and 21-24, days 32-33; bean 30 / 20; pepper day 32."""
    tomato, bean, pepper = (catalogue()[c].hardiness for c in ("tomato", "bean_snap", "pepper"))
    assert (tomato.set_night_min_c, tomato.set_night_max_c, tomato.set_day_max_c) == pytest.approx((13, 22, 32), abs=1)
    assert (bean.set_day_max_c, bean.set_night_max_c) == pytest.approx((30, 20), abs=1)
    assert pepper.set_day_max_c == pytest.approx(32, abs=1)


def test_days_of_the_tables() -> None:
    """Britannica: radish 25-50 days from sowing."""
    g = catalogue()["radish"].growth
    days = g.to_full_cday / (g.reference_c - g.base_c)
    assert 25 <= days <= 50


def test_every_crop_names_its_sources() -> None:
    for crop in catalogue():
        for table, column in (
            ("growth", "source_days"),
            ("hardiness", "source_cold"),
            ("seeds", "source_life"),
            ("germination", "source_use"),
        ):
            key = crop_source(crop, table, column)
            if key:
                assert source_citation(key), (crop, table)


def test_there_are_at_least_forty_five() -> None:
    assert len(catalogue()) >= 45
