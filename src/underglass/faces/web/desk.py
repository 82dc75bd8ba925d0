"""What the pages share: the household's folder, running work, and answers kept warm."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from underglass.errors import InputError, NotebookError
from underglass.faces.web.devices import Devices
from underglass.faces.web.draft import Draft
from underglass.faces.web.home import Home, mark_of
from underglass.faces.web.jobs import Job, Jobs
from underglass.faces.web.year_work import YearWork
from underglass.services.apart import apart

if TYPE_CHECKING:
    import numpy as np

    from underglass.plan.household import Household
    from underglass.services.inside import Look
    from underglass.services.weather import ReadWeather
    from underglass.shelter.model import Shelter
    from underglass.weather.outside import OutsideWeather

__all__ = ["Desk"]

Ahead = Callable[["Household"], "tuple[OutsideWeather | None, Sequence[OutsideWeather], str]"]
"""The forecast for a household with its ensemble, and a note where it could not be had; handed in, as it asks the network."""

Past = Callable[["Household", date, date], "OutsideWeather"]
"""The weather of past days for a household, likewise handed in."""

OLDEST_PLAN = timedelta(hours=12)
"""A plan that is older is not shown while the next is worked out."""


class Desk:
    """One household's state: where it lives (`home`), work that runs (`jobs`), paired phones (`devices`)."""

    def __init__(
        self,
        folder: Path,
        today: Callable[[str], str] | None = None,
        years: int = 30,
        ahead: Ahead | None = None,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        past: Past | None = None,
        read: ReadWeather | None = None,
    ) -> None:
        """read : reads a household's own weather file; a function that another process can find by its name"""
        self.folder, self.years = folder, years
        self.jobs = Jobs(before=_ready)
        self.devices = Devices(folder / "devices.json")
        self.address = ""
        self._ahead, self._past, self.now, self.read = ahead, past, now, read
        self._today = today or (lambda zone: now().astimezone(ZoneInfo(zone)).date().isoformat())
        self.home = Home(folder, now, self._today)
        self.draft = Draft(folder)
        self._last_plan: tuple[Path, dict[str, Any] | None] = folder, None
        self.year = YearWork(self.home, self.jobs, lambda: date.fromisoformat(str(self.today())), years, read)

    def household(self) -> Household | None:
        """The household, None before the first visit."""
        seen = self.home.seen()
        return seen.household if seen else None

    def readable(self) -> Household | None:
        """The household, None also where its notebook cannot be read: for what must be shown all the same."""
        try:
            return self.household()
        except NotebookError:
            return None

    def mark(self) -> str:
        """Changes with all that outlooks are computed from."""
        seen = self.home.seen()
        return seen.mark if seen else ""

    def today(self) -> np.datetime64:
        """The day at the household's place."""
        import numpy as np

        household = self.household()
        zone = household.place.time_zone if household else "UTC"
        return np.datetime64(self._today(zone))

    def local(self, at: datetime) -> datetime:
        """A time on the clock of the household's place."""
        household = self.readable()
        return at.astimezone(ZoneInfo(household.place.time_zone) if household else UTC)

    def guide(self) -> Job:
        """The sowing guide of today, as work that is begun or done."""
        household, on = self.household(), self.today()

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.guide import sowing_guide

            assert household is not None
            return apart(sowing_guide, household, on, n_years=self.years, read=self.read, progress=progress)

        return self.jobs.ask(f"guide {self.mark()} {on}", work)

    def outlook(self, crop: str, grown_in: str, raised_in: str | None) -> Job:
        """The outlook curve of one crop on one route, as work."""
        household, on = self.household(), self.today()

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.route_outlook import route_outlook

            assert household is not None
            asked: dict[str, Any] = {
                "raised_in": raised_in,
                "n_years": self.years,
                "read": self.read,
                "progress": progress,
            }
            return apart(route_outlook, household, crop, grown_in, on, **asked)

        return self.jobs.ask(f"outlook {self.mark()} {on} {crop} {grown_in} {raised_in}", work)

    def story(self, crop: str, grown_in: str, raised_in: str | None, sow: str) -> Job:
        """Why one sowing does as it does, as work."""
        household = self.household()

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            import numpy as np

            from underglass.services.why import why

            assert household is not None
            asked: dict[str, Any] = {
                "raised_in": raised_in,
                "n_years": self.years,
                "read": self.read,
                "progress": progress,
            }
            return apart(why, household, crop, grown_in, np.datetime64(sow), **asked)

        return self.jobs.ask(f"why {self.mark()} {crop} {grown_in} {raised_in} {sow}", work)

    def day_plan(self) -> Job:
        """What to do with lids, covers and water over the next days, as work; new each hour, and with whatever changes the plan."""
        import numpy as np

        from underglass.services.lids import exceptions_in, past_lids_in, settings_in

        household, moment = self.household(), self.now()
        assert household is not None
        now = np.datetime64(moment.astimezone(UTC).strftime("%Y-%m-%dT%H"), "h")
        with self.home.open() as notebook:
            exceptions = exceptions_in(notebook)
            settings = settings_in(notebook, household.shelters, moment)
            lids = past_lids_in(notebook, moment)

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.today import day_plan

            outside, members, note = (
                self._ahead(household) if self._ahead and not self.home.is_demo() else (None, (), "")
            )
            answer = apart(
                day_plan,
                household,
                now,
                outside,
                ensemble=members,
                exceptions=exceptions,
                settings_now=settings,
                lids=lids,
                progress=progress,
                soon=True,
            )
            if note:
                answer["forecast"]["notes"].insert(0, note)
            self._keep_plan(answer, household)
            return answer

        return self.jobs.ask(f"today {mark_of(household, exceptions, settings, lids)} {now}", work)

    def set_out(self, crop: str, bed: str, before: str) -> Job:
        """Whether a crop may be set out to a bed now, as work; new each hour."""
        import numpy as np

        household, moment = self.household(), self.now()
        now = np.datetime64(moment.astimezone(UTC).strftime("%Y-%m-%dT%H"), "h")

        def work(progress: Callable[[float, str], None]) -> dict[str, Any]:
            from underglass.services.set_out import set_out_question
            from underglass.services.why import named_shelter

            assert household is not None
            outside, _, note = self._ahead(household) if self._ahead and not self.home.is_demo() else (None, (), "")
            place = named_shelter(household, bed)
            answer = apart(
                set_out_question,
                household,
                crop,
                place,
                now,
                outside,
                np.datetime64(before, "D"),
                progress=progress,
                soon=True,
            )
            return answer | {"notes": [*([note] if note else []), *answer["notes"]]}

        return self.jobs.ask(f"set out {self.mark()} {now} {crop} {bed} {before}", work)

    def _keep_plan(self, answer: dict[str, Any], household: Household) -> None:
        """Keep the plan for the days when it is compared with what was read, and for the moments in which a newer one is worked out."""
        from underglass.services.planned import keep_day_plan

        self._last_plan = (self.home.path(), answer)
        # a notebook that cannot be written to does not hinder the plan
        with suppress(NotebookError), self.home.open() as notebook:
            keep_day_plan(notebook, answer, ZoneInfo(household.place.time_zone))

    def last_plan(self) -> dict[str, Any] | None:
        """The plan worked out last for this household, if that is not too long ago."""
        path, answer = self._last_plan
        if answer is None or path != self.home.path():
            return None
        age = self.now() - datetime.fromisoformat(answer["now"]).replace(tzinfo=UTC)
        return answer if timedelta(0) <= age <= OLDEST_PLAN else None

    def past(self, household: Household, first: date, last: date) -> OutsideWeather:
        """The weather of past days.  Raises SourceError where it cannot be had, InputError where nobody may be asked."""
        if self._past is None or self.home.is_demo():
            raise InputError("the weather of those days is not known here: the invented family asks no weather service")
        return self._past(household, first, last)

    def look(self, shelter: Shelter, *, day: int = 1, trees_deg: float | None = None) -> Look:
        """One year inside a shelter, at once; services/inside.py says what is asked."""
        from underglass.services.inside import look_inside

        household = self.household()
        assert household is not None
        return apart(
            look_inside, household, shelter, self._year(), day=day, trees_deg=trees_deg, read=self.read, soon=True
        )

    def _year(self) -> int:
        return int(str(self.today())[:4])

    def year_ready(self) -> Job:
        """What Inside needs before it can answer at once, as work: the compiled loops and a year of hours."""
        household, year = self.household(), self._year()

        def work(progress: Callable[[float, str], None]) -> bool:
            from underglass.services.inside import get_ready

            assert household is not None
            apart(get_ready, household, year, read=self.read, progress=progress, soon=True)
            return True

        return self.jobs.ask(f"year {self.mark()}", work)

    def warm(self) -> None:
        """Load and compile in the background what the first question needs, and begin today's guide."""

        def work() -> None:
            if self.household() is not None:
                self.year_ready()
                self.day_plan()
                self.guide()
            self.jobs.ask("search", ready_to_search)

        def ready_to_search(progress: Callable[[float, str], None]) -> None:
            from underglass.services.warm import compiled_apart

            compiled_apart(progress, search=True)

        threading.Thread(target=work, daemon=True, name="warm").start()


def _ready(progress: Callable[[float, str], None]) -> None:
    """What nearly every question needs is compiled before it, so that no question compiles it by itself."""
    from underglass.services.warm import compiled_apart

    compiled_apart(progress)
