"""Humidity and the sky's own heat radiation: small published equations."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "berdahl_martin",
    "cloud_from_clearness",
    "dew_point_k",
    "longwave_down_w_m2",
    "pressure_pa",
    "saturation_pa",
]

F64 = NDArray[np.float64]
SIGMA = 5.670374e-8
"""Stefan-Boltzmann constant (CODATA 2018) [W/m2K4]."""

CLOUD_EMISSIVITY = 0.88
"""What an overcast sky closes of the clear sky's gap: hemispherical emissivity times exp(-base height / 8.2 km) for low to middle cloud
(Martin & Berdahl 1984: 1.0 and a base of 1-2 km)."""


def saturation_pa(temp_k: F64) -> F64:
    """Saturation vapour pressure over water.  FAO-56 eq. 11 (Tetens).  [Pa]

    >>> saturation_pa(np.array([293.15])).round(0)
    array([2338.])
    """
    t = temp_k - 273.15
    return np.asarray(610.8 * np.exp(17.27 * t / (t + 237.3)))


def dew_point_k(vapour_pa: F64) -> F64:
    """Dew point of a vapour pressure: the inverse of `saturation_pa`.  [K]"""
    x = np.log(np.maximum(vapour_pa, 1.0) / 610.8)
    return np.asarray(237.3 * x / (17.27 - x) + 273.15)


def pressure_pa(elevation_m: float) -> float:
    """Standard pressure at a height.  FAO-56 eq. 7.  [Pa]"""
    return float(101300.0 * ((293.0 - 0.0065 * elevation_m) / 293.0) ** 5.26)


def berdahl_martin(dew_k: F64) -> F64:
    """Clear-sky emissivity by dew point, Berdahl & Martin (1984), without their hour-of-day term (0.013).  0-1

    >>> berdahl_martin(np.array([278.15, 268.15])).round(3)
    array([0.741, 0.685])
    """
    t = (dew_k - 273.15) / 100.0
    return np.asarray(0.711 + 0.56 * t + 0.73 * t * t)


def longwave_down_w_m2(air_k: F64, dew_k: F64, cloud: F64) -> F64:
    """Heat radiation of the whole sky on flat ground.  [W/m2]

    cloud : opaque cover 0-1
    Source: Berdahl & Martin (1984) for the clear sky; cloud closes part of the gap to a black sky, Martin & Berdahl (1984).
    """
    clear = berdahl_martin(dew_k)
    return np.asarray((clear + (1.0 - clear) * CLOUD_EMISSIVITY * np.clip(cloud, 0.0, 1.0)) * SIGMA * air_k**4)


def cloud_from_clearness(clearness: F64) -> F64:
    """Opaque cloud 0-1 for the sky's heat, from global radiation as a share of a clear sky's.

    Source: estimate between Kasten & Czeplak (1980), who count thin cloud too (power 1/3.4), and Crawford & Duchon (1999), cloud fraction 1 - s:
    ((1 - s) / 0.75)^(1/1.6).
    """
    return np.asarray(np.clip((1.0 - clearness) / 0.75, 0.0, 1.0) ** (1.0 / 1.6))
