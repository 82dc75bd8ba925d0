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
from pathlib import Path

import numpy as np

import underglass
from benchmarks.plain_c import built, c_seconds
from underglass.shelter import kernel
from underglass.shelter.model import Box, Fleece, NightCover, Water
from underglass.shelter.presets import preset
from underglass.shelter.simulate import STEPS_DAY, STEPS_NIGHT, simulate

PLACE = underglass.Place(44.02, -72.66, 350.0, "America/New_York")
YEARS = 30


def best(run: Callable[[], object], times: int = 5) -> float:
    """Shortest of several runs after one to warm up [s]."""
    run()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def command(args: list[str], folder: str) -> tuple[float, float]:
    """Wall time [s] and peak memory [MB] of the command in a process of its own."""
    env = {**os.environ, "UNDERGLASS_CACHE": folder, "COLUMNS": "100"}
    start = time.perf_counter()
    line = [sys.executable, "-m", "underglass.faces.cli.main", *args]
    process = subprocess.Popen(line, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{' '.join(args)} ended with {process.returncode}")
    return time.perf_counter() - start, used.ru_maxrss / 1024.0


def row(what: str, promised: str, measured: str) -> None:
    print(f"{what:60} {promised:>10} {measured:>12}", flush=True)


def watched(shelter: underglass.Shelter, outside: underglass.OutsideWeather) -> tuple[float, tuple]:
    """Time of the compiled loop over all hours [s], the lead-in aside, and copies of what it was given."""
    found: list[tuple[float, tuple]] = []
    original = kernel.run

    def timed(*args):
        given = tuple(a.copy() if hasattr(a, "copy") else a for a in args)
        start = time.thread_time()
        answer = original(*args)
        found.append((time.thread_time() - start, given))
        return answer

    kernel.run = timed
    try:
        simulate(shelter, outside)
    finally:
        kernel.run = original
    return found[-1]


def kernel_ms(shelter: underglass.Shelter, outside: underglass.OutsideWeather, years: float) -> float:
    """Best time of the compiled loop alone for so many years [ms]."""
    watched(shelter, outside)
    return min(watched(shelter, outside)[0] for _ in range(5)) * 1e3 * years * 8766.0 / outside.n_hours


def beside_plain_c(box: underglass.Shelter, year: underglass.OutsideWeather, folder: str) -> None:
    """Time of one inner step here and in C, for the same box in the same year, with how far their hours lie apart."""
    _, args = watched(box, year)
    air, sun = args[1], args[8]
    quick = (sun[:, 0] > 0.0) | (np.abs(np.diff(air, prepend=air[0])) > 1.5)
    steps = int(np.where(quick, STEPS_DAY, STEPS_NIGHT).sum())
    ours = kernel_ms(box, year, 1) * 1e6 * year.n_hours / 8766.0 / steps
    library = built(Path(folder))
    if library is None:
        row("box: one inner step", "", f"{ours:.0f} ns")
        return
    _, hours = c_seconds(library, args)
    c = min(c_seconds(library, args)[0] for _ in range(10)) * 1e9 / steps
    kernel.run(*args)
    apart = np.abs(hours - args[-3]).max()
    row(f"box: one inner step (plain C; hours differ by {apart:.0e})", f"{c:.0f} ns", f"{ours:.0f} ns")


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
    row("box: whole call with rays and schedules, 1 year", "", f"{best(partial(simulate, box, year)) * 1e3:.0f} ms")
    turns = iter(range(1, 1000))
    shape = box.shape
    assert isinstance(shape, Box)

    def turned() -> object:
        return simulate(replace(box, facing_deg=180.0 + 0.1 * next(turns)), year)

    def stretched() -> object:
        return simulate(replace(box, shape=replace(shape, length_m=1.8 + 1e-3 * next(turns))), year)

    row("box turned a little: whole call, 1 year", "100 ms", f"{best(turned) * 1e3:.0f} ms")
    row("box stretched a little: whole call, 1 year", "100 ms", f"{best(stretched) * 1e3:.0f} ms")
    with tempfile.TemporaryDirectory() as folder:
        beside_plain_c(box, year, folder)
        command(["sow", "--demo", "--crop", "kale", "--years", "5"], folder)  # compiles into the empty folder
        seconds, peak = command(["sow", "--demo"], folder)
        row("demo guide, nothing kept (kernels compiled)", "10 s", f"{seconds:.1f} s")
        row("demo guide, nothing kept: peak memory", "1000 MB", f"{peak:.0f} MB")
        row("demo guide, kept", "1 s", f"{min(command(['sow', '--demo'], folder)[0] for _ in range(3)):.2f} s")
        row("underglass --help", "0.3 s", f"{min(command(['--help'], folder)[0] for _ in range(3)):.2f} s")


if __name__ == "__main__":
    main()
