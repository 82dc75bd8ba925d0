"""What Today shows of what was recorded: how each shelter is set, which buttons it has, and yesterday's plan beside what was read."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from underglass.faces.web.show import Shown
from underglass.notebook.records import LidAction, ShelterRecord
from underglass.notebook.store import Notebook
from underglass.services.lids import STILL_SO, settings_in
from underglass.services.planned import Compared, compared
from underglass.shelter.model import OpenGround, Shelter
from underglass.tend.setting import Setting
from underglass.units import INCH_M

__all__ = ["Beside", "buttons", "clock", "length", "next_step", "recorded"]

SETTING = ("gap_m", "night_cover", "fleece", "off", "trays_in")
"""What a step of the plan sets."""

GAPS_C, GAPS_F = (0.025, 0.05, 0.10, 0.20), (INCH_M, 2 * INCH_M, 4 * INCH_M, 8 * INCH_M)
"""Gaps that have a button of their own [m]."""


def clock(local: datetime, show: Shown) -> str:
    """Weekday and time."""
    return f"{show.say(f'weekday.{local.weekday()}')} {local:%H:%M}"


def length(gap_m: float, show: Shown) -> str:
    """A gap in the chosen unit."""
    return f"{gap_m / INCH_M:.0f} in" if show.units == "f" else f"{100.0 * gap_m:.2g} cm"


def buttons(shelter: Shelter, trays: bool, show: Shown) -> list[tuple[str, str]]:
    """What else can be done to a shelter with one tap: the value that is sent, and the words."""
    say, found = show.say, list[tuple[str, str]]()
    if not isinstance(shelter.shape, OpenGround) and shelter.room is None:
        gaps = GAPS_F if show.units == "f" else GAPS_C
        found += [("shut", say("setting.shut"))]
        found += [(f"{g:.4g}", f"{say('setting.gap')} {length(g, show)}") for g in gaps if g < shelter.lid.full_gap_m]
        found += [("open", say("setting.open")), ("off", say("setting.off"))]
    if shelter.night_cover is not None:
        found += [(s, say(f"setting.{s}")) for s in ("cover on", "cover off")]
    if shelter.fleece is not None:
        found += [(s, say(f"setting.{s}")) for s in ("fleece on", "fleece off")]
    if trays:
        found += [(s, say(f"setting.{s}")) for s in ("trays in", "trays out")]
    return found


def in_words(setting: Setting, shelter: Shelter, show: Shown) -> str:
    """How a shelter is set, as it was recorded."""
    say = show.say
    if setting.off:
        lid = say("setting.off")
    elif setting.gap_m >= 0.999 * shelter.lid.full_gap_m:
        lid = say("setting.open")
    elif setting.gap_m > 0.0:
        lid = f"{say('setting.gap')} {length(setting.gap_m, show)}"
    else:
        lid = say("setting.shut")
    covers = (("cover on", setting.night_cover), ("fleece on", setting.fleece), ("trays in", setting.trays_in))
    return ", ".join([lid, *(say(f"setting.{word}") for word, on in covers if on)])


def next_step(part: Mapping[str, Any], now: Setting | None) -> Mapping[str, Any] | None:
    """The step of the plan that is to be done next: the first that differs from how the shelter is set; None where all stays so."""
    for step in part["steps"]:
        if now is None or Setting(**{key: step[key] for key in SETTING}) != now:
            return dict(step)
    return None


class Beside:
    """The records beside a plan, read once for a page."""

    def __init__(self, notebook: Notebook, shelters: Sequence[Shelter], now: datetime, zone: ZoneInfo) -> None:
        names = {s.id: s.name for s in notebook.find(ShelterRecord)}
        self.settings = settings_in(notebook, shelters, now)
        self.last: dict[str, LidAction] = {
            names[a.shelter_id]: a
            for a in notebook.find(LidAction, "at > ? AND at <= ?", now - STILL_SO, now, order="at, rowid")
        }
        yesterday = now.astimezone(zone).date() - timedelta(days=1)
        self.read = compared(notebook, yesterday, now, zone)


def recorded(shelter: Shelter, beside: Beside, part: Mapping[str, Any], show: Shown, zone: ZoneInfo) -> dict[str, Any]:
    """What the page shows of a shelter's records, and the ids of its forms."""
    now, last = beside.settings.get(shelter.name), beside.last.get(shelter.name)
    taps = buttons(shelter, any(s["in_tray"] for s in part["standing"]), show)
    step = next_step(part, now) if taps else None
    return {
        "todo": step["from"] if step else None,
        "set_at": clock(last.at.astimezone(zone), show) if last and now is not None else "",
        "set_to": in_words(now, shelter, show) if now is not None else "",
        "buttons": taps,
        "ids": [uuid.uuid4().hex for _ in range(3)],
        "read": [_told(c, show, zone) for c in beside.read if c.shelter == shelter.name],
    }


def _told(c: Compared, show: Shown, zone: ZoneInfo) -> dict[str, str]:
    """A reading beside the plan, in words."""
    say = show.say
    if c.low_c is None or c.high_c is None:
        planned, verdict = "", say("today.not_planned")
    else:
        planned = f"{show.degrees(c.low_c)} … {show.degrees(c.high_c)}"
        key = "as_planned" if abs(c.beyond_k) < 0.5 else "warmer" if c.beyond_k > 0 else "colder"
        verdict = say(f"today.{key}", by=show.difference(abs(c.beyond_k)).lstrip("+"))
    return {
        "when": clock(c.at.astimezone(zone), show),
        "kind": say(f"kind.{c.kind}"),
        "read": show.degrees(c.read_c),
        "planned": planned,
        "verdict": verdict,
    }
