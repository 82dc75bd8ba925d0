"""Where the sun lands: shade by the box's own walls, horizon, energy that can't exceed what falls on the lid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.place.place import FLAT, Horizon
from underglass.shelter.geometry import enclosure, local_direction
from underglass.shelter.model import Box, Cover, Hoop, OpenGround, Sheet, Window
from underglass.shelter.sunlight import FLOOR, WALLS_IN, hourly_sunlight, sky_tables

CLEAR = Cover((Sheet(0.001, refractive_index=1.0, extinction_per_m=0.0),))
"""A sheet that is not there: index 1, no absorption; what comes in is geometry alone."""

GLASS = Cover((Sheet(0.003),))


def at(tables_row: np.ndarray, azimuth: float, elevation: float) -> float:
    return float(tables_row[round(azimuth / 5.0), round(elevation / 3.0)])


def test_open_ground_gets_all_the_light() -> None:
    tables = sky_tables(enclosure(OpenGround(1.0, 1.0)), None, 180.0, FLAT)
    assert at(tables.beam[FLOOR], 180.0, 30.0) == pytest.approx(0.5, rel=1e-6)
    assert tables.sky[FLOOR] == pytest.approx(1.0, abs=0.002)
    assert tables.ground[FLOOR] == pytest.approx(0.0, abs=0.002)


def test_through_a_lid_of_air_floor_and_walls_share_what_falls_on_it() -> None:
    box = Box(2.0, 1.0, 0.3, 0.45)
    enc = enclosure(box)
    tables = sky_tables(enc, CLEAR, 180.0, FLAT)
    lid = enc.facets[-1]
    for azimuth, elevation in ((180.0, 30.0), (135.0, 45.0), (240.0, 24.0), (180.0, 60.0)):
        direction = local_direction(np.array([azimuth]), np.array([elevation]), 180.0)[0]
        on_lid = lid.area_m2 * float(direction @ lid.normal)
        caught = at(tables.beam[FLOOR], azimuth, elevation) + at(tables.beam[WALLS_IN], azimuth, elevation)
        assert caught == pytest.approx(on_lid, rel=0.03)  # floor and walls are sampled at points


def test_the_front_wall_shades_the_floor_as_trigonometry_says() -> None:
    """A long box with level lid, sun square on: the lit share of the floor is 1 - height / (depth · tan elevation)."""
    tables = sky_tables(enclosure(Box(50.0, 1.0, 0.3, 0.3)), CLEAR, 180.0, FLAT)
    elevation = 33.0
    lit = 1.0 - 0.3 / np.tan(np.radians(elevation))
    floor = at(tables.beam[FLOOR], 180.0, elevation) / (50.0 * np.sin(np.radians(elevation)))
    assert floor == pytest.approx(lit, abs=0.01)


def test_a_window_lets_a_patch_of_sun_in() -> None:
    room = Box(8.0, 6.0, 2.7, 2.7, glazed=(), windows=(Window("front", 6.0, 2.0, 1.0, 0.2),))
    tables = sky_tables(enclosure(room), CLEAR, 180.0, FLAT)
    caught = at(tables.beam[FLOOR], 180.0, 30.0) + at(tables.beam[WALLS_IN], 180.0, 30.0)
    assert caught == pytest.approx(12.0 * np.cos(np.radians(30.0)), rel=0.02)
    assert at(tables.beam[FLOOR], 0.0, 30.0) == 0.0


def test_a_fence_takes_the_low_sun_and_part_of_the_sky() -> None:
    enc = enclosure(Hoop(6.0, 1.2, 0.7))
    free = sky_tables(enc, GLASS, 180.0, FLAT)
    fenced = sky_tables(enc, GLASS, 180.0, Horizon((0.0,), (25.0,)))
    assert fenced.sky[FLOOR] < free.sky[FLOOR]
    assert fenced.sky_view_cover < free.sky_view_cover
    hour = (np.array([700.0]), np.array([80.0]), np.array([70.0]), np.array([180.0]), np.array([0.0]))
    assert hourly_sunlight(*hour, fenced, 0.2)[0, FLOOR] < 0.3 * hourly_sunlight(*hour, free, 0.2)[0, FLOOR]


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.0, 1000.0),
    st.floats(0.0, 500.0),
    st.floats(0.0, 89.0),
    st.floats(0.0, 360.0),
    st.sampled_from([Box(1.8, 0.9, 0.3, 0.45), Hoop(6, 1.2, 0.7)]),
)
def test_no_more_comes_in_than_the_sky_gives(
    dni: float, dhi: float, zenith: float, azimuth: float, shape: Box | Hoop
) -> None:
    enc = enclosure(shape)
    tables = sky_tables(enc, GLASS, 180.0, FLAT)
    got = hourly_sunlight(*(np.array([v]) for v in (dni, dhi, zenith, azimuth, 0.0)), tables, 0.2)[0]
    assert (got >= -1e-9).all()
    shell = sum(f.area_m2 for f in enc.facets)
    assert got[FLOOR] + got[WALLS_IN] <= shell * (dni + dhi * 13.0) + 1e-6


def test_night_is_dark() -> None:
    tables = sky_tables(enclosure(Box(1.8, 0.9, 0.3, 0.45)), GLASS, 180.0, FLAT)
    night = (np.array([0.0]), np.array([0.0]), np.array([120.0]), np.array([10.0]), np.array([0.0]))
    assert hourly_sunlight(*night, tables, 0.2).sum() == 0.0
