"""Questions in a process beside: the same answer, the same fault, progress on the way, several at a time, and no process left behind."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from underglass.errors import InputError, UnderglassError
from underglass.services.apart import apart, rest
from underglass.services.progress import Progress
from underglass.services.route_outlook import route_outlook
from underglass.sources.household_file import demo_household

ON = np.datetime64("2027-03-10")


class Enough(Exception):
    """Somebody stopped it."""


def own(share: float, *, progress: Progress) -> int:
    """A question whose answer is the process that it is asked in."""
    print("words that nobody asked for")
    progress(share, "half")
    return os.getpid()


def slow(file: str, *, progress: Progress) -> None:
    for i in range(300):
        progress(i / 300, "begun")
        time.sleep(0.1)
    Path(file).write_text("went on")


def process(*, progress: Progress) -> int:
    return os.getpid()


def dies(*, progress: Progress) -> None:
    os._exit(9)


def refuses(*, progress: Progress) -> None:
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


def test_the_process_stays_for_the_next_question_until_it_is_let_go() -> None:
    first = apart(process)
    assert apart(process) == first
    rest()
    assert apart(process) != first


def test_a_short_question_does_not_wait_for_a_long_one_and_nobody_lets_the_process_go_meanwhile(tmp_path: Path) -> None:
    stop = threading.Event()

    def until(share: float, doing: str) -> None:
        if stop.is_set():
            raise Enough

    def long() -> None:
        with suppress(Enough):
            apart(slow, str(tmp_path / "went on"), progress=until)

    thread = threading.Thread(target=long)
    first = apart(process)
    thread.start()
    begun = time.monotonic()
    rest()
    assert apart(process, soon=True) == first
    assert time.monotonic() - begun < 10.0
    stop.set()
    thread.join(20.0)
    assert not thread.is_alive()


def test_all_who_wait_are_told_when_the_process_is_ended(tmp_path: Path) -> None:
    faults: list[str] = []

    def long() -> None:
        try:
            apart(slow, str(tmp_path / "went on"))
        except UnderglassError as error:
            faults.append(str(error))

    threads = [threading.Thread(target=long) for _ in range(3)]
    for thread in threads:
        thread.start()
    with suppress(UnderglassError):
        apart(dies)
    for thread in threads:
        thread.join(20.0)
    assert len(faults) == 3
    assert apart(process) > 0, "the next question starts another"


def test_the_server_itself_has_no_compiler() -> None:
    """It costs 70 MB that only the process beside needs."""
    loaded = "import sys, underglass.faces.web.serve, underglass.faces.web.app; print(sorted({'numba', 'llvmlite', 'highspy'} & set(sys.modules)))"
    assert (
        subprocess.run([sys.executable, "-c", loaded], capture_output=True, text=True, check=True).stdout.strip()
        == "[]"
    )
