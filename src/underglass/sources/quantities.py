"""What a weather column may hold: its name for people, its unit at the border, and the range that nature keeps to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["QUANTITIES", "Quantity"]

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One kind of column.

    low, high : allowed range in the shown unit       scale, offset : SI value = shown value x scale + offset
    needed    : short gaps are filled and counted, longer ones refused (False: a default stands in)
    """

    label: str
    unit: str
    low: float
    high: float
    scale: float = 1.0
    offset: float = 0.0
    needed: bool = True

    def to_si(self, shown: F64) -> F64:
        """Values in the shown unit as SI."""
        return shown * self.scale + self.offset

    def to_shown(self, si: F64) -> F64:
        """SI values in the unit that messages use."""
        return (si - self.offset) / self.scale

    def in_words(self, shown: float) -> str:
        """A value with its unit, short."""
        return f"{shown:.4g} {self.unit}".strip()


QUANTITIES: dict[str, Quantity] = {
    # World records: -89.2 and 56.7 degC (WMO archive of extremes); a little room beyond them.
    "air_temp_k": Quantity("air temperature", "°C", -90.0, 60.0, offset=273.15),
    # Highest observed dew point about 35 degC (from memory); frost points of the polar winter lie below -90.
    "dew_point_k": Quantity("dew point", "°C", -110.0, 40.0, offset=273.15),
    # Instruments overshoot saturation by some tenths of a percent.
    "rh_frac": Quantity("relative humidity", "%", 0.0, 100.5, scale=0.01),
    # Ten-minute means above 75 m/s occur only in the eyewalls of tropical storms (judgement).
    "wind_m_s": Quantity("wind", "m/s", 0.0, 75.0),
    # Above the solar constant (1361) only by cloud-edge reflections within minutes; small negatives are sensor offsets.
    "dni_w_m2": Quantity("direct normal sun", "W/m²", -20.0, 1500.0),
    "dhi_w_m2": Quantity("diffuse sun", "W/m²", -20.0, 1000.0),
    "ghi_w_m2": Quantity("global sun", "W/m²", -20.0, 1500.0),
    # A polar plateau sky is near 80, a hot humid overcast near 500 (judgement).
    "longwave_down_w_m2": Quantity("longwave from the sky", "W/m²", 50.0, 600.0, needed=False),
    "cloud_frac": Quantity("cloud cover", "", 0.0, 1.0, needed=False),
    # One-hour record 305 mm (Holt, Missouri, 1947; WMO archive).
    "precipitation_mm": Quantity("precipitation", "mm", 0.0, 310.0, needed=False),
    # Deepest snow measured 11.8 m (Mount Ibuki, 1927; from memory).
    "snow_depth_m": Quantity("snow depth", "m", 0.0, 15.0, needed=False),
    "pressure_pa": Quantity("pressure", "Pa", 40_000.0, 110_000.0, needed=False),
}
"""Every column a source may give, by the name the package uses for it."""
