"""Facets close around the floor, and areas are those of the shape."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.shelter.geometry import COVER, ROOF, WALL, enclosure, local_direction
from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Window

boxes = st.builds(
    Box,
    length_m=st.floats(0.3, 8),
    depth_m=st.floats(0.3, 6),
    front_height_m=st.floats(0.1, 2.5),
    back_height_m=st.floats(0.1, 3),
)
hoops = st.builds(Hoop, length_m=st.floats(1, 30), width_m=st.floats(0.6, 8), height_m=st.floats(0.3, 4))
drums = st.builds(Drum, diameter_m=st.floats(0.05, 0.5), height_m=st.floats(0.05, 0.6))


@given(st.one_of(boxes, hoops, drums))
def test_a_shell_is_closed(shape: Box | Hoop | Drum) -> None:
    """Area vectors of a closed surface add up to zero (Gauss); the floor closes ours from below."""
    enc = enclosure(shape)
    total = sum((f.normal * f.area_m2 for f in enc.facets), np.zeros(3))
    floor = -np.array([0.0, 0.0, total[2]])
    assert np.abs(total + floor)[:2] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert total[2] > 0.0


@given(boxes)
def test_a_box_has_its_textbook_areas(box: Box) -> None:
    enc = enclosure(box)
    slope = np.hypot(box.depth_m, box.back_height_m - box.front_height_m)
    assert enc.area_m2(COVER) == pytest.approx(box.length_m * slope)
    sides = box.depth_m * (box.front_height_m + box.back_height_m)
    assert enc.area_m2(WALL) == pytest.approx(box.length_m * (box.front_height_m + box.back_height_m) + sides)
    assert enc.volume_m3 == pytest.approx(box.length_m * box.depth_m * (box.front_height_m + box.back_height_m) / 2)


def test_windows_are_cut_out_of_their_wall() -> None:
    room = Box(
        8.0, 6.0, 2.7, 2.7, glazed=(), windows=(Window("front", 3, 2, 0.5, 0.2), Window("front", 3, 2, 4.5, 0.2))
    )
    enc = enclosure(room)
    assert enc.area_m2(COVER) == pytest.approx(12.0)
    assert enc.area_m2(WALL) == pytest.approx(2 * (8 + 6) * 2.7 - 12.0)
    assert enc.area_m2(ROOF) == pytest.approx(48.0)


def test_a_tunnel_of_eight_facets_comes_near_the_true_arc() -> None:
    enc = enclosure(Hoop(length_m=10.0, width_m=4.0, height_m=2.0, end_walls="opaque"))
    assert enc.area_m2(COVER) == pytest.approx(np.pi * 2.0 * 10.0, rel=0.01)
    assert enc.volume_m3 == pytest.approx(0.5 * np.pi * 4.0 * 10.0, rel=0.03)


def test_the_front_looks_at_the_sun_in_the_south_and_the_right_hand_is_east() -> None:
    south, east = local_direction(np.array([180.0, 90.0]), np.array([0.0, 0.0]), facing_deg=180.0)
    assert south == pytest.approx([0.0, -1.0, 0.0], abs=1e-12)
    assert east == pytest.approx([1.0, 0.0, 0.0], abs=1e-12)


def test_open_ground_has_no_shell() -> None:
    assert enclosure(OpenGround(2.0, 3.0)).facets == ()
    assert enclosure(OpenGround(2.0, 3.0)).floor_area_m2 == pytest.approx(6.0)
