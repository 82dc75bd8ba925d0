"""What each surface sees of the field inside: the star network against exact exchange between surfaces."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.shelter.geometry import enclosure
from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Window
from underglass.shelter.views import carroll, views


@given(st.lists(st.floats(0.1, 1.0), min_size=3, max_size=12))
def test_one_surface_and_all_the_others_exchange_what_it_sees(area: list[float]) -> None:
    """A flat surface sees nothing but the others: through the star its link to them, all at one temperature, is its own area."""
    areas = np.array([min(a, 0.9 * (sum(area) - a)) for a in area])
    f = carroll(areas)
    for i in range(len(areas)):
        others = (areas * f).sum() - areas[i] * f[i]
        assert 1.0 / (1.0 / (areas[i] * f[i]) + 1.0 / others) == pytest.approx(areas[i], rel=1e-6)


def test_the_faces_of_a_cube_exchange_a_fifth_each() -> None:
    """View factor 0.2 between any two faces of a cube: exact for opposite faces (0.1998) and for neighbours (0.2000)."""
    f = carroll(np.full(6, 1.0))
    assert f[0] ** 2 / f.sum() == pytest.approx(0.2, rel=1e-6)


def test_a_small_window_sees_the_room_and_a_low_lid_its_bed() -> None:
    room = Box(6.0, 5.0, 3.0, 3.0, glazed=(), windows=(Window("front", 1.0, 1.0, 2.5, 1.0),))
    assert views(enclosure(room), 0.0).cover == pytest.approx(1.0, abs=0.01)
    flat = views(enclosure(Box(5.0, 5.0, 0.05, 0.05)), 0.0)
    assert flat.cover == pytest.approx(2.0, abs=0.1)
    assert flat.floor == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize("shape", [Box(1.8, 0.9, 0.3, 0.45), Hoop(6.0, 1.2, 0.7), Drum(0.15, 0.2)])
def test_jugs_take_their_share_of_the_view(shape: Box | Hoop | Drum) -> None:
    bare, jugs = views(enclosure(shape), 0.0), views(enclosure(shape), 0.2 * enclosure(shape).floor_area_m2)
    assert jugs.floor < bare.floor
    assert jugs.water > 1.0


def test_open_ground_sees_the_sky_alone() -> None:
    assert views(enclosure(OpenGround()), 0.0).floor == 1.0
