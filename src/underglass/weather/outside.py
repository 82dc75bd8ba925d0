"""The value type that every weather source ends in and every shelter starts from: hours of outside."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place

__all__ = ["HOURLY_FIELDS", "OutsideWeather", "Provenance"]

HOURLY_FIELDS = (
    "air_temp_k",
    "dew_point_k",
    "wind_m_s",
    "dni_w_m2",
    "dhi_w_m2",
    "longwave_down_w_m2",
    "precipitation_mm",
    "snow_depth_m",
    "pressure_pa",
    "sun_zenith_deg",
    "sun_azimuth_deg",
)


@dataclass(frozen=True, slots=True)
class Provenance:
    """What these hours stand on, in words that can be shown to a person.

    layer           : 'grid', 'typed normals', 'known last frost', 'typical year', 'daily record', 'hourly record', 'forecast'
    source, licence : name of the data and the line its owner wants shown
    longwave        : 'measured' or the name of the sky model
    frost_sd_days   : how sure the frost dates are, one standard deviation in days (nan: the record itself shows it)
    temp_sd_k       : standard deviation of the place's unknown temperature offset that the years carry [K]
    filled_hours    : gaps that were filled, counted
    fetched         : when a service gave it (None: not from a service)
    """

    layer: str
    source: str
    licence: str = ""
    longwave: str = ""
    frost_sd_days: float = float("nan")
    temp_sd_k: float = 0.0
    filled_hours: int = 0
    fetched: datetime | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, weakref_slot=True, eq=False)
class OutsideWeather:
    """One unbroken series of hours outside, from days to many years.

    All arrays are float64, C-contiguous, shape (n_hours,).  Value k is the mean (precipitation: the sum) over the
    hour that begins at `start` + k h, UTC.  The sun stands where it is in the middle of that hour.

    air_temp_k, dew_point_k : screen height [K]           wind_m_s        : at 10 m over open ground [m/s]
    dni_w_m2, dhi_w_m2      : beam normal and diffuse horizontal [W/m2]
    longwave_down_w_m2      : from the whole sky on a flat surface [W/m2]
    precipitation_mm        : water, per hour [mm]        snow_depth_m    : on open ground [m]
    pressure_pa             : station pressure [Pa]       sun_zenith_deg, sun_azimuth_deg : apparent; clockwise from north
    """

    place: Place
    start: np.datetime64
    air_temp_k: NDArray[np.float64]
    dew_point_k: NDArray[np.float64]
    wind_m_s: NDArray[np.float64]
    dni_w_m2: NDArray[np.float64]
    dhi_w_m2: NDArray[np.float64]
    longwave_down_w_m2: NDArray[np.float64]
    precipitation_mm: NDArray[np.float64]
    snow_depth_m: NDArray[np.float64]
    pressure_pa: NDArray[np.float64]
    sun_zenith_deg: NDArray[np.float64]
    sun_azimuth_deg: NDArray[np.float64]
    provenance: Provenance

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", self.start.astype("datetime64[h]"))
        n = self.air_temp_k.shape[0]
        for name in HOURLY_FIELDS:
            values = np.ascontiguousarray(getattr(self, name), dtype=np.float64)
            values = values.view()
            values.flags.writeable = False  # a value is never changed; and one kind of array means one compilation
            object.__setattr__(self, name, values)
            if values.shape != (n,):
                raise InputError(f"weather: {name} has {values.shape} values, air_temp_k has {n}")
            bad = np.flatnonzero(~np.isfinite(values))
            if bad.size:
                raise InputError(
                    f"weather: {name} has {bad.size} missing hours, the first at {self.start + bad[0]} UTC"
                )

    @property
    def n_hours(self) -> int:
        """Length of the series [h]."""
        return int(self.air_temp_k.shape[0])

    @property
    def times(self) -> NDArray[np.datetime64]:
        """Start of each hour, UTC, datetime64[h], shape (n_hours,)."""
        return self.start + np.arange(self.n_hours)

    def part(self, first: int, last: int) -> OutsideWeather:
        """The hours from the `first` up to, not including, the `last`."""
        return replace(
            self, start=self.start + first, **{name: getattr(self, name)[first:last] for name in HOURLY_FIELDS}
        )
