"""From hours inside to the days that a crop lives by: computed once per crop and shelter, not per sowing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit
from underglass.crop.germination import rate_per_day, success
from underglass.crop.growth import degrees
from underglass.crop.types import Crop
from underglass.shelter.inside import InsideWeather
from underglass.weather.days import LocalDays, local_days

__all__ = ["ROWS", "ShelterDays", "crop_days", "joined_days", "shelter_days"]

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]

ROWS = (
    "germ",
    "come_up",
    "degrees",
    "cold_h",
    "light",
    "leaf_min",
    "hour_min",
    "leaf_max",
    "hour_max",
    "mean",
    "night",
    "day_max",
    "frozen",
)
"""Rows of a crop's daily array, shape (13, n_days): progress of germination [1/day], that progress times the share that comes up,
growth degrees [K day], hours cold enough to count towards bolting, light [mol/m2 d], coldest and hottest leaf [degC] with their hour of
the local day, mean air, mean night air (22-6 h) and hottest hour of air [degC],
and whether the ground is frozen 0/1."""

FROZEN_C = 0.5
"""Ground that stays under this at 5 cm all day cannot be worked (common practice: frozen, or thawing on top)."""

GRID_LOW_C, GRID_STEP_C, GRID_N = -40.0, 0.25, 480
VERNAL_LOW_C = -1.0
"""Below this, cold does not count towards bolting (base of the vernalising rate in carrot, Craigon et al. 1990)."""


@dataclass(frozen=True, slots=True, eq=False)
class ShelterDays:
    """What all crops in a shelter share: hours in degC and the nine daily rows that do not depend on the crop.

    days : local days        hourly (3, n_hours): air, soil surface, soil at 5 cm [degC]       shared (9, n_days): ROWS from 'light' on
    """

    name: str
    days: LocalDays
    hourly: F32
    shared: F32


def shelter_days(inside: InsideWeather) -> ShelterDays:
    """Daily values of a shelter that every crop in it meets."""
    days = local_days(inside.place, inside.start, inside.n_hours)
    air = inside.air_temp_k - np.float32(273.15)
    leaf_low = days.by_day(inside.leaf_min_k) - np.float32(273.15)
    leaf_high = days.by_day(inside.leaf_max_k) - np.float32(273.15)
    by_day = days.by_day(air)
    night = np.concatenate([by_day[:, :6], by_day[:, 22:]], axis=1)
    shared = np.stack(
        [
            days.by_day(inside.par_umol_m2_s).sum(axis=1) * np.float32(3600e-6),
            leaf_low.min(axis=1),
            leaf_low.argmin(axis=1).astype(np.float32),
            leaf_high.max(axis=1),
            leaf_high.argmax(axis=1).astype(np.float32),
            by_day.mean(axis=1),
            night.mean(axis=1),
            by_day.max(axis=1),
            days.by_day(inside.soil_5cm_k).max(axis=1) < np.float32(273.15 + FROZEN_C),
        ]
    ).astype(np.float32)
    hourly = np.stack([air, inside.soil_surface_k - np.float32(273.15), inside.soil_5cm_k - np.float32(273.15)])
    return ShelterDays(inside.shelter_name, days, np.ascontiguousarray(hourly, dtype=np.float32), shared)


def joined_days(pieces: Sequence[ShelterDays]) -> ShelterDays:
    """Pieces of one shelter's time, one after the other, as one; each but the first begins at midnight."""
    days = LocalDays(np.concatenate([p.days.dates for p in pieces]), pieces[0].days.first_hour)
    hourly, shared = (np.concatenate([getattr(p, rows) for p in pieces], axis=1) for rows in ("hourly", "shared"))
    return ShelterDays(pieces[0].name, days, hourly, shared)


def _daily(
    hourly: F32, first: int, weight_5cm: float, cold_c: float, germ: F64, come_up: F64, warmth: F64, out: F32
) -> None:
    """Fill the first four rows of `out` from hours and the crop's response tables (every GRID_STEP_C from GRID_LOW_C)."""
    for d in range(out.shape[1]):
        g = c = w = cold = 0.0
        for k in range(24):
            h = first + 24 * d + k
            soil = hourly[1, h] * (1.0 - weight_5cm) + hourly[2, h] * weight_5cm
            i = min(max(int((soil - GRID_LOW_C) / GRID_STEP_C + 0.5), 0), GRID_N - 1)
            g += germ[i]
            c += come_up[i]
            air = hourly[0, h]
            j = min(max(int((air - GRID_LOW_C) / GRID_STEP_C + 0.5), 0), GRID_N - 1)
            w += warmth[j]
            if VERNAL_LOW_C < air < cold_c:
                cold += 1.0
        out[0, d], out[1, d], out[2, d], out[3, d] = g / 24.0, c / 24.0, w / 24.0, cold


_daily_fast = njit(cache=True, error_model="numpy", nogil=True)(_daily)


def crop_days(crop: Crop, shelter: ShelterDays) -> F32:
    """All daily rows of a crop in a shelter, shape (13, n_days)."""
    grid: F64 = GRID_LOW_C + GRID_STEP_C * np.arange(GRID_N, dtype=np.float64)
    germ = rate_per_day(crop.germination, grid)
    come_up = germ * success(crop.germination, grid)
    out = np.empty((len(ROWS), shelter.days.n_days), np.float32)
    weight = min(crop.germination.depth_m / 0.05, 1.0)
    cold_c = crop.bolting.cold_c if crop.bolting.cold_c is not None else -99.0
    _daily_fast(shelter.hourly, shelter.days.first_hour, weight, cold_c, germ, come_up, degrees(crop.growth, grid), out)
    out[4:] = shelter.shared
    return out
