"""Compile all kernels once, so that the first question is not the one that waits: python -m underglass.services.warm"""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import numpy as np

import underglass
from underglass.crop.catalogue import find_crop
from underglass.services.api import sowing_outlook
from underglass.shelter.presets import preset

__all__ = ["warm", "warm_apart", "warm_search"]

MARK = "whole"
"""File beside the compiled loops that says that none is missing."""


def warm() -> None:
    """One short question through every compiled loop."""
    place = underglass.Place(45.0, -72.0, 300.0, "America/New_York")
    outside = underglass.generate_weather(underglass.from_grid(place), place, 2026, n_years=4)
    shelters = [preset("sill"), preset("box")]
    date = str(np.datetime64("2026-03-01"))
    sowing_outlook(find_crop("spinach"), underglass.Route("box", "sill"), shelters, outside, [date])
    if folder := os.environ.get("NUMBA_CACHE_DIR"):
        with suppress(OSError):
            (Path(folder) / MARK).touch()


def warm_apart() -> None:
    """As `warm`; what must be compiled first is compiled in a process of its own.

    The compiler takes 180 MB that it never gives back, and lets nobody else run meanwhile: a server does better without.
    """
    folder = os.environ.get("NUMBA_CACHE_DIR")
    if folder and not (Path(folder) / MARK).exists():
        subprocess.run([sys.executable, "-m", "underglass.services.warm"], check=False, capture_output=True)
    warm()


def warm_search() -> None:
    """Compile the search for a year's plan too, with the plan of a household that wants one crop; a server does so when first asked."""
    from underglass.plan.household import Household
    from underglass.services.year import year_plan

    place = underglass.Place(45.0, -72.0, 300.0, "America/New_York")
    household = Household("", place, (preset("box"),), ("spinach",))
    year_plan(household, np.datetime64("2026-03-01"), n_years=3, use_cache=False)


if __name__ == "__main__":
    warm_search()
    warm()
