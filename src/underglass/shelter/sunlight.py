"""Where the sun ends up: for every direction of the sky, how much light lands on floor, walls and cover.

Rays are followed from sample points on the floor and on the inside of opaque walls towards the sky: the facet where a
ray leaves decides whether light comes in along it, and how much (angle of incidence).  This gives shading by the box's
own walls, light lost out of the far side of a tunnel, and the horizon, for any shape, in one way.  The answers are
tabled once per shelter over the sphere; an hour then costs one look-up (`hourly_sunlight`).

Diffuse light: the part around the sun follows the beam (Hay & Davies 1980, anisotropy index); the rest comes evenly from the
unblocked sky, brighter near the skyline for tilted faces (Reindl, Beckman & Duffie 1990: 1 + sqrt(beam/global) sin3(tilt/2));
the ground and whatever blocks the sky reflect the global radiation evenly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

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
    "SkyTables",
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
class SkyTables:
    """A shelter's answer to light and to cold sky from every direction.

    beam (6, 73, 31)    : m2 of DNI caught, by azimuth 0, 5 … 360 deg and elevation 0, 3 … 90 deg; rows as FLOOR …
    sky (6,), ground (6,): m2 of diffuse horizontal, and of reflected global, caught
    skyline (6,)        : what the bright skyline adds to `sky` when all is beam
    horizon (361,)      : skyline elevation by whole degree of azimuth [deg]
    sky_view_cover, sky_view_walls, sky_view_roof, sky_view_floor : share of the half-space before each that is open sky
    """

    beam: F64
    sky: F64
    ground: F64
    skyline: F64
    horizon: F64
    sky_view_cover: float
    sky_view_walls: float
    sky_view_roof: float
    sky_view_floor: float


def _skyline(horizon: Horizon) -> F64:
    azimuth = np.array(horizon.azimuth_deg)
    return np.asarray(np.interp(np.arange(361.0), azimuth, np.array(horizon.elevation_deg), period=360.0))


def _mean_light(
    directions: F64,
    points: F64,
    normals: F64,
    offsets: F64,
    tau: F64,
    panes: F64,
    pane_facet: NDArray[np.int64],
    out: F64,
) -> None:
    """Mean over the points of the light that reaches them along each direction; fills `out` (d,).

    tau (d, facets): transmittance, of the pane where the facet is a wall with windows;  panes (k, 11): origin, right, up, size
    pane_facet (k,): the wall that each window is in;  a facet without cover or window has tau 0
    """
    for d in range(directions.shape[0]):
        total = 0.0
        for i in range(points.shape[0]):
            nearest, leaves = 1e30, -1
            for f in range(normals.shape[0]):
                cosine = (
                    directions[d, 0] * normals[f, 0]
                    + directions[d, 1] * normals[f, 1]
                    + directions[d, 2] * normals[f, 2]
                )
                if cosine > 1e-9:
                    reach = (
                        offsets[f]
                        - points[i, 0] * normals[f, 0]
                        - points[i, 1] * normals[f, 1]
                        - points[i, 2] * normals[f, 2]
                    )
                    distance = max(reach, 0.0) / cosine
                    if distance < nearest:
                        nearest, leaves = distance, f
            if leaves < 0 or tau[d, leaves] <= 0.0:
                continue
            light, walled = tau[d, leaves], False
            for k in range(panes.shape[0]):
                if pane_facet[k] == leaves:
                    walled = True
                    across, tall = 0.0, 0.0
                    for c in range(3):
                        away = points[i, c] + directions[d, c] * nearest - panes[k, c]
                        across += away * panes[k, 3 + c]
                        tall += away * panes[k, 6 + c]
                    if 0.0 < across < panes[k, 9] and 0.0 < tall < panes[k, 10]:
                        total += light
            if not walled:
                total += light
        out[d] = total / points.shape[0]


_mean_light_fast = njit(cache=True, error_model="numpy", nogil=True)(_mean_light)


def _transmitted(enc: Enclosure, optics: CoverOptics | None, points: F64, directions: F64, facet_weight: F64) -> F64:
    """Share of light from each direction that reaches the points, mean over them, shape (d,).

    facet_weight (facets,) : factor on what comes through each facet
    """
    if not enc.facets or optics is None:
        return np.full(len(directions), 1.0 if not len(facet_weight) or facet_weight.max() >= 1.0 else 0.0)
    normals = np.stack([f.normal for f in enc.facets])
    cosine = np.clip(directions @ normals.T, 0.0, 1.0)
    tau = np.interp(np.degrees(np.arccos(cosine)), ANGLES_DEG, optics.transmittance)
    tau[:, [f.cover_area_m2 <= 0.0 for f in enc.facets]] = 0.0
    tau *= facet_weight
    panes = [
        (i, np.concatenate([origin, right, up, [w, h]]))
        for i, f in enumerate(enc.facets)
        for origin, right, up, w, h in f.panes
    ]
    pane_rows = np.stack([row for _, row in panes]) if panes else np.zeros((0, 11))
    out = np.empty(len(directions))
    offsets = np.array([f.offset_m for f in enc.facets])
    _mean_light_fast(
        directions, points, normals, offsets, tau, pane_rows, np.array([i for i, _ in panes], dtype=np.int64), out
    )
    return out


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


def _caught(enc: Enclosure, cover: Cover | None, optics: CoverOptics | None, directions: F64, facet_weight: F64) -> F64:
    """m2 of light of unit normal irradiance caught by each receiver, shape (6, d); light through each facet weighted."""
    out = np.zeros((6, len(directions)))
    dimmed = (1.0 - cover.frame_share) * cover.clean if cover is not None else 1.0
    up = np.maximum(directions[:, 2], 0.0)
    out[FLOOR] = enc.floor_area_m2 * up * _transmitted(enc, optics, enc.floor_points, directions, facet_weight) * dimmed
    for facet, weight in zip(enc.facets, facet_weight, strict=True):
        cosine = directions @ facet.normal
        front = np.maximum(cosine, 0.0)
        outside = front * weight
        opaque = facet.area_m2 - facet.cover_area_m2
        if facet.kind != COVER and opaque > 0.0:
            points = _wall_points(facet)
            above = points[points[:, 2] > enc.floor_points[0, 2]]  # what falls lower was counted on the plants' plane
            through = (
                _transmitted(enc, optics, above, directions, facet_weight) * (len(above) / len(points))
                if len(above)
                else 0.0
            )
            out[WALLS_IN] += opaque * np.maximum(-cosine, 0.0) * through * dimmed
            out[WALLS_OUT if facet.kind == WALL else ROOF_OUT] += opaque * outside
        if facet.cover_area_m2 > 0.0 and optics is not None and cover is not None:
            angle = np.degrees(np.arccos(np.clip(front, 0.0, 1.0)))
            pane = facet.cover_area_m2 * outside * (1.0 - cover.frame_share)
            out[OUTER_SHEET] += pane * np.interp(angle, ANGLES_DEG, optics.absorptance_outer)
            out[INNER_SHEET] += pane * np.interp(angle, ANGLES_DEG, optics.absorptance_inner)
    return out


def _open_sky_view(enc: Enclosure, kind: int, directions: F64, weight: F64, open_sky: F64) -> float:
    """Cold-sky share of the half-space before a kind of facet, area-weighted.

    The sky is warmer near the skyline than overhead, so a tilted face sees less of the cold: the open share times
    sqrt((1 + cos tilt) / 2), the rest at air temperature (Walton 1983; EnergyPlus Engineering Reference, external longwave).
    """
    seen = area = 0.0
    for facet in enc.facets:
        part = facet.cover_area_m2 if kind == COVER else (facet.area_m2 - facet.cover_area_m2) * (facet.kind == kind)
        view = float(np.sum(np.maximum(directions @ facet.normal, 0.0) * weight * open_sky)) / np.pi
        seen += part * view * float(np.sqrt(max(0.5 * (1.0 + facet.tilt_cos), 0.0)))
        area += part
    return seen / area if area > 0.0 else 1.0


def sky_tables(enc: Enclosure, cover: Cover | None, facing_deg: float, horizon: Horizon) -> SkyTables:
    """Follow rays over the whole sphere once; see the module's head."""
    optics = cover_optics(cover) if cover is not None else None
    azimuth = np.arange(0.0, 360.0, AZIMUTH_STEP_DEG)
    elevation = np.arange(-90.0, 90.0 + 0.1, ELEVATION_STEP_DEG)
    grid_azimuth, grid_elevation = np.meshgrid(azimuth, elevation, indexing="ij")
    directions = local_direction(grid_azimuth.ravel(), grid_elevation.ravel(), facing_deg)
    grid = (6, len(azimuth), len(elevation))
    caught = _caught(enc, cover, optics, directions, np.ones(len(enc.facets))).reshape(grid)
    tilted = np.array([np.sin(0.5 * np.arccos(np.clip(f.tilt_cos, -1.0, 1.0))) ** 3 for f in enc.facets])
    brightened = _caught(enc, cover, optics, directions, tilted).reshape(grid) if enc.facets else np.zeros(grid)
    edges = np.clip(np.stack([elevation - ELEVATION_STEP_DEG / 2, elevation + ELEVATION_STEP_DEG / 2]), -90.0, 90.0)
    solid = np.broadcast_to(
        (np.sin(np.radians(edges[1])) - np.sin(np.radians(edges[0]))) * np.radians(AZIMUTH_STEP_DEG), grid_azimuth.shape
    )
    skyline = _skyline(horizon)
    share = np.broadcast_to(_above(edges, skyline[azimuth.astype(int)]), grid_azimuth.shape)
    sky = (caught * solid * share).sum(axis=(1, 2)) / np.pi
    ground = (caught * solid * (1.0 - share)).sum(axis=(1, 2)) / np.pi
    bright = (brightened * solid * share).sum(axis=(1, 2)) / np.pi
    weight, view = solid.ravel(), share.ravel()
    upper = caught[:, :, N_ELEVATION - 1 :]
    beam = np.ascontiguousarray(np.concatenate([upper, upper[:, :1]], axis=1))
    floor_view = float(np.sum(np.maximum(directions[:, 2], 0.0) * weight * view)) / np.pi
    views = [_open_sky_view(enc, kind, directions, weight, view) for kind in (COVER, WALL, ROOF)]
    return SkyTables(beam, sky, ground, bright, skyline, views[0], views[1], views[2], floor_view)


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
        a = azimuth[h] / 5.0
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
        tables.horizon,
        ground_reflectance,
        out,
    )
    return out
