"""The one place for conversions.  Inside the package everything is SI (K, m, s, W/m2, Pa); people see what they chose.

A temperature and a temperature *difference* convert differently: the first has an offset, the second has none.
Names say which: `k_to_f` for temperatures, `dk_to_df` for differences.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "INCH_M",
    "ZERO_C_K",
    "c_to_k",
    "dk_to_df",
    "f_to_k",
    "k_to_c",
    "k_to_f",
]

ZERO_C_K = 273.15
"""0 degC in kelvin (definition, BIPM SI brochure)."""

INCH_M = 0.0254
"""One inch in metres (definition)."""

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
