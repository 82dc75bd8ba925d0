"""The steps of the notebook's history in the language of a phone: the notebook keeps them in the English that they were written in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from underglass.crop.catalogue import catalogue
from underglass.faces.web.worded import Patterns, worded

if TYPE_CHECKING:
    from underglass.faces.web.speech import Speech

__all__ = ["step"]

PACKET = r"(?P<crop>.+) packed for (?P<year>\d{4})"
SOWING = r"(?P<crop>.+) in (?P<place>.+), (?P<day>[\d-]{10})"
DAYS = r"[\d-]{10}(?: to [\d-]{10})?"
OTHER = r"(?P<other_crop>.+) in (?P<other_place>.+), (?P<other_day>[\d-]{10})"

PATTERNS: Patterns = (
    ("undo", r"undone: (?P<step>.+)"),
    ("redo", r"redone: (?P<step>.+)"),
    ("packet_added", rf"seed: {PACKET}"),
    ("packet_changed", rf"seed changed: {PACKET}"),
    ("packet_gone", rf"seed gone: {PACKET}"),
    ("tested", rf"test of {PACKET}: (?P<up>\d+) of (?P<sown>\d+) came up"),
    ("corrected", r"the (?P<place>.+) corrected by its readings"),
    ("correction_back", r"the correction of the (?P<place>.+) taken back"),
    ("decision_back", r"year: a decision taken back"),
    ("dropped", rf"year: no {SOWING}"),
    ("swapped", rf"year: {SOWING} in place of {OTHER}"),
    ("decided", rf"year: {SOWING} is decided"),
    ("left", rf"year: {SOWING} is left to the planner"),
    ("planned", r"the plan of the year from (?P<day>[\d-]{10})"),
    ("wishes", r"the wishes of the year|what the family likes to eat"),
    ("household", r"the household of (?P<words>.+)"),
    ("weather_left", r"a weather file of another machine left out"),
    ("units", r"shown in (?P<words>°[CF])"),
    ("photo_bare", r"photo: without words"),
    ("photo", r"photo: (?P<words>.+)"),
    ("note", r"note: (?P<words>.+)"),
    ("changed_note", r"a note changed"),
    ("changed_photo", r"the words of a picture changed"),
    ("changed_reading", r"a reading changed"),
    ("changed_harvest", r"a harvest changed"),
    ("changed_sowing", r"a sowing changed"),
    ("taken_out", r"a (?P<entry>note|photo|reading|harvest|sowing) taken out"),
    ("read_more_in", r"reading in the (?P<place>.+): (?P<probe>air|soil|leaf) (?P<readings>(?:now|min|max) [^,]+, .+)"),
    ("read_more_outside", r"reading outside: air (?P<readings>(?:now|min|max) [^,]+, .+)"),
    ("read_in", r"reading in the (?P<place>.+): (?P<probe>air|soil|leaf) (?P<kind>now|min|max) (?P<words>.+)"),
    ("read_outside", r"reading outside: air (?P<kind>now|min|max) (?P<words>.+)"),
    ("read_file", r"(?P<count>\d+) readings from (?P<words>.+)"),
    ("harvest", r"harvest of (?P<crop>.+) on (?P<day>[\d-]{10})"),
    ("loss", r"loss of (?P<crop>[^:]+): (?P<cause>.+)"),
    ("away", rf"visits on (?P<days>{DAYS}): nobody home"),
    ("usual", rf"visits on (?P<days>{DAYS}): as usual"),
    ("visits", rf"visits on (?P<days>{DAYS}): (?P<words>.+)"),
    ("watered", r"watered: (?P<about>.+)"),
    ("sown", r"(?P<crop>.+) sown in the (?P<place>.+) on (?P<day>[\d-]{10})"),
    ("stage", r"(?P<crop>[^:]+): (?P<stage>.+) on (?P<day>[\d-]{10})"),
    ("as_planned", r"(?P<place>.+): set as the plan says"),
    ("propped", r"(?P<place>.+): propped (?P<words>.+)"),
    ("set", r"(?P<place>.+): (?P<setting>[a-z ]+)"),
    ("described", r"(?P<place>.+) described anew"),
    ("added", r"(?P<place>.+) added"),
    ("put_away", r"(?P<place>.+) put away"),
)
"""Each step as the services word it, with the key of its words; the first that fits counts."""


def step(what: str, show: Speech) -> str:
    """A step in the language of a phone; as it was written where nobody knows its kind."""
    return worded(what, PATTERNS, "step", show, _told) or what


def _told(name: str, value: str, show: Speech) -> str:
    """One part of a step."""
    part = name.removeprefix("other_")
    if part in ("crop", "about"):
        crop = next((c for c in catalogue().values() if c.name.lower() == value.lower()), None)
        return show.crop(crop.id, crop.name) if crop else show.shelter(value)
    if part == "readings":
        return ", ".join(_reading(one, show) for one in value.split(", "))
    if part == "step":
        return step(value, show)
    if part == "place":
        return show.shelter(value)
    if part == "day":
        return show.day(value)
    if part == "days":
        first, _, last = value.partition(" to ")
        return show.say("step.span", first=show.day(first), last=show.day(last)) if last else show.day(first)
    if part in ("stage", "cause", "kind", "probe", "setting", "entry"):
        return show.say(f"{part}.{value}", or_else=value)
    return value


def _reading(told: str, show: Speech) -> str:
    """One of several readings: 'min −2.0 °C'."""
    kind, _, words = told.partition(" ")
    return f"{words} ({show.say(f'kind.{kind}', or_else=kind)})"
