"""Length of the day, sunrise to sunset: the sun's upper edge on a flat horizon, with refraction."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["day_length_h", "declination_rad", "short_days"]

HORIZON_DEG = 90.833
"""Zenith of the sun's middle at sunrise: refraction 34' and half the disc 16' (standard almanac value)."""


def declination_rad(dates: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Sun's declination at noon of each date (Spencer 1971, Fourier series; within 0.035 deg).  [rad]"""
    year_start = dates.astype("datetime64[Y]").astype("datetime64[D]")
    angle = 2.0 * np.pi * ((dates - year_start).astype(float) + 0.5) / 365.25
    return np.asarray(
        0.006918
        - 0.399912 * np.cos(angle)
        + 0.070257 * np.sin(angle)
        - 0.006758 * np.cos(2 * angle)
        + 0.000907 * np.sin(2 * angle)
        - 0.002697 * np.cos(3 * angle)
        + 0.00148 * np.sin(3 * angle)
    )


def day_length_h(latitude_deg: float, dates: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Sunrise to sunset on each date (datetime64[D]); 0 in polar night, 24 in polar day.  [h]

    >>> day_length_h(45.0, np.array(["2025-12-21", "2025-06-21"], dtype="datetime64[D]")).round(1)
    array([ 8.8, 15.6])
    """
    latitude = np.radians(latitude_deg)
    decline = declination_rad(dates)
    cosine = (np.cos(np.radians(HORIZON_DEG)) - np.sin(latitude) * np.sin(decline)) / (
        np.cos(latitude) * np.cos(decline)
    )
    return np.asarray(24.0 / np.pi * np.arccos(np.clip(cosine, -1.0, 1.0)))


def short_days(latitude_deg: float, year: int, below_h: float = 10.0) -> tuple[np.datetime64, np.datetime64] | None:
    """First and last day of the winter that begins in `year` with less than `below_h` hours, None where no day is so short.

    North: the winter from July of `year`; south: from January of `year`.

    >>> short_days(32.0, 2025) is None
    True
    """
    first = np.datetime64(f"{year}-07-01" if latitude_deg >= 0.0 else f"{year}-01-01")
    dates = first + np.arange(365)
    below = np.flatnonzero(day_length_h(latitude_deg, dates) < below_h)
    return (dates[below[0]], dates[below[-1]]) if below.size else None
