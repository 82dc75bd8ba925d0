"""Thermometer readings correct a shelter: what they tell of it, how surely, and whether that foretells days they did not see.

Equations, priors and their sources: docs/model/tune.md.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import SPIN_UP_H, ground_wave, simulate
from underglass.shelter.tune_fit import Posterior, fit
from underglass.shelter.tune_model import LAYERING_K_M, predicted, shown_by
from underglass.shelter.tune_types import Estimate, ProbeFit, Readings, Score, Tuned
from underglass.shelter.working import Handling, own_handling
from underglass.weather.days import standard_offset_h
from underglass.weather.outside import OutsideWeather

__all__ = ["period_of", "tune"]

F64 = NDArray[np.float64]

SURE = 1.96
"""Standard deviations to either side that hold nineteen in twenty of a normal distribution."""

TOLD = 0.7
"""Readings that leave more than this of the prior's spread have told nothing (judgement)."""

LEAST_READINGS = 6
LEAST_DAYS_TO_HOLD = 8
HELD_SHARE = 0.25
FULL_DAY = 18
"""Hourly readings from which a day counts as covered, its night too."""

HOT_PROBE_DK = 3.0
"""A probe that 1000 W/m2 warms by more than this is called sun-warmed: a shaded one stays under 1-2 K (estimate)."""

FAR_CLOCKS_H = np.arange(-12.0, 12.5, 0.5)
NEAR_CLOCK_H = 2.5
CLEARLY_BETTER = 0.7


def period_of(outside: OutsideWeather, readings: Sequence[Readings]) -> tuple[OutsideWeather, tuple[Readings, ...]]:
    """The hours that the readings need, with a month to lead in, and the readings that lie within the weather.

    Raises InputError where too few of them do.
    """
    start = int(outside.start.astype("datetime64[s]").astype(np.int64))
    end = start + 3600 * outside.n_hours
    kept = []
    for r in readings:
        since = r.at_s if r.since_s is None else r.since_s
        within = r.where((since >= start) & (r.at_s <= end))
        kept += [within] if within.n_readings else []
    if sum(r.n_readings for r in kept) < LEAST_READINGS:
        first = min(int(r.at_s.min()) for r in readings)
        last = max(int(r.at_s.max()) for r in readings)
        raise InputError(
            f"fewer than {LEAST_READINGS} readings lie within the weather: they run from {_day(first)} to {_day(last)}, "
            f"the weather from {_day(start)} to {_day(end)}; give the weather of those days, and of the month before"
        )
    first_h = (min(int((r.at_s if r.since_s is None else r.since_s).min()) for r in kept) - start) // 3600
    last_h = -((start - max(int(r.at_s.max()) for r in kept)) // 3600)
    return outside.part(max(first_h - SPIN_UP_H, 0), min(last_h + 24, outside.n_hours)), tuple(kept)


def _day(seconds: int) -> str:
    return str(np.datetime64(seconds, "s").astype("datetime64[D]"))


def tune(
    shelter: Shelter,
    outside: OutsideWeather,
    readings: Sequence[Readings],
    *,
    handling: Handling | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Tuned:
    """What readings tell of a shelter, with intervals and a trial on days held back.

    outside : from a month before the first reading, better a year (the ground remembers)
    handling : how lids and covers were worked in the hours of `outside`, where it was noted; the shelter's own ways otherwise
    Raises InputError where the readings and the weather do not meet, or the probes' clock is hours off.
    """
    mean_k, amplitude_k, coldest_day = ground_wave(shelter.ground, outside)
    ground = replace(shelter.ground, wave_mean_k=mean_k, wave_amplitude_k=amplitude_k, wave_day_of_minimum=coldest_day)
    grounded = replace(shelter, ground=ground)
    whole, (outside, kept) = outside, period_of(outside, readings)
    if handling is None:
        handling = own_handling(grounded, outside)  # the same for whatever is tried
    else:
        handling = handling.part(_hours_within(whole, outside))
    clock_h = _first_clock(grounded, outside, kept, handling)
    known = _lead_h(outside, kept) >= SPIN_UP_H
    held = _held_back(kept, outside)
    scores: tuple[Score | None, Score | None] = (None, None)
    seen = tuple(r.where(~np.isin(_days(r, outside), held)) for r in kept)
    if held.size and all(r.n_readings for r in seen):
        trial = fit(
            grounded,
            outside,
            seen,
            clock_h=clock_h,
            handling=handling,
            ground_known=known,
            thorough=False,
            progress=lambda s: progress(0.5 * s),
        )
        scores = _scores(grounded, outside, kept, held, trial, handling)
    found = fit(
        grounded,
        outside,
        kept,
        clock_h=clock_h,
        handling=handling,
        ground_known=known,
        progress=lambda s: progress(0.5 + 0.5 * s),
    )
    u = found.unknowns
    factors = {name: _estimate(found, i, logarithm=True) for i, name in enumerate(u.knobs)}
    return Tuned(
        parameters={name: e.value for name, e in factors.items()},
        estimates=factors,
        clock_shift=_estimate(found, u.clock),
        ground=None if u.ground is None else _estimate(found, u.ground),
        layering=None if u.layering is None else _estimate(found, u.layering, usual=LAYERING_K_M),
        probes=_probes(found, kept),
        held_back_days=len(held) if scores[0] is not None else 0,
        before=scores[0],
        after=scores[1],
    )


def _lead_h(outside: OutsideWeather, readings: Sequence[Readings]) -> int:
    """Hours of weather before the first reading, rounded."""
    first = min(int((r.at_s if r.since_s is None else r.since_s).min()) for r in readings)
    return round((first - int(outside.start.astype("datetime64[s]").astype(np.int64))) / 3600)


def _hours_within(whole: OutsideWeather, part: OutsideWeather) -> slice:
    """Where the hours of a part stand in the whole."""
    first = int((part.start - whole.start) / np.timedelta64(1, "h"))
    return slice(first, first + part.n_hours)


def _estimate(found: Posterior, i: int, *, logarithm: bool = False, usual: float = 0.0) -> Estimate:
    """Middle and interval of an unknown, held within what is possible.  usual : what it is counted from"""
    u = found.unknowns
    sd = float(np.sqrt(found.covariance[i, i]))
    low, high = (float(np.clip(found.best[i] + s * SURE * sd, u.low[i], u.high[i])) for s in (-1.0, 1.0))
    prior_low, prior_high = (float(np.clip(s * SURE * u.prior_sd[i], u.low[i], u.high[i])) for s in (-1.0, 1.0))
    told = sd < TOLD * float(u.prior_sd[i])
    value = float(found.best[i])
    if logarithm:
        value, low, high, prior_low, prior_high = (float(np.exp(v)) for v in (value, low, high, prior_low, prior_high))
    return Estimate(value + usual, low + usual, high + usual, prior_low + usual, prior_high + usual, told)


def _probes(found: Posterior, readings: tuple[Readings, ...]) -> tuple[ProbeFit, ...]:
    out = []
    for name, at in found.unknowns.offsets.items():
        mine = [k for k, r in enumerate(readings) if r.probe == name]
        heating = found.unknowns.heatings.get(name)
        warmed = None if heating is None else _estimate(found, heating)
        out.append(
            ProbeFit(
                probe=name,
                spot=readings[mine[0]].spot,
                offset=_estimate(found, at),
                sun_heating=warmed,
                sun_warmed=warmed is not None and warmed.value > HOT_PROBE_DK,
                noise_k=float(np.sqrt(np.mean(found.noise_k[mine] ** 2))),
                n_readings=sum(readings[k].n_readings for k in mine),
                worth=float(sum(readings[k].n_readings / found.alike[k] for k in mine)),
            )
        )
    return tuple(out)


def _first_clock(
    shelter: Shelter, outside: OutsideWeather, readings: tuple[Readings, ...], handling: Handling | None
) -> float:
    """Where to begin looking for the clock's error [h]: the shift at which the shelter as described comes nearest.

    Raises InputError where it is so far that a time zone must have been mistaken.
    """
    moments = [r for r in readings if r.kind == "moment" and r.n_readings >= 24 and not r.timed_by_hand]
    if not moments:
        return 0.0
    inside = simulate(shelter, outside, handling=handling)
    far = np.zeros(len(FAR_CLOCKS_H))
    for r in moments:
        for i, hours in enumerate(FAR_CLOCKS_H):
            error = r.temp_k - predicted(r, inside, outside, float(hours))[0]
            far[i] += float(np.abs(error - np.median(error)).mean())
    near = np.abs(FAR_CLOCKS_H) <= NEAR_CLOCK_H
    best_near = int(np.argmin(np.where(near, far, np.inf)))
    best = int(np.argmin(far))
    if far[best] < CLEARLY_BETTER * far[best_near]:
        hours = abs(FAR_CLOCKS_H[best])
        late = "late" if FAR_CLOCKS_H[best] > 0 else "early"
        raise InputError(
            f"the readings follow the sun about {hours:g} hours too {late}: the time zone they are read in is wrong; "
            "say which one the logger's clock was set to, as --time-zone UTC or --time-zone America/New_York"
        )
    return float(np.clip(FAR_CLOCKS_H[best_near], -NEAR_CLOCK_H, NEAR_CLOCK_H))


def _days(readings: Readings, outside: OutsideWeather) -> NDArray[np.int64]:
    """Local standard day of each reading, counted from 1970."""
    return np.asarray((readings.at_s + 3600 * standard_offset_h(outside.place)) // 86400)


def _held_back(readings: tuple[Readings, ...], outside: OutsideWeather) -> NDArray[np.int64]:
    """The last quarter of the days that have readings; none where there are few."""
    days = np.unique(np.concatenate([_days(r, outside) for r in readings]))
    return days[-max(int(len(days) * HELD_SHARE), 2) :] if len(days) >= LEAST_DAYS_TO_HOLD else days[:0]


def _scores(
    shelter: Shelter,
    outside: OutsideWeather,
    readings: tuple[Readings, ...],
    held: NDArray[np.int64],
    trial: Posterior,
    handling: Handling | None,
) -> tuple[Score, Score]:
    """Errors on the held-back days of the shelter as described, probes believed; and as a fit to the other days has it."""
    u, at = trial.unknowns, trial.best
    tuned = simulate(u.shelter(shelter, at), outside, handling=handling)
    plain = simulate(shelter, outside, handling=handling)
    before, after, nights_before, nights_after = [], [], [], []
    for r in readings:
        days = _days(r, outside)
        rows = np.isin(days, held)
        was = predicted(r, plain, outside)[0]
        will = shown_by(r, shelter, tuned, outside, u, at)[0]
        before.append((r.temp_k - was)[rows])
        after.append((r.temp_k - will)[rows])
        if r.spot == "air" and r.kind != "highest":
            for day in held:
                on = days == day
                if on.sum() >= (1 if r.kind == "lowest" else FULL_DAY):
                    nights_before.append(_at_lowest(r.temp_k[on], was[on]))
                    nights_after.append(_at_lowest(r.temp_k[on], will[on]))
    return _score(before, nights_before), _score(after, nights_after)


def _at_lowest(measured: F64, computed: F64) -> float:
    """Size of the mean error over the three readings about the computed lowest: one reading's noise is not taken for cold [K]."""
    coldest = np.argsort(computed)[:3]
    return abs(float(np.mean(measured[coldest] - computed[coldest])))


def _score(errors: list[F64], nights: list[float]) -> Score:
    every = np.concatenate(errors)
    return Score(
        float(np.sqrt(np.mean(every**2))) if len(every) else float("nan"),
        float(np.mean(nights)) if nights else float("nan"),
    )
