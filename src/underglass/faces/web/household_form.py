"""From the form of the first visit to a household and back, with one sentence for each wrong field.

Whoever changes a household that is there gets a filled form; what was not touched stays as it was, also what the form does not show.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from underglass.crop.catalogue import catalogue
from underglass.errors import InputError
from underglass.faces.web.texts import Say
from underglass.place.gazetteer import find, locate
from underglass.plan.household import Household, KnownClimate
from underglass.shelter.model import Shelter
from underglass.shelter.presets import PRESETS
from underglass.sources.household_file import household_of_table
from underglass.units import INCH_M

__all__ = ["FIELDS", "LONGEST", "Filled", "as_form", "clocks", "read_form", "sketch_of"]

FIELDS = ("name", "near", "latitude", "longitude", "elevation", "last_frost", "weekday", "weekend", "units", "want")
LONGEST = 200
USUAL_SHELTERS = ("sill", "box", "tunnel", "open")


@dataclass(frozen=True, slots=True)
class Filled:
    """A form as it is shown: its fields, the names of the shelters that are ticked, the ids of the crops."""

    fields: dict[str, str]
    shelters: tuple[str, ...] = USUAL_SHELTERS
    crops: tuple[str, ...] = ()


def _times(text: str) -> list[str]:
    return [t if ":" in t else f"{t}:00" for t in re.split(r"[\s,;]+", text.strip()) if t]


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _place(given: Mapping[str, str], say: Say, faults: dict[str, str]) -> dict[str, Any]:
    place: dict[str, Any] = {}
    if given["latitude"] or given["longitude"]:
        latitude, longitude = _number(given["latitude"]), _number(given["longitude"])
        if latitude is None or longitude is None or abs(latitude) > 90 or abs(longitude) > 180:
            faults["latitude"] = say("fault.coordinates")
        else:
            place |= {
                "latitude": latitude,
                "longitude": longitude,
                "name": given["near"] or locate((latitude, longitude)).label,
            }
    elif not given["near"]:
        faults["near"] = say("fault.place")
    elif not find(given["near"], 1):
        faults["near"] = say("fault.town", town=given["near"])
    else:
        place["near"] = given["near"]
    if given["elevation"]:
        metres = _number(given["elevation"])
        limit = 6000.0 if given["units"] == "c" else 19685.0
        if metres is None or not -1000.0 <= metres <= limit:
            faults["elevation"] = say("fault.elevation")
        else:
            place["elevation"] = metres if given["units"] == "c" else f"{metres} ft"
    if given["last_frost"]:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", given["last_frost"]):
            place["last_frost"] = given["last_frost"][5:]
        else:
            faults["last_frost"] = say("fault.date")
    return place


def read_form(
    given: Mapping[str, str], ticked: Sequence[str], crops: Sequence[str], say: Say, old: Household | None
) -> tuple[Household | None, dict[str, str]]:
    """The household and the faults by field; none where there is a fault.  old : the household that the form was filled from"""
    given = {f: given.get(f, "").strip()[:LONGEST] for f in FIELDS}
    faults: dict[str, str] = {}
    units = given["units"] if given["units"] in ("c", "f") else "c"
    table: dict[str, Any] = {"name": given["name"] or say("welcome.our_household"), "units": units}
    table["place"] = _place(_only_changed(given, old), say, faults)
    visits = {key: _times(given[key]) for key in ("weekday", "weekend")}
    for key, times in visits.items():
        if any(not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", t) for t in times):
            faults[key] = say("fault.times")
    table["visits"] = visits
    own = [s.name for s in old.shelters] if old else []
    table["shelters"] = [{"like": p} for p in PRESETS if p in ticked and p not in own]
    if not table["shelters"] and not set(own) & set(ticked):
        faults["shelters"] = say("fault.shelters")
    table["crops"] = {"want": list(crops) if given["want"] == "some" and crops else "all"}
    if faults:
        return None, faults
    try:
        made = household_of_table(table)
    except InputError as error:
        return None, {"form": str(error)}
    return (_changed(old, made, given, ticked) if old else made), {}


def _only_changed(given: Mapping[str, str], old: Household | None) -> Mapping[str, str]:
    """The fields of the place without those that stand as the form was filled, where others tell of another place."""
    if old is None:
        return given
    shown, kept = as_form(old).fields, dict(given)
    coordinates = ("latitude", "longitude")
    same_coordinates = all(given[f] == shown[f] for f in coordinates)
    if given["near"] != shown["near"] and same_coordinates:
        kept |= dict.fromkeys(coordinates, "")
    if given["elevation"] == shown["elevation"]:
        kept["elevation"] = ""
    return kept


def _changed(old: Household, made: Household, given: Mapping[str, str], ticked: Sequence[str]) -> Household:
    """The household that is there, with what the form says."""
    shown = as_form(old).fields
    same_place = all(given[f] == shown[f] for f in ("near", "latitude", "longitude"))
    place = made.place
    if same_place:
        elevation_m = old.place.elevation_m if given["elevation"] == shown["elevation"] else made.place.elevation_m
        place = replace(old.place, elevation_m=elevation_m)
    climate = old.climate if same_place else KnownClimate()
    kept = tuple(
        replace(s, visits=made.visits) if s.visits == old.visits else s for s in old.shelters if s.name in ticked
    )
    return replace(
        old,
        name=made.name,
        units=made.units,
        place=place,
        climate=replace(climate, last_frost=made.climate.last_frost),
        weather_file=old.weather_file if same_place else None,
        visits=made.visits,
        crops=made.crops,
        shelters=(*kept, *made.shelters),
    )


def sketch_of(shelter: Shelter) -> str:
    """The drawing that is nearest to a shelter of the family's own."""
    if shelter.room is not None:
        return "sill"
    shapes = {"Hoop": "hoop", "Drum": "jug", "OpenGround": "open"}
    shape = shapes.get(type(shelter.shape).__name__, "box")
    return "tunnel" if shape == "hoop" and shelter.clear_height_m < 1.2 else shape


def clocks(hours: Sequence[float]) -> str:
    """Hours as times of the clock: 7.5 as 07:30."""
    return ", ".join(f"{int(h):02d}:{round(h % 1.0 * 60.0):02d}" for h in hours)


def as_form(household: Household | None) -> Filled:
    """A household as a form, to be changed; the empty form for none."""
    if household is None:
        usual = {"weekday": "07:30, 17:30", "weekend": "08:00, 12:00, 17:00", "units": "c", "want": "all"}
        return Filled(dict.fromkeys(FIELDS, "") | usual)
    place, frost = household.place, household.climate.last_frost
    height = place.elevation_m / (12.0 * INCH_M if household.units == "f" else 1.0)
    some = bool(household.crops) and set(household.crops) != set(catalogue())
    fields = {
        "name": household.name, "near": place.name, "latitude": f"{place.latitude_deg:g}", "longitude": f"{place.longitude_deg:g}",
        "elevation": f"{height:.0f}", "last_frost": f"2027-{frost[0]:02d}-{frost[1]:02d}" if frost else "",
        "weekday": clocks(household.visits.weekday_h), "weekend": clocks(household.visits.weekend_h), "units": household.units,
        "want": "some" if some else "all",
    }  # fmt: skip
    return Filled(fields, tuple(s.name for s in household.shelters), household.crops if some else ())
