"""Set it out, or wait: the chance of a killing night before a date, from the forecast first and then the climate."""

from __future__ import annotations

from typing import Any

import numpy as np

from underglass.crop.catalogue import find_crop
from underglass.crop.hardiness import cold_spread_dk
from underglass.errors import InputError
from underglass.plan.household import Household
from underglass.services.forecast import CLIMATE_YEARS, climate_years, forecast_from, on_annual_wave, same_hour
from underglass.services.progress import Progress, silent
from underglass.services.weather import climate_of
from underglass.shelter.carry import LEAF_MIN, carry, futures_of
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import simulate
from underglass.shelter.working import own_handling
from underglass.tend.standing import Standing, limits_of
from underglass.weather.outside import OutsideWeather

__all__ = ["set_out_question"]

GO_CHANCE = 0.10
"""Chance of a killing night up to which we say go (as the guide's set-out dates: nine years in ten)."""

MEMBERS = 50
LONGEST_D = 120


def set_out_question(
    household: Household, crop_name: str, bed: Shelter, now: np.datetime64, outside: OutsideWeather | None, before: np.datetime64,
    *, seed: int = 1, progress: Progress = silent,
) -> dict[str, Any]:  # fmt: skip
    """Go or wait, with the chance of a night that kills a hardened-off young plant in `bed` before `before` (datetime64[D]).

    Raises InputError for a date that is not ahead, or too far.
    """
    crop = find_crop(crop_name)
    days = int((before - now.astype("datetime64[D]")).astype(int))
    if not 1 <= days <= LONGEST_D:
        raise InputError(f"--before is {before}: expected a date 1 to {LONGEST_D} days ahead")
    limits = limits_of(Standing(crop, bed.name, "young"))
    hours = 24 * min(days, 7)
    progress(0.3, "weather of the place")
    forecast = forecast_from(outside, household, now, hours, MEMBERS, seed)
    shelter = on_annual_wave(bed, household)
    futures = futures_of(shelter, forecast.past, forecast.members)
    n = futures.ready.n_hours
    out = carry(futures.ready, futures.now, own_handling(shelter, forecast.middle), slice(0, n))
    coldest_k = out[:, :, LEAF_MIN].min(axis=1).astype(float)
    killed_soon = _killed(coldest_k, limits.kill_c, cold_spread_dk(crop))
    killed_later, nights_k = 0.0, np.zeros(0)
    if 24 * days > n:
        nights_k = _climate_minima(shelter, household, now + n, before, seed)
        killed_later = float(_killed(nights_k, limits.kill_c, cold_spread_dk(crop)).mean())
    soon = float(killed_soon.mean())
    chance = 1.0 - (1.0 - soon) * (1.0 - killed_later)
    return {
        "crop": crop.id, "name": crop.name, "bed": bed.name, "now": str(now), "before": str(before),
        "word": "go" if chance <= GO_CHANCE else "wait",
        "chance": round(chance, 3), "from_forecast": round(soon, 3), "from_climate": round(killed_later, 3),
        "kill_c": round(limits.kill_c, 1), "coldest_leaf_c": round(float(np.quantile(coldest_k, 0.1)) - 273.15, 1),
        "forecast_hours": n, "climate_years": len(nights_k), "threshold": GO_CHANCE, "kind": forecast.kind,
        "warm_enough_night_c": crop.growth.set_out_night_c,
        "nights_c": round(float(np.median(out[:, :, 1].min(axis=1))) - 273.15, 1),
        "notes": list(forecast.notes),
    }  # fmt: skip


def _killed(coldest_k: np.ndarray, kill_c: float, spread_dk: float) -> np.ndarray:
    return np.asarray(1.0 / (1.0 + np.exp(np.clip((coldest_k - 273.15 - kill_c) / spread_dk, -40.0, 40.0))))


def _climate_minima(
    shelter: Shelter, household: Household, start: np.datetime64, before: np.datetime64, seed: int
) -> np.ndarray:
    """Coldest leaf of each climate year between two dates [K], shape (years,)."""
    years = climate_years(climate_of(household), household, start, CLIMATE_YEARS, seed)
    inside = simulate(shelter, years)
    length = max(int((before.astype("datetime64[h]") - start) / np.timedelta64(1, "h")), 1)
    firsts = [same_hour(years, start, later) for later in range(CLIMATE_YEARS)]
    return np.array([float(inside.leaf_min_k[i : i + length].min()) for i in firsts])
