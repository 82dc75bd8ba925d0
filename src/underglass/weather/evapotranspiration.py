"""How much water a well-watered bed of short green plants uses: the reference equation of FAO-56, daily and hourly.

The shelters' own evaporation comes out of their heat balance; this is what the open ground's watering and a check of that balance use.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.weather.sky import saturation_pa

__all__ = ["net_radiation_mj_m2", "reference_mm", "wind_at_2m"]

F64 = NDArray[np.float64]

SIGMA_MJ_DAY = 4.903e-9
"""Stefan-Boltzmann constant as FAO-56 eq. 39 has it [MJ/m2K4 day]."""

GRASS_ALBEDO = 0.23


def wind_at_2m(wind_m_s: F64, height_m: float = 10.0) -> F64:
    """Wind at 2 m over short grass from wind at another height.  FAO-56 eq. 47.  [m/s]

    >>> float(wind_at_2m(np.array(3.2)).round(1))
    2.4
    """
    return np.asarray(wind_m_s * 4.87 / np.log(67.8 * height_m - 5.42))


def net_radiation_mj_m2(sun: F64, clear_sun: F64, t4: F64, vapour_pa: F64, days: float = 1.0) -> F64:
    """Net radiation of the reference crop over `days` (1, or 1/24 for an hour).  FAO-56 eq. 38-40.  [MJ/m2]

    sun, clear_sun : global radiation and that of a clear sky over the same span [MJ/m2]
    t4 : fourth power of the air temperature, or the mean of those of the day's highest and lowest [K4];  vapour_pa [Pa]
    """
    share = np.clip(sun / np.maximum(clear_sun, 1e-9), 0.3, 1.0)
    emitted = SIGMA_MJ_DAY * days * t4 * (0.34 - 0.14 * np.sqrt(vapour_pa / 1000.0)) * (1.35 * share - 0.35)
    return np.asarray((1.0 - GRASS_ALBEDO) * sun - emitted)


def reference_mm(
    net: F64, ground: F64, air_k: F64, deficit_pa: F64, wind_2m: F64, pressure_pa: float, days: float = 1.0
) -> F64:
    """Reference evapotranspiration.  FAO-56 eq. 6 (days = 1) and eq. 53 (days = 1/24).  [mm]

    net, ground : net radiation and heat into the soil over the span [MJ/m2];  air_k : mean air [K]
    deficit_pa : saturation less actual vapour pressure [Pa];  wind_2m [m/s];  pressure_pa [Pa]
    """
    gamma = 0.665e-6 * pressure_pa
    slope = 4098.0 * saturation_pa(air_k) / 1000.0 / (air_k - 273.15 + 237.3) ** 2
    drying = gamma * 900.0 * days / (air_k - 273.15 + 273.0) * wind_2m * deficit_pa / 1000.0
    return np.asarray((0.408 * slope * (net - ground) + drying) / (slope + gamma * (1.0 + 0.34 * wind_2m)))
