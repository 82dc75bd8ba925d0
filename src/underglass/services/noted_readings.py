"""What the notebook's readings say, as the fit of a shelter takes them: by probe, with the span of each lowest and highest."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.notebook.records import Reading
from underglass.notebook.store import Notebook
from underglass.services.household_store import household_record, shelter_named
from underglass.shelter.tune_types import Readings, Sunlit

__all__ = ["need_readings", "noted_readings"]

SEASON = timedelta(days=120)
"""Readings so long before the newest one are left alone unless asked for: a shelter ages, and its soil dries and wets (estimate)."""

LONGEST_S = 7 * 86400
"""The longest time that a lowest or highest is taken to speak for, where the reading before is older or there is none (estimate)."""

FIRST_S = 86400
"""What the first lowest or highest of a thermometer speaks for: the day before it (common practice: set back once a day)."""

DEFAULT_DEPTH_M = 0.10


def noted_readings(
    notebook: Notebook, shelter: str, *, since: date | None = None, by_hand_only: bool = False
) -> tuple[tuple[Readings, ...], tuple[str, ...]]:
    """The readings noted of a shelter and of the air outside, and a sentence for each probe.

    since : day from which they count; default the season up to the newest;  by_hand_only : without those from loggers' files
    Raises InputError where the notebook does not know the shelter.
    """
    place = shelter_named(notebook, shelter)
    found = notebook.find(Reading, "shelter_id = ? OR shelter_id IS NULL", place.id, order="at, rowid")
    if by_hand_only:
        found = [r for r in found if r.source_file is None]
    inside = [r for r in found if r.shelter_id is not None]
    if not inside:
        return (), ()
    zone = ZoneInfo(household_record(notebook).time_zone)
    first = inside[-1].at - SEASON if since is None else datetime(since.year, since.month, since.day, tzinfo=zone)
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for r in found:
        if r.at >= first:
            groups.setdefault((r.source_file, r.probe, r.depth_m, r.height_m, r.kind), []).append(r)
    sunlit = {key[:4]: _sunlit([r for k, rows in groups.items() if k[:4] == key[:4] for r in rows]) for key in groups}
    made = [_readings(rows, sunlit[key[:4]]) for key, rows in groups.items()]
    return tuple(made), tuple(_sentence(r, zone) for r in made)


def _sunlit(rows: Sequence[Reading]) -> Sunlit:
    """A thermometer that the sun reached once hangs where it can; shaded is one of which that was always said."""
    if any(r.in_sun for r in rows):
        return "sun"
    return "shade" if all(r.in_sun is False for r in rows) else "unknown"


def _name(r: Reading) -> str:
    """One name for one thermometer; its lowest and highest belong together."""
    words: list[str] = [r.probe]
    if r.probe == "soil":
        words.append(f"{100 * (r.depth_m or DEFAULT_DEPTH_M):.0f} cm deep")
    elif r.height_m is not None:
        words.append(f"{100 * r.height_m:.0f} cm high")
    return " ".join([*words, f"({r.source_file or 'noted'})"])


def _readings(rows: Sequence[Reading], sunlit: Sunlit) -> Readings:
    r = rows[0]
    at = np.array([int(x.at.timestamp()) for x in rows], dtype=np.int64)
    depth_m = (DEFAULT_DEPTH_M if r.depth_m is None else r.depth_m) if r.probe == "soil" else 0.0
    return Readings(
        _name(r), r.probe, at, np.array([x.value_k for x in rows]), depth_m, sunlit,
        "moment" if r.kind == "now" else "lowest" if r.kind == "min" else "highest",
        None if r.kind == "now" else _since(at), r.height_m, r.source_file is None,
    )  # fmt: skip


def _since(at: NDArray[np.int64]) -> NDArray[np.int64]:
    """When the thermometer was set back last: at the reading before, unless that is long ago."""
    before = np.concatenate([at[:1] - FIRST_S, at[:-1]])
    return np.asarray(np.maximum(np.minimum(before, at - 3600), at - LONGEST_S))


def _sentence(r: Readings, zone: ZoneInfo) -> str:
    first, last = (datetime.fromtimestamp(int(s), UTC).astimezone(zone).date() for s in (r.at_s[0], r.at_s[-1]))
    kind = {"moment": "readings", "lowest": "lowest", "highest": "highest"}[r.kind]
    said = {"sun": ", in the sun", "shade": ", shaded", "unknown": ""}[r.sunlit]
    return f"from the notebook: {r.probe.removesuffix(' (noted)')}: {r.n_readings} {kind}, {first} to {last}{said}"


def need_readings(readings: Sequence[Readings], shelter: str) -> None:
    """Raises InputError where there is nothing to learn from."""
    if not any(r.spot != "outside" for r in readings):
        raise InputError(
            f"the notebook has no readings of the {shelter}: add --readings FILE, or note some first, "
            f'as: underglass note read "{shelter}" 3.5C'
        )
