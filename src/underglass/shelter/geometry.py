"""The shape of a shelter as flat facets around a floor, and where a ray from inside leaves it.

Local axes, seen by somebody who stands in front and looks in: x to the right, y away, z up; the floor lies at z = 0.
Curved covers are cut into flat facets: a tunnel into 8 along its arc, a jug into 8 around.  Every shape is convex, so
a ray from a point inside leaves through the first facet plane it meets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Shape, Window

__all__ = ["COVER", "ROOF", "WALL", "Enclosure", "Facet", "enclosure", "local_direction", "spread_points"]

COVER, WALL, ROOF = 0, 1, 2

ARC_FACETS = 8

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """One flat piece of the shell.

    normal (3,)  : outward unit vector              offset_m : normal · point on the plane [m]
    area_m2      : whole piece, windows included    kind     : COVER, WALL or ROOF
    corners (k, 3): of the polygon [m]              panes    : (origin, right, up, width_m, height_m) of each window
    """

    normal: F64
    offset_m: float
    area_m2: float
    kind: int
    corners: F64
    panes: tuple[tuple[F64, F64, F64, float, float], ...] = ()

    @property
    def cover_area_m2(self) -> float:
        """Glazed part of this facet [m2]."""
        return self.area_m2 if self.kind == COVER else sum(w * h for *_, w, h in self.panes)

    @property
    def tilt_cos(self) -> float:
        """Cosine of the angle between the outward normal and straight up."""
        return float(self.normal[2])


@dataclass(frozen=True, slots=True, eq=False)
class Enclosure:
    """All facets around a floor.

    floor_points (p, 3) : sample points on the floor, evenly spread [m]
    floor_area_m2, volume_m3, perimeter_m, height_m (mean)
    """

    facets: tuple[Facet, ...]
    floor_points: F64
    floor_area_m2: float
    volume_m3: float
    perimeter_m: float
    height_m: float

    def area_m2(self, kind: int) -> float:
        """Total area of a kind of surface; windows count as cover, not as wall [m2]."""
        if kind == COVER:
            return sum((f.cover_area_m2 for f in self.facets), 0.0)
        return sum((f.area_m2 - f.cover_area_m2 for f in self.facets if f.kind == kind), 0.0)

    def cover_mean_tilt_cos(self) -> float:
        """Area-weighted cosine of the cover's tilt."""
        total = self.area_m2(COVER)
        return sum(f.tilt_cos * f.cover_area_m2 for f in self.facets) / total if total > 0.0 else 1.0


def local_direction(azimuth_deg: F64, elevation_deg: F64, facing_deg: float) -> F64:
    """Unit vectors towards sky directions in the shelter's own axes, shape (..., 3)."""
    turned = np.radians(azimuth_deg - facing_deg)
    elevation = np.radians(elevation_deg)
    flat = np.cos(elevation)
    return np.stack([-flat * np.sin(turned), -flat * np.cos(turned), np.sin(elevation)], axis=-1)


def _facet(corners: list[tuple[float, float, float]], kind: int, outward: tuple[float, float, float]) -> Facet:
    points = np.array(corners, dtype=float)
    cross = np.zeros(3)
    for i in range(1, len(points) - 1):
        cross += np.cross(points[i] - points[0], points[i + 1] - points[0])
    area = 0.5 * float(np.linalg.norm(cross))
    normal = cross / np.linalg.norm(cross)
    if normal @ np.array(outward) < 0.0:
        normal = -normal
    return Facet(normal, float(normal @ points[0]), area, kind, points)


def spread_points(count: int) -> F64:
    """Points spread evenly over the unit square without rows that an edge of light could fall between, shape (count, 2).

    Additive recurrence with the plastic number (Roberts 2018, quasirandom sequence R2): the share of points under any straight
    edge is within about 1/count of the area.
    """
    plastic = 1.32471795724474602596
    steps = np.array([1.0 / plastic, 1.0 / plastic**2])
    return np.asarray((0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0)


def _grid(length_m: float, width_m: float, level_m: float, count: int = 400) -> F64:
    flat = spread_points(count) * np.array([length_m, width_m])
    return np.column_stack([flat, np.full(count, level_m)])


def _with_windows(facet: Facet, wall: str, box: Box, windows: tuple[Window, ...]) -> Facet:
    """Cut the windows of one wall into its facet.  Lower left corner and direction to the right as seen from outside."""
    corner, right = {
        "front": ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)),
        "back": ((box.length_m, box.depth_m, 0.0), (-1.0, 0.0, 0.0)),
        "left": ((0.0, box.depth_m, 0.0), (0.0, -1.0, 0.0)),
        "right": ((box.length_m, 0.0, 0.0), (0.0, 1.0, 0.0)),
    }[wall]
    up = np.array([0.0, 0.0, 1.0])
    panes = tuple(
        (
            np.array(corner) + w.from_left_m * np.array(right) + w.from_floor_m * up,
            np.array(right),
            up,
            w.width_m,
            w.height_m,
        )
        for w in windows
        if w.wall == wall
    )
    return Facet(facet.normal, facet.offset_m, facet.area_m2, facet.kind, facet.corners, panes)


def _box(box: Box, level_m: float) -> Enclosure:
    length, depth, front, back = box.length_m, box.depth_m, box.front_height_m, box.back_height_m
    kind = {f: COVER if f in box.glazed else WALL for f in ("front", "back", "left", "right")}
    walls = {
        "front": _facet([(0, 0, 0), (length, 0, 0), (length, 0, front), (0, 0, front)], kind["front"], (0, -1, 0)),
        "back": _facet(
            [(0, depth, 0), (length, depth, 0), (length, depth, back), (0, depth, back)], kind["back"], (0, 1, 0)
        ),
        "left": _facet([(0, 0, 0), (0, depth, 0), (0, depth, back), (0, 0, front)], kind["left"], (-1, 0, 0)),
        "right": _facet(
            [(length, 0, 0), (length, depth, 0), (length, depth, back), (length, 0, front)], kind["right"], (1, 0, 0)
        ),
    }
    lid_kind = COVER if "lid" in box.glazed else ROOF
    lid = _facet([(0, 0, front), (length, 0, front), (length, depth, back), (0, depth, back)], lid_kind, (0, 0, 1))
    facets = tuple(_with_windows(f, name, box, box.windows) if f.kind == WALL else f for name, f in walls.items())
    height = 0.5 * (front + back)
    area = length * depth
    return Enclosure((*facets, lid), _grid(length, depth, level_m), area, area * height, 2 * (length + depth), height)


def _hoop(hoop: Hoop, level_m: float) -> Enclosure:
    half, ridge, length = 0.5 * hoop.width_m, hoop.height_m, hoop.length_m
    angle = np.linspace(0.0, np.pi, ARC_FACETS + 1)
    y, z = half * (1.0 - np.cos(angle)), ridge * np.sin(angle)
    facets = []
    for i in range(ARC_FACETS):
        middle = 0.5 * (angle[i] + angle[i + 1])
        outward = (0.0, -float(np.cos(middle)), float(np.sin(middle)))
        corners = [(0.0, y[i], z[i]), (length, y[i], z[i]), (length, y[i + 1], z[i + 1]), (0.0, y[i + 1], z[i + 1])]
        facets.append(_facet(corners, COVER, outward))
    end_kind = COVER if hoop.end_walls == "cover" else WALL
    for x, outward_x in ((0.0, -1.0), (length, 1.0)):
        facets.append(
            _facet([(x, float(a), float(b)) for a, b in zip(y, z, strict=True)], end_kind, (outward_x, 0.0, 0.0))
        )
    section = facets[-1].area_m2
    area = length * hoop.width_m
    return Enclosure(
        tuple(facets),
        _grid(length, hoop.width_m, level_m),
        area,
        section * length,
        2 * (length + hoop.width_m),
        section / hoop.width_m,
    )


def _drum(drum: Drum, level_m: float) -> Enclosure:
    radius, height = 0.5 * drum.diameter_m, drum.height_m
    angle = np.linspace(0.0, 2.0 * np.pi, ARC_FACETS + 1)
    x, y = radius * (1.0 + np.cos(angle)), radius * (1.0 + np.sin(angle))
    facets = []
    for i in range(ARC_FACETS):
        middle = 0.5 * (angle[i] + angle[i + 1])
        corners = [(x[i], y[i], 0.0), (x[i + 1], y[i + 1], 0.0), (x[i + 1], y[i + 1], height), (x[i], y[i], height)]
        facets.append(_facet(corners, COVER, (float(np.cos(middle)), float(np.sin(middle)), 0.0)))
    top = [(float(a), float(b), height) for a, b in zip(x[:-1], y[:-1], strict=True)]
    facets.append(_facet(top, COVER, (0.0, 0.0, 1.0)))
    area = facets[-1].area_m2
    points = _grid(2 * radius, 2 * radius, level_m)
    inside = np.hypot(points[:, 0] - radius, points[:, 1] - radius) < 0.9 * radius
    return Enclosure(tuple(facets), points[inside], area, area * height, np.pi * drum.diameter_m, height)


def enclosure(shape: Shape, plant_height_m: float = 0.0) -> Enclosure:
    """The facets, areas and floor points of a shape; the open ground has a floor and no facets.

    plant_height_m : light is taken on this plane above the floor, at most half-way up the shelter [m]
    """
    level_m = max(min(plant_height_m, 0.5 * _lowest_m(shape)), 1e-3)
    match shape:
        case Box():
            return _box(shape, level_m)
        case Hoop():
            return _hoop(shape, level_m)
        case Drum():
            return _drum(shape, level_m)
        case OpenGround():
            length, width = shape.length_m, shape.width_m
            return Enclosure(
                (), _grid(length, width, level_m), length * width, length * width, 2 * (length + width), 1.0
            )


def _lowest_m(shape: Shape) -> float:
    match shape:
        case Box():
            return min(shape.front_height_m, shape.back_height_m)
        case Hoop() | Drum():
            return 0.5 * shape.height_m
        case OpenGround():
            return 1.0
