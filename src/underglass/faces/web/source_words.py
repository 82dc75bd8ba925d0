"""Where numbers come from, in the language of a phone: weather and its notes, and the words around a citation.

A published work keeps its own name and language; what we say of it ourselves (an estimate, from memory, seen in part) is translated.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from underglass.faces.web.fault_words import fault
from underglass.faces.web.worded import Patterns, worded

if TYPE_CHECKING:
    from underglass.faces.web.speech import Speech

__all__ = ["cited", "layer", "note", "weather"]

WEATHER: Patterns = (
    ("year", r"1 generated year from (?P<rest>.+)"),
    ("years", r"(?P<n>\d+) generated years from (?P<rest>.+)"),
    ("frost", r"a known last frost \((?P<day>\d\d-\d\d)\) on top of (?P<rest>.+)"),
    ("typed", r"monthly values typed in; spread and the rest from (?P<rest>.+)"),
    ("normals", r"monthly normals of (?P<rest>.+)"),
    ("map", r"ERA5 monthly means (?P<span>[\d-]+) on a 0.25 degree grid, corrected for elevation"),
    ("record", r"a daily record"),
)

NOTES: Patterns = (
    ("no_forecast", r"no forecast: this is what the climate brings at this time of year, not what tomorrow brings"),
    ("had_none", r"no forecast could be had \((?P<fault>.+)\)"),
    ("colder", r"nights like those of the last frost were made (?P<kelvin>[\d.]+) °C .+ colder than on the map .+"),
    ("milder", r"nights like those of the last frost were made (?P<kelvin>[\d.]+) °C .+ milder than on the map .+"),
    ("days_known", r"(?P<n>\d+) days before now are known; the soil's heat before them is the climate's"),
    ("kept_reply", r"(?P<service>[^:]+): .+; using the reply of (?P<at>[\d-]+ [\d:]+) UTC, .+ old"),
    ("no_rain", r"no precipitation in this (record|source): taken as none"),
    ("rain_gaps", r"precipitation missing in (?P<n>\d+) hours, taken as none"),
    ("left_out", r".+ has long gaps and was left out"),
    ("days_out", r"(?P<n>\d+) days with Tmin above Tmax left out"),
    ("far", r"weather of (?P<name>.+), (?P<km>\d+) km from the place"),
    ("from_normals", r".+ from the place's normals, as the days do not say"),
    ("odd_year", r"\d+ hours, \d+ (short of|more than) .+: is a row missing or twice\?"),
)

STATUS = re.compile(r" \(((?:opened|partly|from memory|estimate|common practice)[^()]*(?:\([^()]*\))?)\)(?=;|$)")
"""What the catalogue's list of sources says of one: whether its authors saw it."""


def weather(text: str, show: Speech) -> str:
    """The name of a weather; a service's or a file's own name stays."""
    return worded(text, WEATHER, "weather", show, _told) or text


def layer(text: str, show: Speech) -> str:
    """What kind of weather it is."""
    return show.say(f"layer.{text.replace(' ', '_')}", or_else=text)


def note(text: str, show: Speech) -> str:
    """A remark on the weather."""
    return worded(text, NOTES, "weather_note", show, _told) or fault(text, show)


def cited(text: str, show: Speech) -> str:
    """A citation with our own words around it translated."""
    parts = re.split(r"; (?![^(]*\))", STATUS.sub(lambda found: f" ({_status(found[1], show)})", text))
    return "; ".join(dict.fromkeys(show.say(f"cited.{part}", or_else=part) for part in _bare(parts, show)))


def _bare(parts: list[str], show: Speech) -> list[str]:
    """What is nothing but our own word for itself is said once."""
    own = {
        f"estimate made for this catalogue ({show.say('status.estimate')})": "estimate made for this catalogue",
        f"general horticultural knowledge ({show.say('status.memory')})": "from memory",
        f"common practice ({show.say('status.practice')})": "common practice",
    }
    return [own.get(part, part) for part in parts]


def _status(words: str, show: Speech) -> str:
    for begins, key in (("from memory", "memory"), ("estimate", "estimate"), ("common practice", "practice")):
        if words.startswith(begins):
            return show.say(f"status.{key}")
    return show.say("status.seen" if words == "opened" else "status.partly")


def _told(name: str, value: str, show: Speech) -> str:
    if name == "rest":
        return weather(value, show)
    if name == "day":
        return show.day(value)
    if name == "kelvin":
        return show.difference(float(value)).lstrip("+")
    if name == "fault":
        return fault(value, show).rstrip(".")
    if name == "km" and show.units == "f":
        return f"{float(value) / 1.609344:.0f} mi"
    if name == "km":
        return f"{value} km"
    return value
