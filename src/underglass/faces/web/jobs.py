"""Long work in a thread of its own: one job for each question, found again after a reload, with progress, and a way to stop it.

A thread waits for the answer; what takes long or much memory is worked out in another process (services/apart.py).
"""

from __future__ import annotations

import ctypes
import threading
import time
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from underglass.errors import UnderglassError
from underglass.services.progress import Progress

__all__ = ["Job", "Jobs", "Stopped"]

RETRY_S = 60.0
"""A job that failed is tried anew by itself after so long; until then its fault is shown, or a page would fail without end."""


class Stopped(Exception):
    """The person asked to stop."""


@dataclass(slots=True)
class Job:
    """One piece of work.  share 0-1, doing: a few words; answer once done; fault: the sentence to show when it failed.

    back : the page of our own that showed it last, to go back to
    """

    key: str
    id: str = field(default_factory=lambda: uuid.uuid4().hex)
    share: float = 0.0
    doing: str = ""
    done: bool = False
    answer: Any = None
    fault: str = ""
    stop: bool = False
    back: str = "/"
    ended: float = 0.0

    def progress(self, share: float, doing: str) -> None:
        """Called by the work; ends it where it should stop."""
        if self.stop:
            raise Stopped
        self.share, self.doing = share, doing

    def end(self, *, answer: Any = None, fault: str = "") -> None:
        """Done, well or not; what comes after the person stopped it is thrown away."""
        if not self.done:
            self.answer, self.fault, self.ended = answer, fault, time.monotonic()
            self.share = self.share if fault else 1.0
            self.done = True


class Jobs:
    """Running and finished work; at most `most` finished answers stay."""

    def __init__(self, most: int = 24, before: Callable[[Progress], None] = lambda progress: None) -> None:
        """before : called at the beginning of every work"""
        self._before = before
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()
        self._turns: dict[str, threading.Lock] = {}
        self._most = most

    def ask(self, key: str, work: Callable[[Progress], Any], *, lane: str = "") -> Job:
        """The job of this question: a running or ended one, else a new one.  One that failed is tried anew after a minute.

        lane : work in one lane is done one after the other; what takes minutes has its own, so that nobody waits for it
        """
        with self._lock:
            job = self._jobs.get(key)
            stale = job is not None and job.fault and not job.stop and time.monotonic() - job.ended > RETRY_S
            if job is None or stale:
                job = self._jobs[key] = Job(key)
                threading.Thread(
                    target=self._run,
                    args=(job, work, self._turns.setdefault(lane, threading.Lock())),
                    daemon=True,
                    name=f"work {key[:20]}",
                ).start()
            self._forget_old()
            return job

    def find(self, key: str) -> Job | None:
        """The job of this question, if it was asked."""
        return self._jobs.get(key)

    def by_id(self, job_id: str) -> Job | None:
        """A job by its id."""
        return next((j for j in list(self._jobs.values()) if j.id == job_id), None)

    def stop(self, job: Job) -> None:
        """Stop a job: at once for those who watch it; its thread ends at the next word of its progress."""
        job.stop = True
        job.end(fault="stopped")

    def forget(self, job: Job) -> None:
        """Let an ended job go, so that its question may be asked anew."""
        with self._lock:
            if job.done and self._jobs.get(job.key) is job:
                del self._jobs[job.key]

    def _run(self, job: Job, work: Callable[[Progress], Any], turn: threading.Lock) -> None:
        try:
            if turn.locked():
                job.progress(0.0, "waiting")
            with turn:  # one at a time: a second one would only slow the first and fill the memory
                job.progress(0.0, "")
                self._before(job.progress)
                job.end(answer=work(job.progress))
        except Stopped:
            job.end(fault="stopped")
        except UnderglassError as error:
            job.end(fault=str(error))
        except Exception as error:
            job.end(fault=f"something went wrong ({type(error).__name__}: {error})")
        _give_back()

    def _forget_old(self) -> None:
        done = [key for key, job in self._jobs.items() if job.done]
        for key in done[: max(0, len(done) - self._most)]:
            del self._jobs[key]


def _give_back() -> None:
    """What work let go goes back to the system where the C library (glibc) keeps hold of it: a third of the server's memory."""
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)
