"""What the notebook tells of lids: how each shelter is set now, how it was worked, and the days on which somebody comes at other times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from underglass.notebook.records import LidAction, ShelterRecord, VisitException
from underglass.notebook.store import Notebook
from underglass.services.forecast import PAST_H
from underglass.shelter.model import Shelter
from underglass.shelter.working import BY_HAND, Handling, can_be_bared, own_handling
from underglass.tend.setting import Setting
from underglass.weather.outside import OutsideWeather

__all__ = ["STILL_SO", "exceptions_in", "handling_in", "handling_of", "lids_in", "past_lids_in", "settings_in"]

STILL_SO = timedelta(days=7)
"""What was done to a lid longer ago is not taken for how it is now (estimate: a family that records, records more often)."""

HOLDS_H = 24
"""What was noted of a lid holds until the next note, and a day at most: who notes the opening may forget to note the shutting (estimate)."""


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


def lids_in(notebook: Notebook, since: datetime, until: datetime) -> Mapping[str, tuple[LidAction, ...]]:
    """What was done to lids and covers from `since` on and before `until`, in order, by the shelter's name."""
    names = {s.id: s.name for s in notebook.find(ShelterRecord)}
    found: dict[str, tuple[LidAction, ...]] = {}
    for action in notebook.find(LidAction, "at >= ? AND at < ?", since, until, order="at, rowid"):
        name = names[action.shelter_id]
        found[name] = (*found.get(name, ()), action)
    return found


def past_lids_in(notebook: Notebook, now: datetime) -> Mapping[str, tuple[LidAction, ...]]:
    """What was done to lids and covers in the days that today's plan begins with, by the shelter's name."""
    return lids_in(notebook, now - timedelta(hours=PAST_H), now)


def handling_in(notebook: Notebook, shelter: Shelter, outside: OutsideWeather) -> Handling | None:
    """How a shelter was worked in the hours of `outside`: as noted where it was, else its own ways.  None where nothing was noted."""
    start = _start(outside)
    noted = lids_in(notebook, start, start + timedelta(hours=outside.n_hours))
    return handling_of(noted.get(shelter.name, ()), shelter, outside)


def _start(outside: OutsideWeather) -> datetime:
    return datetime.fromisoformat(f"{outside.start.astype('datetime64[h]')}:00+00:00")


def handling_of(noted: Sequence[LidAction], shelter: Shelter, outside: OutsideWeather) -> Handling | None:
    """How a shelter was worked in the hours of `outside`, by what was `noted` of it, in order; see handling_in."""
    start = _start(outside)
    end = start + timedelta(hours=outside.n_hours)
    actions = [a for a in noted if start <= a.at < end]
    if not actions:
        return None
    own = own_handling(shelter, outside)
    gap, cover, fleece = own.gap.copy(), own.night_cover.copy(), own.fleece.copy()
    hours = [min(round((a.at - start) / timedelta(hours=1)), outside.n_hours - 1) for a in actions]
    setting, held_until = Setting(), 0
    for action, first, following in zip(actions, hours, [*hours[1:], outside.n_hours], strict=True):
        if first >= held_until:
            setting = Setting(float(own.gap[first]), own.night_cover[first] > 0.0, own.fleece[first] > 0.0)
        setting, held_until = _after(setting, action, shelter), first + HOLDS_H
        held = slice(first, min(held_until, following))
        cover[held], fleece[held] = float(setting.night_cover), float(setting.fleece)
        if shelter.lid.working in BY_HAND:
            gap[held] = setting.gap_m
    return Handling(gap, cover, fleece, own.swept)


def _after(before: Setting, action: LidAction, shelter: Shelter) -> Setting:
    """The setting after an action.  A lid that can't be taken off counts as fully open; a cover the shelter does not have is not laid."""
    match action.setting:
        case "shut":
            return replace(before, gap_m=0.0, off=False)
        case "gap":
            return replace(before, gap_m=min(action.gap_m or 0.0, shelter.lid.full_gap_m), off=False)
        case "open" | "off":
            off = action.setting == "off" and can_be_bared(shelter)
            return replace(before, gap_m=shelter.lid.full_gap_m, off=off)
        case "cover on" | "cover off":
            return replace(before, night_cover=action.setting == "cover on" and shelter.night_cover is not None)
        case "fleece on" | "fleece off":
            return replace(before, fleece=action.setting == "fleece on" and shelter.fleece is not None)
        case "trays in" | "trays out":
            return replace(before, trays_in=action.setting == "trays in")
