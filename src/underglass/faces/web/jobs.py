"""Long work in a thread of its own: one job for each question, found again after a reload, with progress, and a way to stop it."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from underglass.errors import UnderglassError
from underglass.services.progress import Progress

__all__ = ["Job", "Jobs", "Stopped"]


class Stopped(Exception):
    """The person asked to stop."""


@dataclass(slots=True)
class Job:
    """One piece of work.  share 0-1, doing: a few words; answer once done; fault: the sentence to show when it failed."""

    key: str
    id: str = field(default_factory=lambda: uuid.uuid4().hex)
    share: float = 0.0
    doing: str = ""
    done: bool = False
    answer: Any = None
    fault: str = ""
    stop: bool = False

    def progress(self, share: float, doing: str) -> None:
        """Called by the work; ends it where it should stop."""
        if self.stop:
            raise Stopped
        self.share, self.doing = share, doing


class Jobs:
    """Running and finished work; at most `most` finished answers stay."""

    def __init__(self, most: int = 24) -> None:
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()
        self._turn = threading.Lock()
        self._most = most

    def ask(self, key: str, work: Callable[[Progress], Any]) -> Job:
        """The job of this question: a running or finished one, else a new one.  A job that failed or was stopped is tried anew."""
        with self._lock:
            job = self._jobs.get(key)
            if job is None or (job.done and (job.fault or job.stop)):
                job = self._jobs[key] = Job(key)
                threading.Thread(target=self._run, args=(job, work), daemon=True, name=f"work {key[:20]}").start()
            self._forget()
            return job

    def by_id(self, job_id: str) -> Job | None:
        """A job by its id."""
        return next((j for j in list(self._jobs.values()) if j.id == job_id), None)

    def _run(self, job: Job, work: Callable[[Progress], Any]) -> None:
        try:
            with self._turn:  # one at a time: a second one would only slow the first and fill the memory
                job.progress(0.0, "")
                job.answer = work(job.progress)
                job.share = 1.0
        except Stopped:
            job.fault = "stopped"
        except UnderglassError as error:
            job.fault = str(error)
        except Exception as error:
            job.fault = f"something went wrong ({type(error).__name__}: {error})"
        finally:
            job.done = True

    def _forget(self) -> None:
        done = [key for key, job in self._jobs.items() if job.done]
        for key in done[: max(0, len(done) - self._most)]:
            del self._jobs[key]
