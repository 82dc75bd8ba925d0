"""Plans are kept by the hour, the later in place of the earlier, and stand beside what was read."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from underglass.notebook.journal import changes
from underglass.notebook.records import PlannedDay
from underglass.notebook.store import Notebook, open_notebook
from underglass.services.household_store import keep_household
from underglass.services.notes import record_reading
from underglass.services.planned import compared, keep_day_plan
from underglass.sources.household_file import demo_household
from underglass.units import c_to_k

ZONE = ZoneInfo("America/New_York")
MORNING = datetime(2027, 3, 10, 12, tzinfo=UTC)  # 7 h on the wall


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "notebook.sqlite", create=True, clock=lambda: MORNING) as opened:
        keep_household(opened, demo_household())
        yield opened


def plan(start: datetime, low: float, hours: int = 72, gap: float = 0.0) -> dict[str, Any]:
    """A plan that is `low` degC at p10 in its first hour, a tenth more each hour; p50 and p90 are 2 and 5 K above."""
    p10 = [low + 0.1 * i for i in range(hours)]
    bands = {"p10": p10, "p50": [v + 2.0 for v in p10], "p90": [v + 5.0 for v in p10]}
    step = {
        "from": f"{start:%Y-%m-%dT%H}",
        "gap_m": gap,
        "night_cover": False,
        "fleece": False,
        "off": False,
        "reason": "heat",
    }
    part = {
        "shelter": "south box",
        "standing": ["kale"],
        "hours": {"start": f"{start:%Y-%m-%dT%H}", "inside_c": bands},
        "steps": [step],
    }
    return {"shelters": [part, {"shelter": "open", "standing": []}]}


def test_a_plan_is_kept_by_local_day_without_a_step_in_the_history(book: Notebook) -> None:
    before = changes(book, 1)[0].id
    keep_day_plan(book, plan(MORNING, 1.0), ZONE)
    days = book.find(PlannedDay, order='"on"')
    assert [d.on for d in days] == [date(2027, 3, 10 + i) for i in range(4)]
    assert days[0].start == datetime(2027, 3, 10, 5, tzinfo=UTC)
    assert days[0].low_k[:7] == (None,) * 7
    assert days[0].low_k[7] == pytest.approx(c_to_k(1.0))
    assert [len(d.low_k) for d in days] == [24] * 4
    assert changes(book, 1)[0].id == before


def test_summer_time_takes_an_hour_out_of_its_day(book: Notebook) -> None:
    keep_day_plan(book, plan(datetime(2027, 3, 13, 12, tzinfo=UTC), 1.0), ZONE)
    assert len(book.find(PlannedDay, '"on" = ?', date(2027, 3, 14))[0].low_k) == 23


def test_a_later_plan_replaces_the_hours_from_its_own_on(book: Notebook) -> None:
    keep_day_plan(book, plan(MORNING, 1.0), ZONE)
    keep_day_plan(book, plan(MORNING + timedelta(hours=6), 8.0, gap=0.05), ZONE)
    first = book.find(PlannedDay, '"on" = ?', date(2027, 3, 10))[0]
    assert first.low_k[12] == pytest.approx(c_to_k(1.5))
    assert first.low_k[13] == pytest.approx(c_to_k(8.0))
    assert [s["gap_m"] for s in first.steps] == [0.0, 0.05]
    keep_day_plan(book, plan(MORNING + timedelta(hours=6), 8.0, gap=0.05), ZONE)
    assert book.find(PlannedDay, '"on" = ?', date(2027, 3, 10))[0].version == 2, "the same again writes nothing"


def test_readings_stand_beside_the_hours_they_tell_of(book: Notebook) -> None:
    keep_day_plan(book, plan(MORNING, 1.0), ZONE)
    noon = MORNING + timedelta(hours=5, minutes=20)
    record_reading(book, MORNING + timedelta(hours=1), c_to_k(0.0), shelter="south box", kind="min")
    record_reading(book, noon, c_to_k(4.0), shelter="south box")
    record_reading(book, noon, c_to_k(1.2), shelter="south box", kind="min")
    record_reading(book, noon, c_to_k(9.0), shelter="south box", kind="max")
    record_reading(book, noon, c_to_k(20.0), shelter="hoop house")
    record_reading(book, noon, c_to_k(20.0), shelter="south box", probe="soil")
    record_reading(book, noon, c_to_k(20.0), shelter=None)
    rows = compared(book, date(2027, 3, 10), noon, ZONE)
    assert len(rows) == 5
    first, now, low, high, elsewhere = rows
    assert (now.low_c, now.middle_c, now.high_c) == pytest.approx((1.5, 3.5, 6.5), abs=0.01)
    assert now.beyond_k == 0.0
    assert low.low_c == pytest.approx(1.1, abs=0.01), "since the lowest before it, at 8 h"
    assert high.high_c == pytest.approx(6.5, abs=0.01), "the highest of the hours that were planned"
    assert high.beyond_k == pytest.approx(2.5, abs=0.01)
    assert first.beyond_k == pytest.approx(-1.0, abs=0.01)
    assert (elsewhere.shelter, elsewhere.low_c, elsewhere.beyond_k) == ("hoop house", None, 0.0)


def test_readings_of_days_long_gone_are_left_out(book: Notebook) -> None:
    record_reading(book, MORNING - timedelta(days=2), c_to_k(4.0), shelter="south box")
    assert compared(book, date(2027, 3, 9), MORNING, ZONE) == []
