"""What the rooms below say of a wrong value, in the language of a phone; the pages' own faults are in it already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from underglass.faces.web.worded import Patterns, worded

if TYPE_CHECKING:
    from underglass.faces.web.speech import Speech

__all__ = ["fault"]

DAY = r"\d{4}-\d{2}-\d{2}"
PATTERNS: Patterns = (
    ("before_sowing", rf"(?P<day>{DAY}) is before the day of sowing, (?P<sown>{DAY})"),
    ("came_further", rf"(?P<day>{DAY}) is after a day on which it had come further: (?P<later>{DAY})"),
    ("degrees", r"(?P<value>[\d.−-]+) °C is not what a thermometer in a garden says; is the unit right\?"),
    ("gap_needed", r"a lid that is propped needs its gap, as 5cm; other settings have none"),
    ("gap_size", r"gap is (?P<value>.+) m: expected more than 0, up to 3 m"),
    ("more_than_0", r"\w+ is .+: expected more than 0"),
    ("more_than_0", r"an amount is more than 0"),
    ("more_than_0", r".+ litres: expected more than 0"),
    ("harvest_size", r"a harvest is more than 0, and less than 1000 kg or servings"),
    ("lost_too_many", r"count is (?P<value>.+): (?P<sown>\d+) were sown.*"),
    ("note_empty", r"the note is empty"),
    ("visit_days", r"visits: name one day, or the first and the last of up to 366"),
    ("visit_times", r"visits: expected times from 00:00 to 23:59"),
    ("picture_size", r"the picture has (?P<wide>\d+) × (?P<high>\d+) pixels: expected up to 60 million"),
    ("picture_bad", r"the picture cannot be read: expected a whole JPEG, PNG or WebP file"),
    ("picture_gone", r"this picture is not there \(any more\)"),
    ("name_long", r"the name has \d+ letters: at most (?P<most>\d+) fit on a strip"),
    ("name_taken", r"there is, or was, a shelter called (?P<name>.+): give this one another name"),
    ("only_place", r"(?P<name>.+) is the only place to grow: add another before it is put away"),
    ("no_shelter", r"shelter '(?P<name>.+)' is not one of this household's: .+"),
    ("not_a_day", r"'(?P<text>.*)' is not a day: write year-month-day, as 2027-03-10"),
    ("year_range", r".+: expected a year from 1950 to 2150"),
    ("future", r".+: this is more than a day from now; what is recorded has happened"),
    ("stale_form", r"this form is too old or came from another page: load the page again and send it once more"),
    ("invented", r"the weather of those days is not known here: the invented family asks no weather service"),
    ("plan_other", r"this sowing is not in the plan any more; look at the plan again"),
    ("changed_entry", r"changed meanwhile: somebody else (?:changed|removed) this entry since it was read; look at it and save again"),
    ("no_memory", r"the work was ended from outside, most likely for want of memory: close other programs and ask again"),
)  # fmt: skip


def fault(text: str, show: Speech) -> str:
    """A fault as the phone says it; as it was written where nobody knows its kind."""
    return worded(text, PATTERNS, "told", show, _told) or text


def _told(name: str, value: str, show: Speech) -> str:
    return show.day(value) if name in ("day", "sown", "later") and len(value) == 10 else value
