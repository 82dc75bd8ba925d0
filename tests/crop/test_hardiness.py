"""Cold: hardening follows the days, killing is a chance, and order holds for every crop."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.crop.catalogue import catalogue
from underglass.crop.hardiness import cold_spread_dk, hardened, kill_chance, kill_temp_c

CROPS = sorted(catalogue())


@given(st.floats(0.0, 1.0), st.floats(-30.0, 40.0))
def test_hardening_stays_between_none_and_full(state: float, mean_c: float) -> None:
    assert 0.0 <= hardened(state, mean_c) <= 1.0


@given(st.floats(0.0, 1.0), st.floats(-30.0, 40.0), st.floats(0.0, 20.0))
def test_warmth_never_hardens(state: float, mean_c: float, more: float) -> None:
    assert hardened(state, mean_c + more) <= hardened(state, mean_c) + 1e-12


def test_a_cold_week_hardens_and_a_warm_week_undoes_it() -> None:
    state = 0.0
    for _ in range(7):
        state = hardened(state, 2.0)
    assert state > 0.95
    for _ in range(7):
        state = hardened(state, 18.0)
    assert state < 0.05


@given(st.sampled_from(CROPS), st.floats(-25.0, 5.0), st.floats(0.0, 10.0), st.floats(0.0, 1.0))
def test_a_colder_night_never_kills_less(crop_id: str, leaf_c: float, colder: float, state: float) -> None:
    crop = catalogue()[crop_id]
    kill, spread = kill_temp_c(crop, state), cold_spread_dk(crop)
    assert 0.0 <= kill_chance(leaf_c, kill, spread) <= kill_chance(leaf_c - colder, kill, spread) <= 1.0


@pytest.mark.parametrize("crop_id", CROPS)
def test_seedlings_are_never_tougher(crop_id: str) -> None:
    crop = catalogue()[crop_id]
    assert kill_temp_c(crop, 0.3, seedling=True) >= kill_temp_c(crop, 0.3)


def test_half_die_at_the_tabled_limit_and_nearly_all_two_degrees_below() -> None:
    kale = catalogue()["kale"]
    limit, spread = kill_temp_c(kale, 1.0), cold_spread_dk(kale)
    assert kill_chance(limit, limit, spread) == pytest.approx(0.5)
    assert kill_chance(limit - 3.0, limit, spread) > 0.95
    assert kill_chance(limit + 3.0, limit, spread) < 0.05


@pytest.mark.parametrize("crop_id", CROPS)
def test_flowers_go_before_the_plant(crop_id: str) -> None:
    hard = catalogue()[crop_id].hardiness
    for flower in (hard.bud_kill_c, hard.bloom_kill_c, hard.green_fruit_kill_c):
        assert flower is None or flower > hard.kill_hard_c


def test_the_order_of_classes() -> None:
    """Median limit of each class: tender above half-hardy above hardy above very hardy."""
    by_class: dict[str, list[float]] = {}
    for crop in catalogue().values():
        by_class.setdefault(crop.hardiness.name, []).append(crop.hardiness.kill_hard_c)
    middle = [
        sorted(by_class[name])[len(by_class[name]) // 2] for name in ("tender", "half-hardy", "hardy", "very hardy")
    ]
    assert middle == sorted(middle, reverse=True)
    assert len(set(middle)) == 4
