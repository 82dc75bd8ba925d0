"""The year's plan as the pages have it: the kept one at once, and the work that makes it anew.

The notebook keeps which sowings were chosen.  What they bring is kept beside it in a file of our own, so that a plan is there at once on the
next visit; the file is no more than a copy and is worked out again where it is missing or belongs to another plan.
"""

from __future__ import annotations

import json
import threading
import uuid
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from underglass.errors import InputError
from underglass.faces.web.home import mark_of
from underglass.faces.web.jobs import Job, Jobs
from underglass.faces.web.whole_file import write_whole
from underglass.notebook.records import Setting
from underglass.plan.wishes import Wishes
from underglass.services.household_store import household_in

if TYPE_CHECKING:
    from underglass.faces.web.home import Home, Seen
    from underglass.notebook.store import Notebook
    from underglass.services.progress import Progress
    from underglass.services.weather import ReadWeather

__all__ = ["Kept", "YearWork", "difference_of"]

FILE = "year-plan.json"
PLAN = "year plan"
"""Key of the notebook's setting that holds the chosen sowings (services/year_book.py)."""


@dataclass(frozen=True, slots=True)
class Kept:
    """The kept plan.  version : of the notebook's record;  changed : something that the plan stands on is newer than the plan

    change : what the last making changed against the plan before it, None for a first plan
    """

    plan: dict[str, Any]
    version: int
    changed: bool
    change: dict[str, Any] | None


def difference_of(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """What one plan has that the other has not: sowings gone and come, and worth in servings."""

    def names(plan: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
        return {
            s["id"]: {k: s[k] for k in ("crop", "name", "grown_in", "sow")}
            for s in plan["sowings"]
            if not s["standing"]
        }

    old, new = names(before), names(after)
    return {
        "gone": [s for key, s in old.items() if key not in new],
        "come": [s for key, s in new.items() if key not in old],
        "servings": round(_servings(after) - _servings(before), 1),
    }


def _servings(plan: Mapping[str, Any]) -> float:
    return float(sum(week["all"]["p50"] for week in plan["basket"]))


class YearWork:
    """The plan of the year of the notebook that is shown."""

    def __init__(
        self, home: Home, jobs: Jobs, today: Callable[[], date], n_years: int, read: ReadWeather | None = None
    ) -> None:
        self._home, self._jobs, self._today = home, jobs, today
        self._asked: dict[str, Any] = {"n_years": n_years, "read": read}
        self._lock = threading.Lock()
        self._making: tuple[Path, Job] | None = None
        self._written = 0
        self._known: tuple[Seen, date, int, Kept | None] | None = None
        self._read: tuple[tuple[str, str], dict[str, Any]] | None = None

    def making(self) -> Job | None:
        """The work that makes a plan for the notebook that is shown: running, failed, or done without a plan."""
        if self._making is None or self._making[0] != self._home.path():
            return None
        job = self._making[1]
        return job if self._jobs.find(job.key) is job else None

    def why_not(self) -> list[str]:
        """Why the last work brought no plan, in sentences; empty where it did, goes on, or was stopped."""
        job = self.making()
        if job is None or not job.done or job.stop:
            return []
        if job.fault:
            return [job.fault]
        return [] if job.answer["possible"] else list(job.answer["in_the_way"])

    def begin(self, *, fresh: bool = False, count: bool = False) -> Job:
        """Make the plan anew; work that is still at it is stopped, as what it was asked for has changed.

        fresh : without regard to the plan before;  count : where the notebook has a plan, only work out what it brings
        """
        with self._lock:
            running = self.making()
            if running is not None:
                self._jobs.stop(running)
                self._jobs.forget(running)
            job = self._jobs.ask(f"year {uuid.uuid4().hex}", lambda progress: self._make(progress, fresh, count))
            self._making = self._home.path(), job
            return job

    def _make(self, progress: Progress, fresh: bool, count: bool) -> dict[str, Any]:
        from underglass.services.apart import apart
        from underglass.services.warm import compiled_apart
        from underglass.services.year_book import make_plan, plan_now

        compiled_apart(progress, search=True)
        asked: dict[str, Any] = {**self._asked, "progress": progress, "by": apart}
        with self._home.open() as notebook:
            kept = self._kept_in(notebook)
            before = kept.plan if kept else plan_now(notebook, today=self._today(), **asked)
            if count and before is not None:
                self._write(notebook, before, None)
                return {"possible": True, "in_the_way": []}
            plan = make_plan(notebook, self._today(), fresh=fresh, **asked)
            if plan["possible"]:
                self._write(notebook, plan, difference_of(before, plan) if before else None)
        return {"possible": plan["possible"], "in_the_way": plan["in_the_way"]}

    def _file(self) -> Path:
        return self._home.path().parent / FILE

    def _write(self, notebook: Notebook, plan: dict[str, Any], change: dict[str, Any] | None) -> None:
        """Whole or not at all; a full disk costs only the time to work it out again."""
        record = notebook.get(Setting, PLAN)
        of = mark_of(record.value)
        value = {"of": of, "mark": self._mark(notebook, plan), "plan": plan, "change": change}
        self._read = (str(self._file()), of), value
        self._written += 1
        with suppress(OSError):
            write_whole(self._file(), value)

    def _mark(self, notebook: Notebook, plan: Mapping[str, Any]) -> str:
        """Another one when place, shelters, seed or visits are others; year_book.is_stale looks after wishes and sowings."""
        household = household_in(notebook, date.fromisoformat(plan["date"]))
        return mark_of(replace(household, units="c", standing=(), wishes=Wishes()))

    def _value(self, record: Setting) -> dict[str, Any] | None:
        """The copy of what this record's sowings bring, where there is one."""
        key = (str(self._file()), mark_of(record.value))
        if self._read is not None and self._read[0] == key:
            return self._read[1]
        try:
            value = json.loads(self._file().read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        if not isinstance(value, dict) or value.get("of") != key[1]:
            return None
        self._read = key, value
        return value

    def _kept_in(self, notebook: Notebook) -> Kept | None:
        from underglass.services.year_book import is_stale

        record = notebook.get_or_none(Setting, PLAN)
        value = self._value(record) if record else None
        if record is None or value is None:
            return None
        stale = value["mark"] != self._mark(notebook, value["plan"]) or is_stale(notebook, self._today())
        return Kept(value["plan"], record.version, stale, value["change"])

    def kept(self) -> Kept | None:
        """The kept plan, None where there is none or it has to be worked out again."""
        seen = self._home.seen()
        if seen is None:
            return None
        today, written, known = self._today(), self._written, self._known
        if (
            known is not None and known[0] is seen and known[1:3] == (today, written)
        ):  # a notebook that was written to is seen anew
            return known[3]
        with self._home.open() as notebook:
            kept = self._kept_in(notebook)
        self._known = seen, today, written, kept
        return kept

    def needed(self) -> tuple[dict[str, int], dict[str, int]]:
        """Plants, and seeds for them, by crop of the kept plan; none where there is no plan."""
        from underglass.services.seeds import needed_of_plan

        kept = self.kept()
        return needed_of_plan(kept.plan) if kept else ({}, {})

    def why(self, kept: Kept, sowing_id: str) -> Job:
        """Why this sowing and not that, and what could stand in its place, as work.  Raises InputError for one that the plan has not."""
        if all(s["id"] != sowing_id for s in kept.plan["sowings"]):
            raise InputError("this sowing is not in the plan any more; look at the plan again")

        def work(progress: Progress) -> dict[str, Any]:
            from underglass.services.apart import apart
            from underglass.services.year_book import explain_here

            with self._home.open() as notebook:
                return explain_here(notebook, kept.plan, sowing_id, by=apart, progress=progress, **self._asked)

        return self._jobs.ask(f"year why {self._file()} {kept.version} {sowing_id}", work)

    def offered(self, kept: Kept, sowing_id: str, other_id: str) -> dict[str, Any] | None:
        """The sowing that an explanation offers in the place of another: none may come in that was never worked out."""
        job = self.why(kept, sowing_id)
        if not job.done or job.fault:
            return None
        rows: list[dict[str, Any]] = job.answer["sowings"][0]["instead"]
        return next((row for row in rows if row["id"] == other_id), None)

    def helped(self, kept: Kept) -> dict[str, Any] | None:
        """What would help, where it was worked out already."""
        job = self._jobs.find(self._help_key(kept))
        return job.answer if job is not None and job.done and not job.fault else None

    def _help_key(self, kept: Kept) -> str:
        return f"year help {self._file()} {kept.version}"

    def help(self, kept: Kept) -> Job:
        """The smallest change for each want that is not met, as work."""

        def work(progress: Progress) -> dict[str, Any]:
            from underglass.services.apart import apart
            from underglass.services.year_book import help_here

            with self._home.open() as notebook:
                return help_here(notebook, kept.plan, by=apart, progress=progress, **self._asked)

        return self._jobs.ask(self._help_key(kept), work, lane="help")
