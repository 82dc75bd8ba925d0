"""Time the promises of the README."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numba import njit

import underglass
from underglass.shelter import kernel
from underglass.shelter.model import Fleece, NightCover, Water
from underglass.shelter.presets import preset
from underglass.shelter.simulate import simulate

PLACE = underglass.Place(44.02, -72.66, 350.0, "America/New_York")
YEARS = 30
OPERATIONS = {"exp": 3, "divide": 34, "sqrt": 4}
"""Counted by hand in one inner step of a single-glazed box: three saturation curves, nine soil layers, five surfaces, the 3 x 3 system."""


def best(run: Callable[[], object], times: int = 5) -> float:
    """Shortest of several runs after one to warm up [s]."""
    run()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


@njit(error_model="numpy")
def _exps(n):
    s = 0.0
    for i in range(n):
        s += np.exp(-1.0 + 1e-9 * i + s * 1e-20)
    return s


@njit(error_model="numpy")
def _divides(n):
    s = 1.0
    for i in range(n):
        s = 1.0 / (1.0 + 1e-6 * i + s)
    return s


@njit(error_model="numpy")
def _roots(n):
    s = 1.0
    for i in range(n):
        s = np.sqrt(1.0 + 1e-6 * i + s)
    return s


def limit_ns() -> float:
    """Time of one step's slow operations alone [ns]."""
    n = 2_000_000
    loops = {"exp": _exps, "divide": _divides, "sqrt": _roots}
    return sum(OPERATIONS[name] * best(partial(loop, n)) / n * 1e9 for name, loop in loops.items())


def command(args: list[str], folder: str) -> float:
    """Wall time of the command in a process of its own [s]."""
    env = {**os.environ, "UNDERGLASS_CACHE": folder, "COLUMNS": "100"}
    start = time.perf_counter()
    subprocess.run([sys.executable, "-m", "underglass.faces.cli.main", *args], env=env, check=True, capture_output=True)
    return time.perf_counter() - start


def row(what: str, promised: str, measured: str) -> None:
    print(f"{what:60} {promised:>10} {measured:>12}", flush=True)


def kernel_ms(shelter: underglass.Shelter, outside: underglass.OutsideWeather, years: float) -> float:
    """Best time of the compiled loop alone for so many years [ms]."""
    timed: list[tuple[float, int]] = []
    original = kernel.run

    def watched(*args):
        start = time.perf_counter()
        answer = original(*args)
        timed.append((time.perf_counter() - start, len(args[1])))
        return answer

    kernel.run = watched
    found = []
    for _ in range(5):
        simulate(shelter, outside)
        seconds, hours = timed[-1]
        found.append(seconds * 1e3 * years * 8766.0 / hours)
    kernel.run = original
    return min(found[1:])


def main() -> None:
    generate = partial(underglass.generate_weather, underglass.from_grid(PLACE), PLACE, 2026)
    year, long = generate(1), generate(YEARS)
    box = preset("box")
    loaded = replace(
        preset("box-double"),
        fleece=Fleece(),
        water=Water(0.06, 1.0),
        night_cover=NightCover(0.6),
        lid=replace(box.lid, working="arm"),
    )
    row("", "promised", "measured")
    row("generated hours, 32 years", "", f"{best(partial(generate, YEARS + 2), 2):.2f} s")
    for name, shelter in (
        ("box", box),
        ("hoop house", preset("hoop")),
        ("box, double, fleece, jugs, night cover, arm", loaded),
    ):
        row(f"{name}: kernel, 1 year", "5 ms", f"{kernel_ms(shelter, year, 1):.1f} ms")
        row(f"{name}: kernel, 30 years", "150 ms", f"{kernel_ms(shelter, long, YEARS):.0f} ms")
    row(
        "box: ns a step (limit: its slow operations alone)",
        f"{limit_ns():.0f} ns",
        f"{kernel_ms(box, year, 1) * 1e6 / (8766 * 1.5):.0f} ns",
    )
    row("box: whole call with rays and schedules, 1 year", "", f"{best(partial(simulate, box, year)) * 1e3:.0f} ms")
    with tempfile.TemporaryDirectory() as folder:
        command(["sow", "--demo", "--crop", "kale", "--years", "5"], folder)  # compiles into the empty folder
        row("demo guide, nothing kept (kernels compiled)", "10 s", f"{command(['sow', '--demo'], folder):.1f} s")
        row("demo guide, kept", "1 s", f"{min(command(['sow', '--demo'], folder) for _ in range(3)):.2f} s")
        row("underglass --help", "0.3 s", f"{min(command(['--help'], folder) for _ in range(3)):.2f} s")


if __name__ == "__main__":
    main()
