"""Coming up: what must hold at every temperature for every crop."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.crop.catalogue import catalogue
from underglass.crop.germination import aged_share, cell_drying, days_to_emerge, rate_per_day, success

CROPS = sorted(catalogue())


@given(st.sampled_from(CROPS), st.floats(-40.0, 60.0))
def test_rate_and_success_stay_in_bounds(crop_id: str, soil_c: float) -> None:
    germination = catalogue()[crop_id].germination
    rate, share = rate_per_day(germination, np.array([soil_c])), success(germination, np.array([soil_c]))
    assert 0.0 <= rate[0] <= 1.0
    assert 0.0 <= share[0] <= 1.0
    if not germination.floor_c <= soil_c <= germination.ceiling_c:
        assert rate[0] == 0.0
        assert days_to_emerge(catalogue()[crop_id], soil_c) == np.inf


@pytest.mark.parametrize("crop_id", [c for c in CROPS if catalogue()[c].germination.method == "interp"])
def test_tabled_days_come_back(crop_id: str) -> None:
    germination = catalogue()[crop_id].germination
    for temp, days in germination.days_at:
        if np.isfinite(days) and germination.floor_c < temp < germination.ceiling_c:
            assert days_to_emerge(catalogue()[crop_id], temp) == pytest.approx(days), temp


@pytest.mark.parametrize("crop_id", CROPS)
def test_the_rate_is_smooth_inside_the_range(crop_id: str) -> None:
    """No jump of more than a fifth of the best rate in a tenth of a degree between floor and ceiling."""
    germination = catalogue()[crop_id].germination
    grid = np.arange(germination.floor_c + 0.1, germination.ceiling_c - 0.1, 0.1)
    rate = rate_per_day(germination, grid)
    assert np.abs(np.diff(rate)).max() < 0.2 * rate.max()


@given(st.floats(0.5, 8.0), st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_older_seed_is_never_better(life: float, age: float, more: float) -> None:
    assert 0.0 <= aged_share(life, age + more) <= aged_share(life, age) <= 1.0


def test_without_a_known_life_seed_does_not_age() -> None:
    assert aged_share(None, 9.0) == 1.0


@given(st.floats(-20.0, 40.0), st.floats(0.0, 20.0))
def test_warm_cells_dry_out_sooner(mean_c: float, more: float) -> None:
    assert 0.0 < cell_drying(mean_c) <= cell_drying(mean_c + more) <= 1.0


def test_a_slow_kind_on_a_sill_loses_about_a_tenth() -> None:
    """Estimate behind CELL_LOSS_AT_10C: parsley, 14 days at 20 degC (Harrington & Minges 1954)."""
    days = days_to_emerge(catalogue()["parsley"], 20.0)
    assert (1.0 - cell_drying(20.0)) ** days == pytest.approx(0.9, abs=0.03)
