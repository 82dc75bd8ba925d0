"""The household's folder: its notebook, which is the one place where the household lives, and the invented family's beside it.

The invented family has a notebook of its own in a folder below, shown as long as there is no household of one's own: what is tried
with it never mixes with what really happened.
"""

from __future__ import annotations

import hashlib
import json
import os
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from underglass.errors import InputError, NotebookError
from underglass.faces.web.watch import Watch
from underglass.notebook.records import HouseholdRecord
from underglass.notebook.store import Notebook, open_notebook
from underglass.plan.wishes import Wishes
from underglass.services.household_store import household_in, keep_household

if TYPE_CHECKING:
    from underglass.plan.household import Household

__all__ = ["Home", "Seen", "mark_of"]

FORMER = "household.json"
"""Where pages of earlier versions kept the household."""


@dataclass(frozen=True, slots=True)
class Seen:
    """The household as its notebook has it now.

    version : of its record, for forms made from it
    mark : changes with all that the outlooks of sowings are computed from; year_mark : with the wishes of the year besides
    """

    household: Household
    version: int
    mark: str
    year_mark: str


class Home:
    """The notebook that the pages show, read anew only when it was changed."""

    def __init__(self, folder: Path, now: Callable[[], datetime], today: Callable[[str], str]) -> None:
        self.folder, self.now, self._today = folder, now, today
        self.own = folder / "notebook.sqlite"
        self.demo = folder / "demo" / "notebook.sqlite"
        self._lock = threading.Lock()
        self._watch = Watch()
        self._has_own = False
        self._known: tuple[tuple[str, int, int] | None, Seen, str] | None = None
        self._move_in()

    def _move_in(self) -> None:
        """Put the household of an earlier version's file into the notebook, once."""
        former = self.folder / FORMER
        if not former.exists():
            return
        from underglass.sources.household_file import household_of_table

        try:
            table = json.loads(former.read_text(encoding="utf-8"))
            table = {k: v for k, v in table.items() if k != "language"}
            if table.get("demo"):
                self.show_demo()
            elif not self._has_household(self.own):
                household = household_of_table(table)
                with self._made(self.own) as notebook:
                    keep_household(notebook, household)
        except (ValueError, AttributeError, InputError):
            pass  # a file that cannot be read has nothing to move; the first visit asks again
        os.replace(former, former.with_suffix(".moved"))

    @staticmethod
    def _has_household(path: Path) -> bool:
        if not path.exists():
            return False
        try:
            with open_notebook(path) as notebook:
                return bool(notebook.find(HouseholdRecord))
        except NotebookError:
            return True  # it is there, if not to be read: nothing else may take its place

    def is_demo(self) -> bool:
        """Whether the invented family is shown."""
        if not self.demo.exists():
            return False
        if not self._has_own:
            self._has_own = self._has_household(self.own)
        return not (self._has_own and self.own.exists())

    def path(self) -> Path:
        """The notebook that is shown, whether it is there yet or not."""
        return self.demo if self.is_demo() else self.own

    def open(self) -> Notebook:
        """The notebook that is shown.  Raises NotebookError where there is none yet."""
        return open_notebook(self.path(), clock=self.now)

    def _made(self, path: Path) -> Notebook:
        return open_notebook(path, create=True, clock=self.now)

    def let_go(self) -> None:
        """Close the file, as before it is replaced."""
        self._watch.close()
        with self._lock:
            self._known, self._has_own = None, False

    def show_demo(self) -> None:
        """Let the invented family move in beside, with a notebook to try things in."""
        from underglass.sources.household_file import demo_household

        with self._made(self.demo) as notebook:
            if not notebook.find(HouseholdRecord):
                keep_household(notebook, demo_household())

    def seen(self) -> Seen | None:
        """The household now, None before the first visit."""
        path = self.path()
        state = self._watch.state(path)
        with self._lock:
            known = self._known
        if (
            known is not None
            and known[0] == state is not None
            and known[2] == self._today(known[1].household.place.time_zone)
        ):
            return known[1]
        if not path.exists():
            return None
        with open_notebook(path) as notebook:
            records = notebook.find(HouseholdRecord)
            if not records:
                return None
            day = self._today(records[0].time_zone)
            household = household_in(notebook, date.fromisoformat(day))
        bare = replace(household, standing=(), units="c")
        wishless = replace(bare, wishes=Wishes())
        seen = Seen(household, records[0].version, mark_of(wishless), mark_of(bare))
        with self._lock:
            self._known = state, seen, day
        return seen

    def as_described(self) -> Household | None:
        """One's own household with its shelters as they were described, for the form that changes it; None before the first visit."""
        if not self._has_household(self.own):
            return None
        with open_notebook(self.own) as notebook:
            return household_in(notebook, tune=lambda shelter, _: shelter)

    def own_weather_file(self) -> str | None:
        """The weather file of one's own household, None where it has none or cannot be read."""
        with suppress(NotebookError, InputError):
            household = self.as_described()
            return household.weather_file if household else None
        return None

    def own_version(self) -> int:
        """Version of one's own household's record, 0 where there is none."""
        if not self.own.exists():
            return 0
        with open_notebook(self.own) as notebook:
            return next((r.version for r in notebook.find(HouseholdRecord)), 0)

    def keep(self, household: Household, version: int) -> None:
        """Keep one's own household as a form made from `version` says.  Raises Changed where somebody else was faster."""
        with self._made(self.own) as notebook:
            keep_household(notebook, household, seen=version, put_away=True)


def mark_of(*told: object) -> str:
    """A short text that is another one when any of these values is."""
    return hashlib.sha256(repr(told).encode()).hexdigest()[:16]
