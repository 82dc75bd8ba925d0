"""What the pages share: the household's folder, its file, running work, and answers kept warm."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import platformdirs

from underglass.faces.web.devices import Devices
from underglass.faces.web.jobs import Job, Jobs

if TYPE_CHECKING:
    import numpy as np

    from underglass.plan.household import Household
    from underglass.weather.outside import OutsideWeather

__all__ = ["Desk", "default_folder"]

DEMO = "demo"

Ahead = Callable[["Household"], "tuple[OutsideWeather | None, Sequence[OutsideWeather], str]"]
"""The forecast for a household with its ensemble, and a note where it could not be had; handed in, as it asks the network."""


def default_folder() -> Path:
    """The household's folder: UNDERGLASS_HOME if set, else the user's data folder."""
    return Path(os.environ.get("UNDERGLASS_HOME") or platformdirs.user_data_path("underglass"))


class Desk:
    """One household's state.  The household stands in `household.json`: the same tables as a household file, or {"demo": true}."""

    def __init__(
        self,
        folder: Path,
        today: Callable[[str], str] | None = None,
        years: int = 30,
        ahead: Ahead | None = None,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.folder, self.years = folder, years
        self.jobs = Jobs()
        self.devices = Devices(folder / "devices.json")
        self.address = ""
        self._today, self._ahead, self._now = today, ahead, now
        self._lock = threading.Lock()
        self._made: tuple[str, Household] | None = None

    @property
    def _file(self) -> Path:
        return self.folder / "household.json"

    def table(self) -> dict[str, Any]:
        """The household's tables, empty before the first visit."""
        try:
            table = json.loads(self._file.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        return table if isinstance(table, dict) else {}

    def version(self) -> str:
        """A mark of the household as it is kept now; changes with every change."""
        return hashlib.sha256(json.dumps(self.table(), sort_keys=True).encode()).hexdigest()[:16]

    def keep(self, table: dict[str, Any], version: str) -> bool:
        """Keep the tables if nobody changed them since `version`; whole or not at all."""
        with self._lock:
            if version != self.version():
                return False
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self.folder, suffix=".part")
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                json.dump(table, out, indent=1, ensure_ascii=False)
            os.replace(name, self._file)
            return True

    @property
    def notebook_path(self) -> Path:
        """The household's notebook, whether it is there yet or not."""
        return self.folder / "notebook.sqlite"

    def is_demo(self) -> bool:
        """Whether the invented family is shown."""
        return bool(self.table().get(DEMO))

    def _with_standing(self, household: Household) -> Household:
        """The household with what stands where by its notebook."""
        from dataclasses import replace

        from underglass.notebook.store import open_notebook
        from underglass.services.household_store import household_in

        if self.is_demo() or not self.notebook_path.exists():
            return household
        with open_notebook(self.notebook_path) as notebook:
            names = {s.name for s in household.shelters}
            standing = household_in(notebook).standing
        return replace(household, standing=tuple(s for s in standing if s.shelter in names))

    def household(self) -> Household | None:
        """The household, None before the first visit."""
        from underglass.sources.household_file import demo_household, household_of_table

        table = self.table()
        if not table:
            return None
        version = self.version()
        if self._made is None or self._made[0] != version:
            plain = {k: v for k, v in table.items() if k not in (DEMO, "language")}
            self._made = (version, demo_household() if table.get(DEMO) else household_of_table(plain))
        made, units = self._made[1], table.get("units")
        from dataclasses import replace

        return replace(made, units=units) if units in ("c", "f") else made

    def today(self) -> np.datetime64:
        """The day at the household's place."""
        import numpy as np

        household = self.household()
        zone = household.place.time_zone if household else "UTC"
        text = self._today(zone) if self._today else datetime.now(ZoneInfo(zone)).date().isoformat()
        return np.datetime64(text)

    def guide(self) -> Job:
        """The sowing guide of today, as work that is begun or done."""
        household, on = self.household(), self.today()

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.guide import sowing_guide

            assert household is not None
            return sowing_guide(household, on, n_years=self.years, progress=progress)

        return self.jobs.ask(f"guide {self.version()} {on}", work)

    def outlook(self, crop: str, grown_in: str, raised_in: str | None) -> Job:
        """The outlook curve of one crop on one route, as work."""
        household, on = self.household(), self.today()

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.route_outlook import route_outlook

            assert household is not None
            return route_outlook(
                household, crop, grown_in, on, raised_in=raised_in, n_years=self.years, progress=progress
            )

        return self.jobs.ask(f"outlook {self.version()} {on} {crop} {grown_in} {raised_in}", work)

    def story(self, crop: str, grown_in: str, raised_in: str | None, sow: str) -> Job:
        """Why one sowing does as it does, as work."""
        household = self.household()

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            import numpy as np

            from underglass.services.why import why

            assert household is not None
            return why(
                household,
                crop,
                grown_in,
                np.datetime64(sow),
                raised_in=raised_in,
                n_years=self.years,
                progress=progress,
            )

        return self.jobs.ask(f"why {self.version()} {crop} {grown_in} {raised_in} {sow}", work)

    def day_plan(self) -> Job:
        """What to do with lids, covers and water over the next days, as work; new each hour."""
        import numpy as np

        household = self.household()
        now = np.datetime64(self._now().strftime("%Y-%m-%dT%H"), "h")

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.today import day_plan

            assert household is not None
            outside, members, note = (
                self._ahead(household) if self._ahead and not self.table().get(DEMO) else (None, (), "")
            )
            answer = day_plan(self._with_standing(household), now, outside, ensemble=members, progress=progress)
            if note:
                answer["forecast"]["notes"].insert(0, note)
            return answer

        return self.jobs.ask(f"today {self.version()} {now}", work)

    def year_outside(self) -> OutsideWeather:
        """One year of hours to look inside a shelter with, kept in memory."""
        household = self.household()
        assert household is not None
        return _year_of(self, self.version(), int(str(self.today())[:4]))

    def warm(self) -> None:
        """Load and compile in the background what the first question needs, and begin today's guide."""

        def work() -> None:
            from underglass.services.warm import warm

            warm()
            if self.household() is not None:
                self.year_outside()
                self.day_plan()
                self.guide()

        threading.Thread(target=work, daemon=True, name="warm").start()


@lru_cache(maxsize=2)
def _year_of(desk: Desk, version: str, year: int) -> OutsideWeather:
    from underglass.services.weather import hours_for

    household = desk.household()
    assert household is not None
    return hours_for(household, year, 1, 1)
