"""What was understood of a logger's file, or has to be said of it, in the language of a phone and with the page's own fields."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from underglass.faces.web.worded import Patterns, worded

if TYPE_CHECKING:
    from underglass.faces.web.speech import Speech

__all__ = ["probe", "understood"]

PROBE = re.compile(r"(?P<spot>air|soil|leaf|outside)(?: (?P<cm>\d+) cm (?P<way>high|deep))?(?: \((?P<file>.+)\))?")

WHOLE: Patterns = (
    ("rows", r"(?P<n>\d+) rows, delimiter (?P<sign>\w+)"),
    ("zone_said", r"times are (?P<zone>.+), as you said"),
    ("zone_column", r"times are (?P<zone>.+), as the column says"),
    ("zone_offset", r"times carry their own offset"),
    ("zone_wall", r"times are taken to be the clock on the wall \((?P<zone>.+)\); --time-zone says otherwise"),
    ("steady", r"the clock did not change between summer and winter time"),
    ("order_said", r"dates are (?P<order>day|month) first, as you said"),
    ("order_fits", r"dates are read (?P<order>day|month)/\w+/year: only that fits"),
    ("not_read", r"not read: (?P<names>.+)"),
    ("left_out", r"(?P<n>\d+) lines without time or number left out, the first is line (?P<line>\d+)"),
    ("ask_unit", r".*: column '(?P<name>.+)' does not say whether it is °C or °F; add --units c or --units f"),
    ("ask_order", r".*: the dates may be month/day or day/month, and both would do; add .+"),
    ("ask_sun_height", r"(?P<probe>.+): it was not said whether the sun reaches it or how high it hangs"),
    ("ask_sun", r"(?P<probe>.+): it was not said whether the sun reaches it"),
    ("ask_height", r"(?P<probe>.+): it was not said how high it hangs"),
)
PARTS: Patterns = (
    ("column_soil", r"'(?P<name>.+)': soil (?P<cm>\d+) cm deep"),
    ("column_high", r"'(?P<name>.+)': (?P<spot>air|leaf) (?P<cm>\d+) cm high"),
    ("column", r"'(?P<name>.+)': (?P<spot>air|leaf|outside)"),
    ("noted", r"from the notebook: (?P<probe>.+): (?P<n>\d+) (?P<what>readings|lowest|highest)"),
    ("day_only", r"(?P<first>\d{4}-\d{2}-\d{2}) to (?P=first)"),
    ("days", r"(?P<first>\d{4}-\d{2}-\d{2}) to (?P<last>\d{4}-\d{2}-\d{2})"),
    ("unit", r"(?P<unit>°[CF])"),
    ("unit_above", r"(?P<unit>°[CF]) \(said above the table\)"),
    ("unit_said", r"(?P<unit>°[CF]) \(as you said\)"),
    ("unit_fits", r"(?P<unit>°[CF]) \(only that fits the weather outside\)"),
    ("taken_deep", r"taken to be (?P<cm>\d+) cm deep"),
    ("since", r"the (?P<what>lowest|highest) since the reading before"),
    ("sun", r"in the sun"),
    ("shade", r"shaded"),
    ("impossible", r"(?P<n>\d+) impossible values left out"),
)
"""Each sentence, or part of one between commas, as the readers word it, with the key of its words."""


def understood(line: str, show: Speech) -> str:
    """A sentence about a file in the language of a phone; as it was written where nobody knows its kind."""
    whole = worded(line, WHOLE, "understood", show, _told)
    if whole is not None:
        return whole
    parts = [(worded(part, PARTS, "understood", show, _told), part) for part in line.split(", ")]
    return ", ".join(said or part for said, part in parts)


def probe(label: str, show: Speech) -> str:
    """A thermometer as the readings call it: what it measures, how high or deep, and from which file."""
    found = PROBE.fullmatch(label)
    if found is None:
        return label
    said = show.say(f"probe.{found['spot']}")
    if found["cm"]:
        said = show.say(f"understood.{found['way']}", probe=said, far=show.length(float(found["cm"]) / 100.0))
    file = show.say("understood.by_hand") if found["file"] == "noted" else found["file"]
    return f"{said} ({file})" if file else said


def _told(name: str, value: str, show: Speech) -> str:
    if name == "cm":
        return show.length(float(value) / 100.0)
    if name == "probe":
        return probe(value, show)
    if name in ("sign", "order", "what"):
        return show.say(f"understood.{value}", or_else=value)
    if name == "spot":
        return show.say(f"probe.{value}", or_else=value)
    if name in ("first", "last"):
        return show.day(value)
    return value
