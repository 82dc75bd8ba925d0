"""How high the land lies, roughly, from a relief map that ships with the package (1/12 degree, 28 m steps).

Good enough to offer a first guess of a garden's elevation and to correct a climate grid for height; off by 30 m at
coasts and by 100 m or more among hills, so a person should be asked.
"""

from __future__ import annotations

import zipfile
from functools import lru_cache
from importlib import resources
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

__all__ = ["elevation_guess_m", "land_share", "mean_elevation_m"]

PIXELS_PER_DEG = 12
TILE_DEG = 10
NO_LAND = 255
SEARCH_PIXELS = 2


@lru_cache(maxsize=1)
def _archive() -> zipfile.ZipFile:
    return zipfile.ZipFile(BytesIO(resources.files("underglass.place").joinpath("data/relief.zip").read_bytes()))


@lru_cache(maxsize=64)
def _tile(row: int, col: int) -> NDArray[np.uint8] | None:
    """Altitude codes of one 10 degree tile, shape (120, 120), or None where there is only sea."""
    name = f"{row:02d}_{col % 36:02d}"
    if name not in _archive().namelist():
        return None
    size = TILE_DEG * PIXELS_PER_DEG
    return np.frombuffer(_archive().read(name), dtype=np.uint8).reshape(size, size)


def _pixel_m(y: int, x: int) -> float:
    """Elevation of one pixel counted from 90 N, 180 W [m]; nan where there is no land."""
    size = TILE_DEG * PIXELS_PER_DEG
    y, x = min(max(y, 0), 180 * PIXELS_PER_DEG - 1), x % (360 * PIXELS_PER_DEG)
    tile = _tile(y // size, x // size)
    code = NO_LAND if tile is None else int(tile[y % size, x % size])
    return float("nan") if code == NO_LAND else code * 28.0 - 450.0


def _window(latitude_deg: float, longitude_deg: float, half: int) -> NDArray[np.float64]:
    """Elevations of the (2 half)² pixels around the nearest pixel corner [m], nan where there is no land."""
    row = round((90.0 - latitude_deg) * PIXELS_PER_DEG)
    col = round((longitude_deg + 180.0) * PIXELS_PER_DEG)
    span = range(-half, half)
    return np.array([[_pixel_m(row + down, col + right) for right in span] for down in span])


def elevation_guess_m(latitude_deg: float, longitude_deg: float) -> float:
    """A first guess of the ground's elevation at a point; 0 at sea.  [m]

    latitude_deg, longitude_deg : degrees, north and east positive
    Source: Mapzen/joerd relief as packed by pvlib (Altitude.h5), 28 m steps.

    >>> 1400 < elevation_guess_m(40.59, -105.08) < 1700
    True
    """
    row, col = int((90.0 - latitude_deg) * PIXELS_PER_DEG), int((longitude_deg + 180.0) * PIXELS_PER_DEG)
    here = _pixel_m(row, col)
    if np.isnan(here):
        near = _window(latitude_deg, longitude_deg, SEARCH_PIXELS)
        here = float(np.nanmean(near)) if np.isfinite(near).any() else 0.0
    return max(here, 0.0) if here > -10.0 else here


def mean_elevation_m(latitude_deg: float, longitude_deg: float) -> float:
    """Mean elevation of the quarter degree around a grid point; sea counts as 0 m.  [m]"""
    return float(np.nan_to_num(_window(latitude_deg, longitude_deg, 2)).mean())


def land_share(latitude_deg: float, longitude_deg: float, half_deg: float = 0.25) -> float:
    """Share of the square of ± half_deg around a point that is land, 0-1."""
    return float(np.isfinite(_window(latitude_deg, longitude_deg, max(1, round(half_deg * PIXELS_PER_DEG)))).mean())
