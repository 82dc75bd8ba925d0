"""Where the sun lands: shade by the box's own walls, horizon, energy that can't exceed what falls on the lid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.place.place import FLAT, Horizon
from underglass.shelter.geometry import COVER, Enclosure, enclosure, local_direction
from underglass.shelter.model import Box, Cover, Drum, Hoop, OpenGround, Sheet, Window
from underglass.shelter.optics import ANGLES_DEG, cover_optics
from underglass.shelter.sunlight import FLOOR, WALLS_IN, SkyTables, follow_rays, hourly_sunlight, sky_tables

CLEAR = Cover((Sheet(0.001, refractive_index=1.0, extinction_per_m=0.0),))
"""A sheet that is not there: index 1, no absorption; what comes in is geometry alone."""

GLASS = Cover((Sheet(0.003),))


def tabled(enc: Enclosure, cover: Cover | None, facing: float = 180.0, horizon: Horizon = FLAT) -> SkyTables:
    return sky_tables(follow_rays(enc, cover), facing, horizon)


def at(tables_row: np.ndarray, azimuth: float, elevation: float) -> float:
    """Of a shelter that faces south; azimuth from north."""
    return float(tables_row[round((azimuth - 180.0) % 360.0 / 5.0), round(elevation / 3.0)])


def test_open_ground_gets_all_the_light() -> None:
    tables = tabled(enclosure(OpenGround(1.0, 1.0)), None)
    assert at(tables.beam[FLOOR], 180.0, 30.0) == pytest.approx(0.5, rel=1e-6)
    assert tables.sky[FLOOR] == pytest.approx(1.0, abs=0.002)
    assert tables.ground[FLOOR] == pytest.approx(0.0, abs=0.002)


def test_through_a_lid_of_air_floor_and_walls_share_what_falls_on_it() -> None:
    box = Box(2.0, 1.0, 0.3, 0.45)
    enc = enclosure(box)
    tables = tabled(enc, CLEAR)
    lid = enc.facets[-1]
    for azimuth, elevation in ((180.0, 30.0), (135.0, 45.0), (240.0, 24.0), (180.0, 60.0)):
        direction = local_direction(np.array([azimuth]), np.array([elevation]), 180.0)[0]
        on_lid = lid.area_m2 * float(direction @ lid.normal)
        caught = at(tables.beam[FLOOR], azimuth, elevation) + at(tables.beam[WALLS_IN], azimuth, elevation)
        assert caught == pytest.approx(on_lid, rel=0.03)  # floor and walls are sampled at points


def test_the_front_wall_shades_the_floor_as_trigonometry_says() -> None:
    """A long box with level lid, sun square on: the lit share of the floor is 1 - height / (depth · tan elevation)."""
    tables = tabled(enclosure(Box(50.0, 1.0, 0.3, 0.3)), CLEAR)
    elevation = 33.0
    lit = 1.0 - 0.3 / np.tan(np.radians(elevation))
    floor = at(tables.beam[FLOOR], 180.0, elevation) / (50.0 * np.sin(np.radians(elevation)))
    assert floor == pytest.approx(lit, abs=0.01)


def test_a_window_lets_a_patch_of_sun_in() -> None:
    room = Box(8.0, 6.0, 2.7, 2.7, glazed=(), windows=(Window("front", 6.0, 2.0, 1.0, 0.2),))
    tables = tabled(enclosure(room), CLEAR)
    caught = at(tables.beam[FLOOR], 180.0, 30.0) + at(tables.beam[WALLS_IN], 180.0, 30.0)
    assert caught == pytest.approx(12.0 * np.cos(np.radians(30.0)), rel=0.02)
    assert at(tables.beam[FLOOR], 0.0, 30.0) == 0.0


def test_a_fence_takes_the_low_sun_and_part_of_the_sky() -> None:
    enc = enclosure(Hoop(6.0, 1.2, 0.7))
    free = tabled(enc, GLASS)
    fenced = tabled(enc, GLASS, 180.0, Horizon((0.0,), (25.0,)))
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
    tables = tabled(enc, GLASS)
    got = hourly_sunlight(*(np.array([v]) for v in (dni, dhi, zenith, azimuth, 0.0)), tables, 0.2)[0]
    assert (got >= -1e-9).all()
    shell = sum(f.area_m2 for f in enc.facets)
    assert got[FLOOR] + got[WALLS_IN] <= shell * (dni + dhi * 13.0) + 1e-6


def test_night_is_dark() -> None:
    tables = tabled(enclosure(Box(1.8, 0.9, 0.3, 0.45)), GLASS)
    night = (np.array([0.0]), np.array([0.0]), np.array([120.0]), np.array([10.0]), np.array([0.0]))
    assert hourly_sunlight(*night, tables, 0.2).sum() == 0.0


def one_ray(enc: Enclosure, cover: Cover, start: np.ndarray, direction: np.ndarray) -> float:
    """Transmittance that one ray from a point inside meets on its way out, followed by itself."""
    optics = cover_optics(cover)
    leaving = [
        ((f.offset_m - start @ f.normal) / (direction @ f.normal), f) for f in enc.facets if direction @ f.normal > 1e-9
    ]
    distance, facet = min(leaving, key=lambda hit: hit[0])
    met = start + distance * direction
    panes = [
        0.0 < (met - origin) @ right < width and 0.0 < (met - origin) @ up < height
        for origin, right, up, width, height in facet.panes
    ]
    if facet.kind != COVER and not any(panes):
        return 0.0
    angle = np.degrees(np.arccos(min(direction @ facet.normal, 1.0)))
    return float(np.interp(angle, ANGLES_DEG, optics.transmittance))


@pytest.mark.parametrize(
    "shape",
    [
        Box(1.8, 0.9, 0.3, 0.45),
        Box(8.0, 6.0, 2.7, 2.7, glazed=(), windows=(Window("front", 3.0, 2.0, 0.5, 0.2), Window("left", 1.0, 2.0, 0.5, 0.2))),
        Hoop(6.0, 1.2, 0.7, end_walls="opaque"),
        Drum(0.15, 0.2),
    ],
    ids=["box", "room", "tunnel", "jug"],
)  # fmt: skip
def test_the_tables_are_what_rays_followed_one_by_one_say(shape: Box | Hoop | Drum) -> None:
    enc = enclosure(shape, 0.1)
    tables = tabled(enc, GLASS, 0.0)
    for azimuth, elevation in ((0.0, 30.0), (35.0, 12.0), (90.0, 45.0), (215.0, 63.0), (300.0, 3.0), (180.0, 87.0)):
        direction = local_direction(np.array([azimuth]), np.array([elevation]), 0.0)[0]
        light = np.mean([one_ray(enc, GLASS, point, direction) for point in enc.floor_points])
        expected = enc.floor_area_m2 * direction[2] * light
        found = tables.beam[FLOOR, round(azimuth / 5.0), round(elevation / 3.0)]
        assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("turn", [25.0, 90.0, 235.0])
def test_a_garden_turned_as_a_whole_gets_the_same_light(turn: float) -> None:
    """Shelter, skyline and sun turned together: nothing changes."""
    rays = follow_rays(enclosure(Box(1.8, 0.9, 0.3, 0.45)), GLASS)
    trees = Horizon((0.0, 90.0, 200.0), (5.0, 25.0, 12.0))
    skyline = sorted(((a + turn) % 360.0, e) for a, e in zip(trees.azimuth_deg, trees.elevation_deg, strict=True))
    turned_trees = Horizon(tuple(a for a, _ in skyline), tuple(e for _, e in skyline))
    one, other = sky_tables(rays, 180.0, trees), sky_tables(rays, 180.0 + turn, turned_trees)
    for azimuth in (100.0, 171.0, 280.0):
        hour = [np.array([v]) for v in (700.0, 80.0, 62.0, azimuth, 0.0)]
        later = [*hour[:3], np.array([(azimuth + turn) % 360.0]), hour[4]]
        assert hourly_sunlight(*later, other, 0.2) == pytest.approx(hourly_sunlight(*hour, one, 0.2), rel=1e-9)
