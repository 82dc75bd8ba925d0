"""The same balance in plain C (box.c), built on the spot and fed with what the compiled loop was fed with."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import time
from pathlib import Path

import numpy as np

from underglass.shelter.parts import Params

__all__ = ["built", "c_seconds"]

SOURCE = Path(__file__).with_name("box.c")


def built(folder: Path) -> ctypes.CDLL | None:
    """The C version compiled into `folder` without any loosening of arithmetic; None where there is no compiler."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None:
        return None
    target = folder / "box.so"
    names = ("twofold" if name == "double" else name for name in Params._fields)  # C has a word of its own for that
    fields = f"-DFIELDS={','.join(names)}"
    options = ["-O3", "-march=native", "-ffp-contract=off", "-fPIC", "-shared", fields]
    subprocess.run([compiler, *options, "-o", str(target), str(SOURCE), "-lm"], check=True)
    library = ctypes.CDLL(str(target))
    library.prepare()
    return library


def c_seconds(library: ctypes.CDLL, args: tuple) -> tuple[float, np.ndarray]:
    """Time [s] and hours of the C version for the arguments of `kernel.run`; a box without fleece, water, roof or night cover."""
    (
        p,
        air,
        vapour,
        wind,
        longwave,
        pressure,
        rain,
        _snow,
        sun,
        gap,
        _night,
        _fleece,
        swept,
        _room,
        bottom,
        beside,
        soil,
        *rest,
    ) = args
    thick, k_thawed, k_frozen, c_thawed, c_frozen, latent, wall, wall_thick, wall_k, wall_c, *_roof = rest
    picks, state, steps_day, steps_night, out = args[-7:-2]
    params, found = np.array(p, dtype=float), np.empty_like(out)
    soil, wall, state = soil.copy(), wall.copy(), state.copy()

    def at(array: np.ndarray) -> ctypes.c_void_p:
        return ctypes.c_void_p(array.ctypes.data)

    hourly = [at(a) for a in (air, vapour, wind, longwave, pressure, rain, sun, gap, swept, bottom, beside)]
    ground = [at(a) for a in (soil, thick, k_thawed, k_frozen, c_thawed, c_frozen, latent)]
    walls = [at(a) for a in (wall, wall_thick, wall_k, wall_c)]
    start = time.thread_time()
    library.run(
        len(air), at(params), *hourly, len(soil), *ground, len(wall), *walls, at(picks), at(state), steps_day, steps_night, at(found)
    )  # fmt: skip
    return time.thread_time() - start, found
