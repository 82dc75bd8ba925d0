"""Growth by warmth and light: bounds, order, and that no ten-hour switch hides in it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.crop.catalogue import catalogue
from underglass.crop.growth import DARK_GROWTH, degrees, light_factor, needs_cday, reference_degrees

CROPS = sorted(catalogue())


@given(st.sampled_from(CROPS), st.floats(-40.0, 60.0))
def test_degrees_lie_between_nothing_and_the_best(crop_id: str, air_c: float) -> None:
    g = catalogue()[crop_id].growth
    found = float(degrees(g, np.array([air_c]))[0])
    assert 0.0 <= found <= g.best_low_c - g.base_c
    if air_c <= g.base_c or air_c >= g.ceiling_c:
        assert found == 0.0
    if g.best_low_c <= air_c <= g.best_high_c:
        assert found == pytest.approx(g.best_low_c - g.base_c)


@pytest.mark.parametrize("crop_id", CROPS)
def test_degrees_rise_one_for_one_below_the_best(crop_id: str) -> None:
    g = catalogue()[crop_id].growth
    slope = np.diff(degrees(g, np.array([g.base_c + 1.0, g.base_c + 2.0])))[0]
    assert slope == pytest.approx(1.0)


@given(st.sampled_from(CROPS), st.floats(0.0, 60.0), st.floats(0.0, 5.0))
def test_more_light_never_slows(crop_id: str, light: float, more: float) -> None:
    g = catalogue()[crop_id].growth
    low, high = light_factor(g, np.array([light, light + more]))
    assert DARK_GROWTH <= low <= high <= 1.0
    assert high - low <= more * (1.0 - DARK_GROWTH) / g.light_good + 1e-9  # no jump anywhere


@pytest.mark.parametrize("crop_id", CROPS)
def test_needs_are_in_order(crop_id: str) -> None:
    crop = catalogue()[crop_id]
    baby, full, set_out = needs_cday(crop)
    assert 0.0 <= baby < full
    assert 0.0 <= set_out < full
    assert (set_out > 0.0) == (crop.growth.set_out_to_full_cday is not None)


@pytest.mark.parametrize("crop_id", CROPS)
def test_the_days_of_the_tables_were_counted_where_the_crop_grows(crop_id: str) -> None:
    """The reference month is no hotter than the crop's best, and caps of noon and night take less than half of its degrees."""
    g = catalogue()[crop_id].growth
    assert g.reference_c <= g.best_high_c
    assert 0.5 * (g.reference_c - g.base_c) < reference_degrees(g) <= g.reference_c - g.base_c
