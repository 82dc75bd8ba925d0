"""Small formulas of heat transfer, one published equation each, compiled so that the loop over hours can use them.

Numba's cache does not notice a change in a file that a kernel imports from: the package keys its cache folder by a hash of all
kernel sources (see underglass/kernel_cache.py).
"""

from __future__ import annotations

import numpy as np

from underglass.compiled import njit

__all__ = [
    "CP_AIR", "FREEZE_K", "FUSION_J_KG", "GRAVITY", "LATENT_J_KG", "SIGMA",
    "cube_root", "film_up", "fourth_root", "gap_film", "leak_flow", "radiation", "saturation", "saturation_near", "saturation_slope", "vent_flow",
]  # fmt: skip

SIGMA = 5.670374e-8
"""Stefan-Boltzmann constant (CODATA 2018) [W/m2K4]."""

LATENT_J_KG = 2.5e6
"""Heat of vaporisation of water near 0 degC [J/kg]."""

FUSION_J_KG = 3.34e5
"""Heat of fusion of ice [J/kg]."""

CP_AIR = 1006.0
"""Specific heat of air [J/kgK]."""

GRAVITY = 9.81
FREEZE_K = 273.15


@njit(cache=True, error_model="numpy", forceinline=True)
def saturation(temp_k: float) -> float:
    """Saturation vapour pressure over water, Tetens as FAO-56 eq. 11 gives it.  [Pa]"""
    t = temp_k - 273.15
    return 610.8 * np.exp(17.27 * t / (t + 237.3))


@njit(cache=True, error_model="numpy", forceinline=True)
def saturation_slope(temp_k: float, pressure: float) -> float:
    """Slope of that curve, FAO-56 eq. 13.  [Pa/K]"""
    return 4098.0 * pressure / (temp_k - 35.85) ** 2


TABLE_FROM_K, TABLE_PER_K = 180.0, 32.0
_TABLE_K = TABLE_FROM_K + np.arange(7041) / TABLE_PER_K
TABLE_PA = 610.8 * np.exp(17.27 * (_TABLE_K - 273.15) / (_TABLE_K - 35.85))
"""The saturation curve at every 32nd of a kelvin, 180-400 K."""


@njit(cache=True, error_model="numpy", forceinline=True)
def saturation_near(temp_k: float):
    """Saturation pressure [Pa] and its slope [Pa/K] on the chord of the tabled curve: within 2e-6 of it, a quarter of the time."""
    place = min(max((temp_k - TABLE_FROM_K) * TABLE_PER_K, 0.0), 7039.0)
    at = int(place)
    low = TABLE_PA[at]
    step = TABLE_PA[at + 1] - low
    return low + (place - at) * step, step * TABLE_PER_K


@njit(cache=True, error_model="numpy", forceinline=True)
def fourth_root(value: float) -> float:
    """Square root twice: a third of the time of a power."""
    return np.sqrt(np.sqrt(value))


@njit(cache=True, error_model="numpy", forceinline=True)
def radiation(one_k: float, other_k: float) -> float:
    """Exact linear coefficient of black exchange between two temperatures.  [W/m2K]"""
    return SIGMA * (one_k * one_k + other_k * other_k) * (one_k + other_k)


ROOT_PER_K = 32.0
ROOT = np.cbrt(np.arange(6402) / ROOT_PER_K)
"""Cube root of every 32nd of a kelvin, 0-200 K."""


@njit(cache=True, error_model="numpy", forceinline=True)
def cube_root(difference_k: float) -> float:
    """Cube root of a temperature difference on the chord of a table: within 0.4 % above 0.1 K, a tenth of the time of the function."""
    place = min(difference_k * ROOT_PER_K, 6400.0)
    at = int(place)
    return ROOT[at] + (place - at) * (ROOT[at + 1] - ROOT[at])


@njit(cache=True, error_model="numpy", forceinline=True)
def film_up(surface_k: float, air_k: float, tilt_cos: float) -> float:
    """Natural convection at an upward face (Walton 1983, TARP; ASHRAE's detailed model): warm faces stir, cold ones do not.

    tilt_cos : of the face's normal to straight up, 1 floor, 0 wall, -1 ceiling.  [W/m2K]
    """
    warm = surface_k - air_k
    cube = cube_root(abs(warm))
    lift = warm * tilt_cos
    if lift > 0.0:
        return 9.482 * cube / (7.238 - abs(tilt_cos))
    return 1.810 * cube / (1.382 + abs(tilt_cos))


@njit(cache=True, error_model="numpy", forceinline=True)
def leak_flow(area_m2: float, warmer_k: float, wind_m_s: float, height_m: float, shielding: float) -> float:
    """Leak through cracks: buoyancy and wind added as squares (Sherman & Grimsrud 1980; ASHRAE Fundamentals, basic model).

    Stack coefficient 0.000145 (L/s)2/(cm4 K) is for one storey (2.5 m) and goes with height; wind coefficient by shielding
    class.  [m3/s]
    """
    stack = 1.45e-4 * height_m / 2.5 * abs(warmer_k)
    return 10.0 * area_m2 * np.sqrt(stack + shielding * wind_m_s * wind_m_s)


@njit(cache=True, error_model="numpy", forceinline=True)
def vent_flow(area_m2: float, inside_k: float, outside_k: float, wind_m_s: float, height_m: float) -> float:
    """Flow through one open lid or vent (Boulard & Baille 1995): half the opening lets in, half out.

    Discharge coefficient 0.65, wind effect 0.10 (mid values of that paper).  [m3/s]
    """
    buoyancy = 2.0 * GRAVITY * abs(inside_k - outside_k) / outside_k * height_m / 4.0
    return 0.5 * area_m2 * 0.65 * np.sqrt(buoyancy + 0.10 * wind_m_s * wind_m_s)


STILL_RAYLEIGH = 0.035 ** (-1.0 / 0.38)
"""Below this the air in a gap only conducts: EN 673's Nusselt number would be less than one."""


@njit(cache=True, error_model="numpy", forceinline=True)
def gap_film(gap_m: float, one_k: float, other_k: float) -> float:
    """Convection and conduction across an air gap, EN 673 (2011) eq. 8-10 for vertical panes: Nu = 0.035 Gr^0.38·Pr^0.38.  [W/m2K]"""
    if gap_m <= 0.0:
        return 1e3
    mean = 0.5 * (one_k + other_k)
    conduct = 0.02496 + 7.6e-5 * (mean - 283.0)
    viscosity = 1.761e-5 + 5.0e-8 * (mean - 283.0)
    density = 1.232 * 283.0 / mean
    grashof = 9.81 * gap_m**3 * abs(one_k - other_k) * density**2 / (mean * viscosity**2)
    rayleigh = grashof * 0.711
    nusselt = 0.035 * rayleigh**0.38 if rayleigh > STILL_RAYLEIGH else 1.0
    return nusselt * conduct / gap_m
