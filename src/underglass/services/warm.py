"""Compile all kernels once, so that the first question is not the one that waits: python -m underglass.services.warm"""

from __future__ import annotations

import numpy as np

import underglass
from underglass.crop.catalogue import find_crop
from underglass.services.api import sowing_outlook
from underglass.shelter.presets import preset

__all__ = ["warm"]


def warm() -> None:
    """One short question through every compiled loop."""
    place = underglass.Place(45.0, -72.0, 300.0, "America/New_York")
    outside = underglass.generate_weather(underglass.from_grid(place), place, 2026, n_years=4)
    shelters = [preset("sill"), preset("box")]
    date = str(np.datetime64("2026-03-01"))
    sowing_outlook(find_crop("spinach"), underglass.Route("box", "sill"), shelters, outside, [date])


if __name__ == "__main__":
    warm()
