"""The compact monthly climate grid that ships with the package: mean temperature and precipitation, 2000-2025.

ERA5 monthly means at 0.25 degrees (precipitation at 0.5), made by scripts/build_climate_grid.py.  Contains modified
Copernicus Climate Change Service information [2025]; see data/CREDITS.md.
"""

from __future__ import annotations

import zipfile
from functools import lru_cache
from importlib import resources
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.relief import land_share, mean_elevation_m
from underglass.units import ZERO_C_K

__all__ = ["GridClimate", "cold_reach_k", "grid_climate", "grid_mean_temp_k", "land_around"]

F64 = NDArray[np.float64]

TEMP_CELLS = 40
RAIN_CELLS = 20
TILE_DEG = 10.0
LAPSE_K_PER_M = 1e-3 * np.array([-3.5, -4.2, -5.2, -6.2, -6.3, -6.2, -6.1, -5.9, -5.4, -4.8, -4.0, -3.6])
"""Fall of the monthly mean with height, northern months.  Jan, Apr, Jul and Oct were measured between 50 Trentino
stations and this grid; the months between are drawn by hand through those four (estimate)."""

NEAREST_DEG, FARTHEST_DEG = 3, 15
"""Between these distances poleward lies the air of a cold spell."""

GridClimate = tuple[F64, F64]


@lru_cache(maxsize=1)
def _archive() -> zipfile.ZipFile:
    return zipfile.ZipFile(
        BytesIO(resources.files("underglass.weather").joinpath("data/climate_grid.zip").read_bytes())
    )


def _undelta(body: bytes, cells: int) -> NDArray[np.int64]:
    """Undo the byte planes and differences of the packing script, shape (12, cells + 1, cells + 1)."""
    planes = np.frombuffer(body, dtype=np.uint8).reshape(2, -1)
    steps = np.ascontiguousarray(planes.T).view("<i2").reshape(12, cells + 1, cells + 1).astype(np.int64)
    return steps.cumsum(axis=2).cumsum(axis=0)


@lru_cache(maxsize=64)
def _tile(row: int, col: int) -> GridClimate | None:
    """(temperature [degC], precipitation [mm/month]) of a 10 degree tile, or None where there is only sea."""
    name = f"{row:02d}_{col % 36:02d}"
    if name not in _archive().namelist():
        return None
    body = _archive().read(name)
    split = 2 * 12 * (TEMP_CELLS + 1) ** 2
    return _undelta(body[:split], TEMP_CELLS) / 10.0, (_undelta(body[split:], RAIN_CELLS) / 4.0) ** 2


def _corners(offset_deg: float, cells: int) -> tuple[int, float]:
    """Index of the grid line before a point inside its tile, and how far on it lies (0-1)."""
    at = min(offset_deg * cells / TILE_DEG, cells - 1e-9)
    return int(at), at - int(at)


def _bilinear(values: F64, down_deg: float, right_deg: float, cells: int, land: F64 | None = None) -> F64:
    """Values of the four surrounding grid points, weighted by nearness and (where given) by their share of land."""
    i, y = _corners(down_deg, cells)
    j, x = _corners(right_deg, cells)
    weights = np.outer([1.0 - y, y], [1.0 - x, x])
    if land is not None:
        weights = weights * (0.05 + land)
    return np.asarray((values[:, i : i + 2, j : j + 2] * weights).sum(axis=(1, 2)) / weights.sum(), dtype=np.float64)


def _swap_hint(latitude_deg: float, longitude_deg: float) -> str:
    """Asks whether the two were swapped where that would be land."""
    swapped = abs(longitude_deg) < 60.0 and land_share(longitude_deg, latitude_deg, 0.5) > 0.3
    return "are they swapped? " if swapped else ""


def grid_climate(latitude_deg: float, longitude_deg: float, elevation_m: float) -> GridClimate:
    """Monthly mean temperature [K] and precipitation [mm/month] of a place, each of shape (12,).

    latitude_deg  : -60 … 90        elevation_m : of the place; the grid is corrected to it by the month's lapse
    Source: ERA5 2000-2025; against station normals of 26 places bias +0.05 K, mean error 0.46 K, worst month 1.6 K.
    """
    row, col = int((90.0 - latitude_deg) // TILE_DEG), int((longitude_deg + 180.0) // TILE_DEG) % 36
    tile = _tile(row, col)
    if tile is None:
        raise InputError(
            f"{latitude_deg:g}, {longitude_deg:g} is far from any land on the climate map: check latitude and "
            f"longitude ({_swap_hint(latitude_deg, longitude_deg)}west and south are negative), or give the monthly normals of the place"
        )
    down, right = (
        90.0 - TILE_DEG * row - latitude_deg,
        longitude_deg + 180.0 - TILE_DEG * int((longitude_deg + 180) // 10),
    )
    i, y = _corners(down, TEMP_CELLS)
    j, x = _corners(right, TEMP_CELLS)
    lats = 90.0 - TILE_DEG * row - 0.25 * np.array([i, i + 1])
    lons = -180.0 + TILE_DEG * col + 0.25 * np.array([j, j + 1])
    land = np.array([[land_share(lat, lon, 0.125) for lon in lons] for lat in lats])
    height = np.array([[mean_elevation_m(lat, lon) for lon in lons] for lat in lats])
    weights = np.outer([1.0 - y, y], [1.0 - x, x]) * (0.05 + land)
    grid_m = float((height * weights).sum() / weights.sum())
    lapse = LAPSE_K_PER_M if latitude_deg >= 0.0 else np.roll(LAPSE_K_PER_M, 6)
    temp_c = _bilinear(tile[0], down, right, TEMP_CELLS, land) + lapse * (elevation_m - grid_m)
    return temp_c + ZERO_C_K, _bilinear(tile[1], down, right, RAIN_CELLS)


def grid_mean_temp_k(latitude_deg: float, longitude_deg: float) -> F64 | None:
    """Monthly mean temperature of the nearest grid point as it is, shape (12,) [K]; None over open sea."""
    row, col = int((90.0 - latitude_deg) // TILE_DEG), int((longitude_deg + 180.0) // TILE_DEG)
    tile = _tile(row, col)
    if tile is None:
        return None
    down, right = 90.0 - TILE_DEG * row - latitude_deg, longitude_deg + 180.0 - TILE_DEG * col
    nearest = tile[0][:, round(down * 4), round(right * 4)]
    return np.asarray(nearest + ZERO_C_K, dtype=np.float64)


def cold_reach_k(latitude_deg: float, longitude_deg: float, elevation_m: float) -> F64:
    """How much colder it is poleward where cold air can come from, by month, shape (12,).  [K]

    The mean, over 3 to 15 degrees of the meridian, of the fall of the monthly mean at sea level, times the share of land on the way,
    times what passes the heights between: all up to 600 m above the place, 1/e for each further 400 m (estimate).  Sea counts as no fall.
    """
    lapse = LAPSE_K_PER_M if latitude_deg >= 0.0 else np.roll(LAPSE_K_PER_M, 6)
    here = grid_mean_temp_k(latitude_deg, longitude_deg)
    if here is None:
        return np.zeros(12)
    here = here - lapse * mean_elevation_m(latitude_deg, longitude_deg)
    poleward = 1.0 if latitude_deg >= 0.0 else -1.0
    reach, land, barrier_m = np.zeros(12), 0.0, 0.0
    for degree in range(1, FARTHEST_DEG + 1):
        lat = latitude_deg + poleward * degree
        if abs(lat) > 85.0:
            break
        height_m, share, temp = (
            mean_elevation_m(lat, longitude_deg),
            land_share(lat, longitude_deg, 0.5),
            grid_mean_temp_k(lat, longitude_deg),
        )
        barrier_m = max(barrier_m, height_m - elevation_m)
        if temp is None or share <= 0.0:
            continue
        land += share
        if degree >= NEAREST_DEG:
            passing = float(np.exp(-max(barrier_m - 600.0, 0.0) / 400.0))
            reach += land / degree * passing * (here - (temp - lapse * height_m))
    return np.asarray(reach / (FARTHEST_DEG - NEAREST_DEG + 1))


def land_around(latitude_deg: float, longitude_deg: float) -> float:
    """Share of land within about five degrees of latitude, from 21 points of a square degree each.  0-1"""
    stretch = max(float(np.cos(np.radians(latitude_deg))), 0.25)
    steps = (-4.0, -2.0, 0.0, 2.0, 4.0)
    points = [
        (latitude_deg + down, longitude_deg + right / stretch)
        for down in steps
        for right in steps
        if abs(down) + abs(right) < 8.0 and abs(latitude_deg + down) < 85.0
    ]
    return float(np.mean([land_share(lat, (lon + 180.0) % 360.0 - 180.0, 0.5) for lat, lon in points]))
