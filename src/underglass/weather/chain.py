"""Chains of days, compiled: each day remembers the one before."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit

__all__ = ["chain", "snow_on_ground", "wet_days"]

F64 = NDArray[np.float64]


def _chain(noise: F64, lag1: float, out: F64) -> None:
    fresh = np.sqrt(1.0 - lag1 * lag1)
    last = noise[0]
    for i in range(noise.shape[0]):
        last = lag1 * last + fresh * noise[i] if i > 0 else noise[0]
        out[i] = last


def _wet_days(share: F64, draw: F64, persistence: float, out: NDArray[np.bool_]) -> None:
    wet = draw[0] < share[0]
    for i in range(share.shape[0]):
        chance = share[i] * (1.0 - persistence) + (persistence if wet else 0.0)
        wet = draw[i] < chance
        out[i] = wet


def _snow(air_k: F64, rain_mm: F64, out: F64) -> None:
    water, density = 0.0, 120.0
    for i in range(air_k.shape[0]):
        if air_k[i] < 274.15 and rain_mm[i] > 0.0:
            density = (density * water + 110.0 * rain_mm[i]) / (water + rain_mm[i])
            water += rain_mm[i]
        warm = air_k[i] - 273.15
        if warm > 0.0:
            water = max(0.0, water - 0.17 * warm - (0.0125 * warm * rain_mm[i]))
        density = min(350.0, density + 0.25)
        out[i] = water / density


_chain_fast = njit(cache=True, error_model="numpy")(_chain)
_wet_fast = njit(cache=True, error_model="numpy")(_wet_days)
_snow_fast = njit(cache=True, error_model="numpy")(_snow)


def chain(noise: F64, lag1: float) -> F64:
    """First-order autoregressive series of unit variance from unit noise, shape as given."""
    out = np.empty_like(noise)
    _chain_fast(noise, lag1, out)
    return out


def wet_days(share: F64, draw: F64, persistence: float = 0.3) -> NDArray[np.bool_]:
    """Wet and dry days as a two-state chain: `share` of wet days, `draw` uniform 0-1 (Richardson 1981).  Shape as given"""
    out = np.empty(share.shape, np.bool_)
    _wet_fast(share, draw, persistence, out)
    return out


def snow_on_ground(air_k: F64, rain_mm: F64) -> F64:
    """Depth of snow on open ground by degree-days: falls below 1 degC, melts 4 mm of water per K and day.  [m]

    air_k, rain_mm hourly; new snow 110 kg/m3, settling to 350 (estimates within Sturm et al. 2010's range for seasonal snow).
    """
    out = np.empty_like(air_k)
    _snow_fast(air_k, rain_mm, out)
    return out
