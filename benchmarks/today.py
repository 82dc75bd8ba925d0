"""How long a family waits for the lid plan: four shelters, three days, fifty possible weathers.  Usage: python -m benchmarks.today

From the shell: the command in a process of its own, forecast from a file, kernels compiled.  Warm: the question alone, in a process that has
answered it before.  Both in processor time of all cores, and by the clock.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import underglass
from underglass.services.today import day_plan
from underglass.sources.household_file import read_household
from underglass.sources.own_csv import write_hourly_csv

HOUSEHOLD = """
[place]
name = "bench"
latitude = 44.02
longitude = -72.66
elevation = 350
time_zone = "America/New_York"

[[shelters]]
name = "jug"
like = "jug"
[[shelters]]
name = "box"
like = "box"
[shelters.night_cover]
resistance_m2k_w = 0.6
[[shelters]]
name = "tunnel"
like = "tunnel"
[[shelters]]
name = "hoop house"
like = "hoop"
[shelters.fleece]
night_only = true

[[standing]]
crop = "bulb onion"
in = "jug"
stage = "seedling"
[[standing]]
crop = "leaf lettuce"
in = "box"
[[standing]]
crop = "spinach"
in = "tunnel"
stage = "hardened"
[[standing]]
crop = "kale"
in = "hoop house"
stage = "hardened"
"""

DAYS = 3
TIMES = 5


def spent() -> float:
    """Processor time of the children that ended so far [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def shell(args: list[str]) -> tuple[float, float]:
    """Clock and processor time of the command [s]."""
    clock, processor = time.perf_counter(), spent()
    line = [sys.executable, "-m", "underglass.faces.cli.main", *args]
    subprocess.run(
        line, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ, "COLUMNS": "100"}
    )
    return time.perf_counter() - clock, spent() - processor


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        home, ahead = Path(folder, "home.toml"), Path(folder, "ahead.csv")
        home.write_text(HOUSEHOLD, encoding="utf-8")
        household = read_household(home)
        years = underglass.generate_weather(underglass.from_grid(household.place), household.place, 2027, 1, seed=5)
        outside = years.part(24 * 20, 24 * (20 + 45 + DAYS + 2))
        write_hourly_csv(outside, ahead)
        now = outside.start + np.timedelta64(24 * 45, "h")
        args = ["today", "--household", str(home), "--forecast", str(ahead), "--at", f"{now}:00Z", "--days", str(DAYS)]
        shell(args)
        runs = [shell(args) for _ in range(TIMES)]
        print(
            f"from the shell: {min(r[0] for r in runs):.2f} s by the clock, {min(r[1] for r in runs):.2f} s of processor time"
        )
        warm = []
        for _ in range(TIMES + 1):
            clock, processor = time.perf_counter(), time.process_time()
            day_plan(household, now, outside, days=DAYS)
            warm.append((time.perf_counter() - clock, time.process_time() - processor))
        warm = warm[1:]
        print(f"warm: {min(r[0] for r in warm):.2f} s by the clock, {min(r[1] for r in warm):.2f} s of processor time")


if __name__ == "__main__":
    main()
