"""What the notebook tells the lid plan: how each shelter is set now, and the days on which somebody comes at other times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from underglass.notebook.records import LidAction, ShelterRecord, VisitException
from underglass.notebook.store import Notebook
from underglass.shelter.model import Shelter
from underglass.tend.lidplan import Setting

__all__ = ["exceptions_in", "settings_in"]

STILL_SO = timedelta(days=7)
"""What was done to a lid longer ago is not taken for how it is now (estimate: a family that records, records more often)."""


def exceptions_in(notebook: Notebook) -> dict[np.datetime64, tuple[float, ...]]:
    """Visiting hours by date (datetime64[D]) for the days that differ; empty where nobody is home."""
    return {np.datetime64(v.on): v.hours for v in notebook.find(VisitException)}


def settings_in(notebook: Notebook, shelters: Sequence[Shelter], at: datetime) -> dict[str, Setting]:
    """How shelters are set at a time, by name, from what was recorded in the week before; those without a record are left out."""
    names = {s.id: s.name for s in notebook.find(ShelterRecord)}
    by_name, found = {s.name: s for s in shelters}, dict[str, Setting]()
    for action in notebook.find(LidAction, "at > ? AND at <= ?", at - STILL_SO, at, order="at, rowid"):
        shelter = by_name.get(names[action.shelter_id])
        if shelter is not None:
            found[shelter.name] = _after(found.get(shelter.name, Setting()), action, shelter)
    return found


def _after(before: Setting, action: LidAction, shelter: Shelter) -> Setting:
    """The setting after an action.  A lid that was taken off counts as fully open; a cover the shelter does not have is not laid."""
    match action.setting:
        case "shut":
            return replace(before, gap_m=0.0)
        case "gap":
            return replace(before, gap_m=min(action.gap_m or 0.0, shelter.lid.full_gap_m))
        case "open" | "off":
            return replace(before, gap_m=shelter.lid.full_gap_m)
        case "cover on" | "cover off":
            return replace(before, night_cover=action.setting == "cover on" and shelter.night_cover is not None)
        case "fleece on" | "fleece off":
            return replace(before, fleece=action.setting == "fleece on" and shelter.fleece is not None)
        case _:
            return before
