"""Where the sun stands, and how much it gives on a clear day.  pvlib does the astronomy; it is imported when asked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place

__all__ = ["clear_sky_ghi_w_m2", "extraterrestrial_mj_m2", "split_ghi", "sun_at", "sun_position"]

F64 = NDArray[np.float64]

SOLAR_CONSTANT = 1361.0
"""Total solar irradiance (Kopp & Lean 2011) [W/m2]."""


def sun_at(place: Place, moments: NDArray[np.datetime64]) -> tuple[F64, F64]:
    """Apparent zenith and azimuth (clockwise from north) at each moment, UTC.  [deg]

    Source: pvlib's ephemeris (Rizzi), within 0.02 deg of NREL's SPA for 1950-2050 above the horizon.
    """
    import pandas as pd
    import pvlib

    times = pd.DatetimeIndex(moments.astype("datetime64[ns]")).tz_localize("UTC")
    pressure = 101325.0 * (1.0 - 2.25577e-5 * place.elevation_m) ** 5.25588
    found = pvlib.solarposition.ephemeris(times, place.latitude_deg, place.longitude_deg, pressure=pressure)
    return np.array(found["apparent_zenith"], dtype=np.float64), np.array(found["azimuth"], dtype=np.float64)


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
