"""Questions worked out in a process beside the server: the server stays small and answers meanwhile, and only one of the two holds compiled loops.

The first question starts the process.  It works on each question in a thread, tells its progress and the answer, and stays for the next one; it
ends when its input is closed, as it is when whoever asked is gone.
"""

from __future__ import annotations

import ctypes
import os
import pickle
import queue
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from itertools import count
from typing import Any, BinaryIO, TypeVar

from underglass.errors import UnderglassError
from underglass.services.progress import Progress, silent

__all__ = ["apart", "rest"]

Answer = TypeVar("Answer")

SPARING = {"MALLOC_ARENA_MAX": "2", "MALLOC_MMAP_THRESHOLD_": "1000000", "MALLOC_TRIM_THRESHOLD_": "64000000"}
"""How glibc is to hold memory: it keeps a heap for each thread, half of which is never used again, and by and by takes long arrays from it too
instead of giving them back at once.  50 MB less for a hundredth more time (measured with the guide)."""

LOST = "lost", None

NICER = 5
"""How much what takes long gives way to what somebody waits for with a finger on a slider."""


def apart(
    question: Callable[..., Answer], *given: Any, progress: Progress = silent, soon: bool = False, **asked: Any
) -> Answer:
    """The answer of `question(*given, progress=…, **asked)`, worked out beside.

    What `question` raises is raised here; what `progress` raises ends the question and is raised here once that has ended.
    soon : it comes before what takes long
    """
    said = pickle.dumps((question, given, asked))
    answer: Answer = _beside().ask(said, progress, soon=soon)
    return answer


def rest() -> None:
    """Let the process go where nothing is asked of it; the next question starts another."""
    with _starting:
        if _running and _running[0].idle():
            _running.pop().end()


_starting = threading.Lock()
_running: list[_Beside] = []


def _beside() -> _Beside:
    with _starting:
        if not _running or _running[0].ended():
            _running[:] = [_Beside()]
        return _running[0]


class _Beside:
    """The process, and whom its replies are for."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "underglass.services.apart"]
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**SPARING, **os.environ}
        )
        self._numbers, self._lock, self._over = count(), threading.Lock(), False
        self._waiting: dict[int, queue.SimpleQueue[tuple[str, Any]]] = {}
        threading.Thread(target=self._listen, daemon=True, name="beside").start()

    def ended(self) -> bool:
        """Whether nobody is there to be asked."""
        return self._over or self._process.poll() is not None

    def idle(self) -> bool:
        """Whether nothing is asked."""
        return not self._waiting

    def end(self) -> None:
        """End it and all that is asked."""
        self._process.kill()

    def ask(self, said: bytes, progress: Progress, *, soon: bool) -> Any:
        """One question, pickled, and its answer."""
        number, replies = next(self._numbers), queue.SimpleQueue[tuple[str, Any]]()
        self._waiting[number] = replies
        if self._over:  # in this very moment
            replies.put(LOST)
        try:
            self._tell("ask", number, said, soon)
            while True:
                kind, told = replies.get()
                if kind == "progress":
                    self._pass_on(number, replies, progress, told)
                else:
                    return _outcome(kind, told)
        finally:
            del self._waiting[number]

    def _pass_on(
        self, number: int, replies: queue.SimpleQueue[tuple[str, Any]], progress: Progress, told: tuple[float, str]
    ) -> None:
        try:
            progress(*told)
        except BaseException:
            self._tell("stop", number)
            while replies.get()[0] == "progress":
                pass
            raise

    def _tell(self, *words: Any) -> None:
        assert self._process.stdin
        with self._lock, suppress(OSError, ValueError):  # where it has ended, whoever listens says so
            pickle.dump(words, self._process.stdin)
            self._process.stdin.flush()

    def _listen(self) -> None:
        assert self._process.stdin
        assert self._process.stdout
        with suppress(EOFError, OSError, pickle.UnpicklingError):
            while True:
                number, kind, told = pickle.load(self._process.stdout)
                if number in self._waiting:
                    self._waiting[number].put((kind, told))
        self.end()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):
                pipe.close()
        self._over = True
        for replies in list(self._waiting.values()):
            replies.put(LOST)


def _outcome(kind: str, told: Any) -> Any:
    if kind == "answer":
        return told
    if kind == "fault":
        raise told
    raise UnderglassError(
        "the work was ended from outside, most likely for want of memory: close other programs and ask again"
    )


class _Stopped(BaseException):
    """Nobody wants the answer any more."""


class _Worker:
    """In the process: the questions that are worked on."""

    def __init__(self, said: BinaryIO) -> None:
        self._said, self._lock, self._stopped = said, threading.Lock(), set[int]()

    def work(self, asked_by: BinaryIO) -> None:
        """Take questions until nobody is there who asks."""
        with suppress(EOFError):
            while True:
                word, number, *rest = pickle.load(asked_by)
                if word == "stop":
                    self._stopped.add(number)
                else:
                    threading.Thread(target=self._answer, args=(number, *rest), daemon=True).start()

    def _answer(self, number: int, said: bytes, soon: bool) -> None:
        def progress(share: float, doing: str) -> None:
            if number in self._stopped:
                raise _Stopped
            self._tell(number, "progress", (share, doing))

        if not soon:
            _give_way()
        try:
            question, given, asked = pickle.loads(said)
            answer = question(*given, progress=progress, **asked)
        except _Stopped:
            self._tell(number, "stopped", None)
        except Exception as error:
            self._tell(number, "fault", error)
        else:
            self._tell(number, "answer", answer)
        self._stopped.discard(number)
        if not soon:
            answer = None
            _give_back()

    def _tell(self, number: int, kind: str, told: Any) -> None:
        words = pickle.dumps((number, kind, told))
        with self._lock:
            self._said.write(words)
            self._said.flush()


def _give_way() -> None:
    """This thread, and those that it starts, come after others; elsewhere than on Linux a priority is of whole processes."""
    if sys.platform == "linux":
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), NICER)


def _give_back() -> None:
    """What was let go goes back to the system where the C library (glibc) keeps hold of it."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)


def _main() -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then closes our input
    sys.setswitchinterval(0.0005)  # seconds for which one thread keeps the interpreter while another waits
    # what anything prints must not come between the answers
    with os.fdopen(os.dup(1), "wb") as said:
        os.dup2(2, 1)
        _Worker(said).work(sys.stdin.buffer)
    os._exit(0)  # whatever is still at work: nobody waits for it


if __name__ == "__main__":
    _main()
