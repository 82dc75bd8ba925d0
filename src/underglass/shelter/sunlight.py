"""Where the sun ends up: for every direction of the sky, how much light lands on floor, walls and cover.

Rays are followed from sample points on the floor and on the inside of opaque walls towards the sky: the facet where a
ray leaves decides whether light comes in along it, and how much (angle of incidence).  This gives shading by the box's
own walls, light lost out of the far side of a tunnel, and the horizon, for any shape, in one way.  The rays go out from
the shelter's own front (`follow_rays`, once for each shape and cover); facing and skyline only turn and cut their sums
(`sky_tables`), and an hour costs one look-up (`hourly_sunlight`).

Diffuse light: the part around the sun follows the beam (Hay & Davies 1980, anisotropy index); the rest comes evenly from the
unblocked sky, brighter near the skyline for tilted faces (Reindl, Beckman & Duffie 1990: 1 + sqrt(beam/global) sin3(tilt/2));
the ground and whatever blocks the sky reflect the global radiation evenly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit
from underglass.place.place import Horizon
from underglass.shelter.geometry import COVER, ROOF, WALL, Enclosure, Facet, local_direction, spread_points
from underglass.shelter.model import Cover
from underglass.shelter.optics import ANGLES_DEG, CoverOptics, cover_optics

__all__ = [
    "FLOOR",
    "INNER_SHEET",
    "OUTER_SHEET",
    "ROOF_OUT",
    "WALLS_IN",
    "WALLS_OUT",
    "Rays",
    "SkyTables",
    "follow_rays",
    "hourly_sunlight",
    "sky_tables",
]

F64 = NDArray[np.float64]

FLOOR, WALLS_IN, OUTER_SHEET, INNER_SHEET, WALLS_OUT, ROOF_OUT = range(6)
"""Rows of every sunlight array: sun landing on the floor, on inside faces of walls, absorbed in the outer and the inner
(or only) sheet, falling on the outside of walls and of an opaque roof."""

AZIMUTH_STEP_DEG = 5.0
ELEVATION_STEP_DEG = 3.0
N_AZIMUTH, N_ELEVATION = 73, 31

SOLAR_CONSTANT = 1361.0
"""Total solar irradiance (Kopp & Lean 2011) [W/m2]."""

SNOW_REFLECTANCE = 0.65
"""Of snowy ground (Oke 1987, Boundary Layer Climates, table 1.1: old 0.4, fresh 0.95; a value between)."""


@dataclass(frozen=True, slots=True, eq=False)
class Rays:
    """What a shell does to light from every direction, as seen from its own front: the same wherever it stands and looks.

    caught (6, 72, 61)     : m2 of light of unit normal irradiance caught, by azimuth from the front 0, 5 … 355 deg and elevation -90 … 90 deg
    brightened (6, 72, 61) : the same with each facet's light times sin3(tilt/2), what a bright skyline adds to it
    """

    enclosure: Enclosure
    caught: F64
    brightened: F64


@dataclass(frozen=True, slots=True, eq=False)
class SkyTables:
    """A shelter's answer to light and to cold sky from every direction, facing one way under one skyline.

    beam (6, 73, 31)    : m2 of DNI caught, by azimuth from the front 0, 5 … 360 deg and elevation 0, 3 … 90 deg; rows as FLOOR …
    sky (6,), ground (6,): m2 of diffuse horizontal, and of reflected global, caught
    skyline (6,)        : what the bright skyline adds to `sky` when all is beam
    facing_deg          : azimuth of the front, clockwise from north
    horizon (361,)      : skyline elevation by whole degree of azimuth from north [deg]
    sky_view_cover, sky_view_walls, sky_view_roof, sky_view_floor : share of the half-space before each that is open sky
    """

    beam: F64
    sky: F64
    ground: F64
    skyline: F64
    facing_deg: float
    horizon: F64
    sky_view_cover: float
    sky_view_walls: float
    sky_view_roof: float
    sky_view_floor: float


def _skyline(horizon: Horizon, azimuth_deg: F64) -> F64:
    known = np.array(horizon.azimuth_deg)
    return np.asarray(np.interp(azimuth_deg, known, np.array(horizon.elevation_deg), period=360.0))


@njit(cache=True, error_model="numpy", nogil=True)
def _through_panes(
    point: F64, direction: F64, distance: float, facet: int, panes: F64, pane_facet: NDArray[np.int64]
) -> int:
    """How many windows of a wall a ray leaves through: one, or none where it meets the wall beside them."""
    met = 0
    for k in range(panes.shape[0]):
        if pane_facet[k] == facet:
            across, tall = 0.0, 0.0
            for c in range(3):
                away = point[c] + direction[c] * distance - panes[k, c]
                across += away * panes[k, 3 + c]
                tall += away * panes[k, 6 + c]
            if 0.0 < across < panes[k, 9] and 0.0 < tall < panes[k, 10]:
                met += 1
    return met


def _mean_light(
    directions: F64,
    wanted: NDArray[np.bool_],
    points: F64,
    normals: F64,
    offsets: F64,
    tau: F64,
    weights: F64,
    panes: F64,
    pane_facet: NDArray[np.int64],
    out: F64,
) -> None:
    """Mean over the points of the light that reaches them along each wanted direction, once for each row of weights; fills `out` (2, d).

    tau (d, facets): transmittance, of the pane where the facet is a wall with windows;  panes (k, 11): origin, right, up, size
    weights (2, facets): factors on what comes through each;  pane_facet (k,): the wall that each window is in
    A facet without cover or window has tau 0.
    """
    n_points, n_facets = points.shape[0], normals.shape[0]
    reach = np.empty((n_facets, n_points))
    for f in range(n_facets):
        for i in range(n_points):
            way = (
                offsets[f] - points[i, 0] * normals[f, 0] - points[i, 1] * normals[f, 1] - points[i, 2] * normals[f, 2]
            )
            reach[f, i] = max(way, 0.0)
    windowed = np.zeros(n_facets, np.bool_)
    for k in range(pane_facet.shape[0]):
        windowed[pane_facet[k]] = True
    nearest, leaves = np.empty(n_points), np.empty(n_points, np.int64)
    for d in range(directions.shape[0]):
        out[0, d] = out[1, d] = 0.0
        if not wanted[d]:
            continue
        nearest[:] = 1e30
        leaves[:] = -1
        for f in range(n_facets):
            cosine = (
                directions[d, 0] * normals[f, 0] + directions[d, 1] * normals[f, 1] + directions[d, 2] * normals[f, 2]
            )
            if cosine > 1e-9:
                for i in range(n_points):
                    distance = reach[f, i] / cosine
                    nearer = distance < nearest[i]
                    nearest[i] = distance if nearer else nearest[i]
                    leaves[i] = f if nearer else leaves[i]
        for f in range(n_facets):
            if tau[d, f] <= 0.0:
                continue
            count = 0
            for i in range(n_points):
                if leaves[i] == f:
                    count += (
                        _through_panes(points[i], directions[d], nearest[i], f, panes, pane_facet) if windowed[f] else 1
                    )
            light = tau[d, f] * count / n_points
            out[0, d] += light * weights[0, f]
            out[1, d] += light * weights[1, f]


_mean_light_fast = njit(cache=True, error_model="numpy", nogil=True)(_mean_light)


@dataclass(frozen=True, slots=True, eq=False)
class _Shell:
    """Facets as arrays, for rays in given directions (d, 3): tau (d, facets), weights (2, facets), panes (k, 11) and their facets."""

    directions: F64
    normals: F64
    offsets: F64
    tau: F64
    weights: F64
    panes: F64
    pane_facet: NDArray[np.int64]

    def light(self, points: F64, wanted: NDArray[np.bool_]) -> F64:
        """Share of light from each wanted direction that reaches the points, mean over them, for both weights; shape (2, d)."""
        out = np.empty((2, len(self.directions)))
        _mean_light_fast(
            self.directions, wanted, points, self.normals, self.offsets, self.tau, self.weights, self.panes, self.pane_facet, out
        )  # fmt: skip
        return out


def _shell(enc: Enclosure, optics: CoverOptics, directions: F64) -> _Shell:
    normals = np.stack([f.normal for f in enc.facets])
    cosine = np.clip(directions @ normals.T, 0.0, 1.0)
    tau = np.interp(np.degrees(np.arccos(cosine)), ANGLES_DEG, optics.transmittance)
    tau[:, [f.cover_area_m2 <= 0.0 for f in enc.facets]] = 0.0
    tilted = [float(np.sin(0.5 * np.arccos(np.clip(f.tilt_cos, -1.0, 1.0))) ** 3) for f in enc.facets]
    panes = [
        (i, np.concatenate([origin, right, up, [w, h]]))
        for i, f in enumerate(enc.facets)
        for origin, right, up, w, h in f.panes
    ]
    rows = np.stack([row for _, row in panes]) if panes else np.zeros((0, 11))
    weights = np.stack([np.ones(len(tilted)), np.array(tilted)])
    offsets = np.array([f.offset_m for f in enc.facets])
    return _Shell(directions, normals, offsets, tau, weights, rows, np.array([i for i, _ in panes], dtype=np.int64))


def _wall_points(facet: Facet) -> F64:
    """Points spread over an opaque facet, windows left out, a hair inside."""
    low, high = facet.corners.min(axis=0), facet.corners.max(axis=0)
    u, v = spread_points(120).T
    a, b, c = facet.corners[0], facet.corners[1], facet.corners[-1]
    points = a + u[:, None] * (b - a) + v[:, None] * (c - a) * np.where(len(facet.corners) == 4, 1.0, 0.5)
    points = np.clip(points, low, high) - 1e-3 * facet.normal
    keep = np.ones(len(points), dtype=bool)
    for origin, right, up, width, height in facet.panes:
        across, tall = (points - origin) @ right, (points - origin) @ up
        keep &= ~((across > 0) & (across < width) & (tall > 0) & (tall < height))
    return np.asarray(points[keep] if keep.any() else points)


def _on_walls(enc: Enclosure, shell: _Shell) -> F64:
    """m2 of light caught by the inside faces of all opaque facets, for both weights; shape (2, d)."""
    caught = np.zeros((2, len(shell.directions)))
    for facet in enc.facets:
        opaque = facet.area_m2 - facet.cover_area_m2
        if facet.kind == COVER or opaque <= 0.0:
            continue
        points = _wall_points(facet)
        above = points[points[:, 2] > enc.floor_points[0, 2]]  # what falls lower was counted on the plants' plane
        if len(above):
            facing = np.maximum(-(shell.directions @ facet.normal), 0.0)
            caught += opaque * facing * shell.light(above, facing > 0.0) * (len(above) / len(points))
    return caught


def _caught(enc: Enclosure, cover: Cover | None, directions: F64) -> F64:
    """m2 of light of unit normal irradiance caught by each receiver, for light as it is and brightened; shape (2, 6, d)."""
    out = np.zeros((2, 6, len(directions)))
    up = np.maximum(directions[:, 2], 0.0)
    if not enc.facets or cover is None:
        out[0, FLOOR] = enc.floor_area_m2 * up
        return out
    optics = cover_optics(cover)
    shell = _shell(enc, optics, directions)
    dimmed = (1.0 - cover.frame_share) * cover.clean
    out[:, FLOOR] = enc.floor_area_m2 * up * shell.light(enc.floor_points, up > 0.0) * dimmed
    out[:, WALLS_IN] = _on_walls(enc, shell) * dimmed
    for facet, weight in zip(enc.facets, shell.weights.T, strict=True):
        front = np.maximum(directions @ facet.normal, 0.0)
        if facet.kind != COVER:
            opaque = facet.area_m2 - facet.cover_area_m2
            out[:, WALLS_OUT if facet.kind == WALL else ROOF_OUT] += opaque * weight[:, None] * front
        if facet.cover_area_m2 > 0.0:
            angle = np.degrees(np.arccos(np.clip(front, 0.0, 1.0)))
            pane = facet.cover_area_m2 * weight[:, None] * front * (1.0 - cover.frame_share)
            out[:, OUTER_SHEET] += pane * np.interp(angle, ANGLES_DEG, optics.absorptance_outer)
            out[:, INNER_SHEET] += pane * np.interp(angle, ANGLES_DEG, optics.absorptance_inner)
    return out


def _open_sky_view(enc: Enclosure, kind: int, weight: F64, open_sky: F64) -> float:
    """Cold-sky share of the half-space before a kind of facet, area-weighted.

    The sky is warmer near the skyline than overhead, so a tilted face sees less of the cold: the open share times
    sqrt((1 + cos tilt) / 2), the rest at air temperature (Walton 1983; EnergyPlus Engineering Reference, external longwave).
    """
    seen = area = 0.0
    for facet in enc.facets:
        part = facet.cover_area_m2 if kind == COVER else (facet.area_m2 - facet.cover_area_m2) * (facet.kind == kind)
        view = float(np.sum(np.maximum(DIRECTIONS @ facet.normal, 0.0) * weight * open_sky)) / np.pi
        seen += part * view * float(np.sqrt(max(0.5 * (1.0 + facet.tilt_cos), 0.0)))
        area += part
    return seen / area if area > 0.0 else 1.0


AZIMUTHS: F64 = np.arange(0.0, 360.0, AZIMUTH_STEP_DEG)
ELEVATIONS: F64 = np.arange(-90.0, 90.0 + 0.1, ELEVATION_STEP_DEG)
"""Directions of the rays, azimuth from the front of the shelter [deg]."""

GRID = (len(AZIMUTHS), len(ELEVATIONS))
BANDS: F64 = np.clip(np.stack([ELEVATIONS - ELEVATION_STEP_DEG / 2, ELEVATIONS + ELEVATION_STEP_DEG / 2]), -90.0, 90.0)
DIRECTIONS: F64 = local_direction(np.repeat(AZIMUTHS, GRID[1]), np.tile(ELEVATIONS, GRID[0]), 0.0)
SOLID: F64 = np.broadcast_to(
    (np.sin(np.radians(BANDS[1])) - np.sin(np.radians(BANDS[0]))) * np.radians(AZIMUTH_STEP_DEG), GRID
)
"""Solid angle that each ray stands for [sr]."""


def follow_rays(enc: Enclosure, cover: Cover | None) -> Rays:
    """Follow rays over the whole sphere once; see the module's head."""
    plain, brightened = _caught(enc, cover, DIRECTIONS).reshape(2, 6, *GRID)
    return Rays(enc, plain, brightened)


def sky_tables(rays: Rays, facing_deg: float, horizon: Horizon) -> SkyTables:
    """The shelter turned to face one way under a skyline: sums over rays that were followed already."""
    share = _above(BANDS, _skyline(horizon, AZIMUTHS + facing_deg))
    sky = (rays.caught * SOLID * share).sum(axis=(1, 2)) / np.pi
    ground = (rays.caught * SOLID * (1.0 - share)).sum(axis=(1, 2)) / np.pi
    bright = (rays.brightened * SOLID * share).sum(axis=(1, 2)) / np.pi
    weight, view = SOLID.ravel(), share.ravel()
    upper = rays.caught[:, :, N_ELEVATION - 1 :]
    beam = np.ascontiguousarray(np.concatenate([upper, upper[:, :1]], axis=1))
    floor_view = float(np.sum(np.maximum(DIRECTIONS[:, 2], 0.0) * weight * view)) / np.pi
    views = [_open_sky_view(rays.enclosure, kind, weight, view) for kind in (COVER, WALL, ROOF)]
    skyline = _skyline(horizon, np.arange(361.0))
    return SkyTables(beam, sky, ground, bright, facing_deg % 360.0, skyline, views[0], views[1], views[2], floor_view)


def _above(edges: F64, skyline_deg: F64) -> F64:
    """Share of each elevation band (columns) that stands above the skyline of each azimuth (rows)."""
    low, high = edges
    floor_deg = np.maximum(skyline_deg, 0.0)[:, None]
    return np.asarray(np.clip((high[None] - floor_deg) / np.maximum(high - low, 1e-9)[None], 0.0, 1.0))


def _hourly_sunlight(
    dni: F64,
    dhi: F64,
    zenith: F64,
    azimuth: F64,
    snow_depth: F64,
    beam: F64,
    sky: F64,
    ground: F64,
    skyline: F64,
    facing: float,
    horizon: F64,
    reflectance: float,
    out: F64,
) -> None:
    """Fill `out` (n_hours, 6) with the watts that reach each receiver; see `SkyTables` for the tables."""
    for h in range(dni.shape[0]):
        if dni[h] <= 0.0 and dhi[h] <= 0.0:
            for j in range(6):
                out[h, j] = 0.0
            continue
        elevation = max(90.0 - zenith[h], 0.0)
        cosine = np.cos(np.radians(min(zenith[h], 90.0)))
        lit = min(max(elevation - horizon[int(azimuth[h] + 0.5) % 360] + 0.5, 0.0), 1.0) if elevation > 0.0 else 0.0
        around = min(max(dni[h], 0.0) / SOLAR_CONSTANT, 1.0)  # Hay-Davies anisotropy index
        direct = lit * (dni[h] + dhi[h] * around / max(cosine, 0.087)) if lit > 0.0 else 0.0
        spread = dhi[h] * (1.0 - around)
        whole = dni[h] * cosine * lit + dhi[h]
        bright = np.sqrt(dni[h] * cosine * lit / whole) if whole > 0.0 else 0.0
        bounced = whole * (SNOW_REFLECTANCE if snow_depth[h] > 0.02 else reflectance)
        turned = azimuth[h] - facing
        a = (turned if turned >= 0.0 else turned + 360.0) / 5.0
        e = elevation / 3.0
        i = min(max(int(a), 0), 71)
        k = min(max(int(e), 0), 29)
        fa, fe = a - i, e - k
        for j in range(6):
            low = beam[j, i, k] * (1.0 - fa) + beam[j, i + 1, k] * fa
            high = beam[j, i, k + 1] * (1.0 - fa) + beam[j, i + 1, k + 1] * fa
            out[h, j] = (
                direct * (low * (1.0 - fe) + high * fe) + spread * (sky[j] + bright * skyline[j]) + bounced * ground[j]
            )


_hourly_sunlight_fast = njit(cache=True, error_model="numpy", nogil=True)(_hourly_sunlight)


def hourly_sunlight(
    dni_w_m2: F64,
    dhi_w_m2: F64,
    zenith_deg: F64,
    azimuth_deg: F64,
    snow_depth_m: F64,
    tables: SkyTables,
    ground_reflectance: float,
) -> F64:
    """Watts that reach floor, walls and cover in each hour, shape (n_hours, 6); all inputs (n_hours,).

    Source: the sky of Hay & Davies (1980) with the skyline of Reindl, Beckman & Duffie (1990), as in Duffie & Beckman eq. 2.16.7.
    """
    out = np.empty((dni_w_m2.shape[0], 6))
    _hourly_sunlight_fast(
        dni_w_m2,
        dhi_w_m2,
        zenith_deg,
        azimuth_deg,
        snow_depth_m,
        tables.beam,
        tables.sky,
        tables.ground,
        tables.skyline,
        tables.facing_deg,
        tables.horizon,
        ground_reflectance,
        out,
    )
    return out
