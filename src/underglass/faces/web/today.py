"""Today: the lid plan as sentences for each shelter with buttons to record what was done, the hour strip, warnings, water, readings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import Response

from underglass.faces.charts.hour_strip import LidTime, hour_strip
from underglass.faces.web.desk import Desk
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.records import KINDS
from underglass.faces.web.show import Shown, page
from underglass.faces.web.today_records import Beside, clock, recorded
from underglass.faces.web.work import wait

__all__ = ["router", "show_today"]

AT_RISK = 0.05
"""Chance of loss from which it is told what takes it away, or that nothing does."""


def _setting(show: Shown, part: dict[str, Any], step: dict[str, Any], *, brief: bool = False) -> str:
    """What to do at a visit, in words; brief as it stands in the strip."""
    say, gap, kind = show.say, step["gap_m"], "today.strip_" if brief else "today."
    if part["lid"] is None:
        lid = say("today.nothing_to_set")
    elif step["off"]:
        lid = say(f"{kind}off")
    elif gap >= 0.999 * part["full_gap_m"]:
        lid = say(f"{kind}open")
    elif gap > 0.0:
        length = f"{gap / 0.0254:.0f} in" if show.units == "f" else f"{100.0 * gap:.0f} cm"
        lid = say(f"{kind}prop", gap=length)
    else:
        lid = say(f"{kind}{'arm' if part['lid'] in ('arm', 'perfect', 'rule') else 'shut'}")
    extras = [say(f"{kind}{key}") for key in ("night_cover", "fleece", "trays_in") if step[key]]
    return (" + " if brief else ", ").join([lid, *extras])


def _lids(show: Shown, part: dict[str, Any]) -> list[LidTime]:
    """How the lid stands over the hours of the strip; equal neighbours are one."""
    start = datetime.fromisoformat(part["hours"]["start"])
    times: list[LidTime] = []
    for step in part["steps"] if part["lid"] is not None else ():
        first, last = (
            int((datetime.fromisoformat(step[k]) - start).total_seconds() // 3600) for k in ("from", "until")
        )
        words, share = _setting(show, part, step, brief=True), step["gap_m"] / part["full_gap_m"]
        if times and times[-1].words == words:
            first = times.pop().first
        times.append(LidTime(first, last, words, share))
    return times


def _clock(stamp: str, show: Shown, zone: ZoneInfo) -> str:
    return clock(datetime.fromisoformat(f"{stamp}:00+00:00").astimezone(zone), show)


def _warning(show: Shown, warning: dict[str, Any], zone: ZoneInfo) -> str:
    """A warning in words, with the time at which it is over where that is known."""
    said = show.say(f"warning.{warning['kind']}")
    return (
        f"{said}. {show.say('today.thawed', when=_clock(warning['until'], show, zone))}" if warning["until"] else said
    )


def _plan(show: Shown, part: dict[str, Any], zone: ZoneInfo) -> dict[str, Any]:
    """One shelter as the template shows it; visits that leave everything as it is are left out."""
    steps, before = [], ""
    for step in part["steps"]:
        does = _setting(show, part, step)
        if does != before:
            steps.append({**step, "does": does, "when": _clock(step["from"], show, zone)})
        before = does
    warnings = [{"say": _warning(show, w, zone), "when": _clock(w["time"], show, zone)} for w in part["warnings"]]
    name = show.shelter(part["shelter"])
    strip = hour_strip(
        part["hours"],
        _lids(show, part),
        zone,
        show.say("today.strip", shelter=name),
        show.say,
        show.degrees,
        outdoors=part["outdoors"],
    )
    hours = [
        {"when": _clock(step["from"], show, zone), "step": step, "does": _setting(show, part, step)}
        for step in part["steps"]
    ]
    risks = [[round(100 * part[way][kind]) for kind in ("cold", "heat")] for way in ("risk", "if_nothing")]
    at_risk = max(part["risk"]["cold"], part["risk"]["heat"]) > AT_RISK
    return {
        **part, "plan": steps, "said": warnings, "strip": strip, "every": hours, "matters": risks[0] != risks[1], "at_risk": at_risk,
    }  # fmt: skip


def show_today(
    desk: Desk, request: Request, status: int = 200, fault: str = "", typed: Mapping[str, str] | None = None
) -> Response:
    """The page; while a new plan is worked out the last one stands there."""
    household = desk.household()
    if household is None:
        return nobody_yet(request, desk)
    job = desk.day_plan()
    fresh = job.done and not job.fault
    plan = job.answer if fresh else desk.last_plan()
    if plan is None:
        return wait(request, desk, "today", job)
    show, zone = Shown(request, desk), ZoneInfo(household.place.time_zone)
    shelters = {s.name: s for s in household.shelters}
    with desk.home.open() as notebook:
        beside = Beside(notebook, household.shelters, desk.now(), zone)
    parts = [
        _plan(show, p, zone) | {"beside": recorded(shelters[p["shelter"]], beside, p, show, zone)}
        for p in plan["shelters"]
        if p["standing"] and p["shelter"] in shelters
    ]
    empty = [p["shelter"] for p in plan["shelters"] if not p["standing"]]
    job.back = "/today"
    return page(
        request, desk, "today.html", status, here="today", plan=plan, parts=parts, empty=empty, fault=fault, typed=defaultdict(str, typed or {}),
        now=_clock(plan["now"], show, zone), kinds=KINDS, job=None if fresh else job,
    )  # fmt: skip


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/today")
    def today(request: Request) -> Response:
        return show_today(desk, request)

    return routes
