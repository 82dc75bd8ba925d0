"""Where the sun stands, and how much it gives on a clear day.

The astronomy is a few lines of numpy: a library for it takes a second to load, longer than `underglass today` may.  The tests hold it
against NREL's full algorithm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place

__all__ = ["clear_sky_ghi_w_m2", "extraterrestrial_mj_m2", "split_ghi", "sun_at", "sun_position"]

F64 = NDArray[np.float64]

SOLAR_CONSTANT = 1361.0
"""Total solar irradiance (Kopp & Lean 2011) [W/m2]."""


def _refraction_deg(elevation_deg: F64, pressure_pa: float) -> F64:
    """How far air of 12 degC lifts the sun; nothing once it has set.  [deg]

    Source: Saemundsson 1986, Sky and Telescope 72:70, scaled by pressure and temperature as in Meeus, Astronomical Algorithms, ch. 16.
    """
    low = np.maximum(elevation_deg, -1.0)
    lift = 1.02 / np.tan(np.radians(low + 10.3 / (low + 5.11))) / 60.0
    return np.where(elevation_deg > -1.0, lift * pressure_pa / 101000.0 * 283.0 / 285.0, 0.0)


def sun_at(place: Place, moments: NDArray[np.datetime64]) -> tuple[F64, F64]:
    """Apparent zenith and azimuth (clockwise from north) at each moment, UTC.  [deg]

    Source: the Astronomical Almanac's low-precision sun as in Michalsky 1988, Solar Energy 40:227; within 0.02 deg of NREL's SPA for
    1950-2050.
    """
    seconds = (moments.astype("datetime64[s]") - np.datetime64("2000-01-01T12:00:00")) / np.timedelta64(1, "s")
    days = seconds / 86400.0
    anomaly = np.radians((357.528 + 0.9856003 * days) % 360.0)
    mean = 280.460 + 0.9856474 * days
    along = np.radians((mean + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly)) % 360.0)
    tilt = np.radians(23.439 - 0.0000004 * days)
    sin_along = np.sin(along)
    ascension = np.arctan2(np.cos(tilt) * sin_along, np.cos(along))
    sin_decline = np.sin(tilt) * sin_along
    sidereal_h = 6.697375 + 0.0657098242 * days + (seconds / 3600.0 + 12.0) % 24.0
    angle = np.radians((15.0 * sidereal_h + place.longitude_deg) % 360.0) - ascension
    latitude = np.radians(place.latitude_deg)
    cos_decline = np.sqrt(1.0 - sin_decline * sin_decline)
    north = sin_decline * np.cos(latitude) - cos_decline * np.cos(angle) * np.sin(latitude)
    upward = sin_decline * np.sin(latitude) + cos_decline * np.cos(angle) * np.cos(latitude)
    azimuth = np.degrees(np.arctan2(-cos_decline * np.sin(angle), north)) % 360.0
    elevation = np.degrees(np.arcsin(np.clip(upward, -1.0, 1.0)))
    pressure = 101325.0 * (1.0 - 2.25577e-5 * place.elevation_m) ** 5.25588
    return 90.0 - elevation - _refraction_deg(elevation, pressure), azimuth


def sun_position(place: Place, start: np.datetime64, n_hours: int) -> tuple[F64, F64]:
    """Apparent zenith and azimuth in the middle of each hour that begins at `start` UTC, two arrays (n_hours,).  [deg]"""
    middle = start.astype("datetime64[h]").astype("datetime64[m]") + np.timedelta64(30, "m")
    return sun_at(place, middle + np.timedelta64(60, "m") * np.arange(n_hours))


def clear_sky_ghi_w_m2(place: Place, zenith_deg: F64) -> F64:
    """Global radiation under a clear sky.  [W/m2]

    Source: Haurwitz (1945): 1098 cos z exp(-0.057 / cos z); raised by 4 % per km of elevation (estimate after Bird's model).
    """
    cosine = np.maximum(np.cos(np.radians(zenith_deg)), 1e-3)
    height = 1.0 + 0.04 * max(place.elevation_m, 0.0) / 1000.0
    return np.where(zenith_deg < 90.0, 1098.0 * height * cosine * np.exp(-0.057 / cosine), 0.0)


def split_ghi(ghi_w_m2: F64, zenith_deg: F64, day_of_year: F64) -> tuple[F64, F64]:
    """Beam normal and diffuse horizontal from global radiation, two arrays like the input.  [W/m2]

    Source: Erbs, Klein & Duffie (1982), diffuse share by clearness index; beam is dropped below 3 deg, where it has no meaning.
    """
    cosine = np.cos(np.radians(zenith_deg))
    outside = SOLAR_CONSTANT * (1.0 + 0.033 * np.cos(2.0 * np.pi * day_of_year / 365.0)) * np.maximum(cosine, 0.052)
    kt = np.clip(ghi_w_m2 / outside, 0.0, 1.0)
    middle = 0.9511 - 0.1604 * kt + 4.388 * kt**2 - 16.638 * kt**3 + 12.336 * kt**4
    share = np.where(kt <= 0.22, 1.0 - 0.09 * kt, np.where(kt <= 0.80, middle, 0.165))
    dni = np.where(cosine > 0.052, ghi_w_m2 * (1.0 - share) / np.maximum(cosine, 0.052), 0.0)
    dni = np.clip(dni, 0.0, 1100.0)
    return dni, np.maximum(ghi_w_m2 - dni * np.maximum(cosine, 0.0), 0.0)


def extraterrestrial_mj_m2(latitude_deg: float, day_of_year: F64) -> F64:
    """Daily radiation on a flat surface above the air.  [MJ/m2 d]

    Source: FAO-56 eq. 21-25.

    >>> extraterrestrial_mj_m2(-20.0, np.array([246.0])).round(1)
    array([32.2])
    """
    latitude = np.radians(latitude_deg)
    near = 1.0 + 0.033 * np.cos(2.0 * np.pi * day_of_year / 365.0)
    decline = 0.409 * np.sin(2.0 * np.pi * day_of_year / 365.0 - 1.39)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(decline), -1.0, 1.0))
    inner = sunset * np.sin(latitude) * np.sin(decline) + np.cos(latitude) * np.cos(decline) * np.sin(sunset)
    return np.asarray(24.0 * 60.0 / np.pi * 0.0820 * near * inner)
