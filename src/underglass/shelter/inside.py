"""The value type that every shelter run ends in: hours of inside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.place.place import Place

__all__ = ["HEAT_PATHS", "InsideWeather"]

F32 = NDArray[np.float32]

HEAT_PATHS = (
    "sun_in_w",
    "cover_convection_w",
    "cover_longwave_w",
    "walls_w",
    "air_leak_w",
    "soil_down_w",
    "soil_sideways_w",
    "latent_w",
    "room_and_gains_w",
)


@dataclass(frozen=True, slots=True, eq=False)
class InsideWeather:
    """Hours inside a shelter, beside the outside series they came from (same start, same length).

    float32 arrays of shape (n_hours,), each the mean over its hour unless it says otherwise:

    air_temp_k     : air around the plants (under the fleece where there is one) [K]
    air_min_k, air_max_k : lowest and highest air temperature within the hour [K]
    leaf_temp_k    : leaf surface [K]                    leaf_min_k, leaf_max_k : within the hour [K]
    soil_surface_k, soil_5cm_k, soil_10cm_k, soil_30cm_k : soil at the depth [K]
    rh             : relative humidity of that air, 0-1  par_umol_m2_s : light on the crop [umol/m2/s]
    solar_in_w     : sun let in by the cover [W]         lid_open : 0 shut … 1 fully open
    air_changes_per_h [1/h]                              cover_temp_k : innermost cover layer [K]
    heat           : flows [W], gain of the shelter positive, keyed by HEAT_PATHS (empty unless asked for)
    floor_area_m2  : bed area [m2], to turn W into W/m2
    closure        : worst energy imbalance of any step, as a share of that step's throughput (under 1e-6)
    """

    shelter_name: str
    place: Place
    start: np.datetime64
    air_temp_k: F32
    air_min_k: F32
    air_max_k: F32
    leaf_temp_k: F32
    leaf_min_k: F32
    leaf_max_k: F32
    soil_surface_k: F32
    soil_5cm_k: F32
    soil_10cm_k: F32
    soil_30cm_k: F32
    rh: F32
    par_umol_m2_s: F32
    solar_in_w: F32
    lid_open: F32
    air_changes_per_h: F32
    cover_temp_k: F32
    heat: dict[str, F32]
    floor_area_m2: float
    closure: float

    @property
    def n_hours(self) -> int:
        """Length of the series [h]."""
        return int(self.air_temp_k.shape[0])
