"""The ground in depth: properties that depend on moisture and ice, the grid, and the place's annual wave.

Conductivity after Johansen (1975) as given by Farouki (1981), Thermal Properties of Soils, CRREL Monograph 81-1:
dry and saturated values joined by the Kersten number; heat capacity as the sum of the parts (de Vries 1963).
Freezing is spread over 0 … -0.8 degC, as the water of fine soil freezes over a range (Farouki 1981, ch. 6; our width is an
estimate), and kept in enthalpy, so that no heat is lost when a layer crosses it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.model import Ground, Layer

__all__ = [
    "GRID_M",
    "Column",
    "annual_wave_k",
    "column_of_layers",
    "damping_depth_m",
    "soil_column",
    "soil_conductivity",
]

F64 = NDArray[np.float64]

GRID_M: tuple[float, ...] = (0.014, 0.026, 0.04, 0.06, 0.10, 0.18, 0.34, 0.64, 1.1)
"""Thickness of the soil layers, top first [m]; thin where the day's wave lives, 2.5 m in all."""

WATER_J_M3K = 4.18e6
ICE_J_M3K = 1.9e6
SOLIDS_J_M3K = 2.0e6
FUSION_J_M3 = 3.34e8
"""Volumetric heat of water, ice, soil solids (de Vries 1963) and heat of fusion per volume of water."""

YEAR_S = 365.25 * 86400.0


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """Layers from the top down, all arrays (n,).

    thickness_m [m]; conductivity_thawed, conductivity_frozen [W/mK]; heat_thawed, heat_frozen [J/m3K]; latent [J/m3]
    """

    thickness_m: F64
    conductivity_thawed: F64
    conductivity_frozen: F64
    heat_thawed: F64
    heat_frozen: F64
    latent: F64

    @property
    def depth_m(self) -> F64:
        """Depth of the middle of each layer [m]."""
        return np.asarray(np.cumsum(self.thickness_m) - 0.5 * self.thickness_m)


def soil_conductivity(moisture: float, porosity: float, quartz_share: float, *, frozen: bool) -> float:
    """Thermal conductivity of soil after Johansen (1975).  [W/mK]

    moisture, porosity [m3/m3]; quartz_share of the solids 0-1.  Valid for mineral soil; fine-soil Kersten number for
    thawed soil (log10 S + 1, S > 0.1), S itself for frozen soil (Farouki 1981, eq. 108-112 and following).

    >>> round(soil_conductivity(0.25, 0.45, 0.4, frozen=False), 2)
    1.19
    """
    saturation = min(max(moisture / porosity, 0.0), 1.0)
    dry_density = 2700.0 * (1.0 - porosity)
    dry = (0.135 * dry_density + 64.7) / (2700.0 - 0.947 * dry_density)
    other = 2.0 if quartz_share > 0.2 else 3.0
    solids = 7.7**quartz_share * other ** (1.0 - quartz_share)
    liquid = 2.2 if frozen else 0.57
    saturated = solids ** (1.0 - porosity) * liquid**porosity
    kersten = saturation if frozen else max(np.log10(max(saturation, 0.1)) + 1.0, 0.0)
    return float(dry + (saturated - dry) * kersten)


def soil_column(ground: Ground, *, freezing: bool) -> Column:
    """The ground's own soil on the standard grid."""
    n = len(GRID_M)
    solids = (1.0 - ground.porosity) * SOLIDS_J_M3K
    args = (ground.moisture, ground.porosity, ground.quartz_share)
    thawed = soil_conductivity(*args, frozen=False)
    frozen = soil_conductivity(*args, frozen=True) if freezing else thawed
    heat = solids + ground.moisture * WATER_J_M3K
    heat_ice = solids + ground.moisture * ICE_J_M3K if freezing else heat
    latent = ground.moisture * FUSION_J_M3 if freezing else 0.0
    return Column(
        np.array(GRID_M),
        np.full(n, thawed),
        np.full(n, frozen),
        np.full(n, heat),
        np.full(n, heat_ice),
        np.full(n, latent),
    )


def column_of_layers(layers: tuple[Layer, ...], finest_m: float = 0.02) -> Column:
    """A built floor, wall or roof, each layer cut into slices of about `finest_m`, at most 6 a layer."""
    cuts = [max(1, min(6, round(layer.thickness_m / finest_m))) for layer in layers]
    spread = [(layer, n) for layer, n in zip(layers, cuts, strict=True) for _ in range(n)]
    conductivity = np.array([float(layer.conductivity_w_mk) for layer, _ in spread])
    heat = np.array([float(layer.density_kg_m3 * layer.specific_heat_j_kgk) for layer, _ in spread])
    thickness = np.array([layer.thickness_m / n for layer, n in spread])
    return Column(thickness, conductivity, conductivity, heat, heat, np.zeros(len(spread)))


def damping_depth_m(diffusivity_m2_s: float, period_s: float) -> float:
    """Depth at which a temperature wave has shrunk to 1/e.  sqrt(2 a / w), Carslaw & Jaeger (1959) §2.6.  [m]

    >>> round(damping_depth_m(6.154e-7, YEAR_S), 3)
    2.486
    """
    return float(np.sqrt(diffusivity_m2_s * period_s / np.pi))


def annual_wave_k(
    depth_m: F64 | float,
    day_of_year: F64 | float,
    mean_k: float,
    amplitude_k: float,
    day_of_minimum: float,
    diffusivity_m2_s: float,
) -> F64:
    """Soil temperature of the undisturbed annual wave (Carslaw & Jaeger 1959, §2.6).  [K]

    depth_m below the surface; day_of_year 1-366; amplitude_k: half the yearly range of the surface.
    """
    shrink = np.asarray(depth_m) / damping_depth_m(diffusivity_m2_s, YEAR_S)
    phase = 2.0 * np.pi * (np.asarray(day_of_year) - day_of_minimum) / 365.25
    return np.asarray(mean_k - amplitude_k * np.exp(-shrink) * np.cos(phase - shrink))
