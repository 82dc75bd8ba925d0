"""Fitting by weighted least squares: the few unknowns, their prior, and readings that may be wrong, warmed or alike.

The method: Gauss-Newton steps on the logarithm of the posterior; Gaussian priors; errors of Student's t with
four degrees of freedom, by reweighting (Lange, Little & Taylor 1989, J. Am. Stat. Assoc. 84:881); the spread of the errors
from the errors themselves; and the readings counted as so many independent ones as their errors' autocorrelation leaves (Geyer 1992,
Statistical Science 7:473, initial positive sequence).  Intervals come from the curvature at the best point, widened where the
posterior two standard deviations off lies higher than that promises.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.model import Shelter
from underglass.shelter.tune_model import Model, Unknowns, unknowns_of
from underglass.shelter.tune_types import Readings
from underglass.shelter.working import Handling
from underglass.weather.outside import OutsideWeather

__all__ = ["Posterior", "fit"]

F64 = NDArray[np.float64]

T_DEGREES = 4.0
"""Of Student's t: heavy enough for a logger left in a pocket, near enough to normal to lose little (common choice)."""

UNEVEN = 0.3
"""Sun on a probe comes and goes with bars and leaves: this share of its warming counts as error (estimate)."""

FIRST_NOISE_K, LEAST_NOISE_K = 0.7, 0.1
PASSES, MOST_STEPS, FEW_STEPS, MOST_SHAKES = 3, 8, 4, 6
LEAST_STEP, MOST_STEP = 0.02, 0.2
LEAST_SLOPE = 0.3
MOST_STRETCH = 4.0
AFAR = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """The best point (n,), covariance (n, n), spread of the errors [K] and errors' correlation time [readings] of each Readings."""

    unknowns: Unknowns
    best: F64
    covariance: F64
    noise_k: F64
    alike: F64


def _alike(error: F64) -> float:
    """How many neighbouring readings say the same: 1 + 2 Σ of the autocorrelations, by Geyer's initial positive sequence, ≥ 1."""
    n = len(error)
    centred = error - error.mean()
    power = float(centred @ centred)
    if n < 8 or power <= 0.0:
        return 1.0
    lags = [float(centred[k:] @ centred[: n - k]) / power for k in range(min(n // 3, 240))]
    total = -1.0
    for k in range(0, len(lags) - 1, 2):
        pair = lags[k] + lags[k + 1]
        if pair <= 0.0:
            break
        total += 2.0 * pair
    return max(total, 1.0)


def _bounded_step(curve: F64, slope: F64, at: F64, low: F64, high: F64) -> F64:
    """Newton step that stays inside the bounds: what would leave is held at its bound and the rest solved again."""
    free = np.ones(len(at), dtype=bool)
    step = np.zeros(len(at))
    for _ in range(len(at)):
        idx = np.flatnonzero(free)
        held = np.flatnonzero(~free)
        step[idx] = np.linalg.solve(curve[np.ix_(idx, idx)], slope[idx] - curve[np.ix_(idx, held)] @ step[held])
        out = free & ((at + step < low - 1e-12) | (at + step > high + 1e-12))
        if not out.any():
            break
        step[out] = np.clip(at + step, low, high)[out] - at[out]
        free &= ~out
    return step


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """The negative logarithm of the posterior for given spreads of the errors [K], each (n_readings,).

    worth : independent readings that each stands for;  sure : how much each tells, beside one with normal errors of that spread
    """

    model: Model
    measured: F64
    spread: F64
    worth: F64
    sure: F64
    prior: F64

    def error(self, at: F64) -> F64:
        """Measured less shown [K]."""
        return self.measured - self.model.shown(at)[0]

    def cost(self, at: F64) -> float:
        """Up to a constant."""
        z = self.error(at) / self.spread
        far = 0.5 * (T_DEGREES + 1.0) * np.log1p(z * z / T_DEGREES) * self.worth
        return float(far.sum() + 0.5 * at @ self.prior @ at)

    def newton(self, at: F64, steps: F64) -> tuple[F64, F64]:
        """Curvature of the posterior (n, n) and the step towards the top."""
        slopes, error = self.model.slopes(at, steps), self.error(at)
        counts = _weight(error / self.spread) * self.worth / self.spread**2
        descent = slopes.T @ (slopes * counts[:, None]) + self.prior
        u = self.model.unknowns
        step = _bounded_step(descent, slopes.T @ (counts * error) - self.prior @ at, at, u.low, u.high)
        return slopes.T @ (slopes * (self.sure / self.spread**2)[:, None]) + self.prior, step


def fit(
    shelter: Shelter,
    outside: OutsideWeather,
    readings: tuple[Readings, ...],
    *,
    clock_h: float = 0.0,
    handling: Handling | None = None,
    ground_known: bool = True,
    thorough: bool = True,
    progress: Callable[[float], None] = lambda share: None,
) -> Posterior:
    """The most likely unknowns given the readings, and how sure they are; see the module's head.

    clock_h : where to start the search for the clock's error [h];  handling : how lids were worked, where it was noted
    ground_known : the weather before the readings makes the ground's warmth; else that is fitted too
    thorough : look for a better top from afar
    """
    unknowns = unknowns_of(shelter, readings, ground_known=ground_known)
    model = Model(shelter, outside, readings, unknowns, handling)
    measured = np.concatenate([r.temp_k for r in readings])
    which = np.repeat(np.arange(len(readings)), [r.n_readings for r in readings])
    noise, alike = np.full(len(readings), FIRST_NOISE_K), np.full(len(readings), 4.0)
    worth, sure = 1.0 / alike, 1.0 / alike
    prior = np.diag(1.0 / unknowns.prior_sd**2)
    at = np.zeros(len(unknowns.prior_sd))
    at[unknowns.clock] = clock_h
    covariance = _inverse(prior)
    for turn in range(PASSES):
        target = _Target(model, measured, _spread(model, at, noise, which), worth[which], sure[which], prior)
        at, covariance = _climb(target, at, covariance)
        error = target.error(at)
        weight = _weight(error / target.spread)
        for k in range(len(readings)):
            rows = which == k
            scale = float(np.sqrt(np.mean(weight[rows] * (error[rows] / target.spread[rows]) ** 2)))
            noise[k] = max(noise[k] * scale, LEAST_NOISE_K)
            alike[k] = _alike((np.sqrt(weight) * error / target.spread)[rows])
            steep, wide = _shape((error / target.spread)[rows] / scale)
            worth[k], sure[k] = steep / wide / alike[k], steep**2 / wide / alike[k]
        progress((turn + 1) / (PASSES + 1))
    target = _Target(model, measured, _spread(model, at, noise, which), worth[which], sure[which], prior)
    if thorough:
        at = _from_afar(target, at, _inverse(prior))
    at, covariance = _settled(target, at, covariance)
    progress(1.0)
    return Posterior(unknowns, at, covariance, noise, alike)


def _from_afar(target: _Target, at: F64, prior_covariance: F64) -> F64:
    """The best of the points that climbs from elsewhere reach: beside `at` by most of the prior's spread, one knob at a time.

    Thaw under snow makes ledges on which a single climb ends beside the top.
    """
    u, best, best_cost = target.model.unknowns, at, target.cost(at) - 0.1
    for i in u.run:
        for side in (-AFAR, AFAR):
            start = at.copy()
            start[i] = np.clip(at[i] + side * u.prior_sd[i], u.low[i], u.high[i])
            there, _ = _climb(target, start, prior_covariance, most=FEW_STEPS)
            if (cost := target.cost(there)) < best_cost:
                best, best_cost = there, cost
    return best


def _settled(target: _Target, at: F64, covariance: F64) -> tuple[F64, F64]:
    """Climb, look about, and climb again until nothing near is better.  Returns the point and the covariance."""
    for _ in range(MOST_SHAKES):
        at, covariance = _climb(target, at, covariance)
        better, covariance = _shaken(target, at, covariance)
        if better is None:
            break
        at = better
    return at, covariance


def _inverse(matrix: F64) -> F64:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _weight(z: F64) -> F64:
    """Of an error in units of its spread, under Student's t."""
    return np.asarray((T_DEGREES + 1.0) / (T_DEGREES + z * z))


def _shape(z: F64) -> tuple[float, float]:
    """Mean slope and mean square of the errors' pull under Student's t, for errors z in units of their spread.

    With them the posterior is as sharp as the answer's own scatter (Huber 1964, Ann. Math. Stat. 35:73); the bare weights make
    intervals a fifth too narrow where errors are normal.
    """
    steep = (T_DEGREES + 1.0) * (T_DEGREES - z * z) / (T_DEGREES + z * z) ** 2
    return max(float(steep.mean()), LEAST_SLOPE), float(np.mean((_weight(z) * z) ** 2))


def _spread(model: Model, at: F64, noise: F64, which: NDArray[np.int64]) -> F64:
    """Spread of each reading's error [K]: the probe's noise, and a share of what the sun warms it by."""
    u, sun = model.unknowns, model.shown(at)[1]
    heating = np.array([at[u.heatings[r.probe]] if r.probe in u.heatings else 0.0 for r in model.readings])
    return np.asarray(np.hypot(noise[which], UNEVEN * heating[which] * sun))


def _climb(target: _Target, at: F64, covariance: F64, most: int = MOST_STEPS) -> tuple[F64, F64]:
    """Gauss-Newton to the top of the posterior.  Returns the point and the covariance by its curvature (n, n).

    Slopes are taken over about the width of the posterior so far: thaw and sliding snow make the model rough in the small.
    """
    now = target.cost(at)
    for _ in range(most):
        sd = np.sqrt(np.diag(covariance))
        curve, step = target.newton(at, np.clip(sd, LEAST_STEP, MOST_STEP))
        covariance = _inverse(curve)
        for _half in range(5):
            then = target.cost(at + step)
            if then <= now:
                break
            step = 0.5 * step
        else:
            break
        at, now = at + step, then
        if float(np.max(np.abs(step) / np.sqrt(np.diag(covariance)))) < 0.05:
            break
    return at, covariance


def _shaken(target: _Target, at: F64, covariance: F64) -> tuple[F64 | None, F64]:
    """Look one and two standard deviations to either side along each axis of the posterior.

    Returns a better point where there is one, and the covariance, wider along axes on which the posterior falls more
    slowly than its curvature at the top promises.
    """
    u, here = target.model.unknowns, target.cost(at)
    lengths, axes = np.linalg.eigh(covariance / np.outer(u.prior_sd, u.prior_sd))
    wide = np.zeros_like(covariance)
    best, best_cost = None, here - 0.1
    for length, axis in zip(lengths, axes.T, strict=True):
        arm = np.sqrt(max(length, 0.0)) * axis * u.prior_sd
        stretch = 1.0
        for side in (-2.0, -1.0, 1.0, 2.0):
            there = at + side * arm
            if (there < u.low).any() or (there > u.high).any():
                continue
            cost = target.cost(there)
            if cost < best_cost:
                best, best_cost = there, cost
            rise = 0.5 * side * side  # what the curvature promises
            stretch = max(stretch, float(np.sqrt(rise / max(cost - here, rise / MOST_STRETCH**2))))
        wide += stretch**2 * np.outer(arm, arm)
    return best, wide
