"""Does tuning find what is true?  Shelters with known leaks, light and soil are read by made-up probes; tuning sees the readings only.

`python -m benchmarks.tune_recovery 200` (behind it, numbers of CASES) prints the table of docs/model/tune.md.  Each trial: other hours of generated weather, three weeks,
an air and a soil probe once an hour with noise of 0.3 K, offsets within ±0.5 K, and a clock one hour fast or slow.
"""

from __future__ import annotations

import sys
import time

import numpy as np

import underglass
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import SPIN_UP_H, simulate
from underglass.shelter.tunable import KNOBS, apply_tuning, ranges_of
from underglass.shelter.tune import tune
from underglass.shelter.tune_model import predicted
from underglass.shelter.tune_types import Estimate, Readings, Tuned
from underglass.weather.outside import OutsideWeather

PLACE = underglass.Place(44.02, -72.66, 350.0, "America/New_York")
DAYS = 21
NOISE_K, BIAS_K, CLOCK_H = 0.3, 0.5, 1.0
FITTED = ("leak_factor", "light_factor", "moisture_factor")

CASES = (
    ("box", ("air", "soil"), 0.0),
    ("box", ("air",), 0.0),
    ("tunnel", ("air", "soil"), 0.0),
    ("box", ("air", "soil"), 8.0),
)
FIRST_SEED = 1000


def weather(years: int = 3, seed: int = 7) -> OutsideWeather:
    return underglass.generate_weather(underglass.from_grid(PLACE), PLACE, 2026, n_years=years, seed=seed)


def truth_of(shelter: Shelter, rng: np.random.Generator) -> dict[str, float]:
    """Factors drawn from the priors, within what is possible."""
    drawn = {}
    for name in FITTED:
        low, high = ranges_of(shelter, name)
        factor = 0.0
        while not low < factor < high:
            factor = float(np.exp(rng.normal(0.0, KNOBS[name].prior_sd)))
        drawn[name] = factor
    return drawn


def probe(name: str, spot: str, true: Shelter, outside: OutsideWeather, first_h: int, bias: float, clock: float, rng: np.random.Generator, heating: float = 0.0, days: int = DAYS) -> Readings:  # fmt: skip
    """What a made-up probe shows each hour, its clock fast by `clock`."""
    start = int(outside.start.astype("datetime64[s]").astype(np.int64)) + 3600 * first_h
    at = start + 3600 * np.arange(24 * days, dtype=np.int64) + 600
    blank = Readings(name, spot, at, np.zeros(len(at)), depth_m=0.1)  # type: ignore[arg-type]
    temp, sun = predicted(blank, simulate(true, outside), outside, clock)
    noise = rng.normal(0.0, NOISE_K, len(at))
    return Readings(name, spot, at, temp + heating * sun + bias + noise, depth_m=0.1 if spot == "soil" else 0.0)  # type: ignore[arg-type]


def trial(
    shelter: Shelter,
    outside: OutsideWeather,
    seed: int,
    *,
    spots: tuple[str, ...] = ("air", "soil"),
    heating: float = 0.0,
) -> tuple[Tuned, dict[str, float], tuple[float, float]]:
    """One trial: what was found, the truth by name, and the true night-minimum error before and after over the next three weeks."""
    rng = np.random.default_rng(seed)
    first = int(rng.integers(SPIN_UP_H + 48, outside.n_hours - 24 * (2 * DAYS + 2)))
    window = outside.part(first - SPIN_UP_H, first + 24 * (2 * DAYS + 1))
    truth = truth_of(shelter, rng)
    true = apply_tuning(shelter, truth)
    clock = CLOCK_H * float(rng.choice([-1.0, 1.0]))
    truth["clock"] = clock
    readings = []
    for spot in spots:
        truth[f"offset {spot}"] = float(rng.uniform(-BIAS_K, BIAS_K))
        warmed = heating if spot == "air" else 0.0
        readings.append(probe(spot, spot, true, window, SPIN_UP_H, truth[f"offset {spot}"], clock, rng, warmed))
    found = tune(shelter, window, readings)
    later = slice(SPIN_UP_H + 24 * DAYS, SPIN_UP_H + 24 * 2 * DAYS)

    def nights(s: Shelter) -> np.ndarray:
        return simulate(s, window).air_temp_k[later].reshape(-1, 24).min(axis=1)

    real = nights(true)
    after = nights(apply_tuning(shelter, found.parameters))
    return found, truth, (float(np.abs(nights(shelter) - real).mean()), float(np.abs(after - real).mean()))


def estimates_of(found: Tuned) -> dict[str, Estimate]:
    offsets = {f"offset {p.probe}": p.offset for p in found.probes}
    return {**found.estimates, "clock": found.clock_shift, **offsets}


def main() -> None:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    only = [CASES[int(i)] for i in sys.argv[2:]] or CASES
    outside = weather()
    for name, spots, heating in only:
        shelter = underglass.preset(name)
        hits: dict[str, list[bool]] = {}
        narrowed: dict[str, list[float]] = {}
        nights, took = [], []
        for seed in range(FIRST_SEED, FIRST_SEED + n):
            began = time.perf_counter()
            found, truth, night = trial(shelter, outside, seed, spots=spots, heating=heating)
            took.append(time.perf_counter() - began)
            nights.append(night)
            for key, e in estimates_of(found).items():
                hits.setdefault(key, []).append(e.low <= truth[key] <= e.high)
                narrowed.setdefault(key, []).append((e.high - e.low) / (e.prior_high - e.prior_low))
        before, after = np.array(nights).T
        print(
            f"\n{name}, probes: {', '.join(spots)}{f', warmed by {heating:g} K per 1000 W/m2' if heating else ''}; {n} trials"
        )
        for key, values in hits.items():
            print(f"| {key} | {100 * np.mean(values):.0f} % | {np.median(narrowed[key]):.2f} |")
        every = np.mean(np.all(list(hits.values()), axis=0))
        print(
            f"all at once {100 * every:.0f} %; every single one {100 * np.mean(np.concatenate(list(hits.values()))):.1f} %"
        )
        print(
            f"night-minimum error {before.mean():.2f} → {after.mean():.2f} K, less in {100 * np.mean(after < before):.0f} %; {np.median(took):.1f} s a trial"
        )


if __name__ == "__main__":
    main()
