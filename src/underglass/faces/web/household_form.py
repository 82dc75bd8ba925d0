"""From the form of the first visit to the tables of a household, with one sentence for each wrong field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from underglass.errors import InputError
from underglass.faces.web.texts import Say
from underglass.place.gazetteer import find, locate
from underglass.shelter.presets import PRESETS
from underglass.sources.household_file import household_of_table

__all__ = ["FIELDS", "as_form", "read_form"]

FIELDS = ("name", "near", "latitude", "longitude", "elevation", "last_frost", "weekday", "weekend", "units", "want")
LONGEST = 200


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
    given: Mapping[str, str], presets: list[str], crops: list[str], say: Say
) -> tuple[dict[str, Any], dict[str, str]]:
    """The household's tables and the faults by field; tables are whole only where there is no fault."""
    given = {f: given.get(f, "").strip()[:LONGEST] for f in FIELDS}
    faults: dict[str, str] = {}
    units = given["units"] if given["units"] in ("c", "f") else "c"
    table: dict[str, Any] = {"name": given["name"] or say("welcome.our_household"), "units": units}
    table["place"] = _place(given, say, faults)
    visits = {key: _times(given[key]) for key in ("weekday", "weekend")}
    for key, times in visits.items():
        if any(not re.fullmatch(r"([01]?\d|2[0-3]):[0-5]\d", t) for t in times):
            faults[key] = say("fault.times")
    table["visits"] = visits
    chosen = [p for p in PRESETS if p in presets]
    if not chosen:
        faults["shelters"] = say("fault.shelters")
    table["shelters"] = [{"like": p} for p in chosen]
    table["crops"] = {"want": crops if given["want"] == "some" and crops else "all"}
    if not faults:
        try:
            household_of_table(table)
        except InputError as error:
            faults["form"] = str(error)
    return table, faults


def as_form(table: Mapping[str, Any]) -> tuple[dict[str, str], list[str], list[str]]:
    """The tables as form fields, presets and crops, to be changed again."""
    place, visits = table.get("place", {}), table.get("visits", {})
    want = table.get("crops", {}).get("want", "all")
    elevation = str(place.get("elevation", "")).removesuffix(" ft")
    frost = place.get("last_frost", "")
    fields = {
        "name": table.get("name", ""), "near": place.get("near", place.get("name", "")),
        "latitude": str(place.get("latitude", "")), "longitude": str(place.get("longitude", "")), "elevation": elevation,
        "last_frost": f"2027-{frost}" if frost else "", "weekday": ", ".join(visits.get("weekday", ["07:30", "17:30"])),
        "weekend": ", ".join(visits.get("weekend", ["08:00", "12:00", "17:00"])), "units": table.get("units", "c"),
        "want": "all" if want == "all" else "some",
    }  # fmt: skip
    presets = [s.get("like", "") for s in table.get("shelters", [])] or ["sill", "box", "tunnel", "open"]
    return fields, presets, [] if want == "all" else list(want)
