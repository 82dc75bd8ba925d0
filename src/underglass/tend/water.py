"""How much water a bed or a tray uses over the coming days, by the reference equation on the inside weather.

A cover keeps wind off and vapour in: the inside air's own humidity and a wind of a few centimetres a second stand in the equation.  Seedlings
cover little of the ground, so a share of the reference; soil at field capacity in the top 10 cm holds about 15 mm that plants can use
(FAO-56 table 19, loam).  What a finger says goes before all of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.carry import AIR, PAR, RH, SOIL_5CM
from underglass.tend.numbers import numbers
from underglass.weather.evapotranspiration import reference_mm
from underglass.weather.sky import saturation_pa

__all__ = ["WaterNeed", "water_need"]

HELD_MM = 15.0
CELL_MM = 6.0
"""What 10 cm of loam and a 4 cm cell give before plants suffer [mm] (loam: FAO-56; cell: estimate)."""

STILL_M_S = 0.2
BED_SHARE = 0.7
PAR_PER_W = 2.05
NET_SHARE = 0.55
"""Share of the light inside that stays as net radiation (albedo 0.23 and heat radiation off; estimate)."""


@dataclass(frozen=True, slots=True)
class WaterNeed:
    """Water used, middle of the members.

    mm_per_day : of the hours looked at, litres on a square metre;  bed_days, cell_days : days until a watered bed, a watered cell is dry
    frozen : the soil at 5 cm stays at or below freezing: do not water
    """

    mm_per_day: float
    bed_days: float
    cell_days: float
    frozen: bool


def water_need(out: NDArray[np.float32], pressure_pa: float, rain_mm: float = 0.0) -> WaterNeed:
    """From hours inside, (members, hours, 16) of shelter.carry.  rain_mm : what fell on the bed in them, its cover taken away"""
    air = out[:, :, AIR].astype(float)
    net = out[:, :, PAR].astype(float) / PAR_PER_W * NET_SHARE * 3600e-6
    deficit = saturation_pa(air) * (1.0 - np.minimum(out[:, :, RH].astype(float), 1.0))
    mm = reference_mm(net, 0.1 * net, air, deficit, np.full(air.shape, STILL_M_S), pressure_pa, days=1.0 / 24.0)
    used = float(np.median(np.maximum(mm, 0.0).sum(axis=1))) * BED_SHARE
    per_day = max(used - rain_mm, 0.0) / out.shape[1] * 24.0
    soil_c = float(np.median(out[:, :, SOIL_5CM].max(axis=1))) - 273.15
    frozen = soil_c < numbers("warnings")["watering_freeze_c"]
    floor = max(per_day, 1e-3)
    return WaterNeed(per_day, HELD_MM / floor, CELL_MM / (floor / BED_SHARE), frozen)
