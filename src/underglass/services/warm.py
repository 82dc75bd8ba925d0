"""Compile all kernels once, so that the first question is not the one that waits: python -m underglass.services.warm"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path

import numpy as np

import underglass
from underglass.crop.catalogue import find_crop
from underglass.services.apart import rest
from underglass.services.api import sowing_outlook
from underglass.services.progress import Progress, silent
from underglass.shelter.presets import preset

__all__ = ["compiled_apart", "warm", "warm_search"]

FIRST, SEARCH = "first", "search"
"""Parts of what is compiled, and the files beside the compiled loops that say that nothing of a part is missing."""

_one_compiler = threading.Lock()


def warm() -> None:
    """One short question through every compiled loop that the guide, the day and the inside of a shelter need."""
    place = underglass.Place(45.0, -72.0, 300.0, "America/New_York")
    outside = underglass.generate_weather(underglass.from_grid(place), place, 2026, n_years=4)
    shelters = [preset("sill"), preset("box")]
    date = str(np.datetime64("2026-03-01"))
    sowing_outlook(find_crop("spinach"), underglass.Route("box", "sill"), shelters, outside, [date])
    _mark(FIRST)


def warm_search() -> None:
    """The search for a year's plan too, with the plan of a household that wants one crop."""
    from underglass.plan.household import Household
    from underglass.services.year import year_plan

    place = underglass.Place(45.0, -72.0, 300.0, "America/New_York")
    household = Household("", place, (preset("box"),), ("spinach",))
    year_plan(household, np.datetime64("2026-03-01"), n_years=3, use_cache=False)
    _mark(SEARCH)


def compiled_apart(progress: Progress = silent, *, search: bool = False) -> None:
    """Have compiled what a question needs, where that was not yet done on this computer; a second call waits for the first.

    The compiler takes 180 MB that it never gives back, and lets nobody else run meanwhile: it has a process of its own.
    search : what a year's plan needs too
    """
    if os.environ.get("NUMBA_CACHE_DIR") is None:
        return
    for part in (FIRST, SEARCH) if search else (FIRST,):
        if _is_marked(part):
            continue
        progress(0.0, "getting ready")
        with _one_compiler:
            if not _is_marked(part):
                rest()  # the compiler needs the room
                subprocess.run(
                    [sys.executable, "-m", "underglass.services.warm", part], check=False, capture_output=True
                )


def _marks() -> Path:
    return Path(os.environ["NUMBA_CACHE_DIR"])


def _is_marked(part: str) -> bool:
    return (_marks() / part).exists()


def _mark(part: str) -> None:
    """Say that nothing of a part is missing beside the compiled loops."""
    with suppress(OSError, KeyError):
        (_marks() / part).touch()


if __name__ == "__main__":
    warm()
    if sys.argv[1:] != [FIRST]:
        warm_search()
