"""Do chances come true?  Generated years play the truth, each forecast is the truth with an error, and the inside weather of the plan is held
against what the truth brings under the same settings.  Usage: python -m benchmarks.reliability [STARTS]
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

import underglass
from underglass.crop.catalogue import find_crop
from underglass.shelter.carry import AIR_MAX, AIR_MIN, LEAF_MIN, futures_of
from underglass.shelter.model import Shelter
from underglass.shelter.presets import preset
from underglass.tend.lidplan import follow, plan_lid, settings_of
from underglass.tend.standing import Standing, limits_of
from underglass.tend.uncertainty import possible_weathers, span
from underglass.weather.outside import OutsideWeather

PLACE = underglass.Place(44.02, -72.66, 350.0, "America/New_York")
VISITS = (0, 10, 24, 34, 48, 58)
MEMBERS = 50
BINS = ((0.0, 0.1), (0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.001))


def events(out: np.ndarray, first: int, last: int) -> np.ndarray:
    """Yes and no by member: colder than -4, 0, 4 degC, leaf below 0, hotter than 20, 25, 30 degC.  (events, members)"""
    low, high = out[:, first:last, AIR_MIN].min(axis=1) - 273.15, out[:, first:last, AIR_MAX].max(axis=1) - 273.15
    leaf = out[:, first:last, LEAF_MIN].min(axis=1) - 273.15
    return np.stack([low < -4.0, low < 0.0, low < 4.0, leaf < 0.0, high > 20.0, high > 25.0, high > 30.0])


def one(shelter: Shelter, years: OutsideWeather, start: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Chances said and what came, for each event of each span of the plan."""
    past, truth = span(years, start - 24 * 30, start), span(years, start, start + 72)
    told = possible_weathers(truth, 1, 10_000 + seed)[0]
    limits = [limits_of(Standing(find_crop("leaf lettuce"), shelter.name, "young"))]
    futures = futures_of(shelter, past, possible_weathers(told, MEMBERS, seed))
    plan = plan_lid(futures, limits, settings_of(shelter), VISITS, None)
    steps = [(s.first, s.last, s.setting) for s in plan.steps]
    came = follow(futures_of(shelter, past, [truth]), limits, steps)
    said = np.concatenate([events(plan.out, a, b).mean(axis=1) for a, b, _ in steps])
    was = np.concatenate([events(came.out, a, b)[:, 0] for a, b, _ in steps])
    return said, was


def table(starts: int) -> list[tuple[float, float, int, float, float]]:
    """(from, to, how many, mean chance said, share that came)."""
    years = underglass.generate_weather(underglass.from_grid(PLACE), PLACE, 2026, 12, seed=5)
    rng = np.random.default_rng(3)
    said, was = [], []
    for name in ("box", "hoop"):
        base = preset(name)
        ground = replace(base.ground, wave_mean_k=280.0, wave_amplitude_k=14.0, wave_day_of_minimum=25.0)
        shelter = replace(base, lid=replace(base.lid, working="visits"), ground=ground)
        for i in range(starts):
            day = 365 * int(rng.integers(1, 11)) + int(rng.integers(0, 150)) - 30
            chance, happened = one(shelter, years, 24 * day + 12, i)
            said.append(chance)
            was.append(happened)
    chances, came = np.concatenate(said), np.concatenate(was)
    rows = []
    for low, high in BINS:
        here = (chances >= low) & (chances < high)
        rows.append((low, min(high, 1.0), int(here.sum()), float(chances[here].mean()), float(came[here].mean())))
    return rows


if __name__ == "__main__":
    print("| chance said | how many | mean said | share that came |\n| --- | --- | --- | --- |")
    for low, high, n, mean, share in table(int(sys.argv[1]) if len(sys.argv) > 1 else 100):
        print(f"| {low:.0%}-{high:.0%} | {n} | {mean:.0%} | {share:.0%} |")
