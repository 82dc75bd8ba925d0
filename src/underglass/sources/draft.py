"""Hours as a source gave them, on their way to an OutsideWeather: every source fills a draft, `finish` does the rest.

The order matters: refuse the impossible, turn humidity into dew points, bridge short gaps, make hourly means of values
that were taken at a moment, then the sun (`sunlight.py`), then what the source lacks (longwave, pressure, snow).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError, SourceError, UnderglassError
from underglass.place.place import Place
from underglass.place.relief import elevation_guess_m
from underglass.sources.hours import HourGrid
from underglass.sources.table import shorten

__all__ = ["HourlyDraft", "distance_km", "number", "place_of"]

F64 = NDArray[np.float64]

EARTH_RADIUS_KM = 6371.0


@dataclass(frozen=True, slots=True, eq=False)
class HourlyDraft:
    """What a source knows, before anything is filled in.

    grid            : columns by the names of `quantities.QUANTITIES`, SI; a column of nan only counts as absent
    file            : for messages: the file's or the service's name
    names           : our name → the source's own column name, for messages
    longwave        : what the source's longwave column is, for the provenance
    instants_at_end : temperature, humidity, wind, cloud, pressure and snow are values at the end of each hour
    from_service    : faults are the service's, not the user's
    """

    place: Place
    grid: HourGrid
    file: str
    layer: str
    source: str
    licence: str = ""
    names: Mapping[str, str] = field(default_factory=dict)
    longwave: str = "measured"
    instants_at_end: bool = False
    from_service: bool = False
    fetched: datetime | None = None
    notes: tuple[str, ...] = ()

    def fault(self, hour: int, sentence: str) -> UnderglassError:
        """An error for one hour, with its line where the draft came from a file, else with its time."""
        if self.from_service:
            return SourceError(f"{self.file}, {self.grid.start + hour} UTC: {sentence}")
        return InputError.at(self.file, int(self.grid.lines[hour]), sentence)

    def has(self, name: str) -> bool:
        """Whether the source gave this column at all."""
        return name in self.grid.columns and bool(np.isfinite(self.grid.columns[name]).any())

    def named(self, name: str, label: str) -> str:
        """The column's name in the source where known, else what it is."""
        return self.names.get(name, label)


def number(text: str, file: str, line: int, label: str) -> float:
    """A finite number in a cell of a fixed format; anything else is refused."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value) or "_" in text:
        raise InputError.at(file, line, f"{label} is '{shorten(text)}': expected a number")
    return value


def place_of(
    file: str,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float | None,
    time_zone: str | None = None,
    utc_offset_h: float | None = None,
    name: str = "",
) -> Place:
    """The place a source names; faults carry the source's name.

    Without an elevation the relief map's guess stands in; without a time zone, the fixed clock `utc_offset_h` or UTC.
    """
    if not (-90.0 <= latitude_deg <= 90.0 and -180.0 <= longitude_deg <= 180.0):
        elevation_m = 0.0
    height = elevation_guess_m(latitude_deg, longitude_deg) if elevation_m is None else elevation_m
    try:
        return Place(latitude_deg, longitude_deg, height, time_zone or _fixed_zone(utc_offset_h), name)
    except InputError as error:
        raise InputError(f"{file}: {error}") from error


BROKEN_ZONES = {
    3.5: "Asia/Tehran", 4.5: "Asia/Kabul", 5.5: "Asia/Kolkata", 5.75: "Asia/Kathmandu", 6.5: "Asia/Yangon",
    8.75: "Australia/Eucla", 9.5: "Australia/Darwin",
}  # fmt: skip
"""Clocks without daylight saving that stand on a part of an hour."""


def _fixed_zone(utc_offset_h: float | None) -> str:
    """The IANA name of a clock so many hours ahead of UTC (in `Etc/` names the sign is turned round)."""
    ahead = utc_offset_h or 0.0
    if ahead in BROKEN_ZONES:
        return BROKEN_ZONES[ahead]
    hours = round(ahead)
    return f"Etc/GMT{-hours:+d}" if hours else "UTC"


def distance_km(lat_a: float, lon_a: float, lat_b: float, lon_b: float) -> float:
    """Great-circle distance by the haversine formula.  [km]

    >>> round(distance_km(0.0, 0.0, 0.0, 1.0), 1)
    111.2
    """
    a, b, gap = np.radians(lat_a), np.radians(lat_b), np.radians(lon_b - lon_a)
    half = np.sin((b - a) / 2.0) ** 2 + np.cos(a) * np.cos(b) * np.sin(gap / 2.0) ** 2
    return float(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(half)))
