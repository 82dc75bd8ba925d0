"""Does a file's temperature fit the place it claims?  Catches °F read as °C, and latitude and longitude swapped.

The yardstick is the climate grid that ships with the package; it is within 2 K nearly everywhere, so a mean that lies
12 K and more away over at least five days is no weather.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.units import ZERO_C_K

__all__ = ["refuse_fahrenheit"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

LEAST_DAYS = 5
UNIT_OFF_DK, UNIT_FITS_DK = 12.0, 8.0
PLACE_OFF_DK = 20.0
"""Judgement: warm or cold spells of a week stay within 12 K of the month's mean, years within 3 K."""


def refuse_fahrenheit(place: Place, month: I64, temp_k: F64, file: str, columns: str, *, per_day: int = 1) -> None:
    """Refuse temperatures that fit the place only in the other unit, or do not fit it at all.

    month : 0-11, shape (n,)      temp_k : means over a day (or hour, with per_day=24), shape (n,), nan allowed
    """
    known = np.isfinite(temp_k)
    if known.sum() < LEAST_DAYS * per_day:
        return
    climate = _climate_k(place.latitude_deg, place.longitude_deg, place.elevation_m)
    if climate is None:
        return
    shown, expected = temp_k[known] - ZERO_C_K, climate[month[known]] - ZERO_C_K
    off = _mean_gap(shown, expected)
    here = (
        f"{place.latitude_deg:g}, {place.longitude_deg:g}, where these months have a mean of {expected.mean():.1f} °C"
    )
    if off > UNIT_OFF_DK and _mean_gap((shown - 32.0) / 1.8, expected) < UNIT_FITS_DK:
        raise InputError(
            f"{file}: {columns} have a mean of {shown.mean():.1f} °C at {here}: this looks like Fahrenheit; "
            "say so with '# temperature_unit: F' above the header or the option temperature_unit"
        )
    if off > UNIT_OFF_DK and _mean_gap(shown * 1.8 + 32.0, expected) < UNIT_FITS_DK:
        raise InputError(
            f"{file}: {columns}, taken as Fahrenheit, have a mean of {shown.mean():.1f} °C at {here}: "
            "this looks like Celsius already; leave temperature_unit out"
        )
    if off > PLACE_OFF_DK:
        raise InputError(
            f"{file}: {columns} have a mean of {shown.mean():.1f} °C at {here}: check latitude and longitude{_swap_hint(place)} "
            "(south and west are negative), the elevation in metres and the unit"
        )


def _mean_gap(shown_c: F64, expected_c: F64) -> float:
    return abs(float((shown_c - expected_c).mean()))


def _climate_k(latitude_deg: float, longitude_deg: float, elevation_m: float) -> F64 | None:
    """Monthly means of the grid; None at sea and far south, where it knows nothing."""
    from underglass.weather.grid import grid_climate

    if latitude_deg < -59.0:
        return None
    try:
        return grid_climate(latitude_deg, longitude_deg, elevation_m)[0]
    except InputError:
        return None


def _swap_hint(place: Place) -> str:
    return ", which may be swapped," if abs(place.longitude_deg) <= 90.0 else ""
