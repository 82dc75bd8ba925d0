"""A weather file of any kind we know: recognised by its first lines, not by its name."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Literal

from underglass.errors import InputError
from underglass.place.place import Place
from underglass.sources.daily import DailyRecord
from underglass.sources.daily_csv import parse_daily_csv
from underglass.sources.daily_hours import hours_of_days
from underglass.sources.draft import HourlyDraft, distance_km
from underglass.sources.epw import epw_draft, looks_like_epw
from underglass.sources.finish import finish
from underglass.sources.own_csv import hourly_csv_draft
from underglass.sources.table import read_text
from underglass.sources.tmy import looks_like_tmy2, looks_like_tmy3, tmy2_draft, tmy3_draft
from underglass.weather.outside import OutsideWeather

__all__ = ["FileKind", "kind_of", "read_daily_csv", "read_weather_file"]

FAR_KM = 20.0

FileKind = Literal["epw", "tmy3", "tmy2", "hourly", "daily"]


def kind_of(text: str) -> FileKind:
    """Which of our formats a text is; anything with a header that is not a known format counts as our hourly table."""
    if looks_like_epw(text):
        return "epw"
    if looks_like_tmy3(text):
        return "tmy3"
    if looks_like_tmy2(text):
        return "tmy2"
    header = next((row for row in text[:20_000].splitlines() if row.strip() and not row.lstrip().startswith("#")), "")
    names = {
        name.strip().strip('"').lower() for part in header.split(",") for name in part.replace("\t", ";").split(";")
    }
    return "daily" if "date" in names or {"tmin_c", "tmax_c"} & names else "hourly"


def read_weather_file(
    path: str | Path, *, place: Place | None = None, time_zone: str | None = None, temperature_unit: str | None = None
) -> OutsideWeather:
    """Hours from an EPW, TMY3, TMY2 or hourly CSV file, or from a daily CSV whose days are turned into hours.

    place            : for our own tables, the place they are for; with the other formats it gives skyline, terrain and clock,
                       while latitude, longitude and elevation stay the file's      time_zone : IANA name, for showing times
    temperature_unit : 'C' or 'F', for our own tables only
    """
    name = Path(path)
    text = read_text(name, lenient=True)
    kind = kind_of(text)
    if kind == "daily":
        return hours_of_days(
            parse_daily_csv(read_text(name), str(name), place=place, temperature_unit=temperature_unit)
        )
    return finish(_draft(kind, text, name, place, time_zone, temperature_unit))


def read_daily_csv(path: str | Path, *, place: Place | None = None, temperature_unit: str | None = None) -> DailyRecord:
    """Days from a daily CSV file, missing days left as nan."""
    return parse_daily_csv(read_text(Path(path)), str(path), place=place, temperature_unit=temperature_unit)


def _draft(
    kind: FileKind, text: str, path: Path, place: Place | None, time_zone: str | None, unit: str | None
) -> HourlyDraft:
    if kind == "hourly":
        return hourly_csv_draft(read_text(path), str(path), place=place, temperature_unit=unit)
    if unit is not None:
        raise InputError(f"{path}: an {kind.upper()} file has units of its own; leave temperature_unit out")
    make = {"epw": epw_draft, "tmy3": tmy3_draft, "tmy2": tmy2_draft}[kind]
    return with_surroundings(make(text, str(path), time_zone=time_zone), place)


def with_surroundings(draft: HourlyDraft, place: Place | None) -> HourlyDraft:
    """The draft with the skyline, terrain, clock and name of `place`, but where its file was measured; says how far off."""
    if place is None:
        return draft
    there = draft.place
    far_km = distance_km(place.latitude_deg, place.longitude_deg, there.latitude_deg, there.longitude_deg)
    here = replace(
        place, latitude_deg=there.latitude_deg, longitude_deg=there.longitude_deg, elevation_m=there.elevation_m
    )
    note = f"weather of {there.name or 'a station'}, {far_km:.0f} km from the place"
    return replace(draft, place=here, notes=(*draft.notes, note) if far_km >= FAR_KM else draft.notes)
