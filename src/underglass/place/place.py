"""Where we are: a point on land, its clock, and what stands between it and the low sun."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal
from zoneinfo import ZoneInfo

from underglass.errors import InputError

__all__ = ["FLAT", "Horizon", "Place", "Terrain"]

Terrain = Literal["open", "garden", "sheltered"]
"""How much the wind of an open field station is slowed at plant height: open field, houses and hedges, walled yard."""


@dataclass(frozen=True, slots=True)
class Horizon:
    """Height of obstructions (fence, house, trees, hills) all around, as seen from the bed.

    azimuth_deg   : ascending, 0 <= a < 360, clockwise from north
    elevation_deg : angle of the skyline there, 0-89; between two points the line is straight, and it wraps
    """

    azimuth_deg: tuple[float, ...] = (0.0,)
    elevation_deg: tuple[float, ...] = (0.0,)

    def __post_init__(self) -> None:
        if len(self.azimuth_deg) != len(self.elevation_deg) or not self.azimuth_deg:
            raise InputError("horizon: give as many elevations as azimuths, at least one of each")
        if any(not 0.0 <= a < 360.0 for a in self.azimuth_deg) or list(self.azimuth_deg) != sorted(
            set(self.azimuth_deg)
        ):
            raise InputError("horizon: azimuths must rise from 0 to below 360 degrees, clockwise from north")
        if any(not 0.0 <= e < 89.0 for e in self.elevation_deg):
            raise InputError("horizon: elevations must be 0-89 degrees")


FLAT = Horizon()


@dataclass(frozen=True, slots=True)
class Place:
    """A point on land.

    latitude_deg  : -90 … 90, north positive          longitude_deg : -180 … 180, east positive
    elevation_m   : -430 … 6000                        time_zone     : IANA name, for showing clock times only
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str = "UTC"
    name: str = ""
    horizon: Horizon = field(default=FLAT)
    terrain: Terrain = "garden"

    def __post_init__(self) -> None:
        faults = []
        if not -90.0 <= self.latitude_deg <= 90.0:
            hint = "; are latitude and longitude swapped?" if -90.0 <= self.longitude_deg <= 90.0 else ""
            faults.append(f"latitude is {self.latitude_deg:g}: expected -90 to 90 degrees{hint}")
        if not -180.0 <= self.longitude_deg <= 180.0:
            faults.append(f"longitude is {self.longitude_deg:g}: expected -180 to 180 degrees (west is negative)")
        if not -430.0 <= self.elevation_m <= 6000.0:
            faults.append(f"elevation is {self.elevation_m:g} m: expected -430 to 6000 m; is it in feet?")
        try:
            ZoneInfo(self.time_zone)
        except (KeyError, ValueError, OSError):  # no such zone, or a text that cannot be the name of one
            faults.append(f"time zone is {self.time_zone!r}: expected an IANA name such as Europe/London")
        if faults:
            raise InputError.of(faults)

    @property
    def southern(self) -> bool:
        """South of the equator: the seasons turn round and a lid faces north."""
        return self.latitude_deg < 0.0

    @property
    def equator_azimuth_deg(self) -> float:
        """The way a lid should look by default: towards the equator."""
        return 0.0 if self.southern else 180.0
