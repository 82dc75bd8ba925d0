"""What the rooms below say of a wrong value, in the language of a phone; the pages' own faults are in it already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from underglass.crop.catalogue import catalogue
from underglass.faces.web.worded import Patterns, worded

if TYPE_CHECKING:
    from underglass.faces.web.speech import Speech

__all__ = ["fault"]

NAMES = "Open-Meteo|MET Norway|US National Weather Service|NASA POWER|PVGIS|ACIS|NOAA NCEI"
DAY = r"\d{4}-\d{2}-\d{2}"
NOTEBOOK: Patterns = (
    ("newer", r"(.+: )?(it was )?written by a newer Underglass .+"),
    ("not_whole", r".+: not a whole (archive|copy) of a notebook .+; nothing was changed"),
    ("not_whole", r".+: it is empty"),
    ("not_ours", r"(.+: )?it is an SQLite file, but not a notebook of ours"),
    ("copies.no_backup", r".+: there is no such (backup|file)"),
    ("damaged", r"the notebook (?P<path>.+) is damaged and cannot be read; its newest backup is (?P<backup>.+): .+"),
    ("damaged_alone", r"the notebook (?P<path>.+) is damaged and cannot be read; there is no backup; .+"),
    ("disk_full", r"the disk is full: this was not kept in the notebook .+"),
    ("read_only", r"the notebook (?P<path>.+) may not be written to: this was not kept; .+"),
    ("not_opened", r"the notebook (?P<path>.+) cannot be opened; .+"),
    ("busy", r"another program has been writing to the notebook .+"),
    ("disk", r"the disk refused to read or write the notebook .+"),
    ("no_notebook", r"there is no notebook yet at .+"),
    ("disk", r"the notebook .+ could not be used: .+"),
    ("not_kept", r"(?P<path>.+): .+; nothing was changed"),
    ("archive_there", r"there is a notebook at .+ already; add --replace .+"),
    ("letter", r"(\w+: )?the text holds a character that cannot be kept"),
    ("unfit", r"(\w+: )?.+ (is not a number that can be kept|has no time zone)"),
    ("nothing_to_undo", r"there is nothing to undo|entry \d+ (does not hold any more|is itself a step back or forth: .+)|the history has no entry \d+"),
    ("nothing_to_redo", r"there is nothing to redo"),
    ("older", r"this was written by an older Underglass, before its tables changed, and cannot be undone"),
    ("undo_later_first", r"this cannot be undone: later entries belong to it; undo those first"),
    ("picture_heavy", r"the picture has [\d.]+ MB: expected up to (?P<most>[\d.]+) MB"),
    ("picture_bad", r"the picture is not a JPEG, PNG or WebP file"),
    ("picture_gone", r".+ is not a photo of this notebook"),
    ("entry_gone", r"\w+: there is no entry .+; it may have been removed"),
    ("entry_twice", r"\w+: there is already an entry with this \w+"),
    ("entry_needed", r"\w+: other entries belong to this one; .+"),
    ("entry_gone", r"\w+: it belongs to an entry that is not there \(any more\)"),
    ("not_corrected", r"this shelter is not tuned; there is nothing to undo"),
    ("no_household", r"the notebook knows no household yet; .+|there is no household yet: .+"),
    ("tuning.no_readings", r"the notebook has no readings of the .+"),
)  # fmt: skip
"""What the notebook's file says."""

RECORDS: Patterns = (
    ("fault.stage", r"stage is .+: expected one of .+"),
    ("watered_what", r"say what was watered: a shelter or a crop"),
    ("fault.amount", r"say how much came in: grams, ounces or servings"),
    ("fault.cause", r"say why it was lost, as .+"),
    ("depth_soil", r"a depth belongs to a thermometer in the soil, and this one is in the \w+"),
    ("height_air", r"a thermometer in the soil has a depth, not a height"),
    ("packet_gone", r"this packet is not there \(any more\); look at the seeds again"),
    ("packet_year", r"packed is \d+: expected the year on the packet, (?P<first>\d+) to (?P<last>\d+)"),
    ("seeds_or_weight", r"say either how many seeds there are or how much they weigh"),
    ("seeds.bad_count", r"-?\d+ seeds: expected 0 to \d+"),
    ("seeds.bad_weight", r".+ g of seed: expected more than 0, up to .+"),
    ("seeds.bad_storage", r"kept at .+ °C: expected -40 to 50 °C; is the unit right\?"),
    ("seeds.bad_humidity", r"humidity of .+: expected more than 0, up to 100 %"),
    ("seeds.bad_sown", r"-?\d+ seeds laid out: expected 1 to \d+"),
    ("seeds.bad_up", r"-?\d+ of -?\d+ came up: expected 0 to -?\d+"),
    ("seeds.bad_day", r"a test on .+: expected a day from \d+ to today"),
    ("crop_unknown", r"crop (?P<name>.+?) is not in the catalogue.*"),
    ("crop_unknown", r"a crop's (?P<name>name) is empty; .+"),
    ("in_tray", r".+ is for raising young plants: name the bed .+"),
    ("too_tall", r"(?P<crop>.+) grows taller than (?P<place>.+) has room for: .+"),
    ("same_bed", r"(?P<crop>.+) can not be raised in (?P<place>.+) and set out to the same bed: .+"),
    ("not_raised", r"(?P<crop>.+) is sown where it stays, not raised and set out.*"),
    ("no_nursery", r"(?P<place>.+) is no place to raise young plants: .+"),
)  # fmt: skip
"""What is wrong with what somebody wrote down."""

PLANS: Patterns = (
    ("no_places", r"no shelters: name at least one.*"),
    ("know_kinds", r"new_a_season: say which kinds you know.+"),
    ("all_never", r"nothing to plan: every crop wanted is on the never-list"),
    ("feeds_nobody", r"nothing that is wanted feeds anybody here in three years of four: .+"),
    ("stands_unfit", r"(?P<crop>.+?) in (?P<place>.+): it does not fit there"),
    ("stands_old", r"(?P<crop>.+?) in (?P<place>.+): sown on (?P<day>.+), expected within the 400 days before .+"),
    ("not_decided", r"this was not decided, or was taken back already"),
    ("stands_already", r"this stands in the ground already; what becomes of it is written in the notebook"),
    ("no_plan_yet", r"there is no plan to ask about: .+"),
    ("no_bed", r"ground: no shelter is called (?P<name>.+)"),
    ("no_bed", r"no shelter is called '?(?P<name>.+?)'?(; there are .+)?"),
    ("old_forecast", r"the forecast covers .+, which is not the day after .+"),
    ("weather_short", r"the weather covers \d+ days: .+"),
    ("set_out.no_date", r"--before is .+: expected a date 1 to (?P<most>\d+) days ahead"),
)  # fmt: skip
"""Why there is no plan."""

PLACES: Patterns = (
    ("no_town_near", r"no town found near .+: check latitude and longitude"),
    ("fault.town", r"no town is called '?(?P<town>.+?)'? here.*"),
    ("far_from_land", r".+ is far from any land on the climate map: .+"),
    ("frost_unlike", r"last frost (?P<day>\d\d-\d\d) would need the climate map to be (?P<kelvin>\d+) °C off at this place: .+"),
    ("fault.coordinates", r"latitude is .+: expected -90 to 90 degrees.*|longitude is .+: expected -180 to 180 degrees.*"),
    ("fault.elevation", r"elevation is .+ m: expected .+ m; is it in feet\?"),
    ("size_range", r"(?P<size>\w+) of .+ is (?P<value>[\d.e+-]+) m; it must lie between (?P<least>[\d.]+) and (?P<largest>[\d.]+) m"),
    ("no_such_size", r".+ has no \w+; it has .+"),
    ("no_double", r".+ has no single glazing that could be doubled"),
    ("open_ground", r".+ is open ground: only fleece can be laid over it"),
)  # fmt: skip
"""What does not fit of a place or a shelter."""

READINGS: Patterns = (
    ("readings_empty", r".+: no rows with a date, a time and a temperature; .+|.+: no header line with column names; the file is empty"),
    ("readings_empty", r".+: column names but no data below them"),
    ("readings_row", r".+ line (?P<line>\d+): not a row as the others: .+; (?P<n>\d+) such lines"),
    ("readings_cells", r".+ line (?P<line>\d+): (\d+ column names above rows of \d+ cells.*|\d+ cells, but the header names \d+ columns)"),
    ("readings_hot", r".+: most of column '(?P<name>.+)' lies outside .+ °C; .+"),
    ("readings_no_time", r".+: column '(?P<name>.+)' has dates without a time of day; .+"),
    ("readings_deep", r".+: column '(?P<name>.+)' would (lie|hang) .+: expected at most (?P<metres>[\d.]+) m"),
    ("readings_no_column", r".+: no column is clearly a temperature; columns are (?P<names>.+); say which, .+"),
    ("readings_where", r".+: columns (?P<names>.+) do not say where their probes are; .+"),
    ("readings_unknown", r"--column (?P<text>.+) fits (?:several|none) of the columns of .+?: (?P<names>.+)"),
    ("readings_probe", r"--column (?P<text>.+): after = say where the probe is: .+"),
    ("readings_dates", r".+: dates fit neither month/day/year nor day/month/year throughout; .+"),
    ("readings_zone", r"--time-zone is (?P<text>.+): expected a name .+"),
    ("readings_date", r".+ line (?P<line>\d+): the date is not one of the calendar"),
    ("readings_letters", r".+ line (?P<line>\d+): letters that are not UTF-8 text; .+"),
    ("readings_marks", r".+ line (?P<line>\d+): quotation marks that do not close: .+"),
    ("readings_header", r".+ line (?P<line>\d+): expected column names, found .+"),
    ("readings_few", r"fewer than (?P<n>\d+) readings lie within the weather: .+"),
    ("readings_clock", r"the readings follow the sun about (?P<hours>[\d.]+) hours too \w+: .+"),
)  # fmt: skip
"""What is wrong with a logger's file."""

SERVICES: Patterns = (
    ("service_offline", r"(?P<service>[^:]+): offline, and no earlier reply is kept .+"),
    ("service_later", r"(?P<service>[^:]+): .+; no earlier reply is kept, so try again later"),
    ("service_refused", r"(?P<service>[^:]+): HTTP \d+: .+"),
    ("service_answer", rf"(?P<service>{NAMES}): .+"),
)  # fmt: skip
"""What came of asking a weather service."""

PATTERNS: Patterns = (
    ("before_sowing", rf"(?P<day>{DAY}) is before the day of sowing, (?P<sown>{DAY})"),
    ("came_further", rf"(?P<day>{DAY}) is after a day on which it had come further: (?P<later>{DAY})"),
    ("degrees", r"(?P<celsius>[\d.−-]+) °C is not what a thermometer in a garden says; is the unit right\?"),
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
    ("fault.ours", r"something went wrong \(.+\)"),
    ("no_memory", r"the work was ended from outside, most likely for want of memory: close other programs and ask again"),
    *NOTEBOOK,
    *RECORDS,
    *PLANS,
    *PLACES,
    *READINGS,
    *SERVICES,
    ("file_bad", r"(?P<file>[^:]+\.\w{3,4})( line \d+)?: .+"),  # of a weather file; what is known better comes before
)  # fmt: skip


def fault(text: str, show: Speech) -> str:
    """A fault as the phone says it; as it was written where nobody knows its kind."""
    lines = [worded(line, PATTERNS, "told", show, _told) or line for line in text.split("\n")]
    return "\n".join(dict.fromkeys(lines))


def _told(name: str, value: str, show: Speech) -> str:
    if name in ("day", "sown", "later") and len(value) in (5, 10):
        return show.day(value)
    if name in ("metres", "least", "largest"):
        return show.length(float(value))
    if name == "celsius":
        return show.degrees(float(value.replace("−", "-")))
    if name == "kelvin":
        return show.difference(float(value)).lstrip("+")
    if name == "place":
        return show.shelter(value)
    if name == "size":
        return show.say(f"size.{value}", or_else=value)
    if name == "crop":
        crop = next((c for c in catalogue().values() if c.name.lower() == value.lower()), None)
        return show.crop(crop.id, crop.name) if crop else value
    return value
