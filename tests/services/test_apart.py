"""A question in a process of its own: the same answer, the same fault, progress on the way, and no process left behind."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pytest

from underglass.errors import InputError, UnderglassError
from underglass.services.apart import apart
from underglass.services.route_outlook import route_outlook
from underglass.sources.household_file import demo_household

ON = np.datetime64("2027-03-10")


class Enough(Exception):
    """Somebody stopped it."""


def own(share: float, *, progress: object) -> int:
    """A question whose answer is the process that it is asked in."""
    print("words that nobody asked for")
    progress(share, "half")  # type: ignore[operator]
    return os.getpid()


def slow(file: str, *, progress: object) -> None:
    progress(0.1, "begun")  # type: ignore[operator]
    time.sleep(30)
    Path(file).write_text("went on")


def dies(*, progress: object) -> None:
    os._exit(9)


def refuses(*, progress: object) -> None:
    raise InputError("the box has no lid: give it one")


def test_it_is_another_process_and_tells_how_far_it_is() -> None:
    told: list[tuple[float, str]] = []
    assert apart(own, 0.5, progress=lambda share, doing: told.append((share, doing))) != os.getpid()
    assert told == [(0.5, "half")]


def test_the_answer_is_the_same() -> None:
    asked = {"raised_in": None, "n_years": 4}
    household = demo_household()
    bed = household.shelters[-1].name
    here = route_outlook(household, "spinach", bed, ON, **asked)
    assert apart(route_outlook, household, "spinach", bed, ON, **asked) == here


def test_a_fault_of_the_question_is_raised_here() -> None:
    with pytest.raises(InputError, match="the box has no lid"):
        apart(refuses)


def test_what_is_stopped_ends_at_once(tmp_path: Path) -> None:
    def stop(share: float, doing: str) -> None:
        raise Enough

    begun = time.monotonic()
    with pytest.raises(Enough):
        apart(slow, str(tmp_path / "went on"), progress=stop)
    assert time.monotonic() - begun < 20.0
    assert not (tmp_path / "went on").exists()


def test_a_process_that_was_ended_is_a_sentence() -> None:
    with pytest.raises(UnderglassError, match="ended from outside"):
        apart(dies)
