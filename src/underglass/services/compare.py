"""Several shelters, or one with changes, side by side over the same weather."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.crop.drivers import crop_days, shelter_days
from underglass.crop.fate import LEAF_MIN, MEAN
from underglass.crop.hardiness import cold_spread_dk, hardened, kill_chance, kill_temp_c
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.services.progress import Progress, silent
from underglass.shelter.inside import InsideWeather
from underglass.shelter.model import OpenGround, Shelter
from underglass.shelter.simulate import simulate
from underglass.weather.days import local_days
from underglass.weather.outside import OutsideWeather

__all__ = ["compare", "winter_survival"]

COLD_MONTHS_NORTH = (11, 12, 1, 2, 3)
HOT_C = 35.0


def _cold_days(inside: InsideWeather) -> NDArray[np.bool_]:
    """Days of the five cold months, November to March (May to September in the south)."""
    days = local_days(inside.place, inside.start, inside.n_hours)
    month = days.dates.astype("datetime64[M]").astype(int) % 12 + 1
    cold = [(m + 5) % 12 + 1 for m in COLD_MONTHS_NORTH] if inside.place.southern else list(COLD_MONTHS_NORTH)
    return np.isin(month, cold)


def winter_survival(crop: Crop, bed: NDArray[np.float32], dates: NDArray[np.datetime64], *, southern: bool) -> float:
    """Mean chance over the winters that an established plant lives through, hardening as the season does, 0-1.

    bed : crop_days;  dates (n_days,)
    """
    shifted = dates - np.timedelta64(0 if southern else 181, "D")
    winters = shifted.astype("datetime64[Y]").astype(int)
    spread = cold_spread_dk(crop)
    chances = []
    for winter in np.unique(winters):
        days = np.flatnonzero(winters == winter)
        if len(days) < 360:
            continue
        state, lives = 0.0, 1.0
        for d in days:
            kill = kill_temp_c(crop, state)
            if bed[LEAF_MIN, d] < kill + 6.0 * spread:
                lives *= 1.0 - kill_chance(float(bed[LEAF_MIN, d]), kill, spread)
            state = hardened(state, float(bed[MEAN, d]))
        chances.append(lives)
    return float(np.mean(chances)) if chances else float("nan")


def compare(
    shelters: Sequence[Shelter],
    outside: OutsideWeather,
    crops: Sequence[Crop],
    *,
    living: float = 0.8,
    progress: Progress = silent,
) -> list[dict[str, Any]]:
    """One row a shelter: how it does at night, in sun and for light, and which crops live through its winter.

    night_lift : mean over the cold months of the lowest inside less the lowest outside [K];  soil_lift the same for the soil's surface
    coldest_c, hot_hours_shut, hot_hours_worked (hours a year above 35 degC, lid never opened, and as it is worked), light_share of open ground
    lives_through : crops whose established plants live through at least `living` of the winters, with the chance of each crop
    """
    if not shelters:
        raise InputError("nothing to compare: name shelters, as --shelter box,tunnel")
    rows = []
    for i, shelter in enumerate(shelters):
        progress(i / len(shelters), shelter.name)
        rows.append(_row(shelter, outside, crops, living))
    progress(1.0, "done")
    return rows


def _row(shelter: Shelter, outside: OutsideWeather, crops: Sequence[Crop], living: float) -> dict[str, Any]:
    inside = simulate(shelter, outside)
    shut = (
        inside
        if shelter.lid.working == "shut" or isinstance(shelter.shape, OpenGround)
        else simulate(_shut(shelter), outside)
    )
    days = local_days(inside.place, inside.start, inside.n_hours)
    years = days.n_days / 365.25
    cold = _cold_days(inside)
    out_low = days.by_day(outside.air_temp_k)[cold].min(axis=1)
    lift = days.by_day(inside.air_temp_k)[cold].min(axis=1) - out_low
    soil = days.by_day(inside.soil_surface_k)[cold].min(axis=1) - out_low
    ghi = outside.dni_w_m2 * np.maximum(np.cos(np.radians(outside.sun_zenith_deg)), 0.0) + outside.dhi_w_m2
    daily = shelter_days(inside)
    chances = {
        c.id: winter_survival(c, crop_days(c, daily), daily.days.dates, southern=inside.place.southern) for c in crops
    }
    return {
        "shelter": shelter.name,
        "night_lift": float(lift.mean()),
        "night_lift_p10": float(np.quantile(lift, 0.1)),
        "night_lift_p90": float(np.quantile(lift, 0.9)),
        "soil_lift": float(soil.mean()),
        "coldest_c": float(inside.air_min_k.min() - 273.15),
        "outside_coldest_c": float(outside.air_temp_k.min() - 273.15),
        "hot_hours_shut": float((shut.air_temp_k > HOT_C + 273.15).sum() / max(years, 1e-9)),
        "hot_hours_worked": float((inside.air_temp_k > HOT_C + 273.15).sum() / max(years, 1e-9)),
        "light_share": float(inside.par_umol_m2_s.sum() / max(ghi.sum() * 2.05, 1e-9)),
        "years": float(years),
        "lives_through": [c.name for c in crops if chances[c.id] >= living],
        "chances": {name: round(chance, 3) for name, chance in chances.items()},
    }


def _shut(shelter: Shelter) -> Shelter:
    return replace(shelter, lid=replace(shelter.lid, working="shut"))
