"""How much of the radiation field inside each surface sees: one number a surface, for the star network.

Carroll (1980), "An 'MRT method' of computing radiant energy exchange in rooms", 2nd Systems Simulation and Economic Analysis Conference, San Diego, as
in EnergyPlus's Engineering Reference, Carroll mean radiant temperature (from memory).  Surface i is tied to the star by A_i over
1/F_i + (1 - emissivity)/emissivity, with F_i = 1 / (1 - A_i F_i / sum A_j F_j): a flat surface does not see itself, so the star, to which it gives its
own share, is farther from it than the field that it sees.  Two plates that face each other have F = 2 (and exchange A between them), a small window
in a large room has 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.geometry import COVER, WALL, Enclosure

__all__ = ["Views", "carroll", "views"]

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Views:
    """Carroll's F by kind of surface, area-weighted over its pieces [-]."""

    floor: float
    cover: float
    wall: float
    roof: float
    water: float


def carroll(area_m2: F64) -> F64:
    """F of each of the flat surfaces that enclose a space.  [-]

    >>> carroll(np.array([1.0, 1.0])).round(3).tolist()
    [2.0, 2.0]
    >>> carroll(np.full(6, 1.0)).round(3).tolist()
    [1.2, 1.2, 1.2, 1.2, 1.2, 1.2]
    """
    f = np.ones(len(area_m2))
    for _ in range(500):
        share = area_m2 * f / (area_m2 * f).sum()
        nearer = 1.0 / (1.0 - np.minimum(share, 0.98))
        if np.abs(nearer - f).max() < 1e-10:
            break
        f = 0.5 * (f + nearer)
    return f


def views(enc: Enclosure, water_m2: float) -> Views:
    """F of floor, cover, walls, roof and jugs; each window is a surface of its own."""
    if not enc.facets:
        return Views(1.0, 1.0, 1.0, 1.0, 1.0)
    pieces = [("floor", enc.floor_area_m2), ("water", water_m2)]
    for facet in enc.facets:
        if facet.kind == COVER:
            pieces.append(("cover", facet.area_m2))
            continue
        pieces += [("cover", width * height) for *_, width, height in facet.panes]
        pieces.append(("wall" if facet.kind == WALL else "roof", facet.area_m2 - facet.cover_area_m2))
    area = np.array([a for _, a in pieces])
    f = carroll(area)

    def mean(kind: str) -> float:
        ours = area * [name == kind for name, _ in pieces]
        return float((ours * f).sum() / ours.sum()) if ours.sum() > 0.0 else 1.0

    return Views(*(mean(kind) for kind in ("floor", "cover", "wall", "roof", "water")))
