"""The plan of yesterday beside what was read: each plan that was worked out is kept by the hour, the later one in place of the earlier."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from underglass.notebook.records import PlannedDay, Reading, ReadingKind, ShelterRecord
from underglass.notebook.store import Notebook
from underglass.units import c_to_k, k_to_c

__all__ = ["Compared", "compared", "keep_day_plan"]

HOUR = timedelta(hours=1)
LONGEST = timedelta(hours=36)
"""A lowest or highest is taken to be of the time since the one before, of a day and a half at most (estimate)."""


@dataclass(frozen=True, slots=True)
class Compared:
    """A reading beside the plan: all in degC.  low, middle, high : what the plan held likely, none where no plan spoke of those hours"""

    shelter: str
    at: datetime
    kind: ReadingKind
    read_c: float
    low_c: float | None
    middle_c: float | None
    high_c: float | None

    @property
    def beyond_k(self) -> float:
        """By how much it lies above (or, negative, below) the likely range; 0 within it."""
        if self.low_c is None or self.high_c is None:
            return 0.0
        return max(self.read_c - self.high_c, 0.0) + min(self.read_c - self.low_c, 0.0)


def _hours_of(day: date, zone: ZoneInfo) -> tuple[datetime, int]:
    """First hour of a local day in UTC, and how many hours it has."""
    first, last = (
        datetime.combine(d, time(), zone).astimezone(UTC).replace(minute=0) for d in (day, day + timedelta(days=1))
    )
    return first, round((last - first) / HOUR)


def keep_day_plan(notebook: Notebook, answer: Mapping[str, Any], zone: ZoneInfo) -> None:
    """Keep the plan of `services/today.py` hour by hour, for every local day that it speaks of."""
    ids = {s.name: s.id for s in notebook.find(ShelterRecord)}
    with notebook.transaction("the plan as it was shown"):
        for part in answer["shelters"]:
            if part["standing"] and part["shelter"] in ids:
                _keep_part(notebook, part, ids[part["shelter"]], zone)


def _keep_part(notebook: Notebook, part: Mapping[str, Any], shelter_id: str, zone: ZoneInfo) -> None:
    start = datetime.fromisoformat(part["hours"]["start"]).replace(tzinfo=UTC)
    inside = part["hours"]["inside_c"]
    n = len(inside["p50"])
    day, last = start.astimezone(zone).date(), (start + (n - 1) * HOUR).astimezone(zone).date()
    while day <= last:
        first, many = _hours_of(day, zone)
        blank: tuple[float | None, ...] = (None,) * many
        found = notebook.find(PlannedDay, 'shelter_id = ? AND "on" = ?', shelter_id, day)
        kept = found[0] if found else PlannedDay(
            shelter_id=shelter_id, on=day, start=first, low_k=blank, middle_k=blank, high_k=blank
        )  # fmt: skip
        offset = round((first - start) / HOUR)

        def hours(
            values: Sequence[float], before: Sequence[float | None], offset: int = offset
        ) -> tuple[float | None, ...]:
            return tuple(
                round(c_to_k(values[i + offset]), 2) if 0 <= i + offset < n else old for i, old in enumerate(before)
            )

        steps = [s for s in kept.steps if s["from"] < part["hours"]["start"]]
        until = f"{first + many * HOUR:%Y-%m-%dT%H}"
        steps += [
            {key: s[key] for key in ("from", "gap_m", "night_cover", "fleece", "off")}
            for s in part["steps"]
            if f"{first:%Y-%m-%dT%H}" <= s["from"] < until
        ]
        fresh = replace(
            kept, low_k=hours(inside["p10"], kept.low_k), middle_k=hours(inside["p50"], kept.middle_k),
            high_k=hours(inside["p90"], kept.high_k), steps=tuple(steps),
        )  # fmt: skip
        if not found:
            notebook.add(fresh)
        elif fresh != kept:
            notebook.update(fresh)
        day += timedelta(days=1)


def compared(notebook: Notebook, since: date, until: datetime, zone: ZoneInfo) -> list[Compared]:
    """Readings of the air in the shelters from a local day on, each beside what the plan held likely, in order of time."""
    names = {s.id: s.name for s in notebook.find(ShelterRecord)}
    first = _hours_of(since, zone)[0]
    rows = notebook.find(
        Reading,
        "probe = 'air' AND shelter_id IS NOT NULL AND at > ? AND at <= ?",
        first - LONGEST,
        until,
        order="at, rowid",
    )
    if all(r.at < first or r.source_file is not None for r in rows):
        return []
    earliest, latest = (t.astimezone(zone).date() for t in (first - 2 * LONGEST, until))
    plans = {(p.shelter_id, p.on): p for p in notebook.find(PlannedDay, '"on" >= ? AND "on" <= ?', earliest, latest)}
    found = []
    for i, reading in enumerate(rows):
        if reading.at < first or reading.source_file is not None:
            continue
        begin = reading.at if reading.kind == "now" else max(_before(rows[:i], reading), reading.at - LONGEST)
        low, middle, high = _planned(plans, reading, begin, zone)
        name = names[str(reading.shelter_id)]
        found.append(Compared(name, reading.at, reading.kind, k_to_c(reading.value_k), low, middle, high))
    return found


def _before(rows: Sequence[Reading], reading: Reading) -> datetime:
    """When this thermometer's lowest or highest was read, and set back, before."""
    same = [r.at for r in rows if (r.shelter_id, r.kind) == (reading.shelter_id, reading.kind) and r.at < reading.at]
    return same[-1] if same else reading.at - timedelta(days=1)


def _planned(
    plans: Mapping[tuple[str, date], PlannedDay], reading: Reading, begin: datetime, zone: ZoneInfo
) -> tuple[float | None, float | None, float | None]:
    """The likely range of the hour, or of the lowest or highest of the hours, that a reading tells of [degC]."""
    hours = []
    at = begin.replace(minute=0, second=0, microsecond=0)
    while at <= reading.at:
        plan = plans.get((str(reading.shelter_id), at.astimezone(zone).date()))
        i = round((at - plan.start) / HOUR) if plan else -1
        if plan and 0 <= i < len(plan.low_k) and plan.low_k[i] is not None:
            hours.append((plan.low_k[i], plan.middle_k[i], plan.high_k[i]))
        at += HOUR
    if not hours:
        return None, None, None
    pick = min if reading.kind == "min" else max
    low, middle, high = (k_to_c(pick(h[q] or 0.0 for h in hours)) for q in range(3))
    return low, middle, high
