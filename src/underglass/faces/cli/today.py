"""`underglass today`: what to do with lids, covers and water at the next visits, and whether to set something out."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from underglass.errors import InputError, SourceError
from underglass.faces.cli.options import Asked, household_of, progress_bar, sowing_date, uses_notebook
from underglass.faces.cli.words import degrees, short_name
from underglass.faces.web.speech import Speech

if TYPE_CHECKING:
    import numpy as np

    from underglass.notebook.records import LidAction
    from underglass.plan.household import Household
    from underglass.tend.setting import Setting
    from underglass.weather.outside import OutsideWeather

__all__ = ["run", "run_set_out"]

DEFAULT_FORECAST = "open-meteo"

KINDS = {
    "cold": "cold may kill: chance {value:.0%}",
    "heat": "heat may kill: chance {value:.0%}",
    "frozen leaves": "leaves freeze: do not touch or pick them before they have thawed{until}",
    "film on a clear night": "film and thin plastic let the ground's heat out on a clear night: hardly warmer inside than outside, at times colder; what must not freeze needs a cloth over it, or comes in",
    "gusts": "wind: a propped lid is a wing; latch or take it off, weigh down jugs and loose cloth ({value:.0f} m/s mean wind)",
    "snow": "snow, {snow}: clear it early, never stand under a loaded roof; no load is safe for hoops without a rating",
    "rain on snow": "rain on snow makes it many times heavier: clear the lid before it ({value:.0f} mm)",
    "damp": "damp and still for {value:.0f} h a day: mould; air it at the warmest visit",
}
"""Warnings in words; thresholds and sources are in the plan's data."""

SNOW_KG_M3 = (50.0, 200.0)
"""New snow, dry and wet (common practice: 50-200; settled and rained on 300 and more)."""

AT_RISK = 0.05
"""Chance of loss from which a crop is named."""

WORTH_SAYING_K = 0.5
"""From here on it is told that the ground's warmth is a guess."""

REMEDIES = {
    "visit at noon": "somebody looks in at noon",
    "self-opening arm": "a self-opening arm",
    "prop by hand": "a lid propped by hand at your visits instead of the arm",
    "fleece": "a fleece over the plants",
    "night cover": "an insulating cover at night",
    "fleece and night cover": "a fleece over the plants and an insulating cover at night",
}

BECAUSE = {
    "heat": "left as it is up to {high}",
    "cold": "left as it is down to {low}",
    "damp": "airs it: damp and still breeds mould",
    "growth": "grows better so",
    "warmth": "keeps the warmth in",
}
"""Why it is set so, in words."""


def run(
    asked: Asked, forecast: str | None, days: int, at: str | None, away: str | None, seed: int, *, as_json: bool
) -> None:
    """Fetch or read the forecast, plan, show."""
    household = _with_crops(household_of(asked), asked)
    now = _hour(at, household)
    exceptions, settings, lids = _kept(household, now) if uses_notebook(asked) else ({}, {}, {})
    exceptions |= {sowing_date(d.strip(), "--away"): () for d in away.split(",")} if away else {}
    with progress_bar() as progress:
        with ThreadPoolExecutor(
            2
        ) as pool:  # the service's two answers are waited for together, and the physics is loaded meanwhile
            ahead = pool.submit(_ahead, forecast, household, demo=asked.demo)
            spread = pool.submit(_members, forecast, household, demo=asked.demo)
            from underglass.services.today import day_plan

            (outside, note), members = ahead.result(), spread.result()
        answer = day_plan(
            household,
            now,
            outside,
            ensemble=members,
            days=days,
            exceptions=exceptions,
            settings_now=settings,
            lids=lids,
            seed=seed,
            progress=progress,
        )
    if note:
        answer["forecast"]["notes"].insert(0, note)
    if as_json:
        json.dump(answer, sys.stdout, indent=1)
        print()
        return
    print("\n".join(_lines(answer, household)))


def _kept(
    household: Household, now: np.datetime64
) -> tuple[dict[np.datetime64, tuple[float, ...]], dict[str, Setting], Mapping[str, Sequence[LidAction]]]:
    """What the notebook knows of the visits ahead, of how the lids are set, and of how they were worked."""
    from underglass.notebook.places import notebook_path
    from underglass.notebook.store import open_notebook
    from underglass.services.lids import exceptions_in, past_lids_in, settings_in

    with open_notebook(notebook_path()) as book:
        hour_ends = datetime.fromisoformat(f"{now}:00+00:00") + timedelta(
            hours=1
        )  # what was done within this hour counts
        return exceptions_in(book), settings_in(book, household.shelters, hour_ends), past_lids_in(book, hour_ends)


def run_set_out(
    asked: Asked, crop: str, forecast: str | None, at: str | None, before: str | None, seed: int, *, as_json: bool
) -> None:
    """Go or wait."""
    import numpy as np

    from underglass.services.set_out import set_out_question
    from underglass.services.why import named_shelter
    from underglass.shelter.presets import preset

    household = household_of(asked)
    now = _hour(at, household)
    bed = named_shelter(household, asked.shelter.split(",")[0]) if asked.shelter else preset("open")
    until = sowing_date(before, "--before") if before else now.astype("datetime64[D]") + np.timedelta64(30, "D")
    outside, note = _ahead(forecast, household, demo=asked.demo)
    answer = set_out_question(household, crop, bed, now, outside, until, seed=seed)
    if note:
        answer["notes"].insert(0, note)
    if as_json:
        json.dump(answer, sys.stdout, indent=1)
        print()
        return
    print("\n".join(_set_out_lines(answer, household.units)))


def _with_crops(household: Household, asked: Asked) -> Household:
    """Crops given on the command line stand, young, in every shelter."""
    if not asked.crop:
        return household
    from underglass.plan.household import StandingCrop

    standing = tuple(StandingCrop(c, s.name) for s in household.shelters for c in household.crops)
    return replace(household, standing=standing)


def _hour(at: str | None, household: Household) -> np.datetime64:
    """Now, or the local time typed, as a UTC hour."""
    import numpy as np

    zone = ZoneInfo(household.place.time_zone)
    if at is None:
        moment = datetime.now(UTC)
    else:
        try:
            moment = datetime.fromisoformat(at)
        except ValueError:
            raise InputError(f"--at is {at!r}: write date and time, as 2027-03-15T07:00") from None
        if not 1950 <= moment.year <= 2150:
            raise InputError(f"--at is {at}: expected a year from 1950 to 2150")
        moment = (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(UTC)
    return np.datetime64(moment.strftime("%Y-%m-%dT%H"), "h")


def _ahead(name: str | None, household: Household, *, demo: bool) -> tuple[OutsideWeather | None, str]:
    """The forecast asked for, and a note where something else had to stand in."""
    from underglass.sources.by_name import FORECASTS, forecast_by_name
    from underglass.sources.files import read_weather_file

    if name == "climate" or (name is None and demo):
        return None, ""
    wanted = DEFAULT_FORECAST if name is None else name
    if wanted not in FORECASTS:
        if Path(wanted).suffix == "":
            raise InputError(f"--forecast is {wanted!r}: expected {', '.join(FORECASTS)}, climate, or a weather file")
        return read_weather_file(wanted, place=household.place), ""
    try:
        return forecast_by_name(wanted, household.place), ""
    except SourceError as error:
        if name is not None:
            raise
        return None, f"no forecast could be had ({error})"


def _members(name: str | None, household: Household, *, demo: bool) -> tuple[OutsideWeather, ...]:
    """The service's ensemble where it has one."""
    from underglass.sources.by_name import FORECASTS, ensemble_by_name

    wanted = DEFAULT_FORECAST if name is None else name
    return ensemble_by_name(wanted, household.place) if wanted in FORECASTS and not (name is None and demo) else ()


def _lines(answer: Mapping[str, Any], household: Household) -> list[str]:
    units, zone = household.units, ZoneInfo(household.place.time_zone)
    ahead = answer["forecast"]
    lines = [f"{answer['household']}, {_clock(answer['now'], zone)}: the next {ahead['hours']} hours", _source(ahead)]
    lines += [f"  {note}" for note in ahead["notes"]]
    for part in answer["shelters"]:
        lines += ["", *_shelter_lines(part, units, zone)]
    for tray in answer["hardening"]:
        lines += ["", f"Hardening off {short_name(tray['name'])}: " + "; ".join(_hardening(d) for d in tray["days"])]
    lines += ["", *(f"Caution: {c['text']}" for c in answer["cautions"])]
    return lines


def _source(ahead: Mapping[str, Any]) -> str:
    if ahead["kind"] == "climate":
        return "The climate's usual days, not a forecast."
    fetched = ""
    if ahead["fetched"]:
        hours = (datetime.now(UTC) - datetime.fromisoformat(ahead["fetched"])) / timedelta(hours=1)
        age = "just now" if hours < 1.0 else f"{hours:.0f} h ago" if hours < 48.0 else f"{hours / 24.0:.0f} days ago"
        fetched = f", fetched {ahead['fetched'][:16].replace('T', ' ')} UTC, {age}"
    licence = f"  {ahead['licence']}." if ahead["licence"] else ""
    spread = f"with its usual errors as {ahead['members']} possible weathers"
    if ahead["kind"] == "ensemble":
        spread = f"with its own {ahead['members']} members"
    return f"Forecast: {ahead['source']}{fetched}, {spread}.{licence}"


def _shelter_lines(part: Mapping[str, Any], units: str, zone: ZoneInfo) -> list[str]:
    if not part["standing"]:
        return [f"{part['shelter'].upper()}  nothing stands there"]
    stands = ", ".join(f"{short_name(s['name'])} ({s['stage']})" for s in part["standing"])
    lines = [f"{part['shelter'].upper()}  {'assumed: ' if part['assumed'] else ''}{stands}"]
    where = "at the bed" if part["outdoors"] else "inside"
    for does, run in groupby(part["steps"], lambda step: _does(step, part, units)):
        first, *rest = run
        lines.append(_step_line(_clock(first["from"], zone), does, [first], units, where))
        if rest:
            until = f"to {_clock(rest[-1]['until'], zone)}"
            lines.append(_step_line(until, "leave it so", rest, units, where, said=first["reason"]))
    nothing, risk = part["if_nothing"], part["risk"]
    lines.append(
        f"  Chance of loss: cold {risk['cold']:.0%}, heat {risk['heat']:.0%}; with nothing done: cold {nothing['cold']:.0%}, "
        f"heat {nothing['heat']:.0%} (up to {degrees(nothing['hottest_c'], units)}, down to {degrees(nothing['coldest_c'], units)})."
    )
    lines += [*_at_risk(part), *_what_helps(part)]
    for warning in part["warnings"]:
        if warning["kind"] not in ("cold", "heat"):
            text = KINDS[warning["kind"]].format(**_in_words(warning, units, zone))
            lines.append(f"  {_clock(warning['time'], zone)}: {text}.")
    ground = part["ground"]
    if ground["night_k"] >= WORTH_SAYING_K:
        apart = f"{1.8 * ground['night_k']:.0f} °F" if units == "f" else f"{ground['night_k']:.1f} K"
        lines.append(
            f"  The soil's warmth is partly a guess: {ground['known_days']} days of weather are known; it may move the coldest night by {apart}."
        )
    return [*lines, f"  {_water(part['water'], units)}"]


def _step_line(
    when: str, does: str, steps: Sequence[Mapping[str, Any]], units: str, where: str, *, said: str | None = None
) -> str:
    """What to do, the range that it brings over some steps, and why.  where : of that range;  said : the reason that stands one line above"""
    outside = _between(
        min(s["outside_low_c"]["p10"] for s in steps), max(s["outside_high_c"]["p90"] for s in steps), units
    )
    inside = _between(
        min(s["inside_low_c"]["p10"] for s in steps), max(s["inside_high_c"]["p90"] for s in steps), units
    )
    return f"  {when:<13} {does:<34} outside {outside}, {where} {inside}{_because(steps, units, said)}"


def _in_words(warning: Mapping[str, Any], units: str, zone: ZoneInfo) -> dict[str, Any]:
    """What stands in a warning's sentence: its value, when it is over, and snow by depth and weight."""
    value, until = warning["value"], warning["until"]
    over = f", about {_clock(until, zone)}" if until else ", which they do not in these days"
    light, heavy = (value * density for density in SNOW_KG_M3)
    if units == "f":
        snow = f"{value / 0.0254:.0f} in, {light / 4.88:.0f} to {heavy / 4.88:.0f} pounds on a square foot"
    else:
        snow = f"{100.0 * value:.0f} cm, {light:.0f} to {heavy:.0f} kg on a square metre"
    return {"value": value, "until": over, "snow": f"{snow} as it falls, more when wet"}


def _at_risk(part: Mapping[str, Any]) -> list[str]:
    """Which crops are at risk under the plan, and of what."""
    said = []
    for s in part["standing"]:
        chances = [f"{what} {s[what]:.0%}" for what in ("cold", "heat") if s[what] >= AT_RISK]
        if chances:
            said.append(f"{short_name(s['name'])} ({s['stage']}) {', '.join(chances)}")
    return [f"  At risk: {'; '.join(said)}."] if said else []


def _what_helps(part: Mapping[str, Any]) -> list[str]:
    """What else would help, and how far; said plainly where nothing takes the risk away."""
    risk, said, enough = part["risk"], [], False
    for r in part["remedies"]:
        then = f"cold {r['cold']:.0%}, heat {r['heat']:.0%}"
        if then == f"cold {risk['cold']:.0%}, heat {risk['heat']:.0%}":
            then = "not fewer lost, but less strain and more growth"
        word = "Would help"
        if r["removes"] and max(risk["cold"], risk["heat"]) > AT_RISK:
            word, enough = "So would" if enough else "The cheapest that takes the risk away", True
        said.append(f"  {word}: {REMEDIES[r['what']]} ({then}).")
    if max(risk["cold"], risk["heat"]) > AT_RISK and not enough:
        said.append(
            "  Nothing here takes the risk away: pick what is ready, and bring in what can be carried or dug up with its roots."
        )
    return said


def _between(low_c: float, high_c: float, units: str) -> str:
    return f"{degrees(low_c, units)[:-3]}…{degrees(high_c, units)}"


def _clock(stamp: str, zone: ZoneInfo) -> str:
    local = datetime.fromisoformat(f"{stamp}:00+00:00").astimezone(zone)
    return local.strftime("%a %H:%M")


def _does(step: Mapping[str, Any], part: Mapping[str, Any], units: str) -> str:
    """The setting as something to do."""
    gap, carried = step["gap_m"], ["trays in"] if step["trays_in"] else []
    if part["lid"] is None:
        return ", ".join([*(["fleece on"] if step["fleece"] else []), *carried]) or "nothing to set"
    lid = "the arm opens it" if part["lid"] in ("arm", "perfect", "rule") else "shut"
    if step["off"]:
        lid = "lid off"
    elif gap >= 0.999 * part["full_gap_m"]:
        lid = "wide open"
    elif gap > 0.0:
        lid = f"prop {gap / 0.0254:.0f} in" if units == "f" else f"prop {100.0 * gap:g} cm"
    extras = [word for word, on in (("night cover on", step["night_cover"]), ("fleece on", step["fleece"])) if on]
    return ", ".join([lid, *extras, *carried])


def _because(steps: Sequence[Mapping[str, Any]], units: str, said: str | None) -> str:
    """Why it is set so; nothing where there is nothing to set.  Of several days the hottest, the coldest is told."""
    whys = [step["reason"] for step in steps if step["reason"] is not None]
    why = "heat" if "heat" in whys else next(iter(whys), None)
    if why is None or why == said != "heat":
        return ""
    low, high = min(step["if_left_low_c"] for step in steps), max(step["if_left_high_c"] for step in steps)
    return f" ({BECAUSE[why].format(low=degrees(low, units), high=degrees(high, units))})"


def _water(water: Mapping[str, Any], units: str) -> str:
    if water["frozen"]:
        return "Water: nothing, the soil is frozen."
    bed, cell = water["bed_days"], water["cell_days"]
    return (
        f"Water: about {Speech('en', units).water_need(water['mm_per_day'])}; a watered bed lasts {min(bed, 60):.0f} days, "
        f"a cell {min(cell, 30):.0f}; a finger {'1 in' if units == 'f' else '2 cm'} deep decides (estimate)."
    )


def _hardening(day: Mapping[str, Any]) -> str:
    if day["hours"] == 0:
        return f"{day['date'][5:]} {'over for today' if day['why'] == 'late' else 'in (' + day['why'] + ')'}"
    night = ", and overnight" if day["overnight"] else ""
    return f"{day['date'][5:]} out for {day['hours']} h from {day['from_h']}:00{night}"


def _set_out_lines(answer: Mapping[str, Any], units: str) -> list[str]:
    years = (
        f"{answer['from_climate']:.0%} after it, by {answer['climate_years']} years of the climate"
        if answer["climate_years"]
        else ""
    )
    lines = [
        f"{answer['name']} out to {answer['bed']}: {answer['word'].upper()}.",
        f"Chance of a night that kills a hardened-off plant before {answer['before']}: {answer['chance']:.0%} "
        f"({answer['from_forecast']:.0%} within the forecast's {answer['forecast_hours'] // 24} days{', ' + years if years else ''}); "
        f"we say go up to {answer['threshold']:.0%}.",
        f"It dies near {degrees(answer['kill_c'], units)} at the leaf; the coldest leaf ahead is {degrees(answer['coldest_leaf_c'], units)} "
        f"(one in ten).  It wants nights of {degrees(answer['warm_enough_night_c'], units)} or more; the coldest ahead has {degrees(answer['nights_c'], units)}.",
    ]
    if answer["word"] == "go" and answer["nights_c"] < answer["warm_enough_night_c"]:
        lines.append("It will live, but stand still until nights are warmer; waiting loses little.")
    return lines + [f"  {note}" for note in answer["notes"]]
