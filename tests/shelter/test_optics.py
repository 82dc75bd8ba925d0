"""Sheets: limits and conservation; the published rows stand in tests/published/test_glass.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.shelter.model import Cover, Sheet
from underglass.shelter.optics import ANGLES_DEG, cover_optics, sheet_optics

sheets = st.builds(
    Sheet,
    thickness_m=st.floats(1e-4, 0.01),
    refractive_index=st.floats(1.3, 1.7),
    extinction_per_m=st.floats(0.0, 60.0),
    diffusing=st.booleans(),
)


@given(sheets)
def test_no_sheet_makes_light(sheet: Sheet) -> None:
    through, back = sheet_optics(sheet, ANGLES_DEG)
    assert (through >= 0.0).all()
    assert (back >= 0.0).all()
    assert (through + back <= 1.0 + 1e-9).all()


@given(sheets, sheets)
def test_a_second_sheet_takes_light_and_nothing_gets_lost(outer: Sheet, inner: Sheet) -> None:
    one, two = cover_optics(Cover((outer,))), cover_optics(Cover((outer, inner)))
    assert (two.transmittance <= one.transmittance + 1e-9).all()
    assert (two.transmittance + two.absorptance_outer + two.absorptance_inner <= 1.0 + 1e-9).all()
    assert 0.0 <= two.diffuse_transmittance <= 1.0


def test_clear_glass_without_absorption_only_reflects() -> None:
    through, back = sheet_optics(Sheet(0.003, 1.526, 0.0), np.array([0.0, 45.0, 80.0]))
    assert through + back == pytest.approx(1.0)


def test_a_measured_transmittance_sets_the_level_at_normal_incidence() -> None:
    optics = cover_optics(Cover((Sheet(0.00015, 1.5, 100.0, solar_transmittance=0.80),)))
    assert optics.transmittance[0] == pytest.approx(0.80)


def test_grazing_light_does_not_come_in() -> None:
    assert cover_optics(Cover((Sheet(0.003),))).transmittance[90] == pytest.approx(0.0, abs=0.01)
