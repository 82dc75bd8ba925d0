"""The climate of a place in twelve months, in layers: each better one replaces what it knows better.

grid (ERA5, shipped) → typed monthly values → a known last frost → a daily record.  Every layer says how sure it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.frost import frost_dates
from underglass.place.place import Place
from underglass.sun.daylength import day_length_h
from underglass.weather.grid import grid_climate
from underglass.weather.spread import day_swing

__all__ = [
    "ClimateNormals",
    "MID_MONTH",
    "daily_curve",
    "from_grid",
    "with_daily_record",
    "with_last_frost",
    "with_typed",
]

F64 = NDArray[np.float64]

MID_MONTH = np.array([15.5, 45.0, 74.5, 105.0, 135.5, 166.0, 196.5, 227.5, 258.0, 288.5, 319.0, 349.5])
"""Middle of each month, days after 1 January."""

MONTH_DAYS = np.array([31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0])
MOST_SHIFT_K = 6.0

FAR_SHARE, ALIKE_K = 0.33, 8.0
"""Of what a known last frost shifts the nights about it, this share holds for July's and January's: how the map's errors there go with it at 13
stations (0.35 and 0.30).  Nights are alike within some kelvin of the mean low about that date (by hand)."""


@dataclass(frozen=True, slots=True, eq=False)
class ClimateNormals:
    """Twelve months of a climate, arrays (12,).

    tmin_k, tmax_k : mean of the days' lowest and highest [K]    sd_min_k : spread of the daily lowest about it [K]
    lag1, skew     : persistence from day to day, lean of the cold tail [-]
    clearness      : global radiation as a share of a clear sky's, 0-1
    rain_mm [mm/month], wet_share : share of days with rain 0-1, wind_m_s [m/s], dew_below_k : dew point under the day's lowest [K]
    layer, source, licence : what this stands on;  temp_sd_k [K], frost_sd_days [d] : how sure
    """

    tmin_k: F64
    tmax_k: F64
    sd_min_k: F64
    lag1: float
    skew: F64
    clearness: F64
    rain_mm: F64
    wet_share: F64
    wind_m_s: F64
    dew_below_k: F64
    layer: str
    source: str
    licence: str
    temp_sd_k: float
    frost_sd_days: float
    notes: tuple[str, ...] = ()


def daily_curve(monthly: F64, day_of_year: F64) -> F64:
    """Monthly means as a smooth curve at each day after 1 January, whose mean over each month is that month's value.

    Straight lines between mid-months, smoothed by a fortnight's window, would cut the peaks off (July too cool, January too warm by half a
    degree and more in continental places); so the values at mid-month are moved until each month keeps its mean (as Epstein 1991,
    J. Climate 4:365, asks of daily climates from monthly means).  What is never negative stays so.
    """
    curve = _through(np.asarray(np.linalg.solve(_month_means(), monthly), dtype=np.float64))
    if monthly.min() >= 0.0:
        curve = np.maximum(curve, 0.0)
    return np.asarray(np.interp(day_of_year, CURVE_DAYS, curve))


CURVE_DAYS = np.arange(-30.0, 396.0)


def _through(mid_month: F64) -> F64:
    """The smoothed line through values at the middles of the months, on CURVE_DAYS."""
    position = np.concatenate([MID_MONTH[-1:] - 365.25, MID_MONTH, MID_MONTH[:1] + 365.25])
    values = np.concatenate([mid_month[-1:], mid_month, mid_month[:1]])
    return np.convolve(np.interp(CURVE_DAYS, position, values), np.full(15, 1.0 / 15.0), mode="same")


@cache
def _month_means() -> F64:
    """Means over the months of the line through values at mid-month, as a matrix on those values, shape (12, 12)."""
    month = np.arange("2027-01-01", "2028-01-01", dtype="datetime64[D]").astype("datetime64[M]").astype(int) % 12
    lines = np.stack([_through(unit)[30:395] for unit in np.eye(12)], axis=1)
    return np.stack([lines[month == m].mean(axis=0) for m in range(12)])


def _clearness(latitude_deg: float, rain_mm: float | F64) -> F64:
    """Global radiation over a clear sky's: by latitude, season and dryness (fit by hand to London, Zurich, New York and Seville)."""
    lat = abs(latitude_deg)
    base = 0.57 + 0.30 * np.clip((52.0 - lat) / 25.0, 0.0, 0.75)
    season = -np.cos(2.0 * np.pi * (MID_MONTH - 15.0) / 365.25) * (1.0 if latitude_deg >= 0.0 else -1.0)
    swing = 0.06 * np.clip((lat - 25.0) / 15.0, 0.0, 1.0)
    dry = 0.12 * np.exp(-np.asarray(rain_mm) / 25.0) - 0.0003 * np.maximum(np.asarray(rain_mm) - 100.0, 0.0)
    return np.asarray(np.clip(base + swing * season + dry, 0.30, 0.95))


def from_grid(place: Place) -> ClimateNormals:
    """The weakest layer: the shipped ERA5 grid, corrected for the place's elevation; the rest by formula.

    Raises InputError far from any land.
    """
    mean_k, rain = grid_climate(place.latitude_deg, place.longitude_deg, place.elevation_m)
    swing = day_swing(place.latitude_deg, place.longitude_deg, place.elevation_m, MID_MONTH, mean_k, rain)
    warm = np.maximum(mean_k - 273.15, 0.0)
    year_range = mean_k.max() - mean_k.min()
    winter = 0.5 + 0.5 * np.clip((mean_k.mean() - mean_k) / max(year_range / 2.0, 0.1), -1.0, 1.0)
    return ClimateNormals(
        tmin_k=mean_k - 0.5 * swing.range_k,
        tmax_k=mean_k + 0.5 * swing.range_k,
        sd_min_k=swing.spread_k,
        lag1=0.68,
        skew=swing.lean,
        clearness=_clearness(place.latitude_deg, rain),
        rain_mm=rain,
        wet_share=np.clip(rain / MONTH_DAYS / (4.0 + 0.25 * warm), 0.03, 0.75),
        wind_m_s=3.2 + 0.4 * winter,
        dew_below_k=np.clip(4.0 * (1.0 - rain / 55.0), 0.0, 5.0),
        layer="grid",
        source="ERA5 monthly means 2000-2025 on a 0.25 degree grid, corrected for elevation",
        licence="Contains modified Copernicus Climate Change Service information [2025]",
        temp_sd_k=1.5,
        frost_sd_days=11.0,
    )


def with_typed(
    normals: ClimateNormals, place: Place, tmin_k: F64, tmax_k: F64, sun_hours: F64 | None = None
) -> ClimateNormals:
    """Typed monthly lowest and highest, and sunshine hours where known (Angstrom: 0.25 + 0.50 n/N of the sun above the air)."""
    clearness = normals.clearness
    if sun_hours is not None and sun_hours.size == 12:
        days = np.datetime64("2025-01-01") + MID_MONTH.astype(int)
        share = np.clip(sun_hours / MONTH_DAYS / np.maximum(day_length_h(place.latitude_deg, days), 0.5), 0.0, 1.0)
        clearness = np.clip((0.25 + 0.50 * share) / 0.75, 0.1, 1.0)
    return replace(
        normals, tmin_k=tmin_k, tmax_k=tmax_k, clearness=clearness, layer="typed normals",
        source="monthly values typed in; spread and the rest from " + normals.source, temp_sd_k=0.8, frost_sd_days=10.0,
    )  # fmt: skip


def daily_minima(normals: ClimateNormals, n_years: int, seed: int) -> tuple[F64, NDArray[np.datetime64]]:
    """Many years of daily lowest temperatures alone, for frost dates.  [K], dates"""
    dates = np.datetime64("2001-01-01") + np.arange(int(n_years * 365.25))
    rng = np.random.Generator(np.random.PCG64(seed))
    day = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float)
    return daily_curve(normals.tmin_k, day) + anomalies(normals, day, rng), dates


def anomalies(normals: ClimateNormals, day_of_year: F64, rng: np.random.Generator) -> F64:
    """Day-to-day departures of the lowest temperature: a first-order chain, leaning to the cold side.  [K]

    The lean is put in as z + skew/6 (z2 - 1), which keeps mean and spread and gives that skewness (Cornish & Fisher, first term).
    """
    from underglass.weather.chain import chain

    z = chain(rng.standard_normal(len(day_of_year)), normals.lag1)
    lean = daily_curve(normals.skew, day_of_year)
    bent = (z + lean / 6.0 * (z * z - 1.0)) / np.sqrt(1.0 + lean * lean / 18.0)
    return np.asarray(daily_curve(normals.sd_min_k, day_of_year) * bent)


def with_last_frost(normals: ClimateNormals, place: Place, month: int, day: int) -> ClimateNormals:
    """Shift the lowest temperatures so that the middle last frost falls on the known date.

    The date tells of nights like those about it, so months with such nights are shifted in full, others by FAR_SHARE of it.
    Raises InputError where the place hardly freezes, or where the shift would be more than 6 K.
    """
    wanted = int(
        (
            np.datetime64(f"2025-{month:02d}-{min(day, 28) if month == 2 else day:02d}") - np.datetime64("2025-01-01")
        ).astype(int)
    )
    about_k = daily_curve(normals.tmin_k, np.array([float(wanted)]))
    if place.southern:
        wanted = (wanted - 181) % 365
    minima, dates = daily_minima(normals, 120, 7)
    alike = FAR_SHARE + (1.0 - FAR_SHARE) * np.exp(-(((normals.tmin_k - about_k) / ALIKE_K) ** 2))
    by_day = daily_curve(alike, (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float))
    low, high = -MOST_SHIFT_K - 2.0, MOST_SHIFT_K + 2.0
    for _ in range(18):
        shift = 0.5 * (low + high)
        last = frost_dates(minima + shift * by_day, dates, southern=place.southern).last
        middle = np.nan if np.isnan(last).mean() > 0.5 else float(np.nanmedian(last))
        if np.isnan(middle) or middle < wanted:
            high = shift
        else:
            low = shift
    if abs(shift) > MOST_SHIFT_K:
        raise InputError(
            f"last frost {month:02d}-{day:02d} would need the climate map to be {abs(shift):.0f} °C off at this place: "
            "check the date (month-day, the middle date of the last frost in the air) and the elevation"
        )
    return replace(
        normals, tmin_k=normals.tmin_k + shift * alike, tmax_k=normals.tmax_k + 0.3 * shift * alike, layer="known last frost",
        source=f"a known last frost ({month:02d}-{day:02d}) on top of " + normals.source, temp_sd_k=0.5, frost_sd_days=5.0,
        notes=(*normals.notes, _shift_told(shift)),
    )  # fmt: skip


def _shift_told(shift_k: float) -> str:
    """In both units, as a note belongs to nobody's household yet."""
    way = "colder" if shift_k < 0.0 else "milder"
    return f"nights like those of the last frost were made {abs(shift_k):.1f} °C ({1.8 * abs(shift_k):.1f} °F) {way} than on the map to fit the known date, others by less"


def with_daily_record(
    normals: ClimateNormals,
    dates: NDArray[np.datetime64],
    tmin_k: F64,
    tmax_k: F64,
    rain_mm: F64 | None = None,
    source: str = "a daily record",
    licence: str = "",
) -> ClimateNormals:
    """A place's own monthly statistics from years of daily lowest and highest temperatures (and rain).

    Raises InputError for less than three years.
    """
    if len(dates) < 3 * 365:
        raise InputError(f"a daily record of {len(dates)} days is too short to be a climate: give at least three years")
    month = dates.astype("datetime64[M]").astype(int) % 12
    day = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(float)

    def by_month(values: F64) -> F64:
        return np.array([values[month == m].mean() for m in range(12)])

    low, high = by_month(tmin_k), by_month(tmax_k)
    anomaly = tmin_k - daily_curve(low, day)
    spread = np.array([anomaly[month == m].std() for m in range(12)])
    scaled = anomaly / daily_curve(spread, day)
    near = [
        np.isin(month, [(m - 1) % 12, m, (m + 1) % 12]) for m in range(12)
    ]  # a month alone is too few days for a tail
    skew = np.array([np.clip((scaled[days] ** 3).mean(), -1.0, 0.6) for days in near])
    cold = (low < np.median(low))[month[1:]]  # persistence of the half of the year that kills
    lag1 = np.corrcoef(scaled[1:][cold], scaled[:-1][cold])[0, 1]
    fresh = replace(
        normals, tmin_k=low, tmax_k=high, sd_min_k=spread, skew=skew, lag1=float(np.clip(lag1, 0.3, 0.9)),
        layer="daily record", source=source, licence=licence, temp_sd_k=0.2, frost_sd_days=float("nan"),
    )  # fmt: skip
    if rain_mm is None:
        return fresh
    return replace(
        fresh,
        rain_mm=by_month(rain_mm) * MONTH_DAYS,
        wet_share=np.clip(by_month((rain_mm >= 1.0).astype(float)), 0.01, 0.9),
    )
