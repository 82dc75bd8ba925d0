"""Heavy questions in a process of their own: a server stays small and answers meanwhile, and what is stopped stops at once.

The process reads one question from its input, tells its progress and answers on its output, and ends; it ends too when its input is closed, as
it is when whoever asked is gone.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, BinaryIO, TypeVar

from underglass.errors import UnderglassError
from underglass.services.progress import Progress, silent

__all__ = ["apart"]

Answer = TypeVar("Answer")

FEW_ARENAS = {"MALLOC_ARENA_MAX": "2"}
"""glibc keeps a heap for each thread: half of one is never used again.  Two cost no time and 30 MB less (measured with the guide)."""


def apart(question: Callable[..., Answer], *given: Any, progress: Progress = silent, **asked: Any) -> Answer:
    """The answer of `question(*given, progress=…, **asked)`, worked out in a process of its own.

    What `question` raises is raised here; what `progress` raises ends the process.
    """
    command = [sys.executable, "-m", "underglass.services.apart"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**FEW_ARENAS, **os.environ}
    ) as worker:
        assert worker.stdin
        assert worker.stdout
        try:
            pickle.dump((question, given, asked), worker.stdin)
            worker.stdin.flush()
            while True:
                kind, told = pickle.load(worker.stdout)
                if kind == "answer":
                    answer: Answer = told
                    return answer
                if kind == "fault":
                    raise told
                progress(*told)
        except (EOFError, BrokenPipeError, pickle.UnpicklingError):
            raise UnderglassError(
                "the work was ended from outside, most likely for want of memory: close other programs and ask again"
            ) from None
        finally:
            worker.kill()


def _answer(said: BinaryIO, asked_by: BinaryIO) -> None:
    """In the process: one question, its progress and its answer."""

    def tell(kind: str, told: Any) -> None:
        said.write(pickle.dumps((kind, told)))
        said.flush()

    question, given, asked = pickle.load(asked_by)
    threading.Thread(target=_end_with, args=(asked_by,), daemon=True).start()
    try:
        answer = question(*given, progress=lambda share, doing: tell("progress", (share, doing)), **asked)
    except Exception as error:
        tell("fault", error)
    else:
        tell("answer", answer)


def _end_with(asked_by: BinaryIO) -> None:
    """End as soon as nobody is there who asked."""
    with suppress(OSError):
        asked_by.read()
    os._exit(1)


def _main() -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which then closes our input
    if hasattr(os, "nice"):
        os.nice(5)  # pages come first
    # what anything prints must not come between the answers
    with os.fdopen(os.dup(1), "wb") as said:
        os.dup2(2, 1)
        _answer(said, sys.stdin.buffer)


if __name__ == "__main__":
    _main()
