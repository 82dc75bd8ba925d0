"""The one place for conversions.  Inside the package everything is SI (K, m, s, W/m2, Pa); people see what they chose.

A temperature and a temperature *difference* convert differently: the first has an offset, the second has none.
Names say which: `k_to_f` for temperatures, `dk_to_df` for differences.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError

__all__ = [
    "BTU_WH",
    "INCH_M",
    "OUNCE_KG",
    "SQUARE_FOOT_M2",
    "US_GALLON_M3",
    "ZERO_C_K",
    "c_to_k",
    "dk_to_df",
    "f_to_k",
    "k_to_c",
    "k_to_f",
    "parse_quantity",
]

ZERO_C_K = 273.15
"""0 degC in kelvin (definition, BIPM SI brochure)."""

INCH_M = 0.0254
"""One inch in metres (definition)."""

OUNCE_KG = 0.028349523125
"""One avoirdupois ounce in kilograms (definition)."""

SQUARE_FOOT_M2 = 0.09290304
"""One square foot in square metres (definition)."""

BTU_WH = 0.29307107
"""One British thermal unit in watt-hours (international table Btu of 1055.056 J, NIST SP 811 appendix B)."""

US_GALLON_M3 = 3.785411784e-3
"""One US liquid gallon in cubic metres (definition, 231 cubic inches)."""

T = TypeVar("T", float, NDArray[np.float64], NDArray[np.float32])


def c_to_k(temp_c: T) -> T:
    """Degrees Celsius to kelvin."""
    return temp_c + ZERO_C_K


def k_to_c(temp_k: T) -> T:
    """Kelvin to degrees Celsius."""
    return temp_k - ZERO_C_K


def f_to_k(temp_f: T) -> T:
    """Degrees Fahrenheit to kelvin.

    >>> round(f_to_k(32.0), 2)
    273.15
    """
    return (temp_f - 32.0) / 1.8 + ZERO_C_K


def k_to_f(temp_k: T) -> T:
    """Kelvin to degrees Fahrenheit."""
    return (temp_k - ZERO_C_K) * 1.8 + 32.0


def dk_to_df(diff_k: T) -> T:
    """A temperature difference in kelvin to Fahrenheit degrees: no offset."""
    return diff_k * 1.8


FACTORS: dict[str, tuple[str, float, float]] = {
    "mm": ("length", 1e-3, 0.0),
    "cm": ("length", 1e-2, 0.0),
    "m": ("length", 1.0, 0.0),
    "km": ("length", 1e3, 0.0),
    "in": ("length", INCH_M, 0.0),
    "inch": ("length", INCH_M, 0.0),
    "inches": ("length", INCH_M, 0.0),
    '"': ("length", INCH_M, 0.0),
    "ft": ("length", 12 * INCH_M, 0.0),
    "feet": ("length", 12 * INCH_M, 0.0),
    "c": ("temperature", 1.0, ZERO_C_K),
    "°c": ("temperature", 1.0, ZERO_C_K),
    "f": ("temperature", 1.0 / 1.8, ZERO_C_K - 32.0 / 1.8),
    "°f": ("temperature", 1.0 / 1.8, ZERO_C_K - 32.0 / 1.8),
    "k": ("temperature", 1.0, 0.0),
    "l": ("volume", 1e-3, 0.0),
    "litre": ("volume", 1e-3, 0.0),
    "litres": ("volume", 1e-3, 0.0),
    "gal": ("volume", US_GALLON_M3, 0.0),
    "gallon": ("volume", US_GALLON_M3, 0.0),
    "gallons": ("volume", US_GALLON_M3, 0.0),
    "m3": ("volume", 1.0, 0.0),
    "m2": ("area", 1.0, 0.0),
    "cm2": ("area", 1e-4, 0.0),
    "ft2": ("area", (12 * INCH_M) ** 2, 0.0),
    "g": ("mass", 1e-3, 0.0),
    "kg": ("mass", 1.0, 0.0),
    "oz": ("mass", 0.028349523125, 0.0),
    "lb": ("mass", 0.45359237, 0.0),
    "%": ("share", 0.01, 0.0),
    "m2k/w": ("resistance", 1.0, 0.0),
    "h": ("hour", 1.0, 0.0),
    "deg": ("angle", 1.0, 0.0),
}
"""Units that a person may write: kind, factor to SI, offset to SI.  US gallon; definitions of NIST SP 811."""

KIND_BY_END = {
    "_m": "length",
    "_k": "temperature",
    "_m3": "volume",
    "_m2": "area",
    "_kg": "mass",
    "_h": "hour",
    "_deg": "angle",
    "_m2k_w": "resistance",
}


def parse_quantity(given: object, name: str) -> float:
    """A number, or a text with a unit, as SI for a quantity whose name ends in its unit.

    >>> parse_quantity("36 in", "length_m"), parse_quantity(0.9, "length_m")
    (0.9144, 0.9)

    Raises InputError for anything else, and for a unit of another kind.
    """
    if isinstance(given, bool) or not isinstance(given, int | float | str):
        raise InputError(f"{given!r} is not a number")
    if isinstance(given, int) and given.bit_length() > 64:
        raise InputError("a number of more than twenty digits is not the size of anything")
    if isinstance(given, int | float):
        return float(given)
    text = given.strip().lower().replace("²", "2").replace("³", "3")
    if name.endswith("_h") and ":" in text:
        hours, _, minutes = text.partition(":")
        if hours.isdecimal() and len(hours) <= 2 and minutes.isdecimal() and len(minutes) == 2 and int(minutes) < 60:
            return int(hours) + int(minutes) / 60.0
    number, unit = _split(text)
    if not unit:
        return number
    wanted = next(
        (k for end, k in sorted(KIND_BY_END.items(), key=lambda item: -len(item[0])) if name.endswith(end)), "share"
    )
    if unit not in FACTORS:
        known = [u for u, (kind, _, _) in FACTORS.items() if kind == wanted]
        raise InputError(f"{given!r} has a unit that is not known; use one of {', '.join(known)}")
    kind, factor, offset = FACTORS[unit]
    if kind != wanted and name.endswith(tuple(KIND_BY_END)):
        raise InputError(f"{given!r} is a {kind}, but a {wanted} is expected")
    return number * factor + offset


def _split(text: str) -> tuple[float, str]:
    """The number at the front of a text and the unit behind it."""
    end = 0
    while end < len(text) and (text[end].isdigit() or text[end] in "+-."):
        end += 1
    if end < len(text) and text[end] == "e" and text[end + 1 : end + 2].lstrip("+-").isdigit():
        end += 2
        while end < len(text) and text[end].isdigit():
            end += 1
    try:
        return float(text[:end]), text[end:].strip()
    except ValueError:
        raise InputError(f"{text!r} does not begin with a number") from None
