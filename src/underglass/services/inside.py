"""The inside weather of a shelter: a look at one year, sums by month, and its hours as a table."""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Horizon
from underglass.plan.household import Household
from underglass.plan.wishes import Wishes
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather, hours_for
from underglass.shelter.inside import InsideWeather
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import simulate
from underglass.weather.days import local_days
from underglass.weather.outside import OutsideWeather

__all__ = ["COLUMNS", "Look", "get_ready", "heat_table", "look_inside", "monthly_table", "write_hours"]

COLUMNS = (
    "time", "outside_air_c", "inside_air_c", "leaf_c", "soil_surface_c", "soil_5cm_c", "soil_10cm_c", "soil_30cm_c", "inside_rh",
    "par_umol_m2_s", "solar_in_w", "lid_open", "air_changes_per_h", "cover_c",
)  # fmt: skip
"""Columns of the hourly CSV, exact and stable; docs/json.md says what each one is."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """One year inside a shelter.  inside : its hours, without flows;  months : as monthly_table;  flows : of the day `date` [Wh/m2]

    weather : what the year is made from
    """

    inside: InsideWeather
    months: list[dict[str, Any]]
    date: str
    flows: dict[str, float]
    weather: str


@lru_cache(maxsize=2)
def _year(household: Household, year: int, read: ReadWeather | None) -> OutsideWeather:
    return hours_for(household, year, 1, 1, read)


def _bare(household: Household) -> Household:
    """What the weather depends on."""
    return replace(household, shelters=(), standing=(), crops=(), seeds=(), wishes=Wishes())


def get_ready(household: Household, year: int, *, read: ReadWeather | None = None, progress: Progress = silent) -> None:
    """Load the loops and make the year that `look_inside` looks at, so that the first look does not wait for them."""
    progress(0.5, "weather of the place")
    outside = _year(_bare(household), year, read)
    for shelter in household.shelters[:1]:
        simulate(shelter, outside, heat=True)


def look_inside(
    household: Household, shelter: Shelter, year: int, *, day: int = 1, trees_deg: float | None = None,
    read: ReadWeather | None = None, progress: Progress = silent,
) -> Look:  # fmt: skip
    """A year of the place's climate inside a shelter.

    day : of the year, whose flows are summed;  trees_deg : a skyline all around instead of the place's own
    """
    outside = _year(_bare(household), year, read)
    if trees_deg is not None:
        outside = replace(outside, place=replace(outside.place, horizon=Horizon((0.0,), (trees_deg,))))
    inside = simulate(shelter, outside, heat=True)
    days = local_days(inside.place, inside.start, inside.n_hours)
    at = min(day, days.n_days) - 1
    flows = {k: float(days.by_day(v)[at].sum()) / inside.floor_area_m2 for k, v in inside.heat.items()}
    months = monthly_table(inside, outside)
    return Look(replace(inside, heat={}), months, str(days.dates[at]), flows, outside.provenance.source)


def monthly_table(inside: InsideWeather, outside: OutsideWeather) -> list[dict[str, Any]]:
    """One row a month: means over all years of the series; temperatures in degC, light in mol/m2 a day.

    mean, night_min (mean of the days' lowest), day_peak (mean of the highest), coldest, hottest, hours_below_0, hours_above_35 (per month),
    soil_5cm, outside_mean, outside_night_min, lift (night_min less outside's), light, light_share (of open ground's)
    """
    days = local_days(inside.place, inside.start, inside.n_hours)
    month = days.dates.astype("datetime64[M]").astype(int) % 12
    years = max(days.n_days / 365.25, 1e-9)

    def by_day(values: NDArray[np.floating]) -> NDArray[np.floating]:
        return days.by_day(values)

    air, out = by_day(inside.air_temp_k) - 273.15, by_day(outside.air_temp_k) - 273.15
    low, high = by_day(inside.air_min_k) - 273.15, by_day(inside.air_max_k) - 273.15
    soil = by_day(inside.soil_5cm_k) - 273.15
    light = by_day(inside.par_umol_m2_s).sum(axis=1) * 3600e-6
    ghi = outside.dni_w_m2 * np.maximum(np.cos(np.radians(outside.sun_zenith_deg)), 0.0) + outside.dhi_w_m2
    open_light = by_day(ghi).sum(axis=1) * 3600e-6 * 2.05
    rows = []
    for m in sorted(set(month.tolist())):
        here = month == m
        night, outside_night = low[here].min(axis=1).mean(), out[here].min(axis=1).mean()
        rows.append(
            {
                "month": MONTHS[m],
                "mean": float(air[here].mean()),
                "night_min": float(night),
                "day_peak": float(high[here].max(axis=1).mean()),
                "coldest": float(low[here].min()),
                "hottest": float(high[here].max()),
                "hours_below_0": float((air[here] < 0.0).sum() / max(years, 1.0)),
                "hours_above_35": float((air[here] > 35.0).sum() / max(years, 1.0)),
                "soil_5cm": float(soil[here].mean()),
                "outside_mean": float(out[here].mean()),
                "outside_night_min": float(outside_night),
                "lift": float(night - outside_night),
                "light": float(light[here].mean()),
                "light_share": float(light[here].sum() / max(open_light[here].sum(), 1e-9)),
            }
        )
    return rows


def heat_table(inside: InsideWeather) -> dict[str, float]:
    """Mean heat flow over the series by path, W per m2 of bed, gain positive; needs a run with heat=True."""
    return {name: float(values.mean()) / inside.floor_area_m2 for name, values in inside.heat.items()}


def write_hours(inside: InsideWeather, outside: OutsideWeather, path: Path) -> None:
    """The hours as CSV with COLUMNS; written beside and moved into place, so that a half-written file is never left.

    Raises InputError where the file can't be written.
    """
    times = [f"{t}:00:00Z" for t in outside.times.astype("datetime64[h]").astype(str)]
    celsius = (
        inside.air_temp_k, inside.leaf_temp_k, inside.soil_surface_k, inside.soil_5cm_k, inside.soil_10cm_k, inside.soil_30cm_k,
    )  # fmt: skip
    columns = [np.round(outside.air_temp_k - 273.15, 2), *(np.round(c.astype(float) - 273.15, 2) for c in celsius)]
    columns += [
        np.round(v.astype(float), 3)
        for v in (inside.rh, inside.par_umol_m2_s, inside.solar_in_w, inside.lid_open, inside.air_changes_per_h)
    ]
    columns.append(np.round(inside.cover_temp_k.astype(float) - 273.15, 2))
    part = path.with_name(path.name + ".part")
    try:
        with part.open("w", newline="", encoding="utf-8") as out:
            writer = csv.writer(out, lineterminator="\n")
            writer.writerow(COLUMNS)
            writer.writerows(zip(times, *(c.tolist() for c in columns), strict=True))
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise InputError(f"{path}: cannot be written ({error.strerror}); choose another folder") from None
