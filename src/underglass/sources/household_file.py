"""The household file: place, shelters, visits, crops and seed of one family, as TOML.  Every fault is listed with its line."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import Any

from underglass.crop.catalogue import catalogue, find_crop
from underglass.errors import InputError
from underglass.place.gazetteer import locate
from underglass.place.place import Horizon, Place
from underglass.plan.household import Household, KnownClimate, SeedPacket, StandingCrop
from underglass.plan.seed_on_hand import COLDEST_K, WARMEST_K
from underglass.shelter.model import Shelter, Visits
from underglass.sources.shelter_file import shelter_of_table
from underglass.sources.toml_file import line_of, load_toml
from underglass.sources.wishes_file import WISH_KEYS, read_wishes
from underglass.tend.standing import STAGES
from underglass.units import parse_quantity

__all__ = ["demo_household", "household_of_table", "read_household"]

KEYS: dict[str, tuple[str, ...]] = {
    "": (
        "name",
        "units",
        "place",
        "visits",
        "shelters",
        "crops",
        "seeds",
        "weather_file",
        "wishes",
        "wants",
        "ground",
        "pins",
        "drops",
        "standing",
    ),
    "place": (
        "name",
        "near",
        "latitude",
        "longitude",
        "elevation",
        "time_zone",
        "terrain",
        "horizon",
        "last_frost",
        "tmin",
        "tmax",
        "sun_hours",
    ),
    "visits": ("weekday", "weekend"),
    "crops": ("want",),
    "seeds": ("crop", "packed", "count", "storage", "humidity", "tested", "up"),
    "standing": ("crop", "in", "stage", "tray"),
    **WISH_KEYS,
}


class _Reader:
    """Reads sections and keeps each fault with the path of its key."""

    def __init__(self) -> None:
        self.faults: list[tuple[str, str]] = []

    def known(self, section: str, table: Mapping[str, Any], path: str = "") -> None:
        for key in table:
            if key not in KEYS[section]:
                near = difflib.get_close_matches(key, KEYS[section], n=1, cutoff=0.5)
                hint = f"; did you mean {near[0]}?" if near else f"; known keys: {', '.join(KEYS[section])}"
                where = ".".join(p for p in (path or section, key) if p)
                self.faults.append((where, f"{where} is not a key of a household file{hint}"))

    def attempt(self, path: str, make: Callable[[], Any], otherwise: Any = None) -> Any:
        """A value, or a fault at this path."""
        try:
            return make()
        except InputError as error:
            inner = getattr(error, "paths", None)
            for i, text in enumerate(str(error).splitlines()):
                where = f"{path}.{inner[i]}" if inner and i < len(inner) and inner[i] else path
                self.faults.append((where, f"{path}: {text}"))
        return otherwise


def _table(value: object, what: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InputError(f"expected a table, as in [{what}]")
    return value


def _list(value: object, what: str) -> list[Any]:
    if value is not None and not isinstance(value, list):
        raise InputError(f"expected tables of their own, each under [[{what}]]")
    return value or []


def _number(table: Mapping[str, Any], key: str, name: str) -> float:
    if key not in table:
        raise InputError(f"{key} is missing")
    try:
        return parse_quantity(table[key], name)
    except InputError as error:
        raise InputError(f"{key}: {error}") from None


def month_day(text: object) -> tuple[int, int]:
    """'05-18' as (5, 18).  Raises InputError for anything that is not a day of the year."""
    found = re.fullmatch(r"(?:\d{4}-)?(\d{1,2})-(\d{1,2})", str(text).strip())
    days = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    if not found or not 1 <= int(found.group(1)) <= 12 or not 1 <= int(found.group(2)) <= days[int(found.group(1)) - 1]:
        raise InputError(f"{text!r} is not a day of the year: write month-day, as 05-18")
    return int(found.group(1)), int(found.group(2))


def _place(table: Mapping[str, Any]) -> Place:
    """A place from coordinates, or from a town with what the file says better."""
    town = locate(str(table["near"])) if "near" in table else None
    if town is None and not {"latitude", "longitude"} <= set(table):
        raise InputError('say where you live: near = "Town, Country", or latitude and longitude')
    latitude = _number(table, "latitude", "latitude") if "latitude" in table else town.latitude_deg if town else 0.0
    longitude = (
        _number(table, "longitude", "longitude") if "longitude" in table else town.longitude_deg if town else 0.0
    )
    Place(latitude, longitude, 0.0)  # says what is wrong with the coordinates before they are looked up
    around = town or locate((latitude, longitude))
    terrain = table.get("terrain", "garden")
    if terrain not in ("open", "garden", "sheltered"):
        raise InputError(f"terrain is {terrain!r}: expected open, garden or sheltered")
    return Place(
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=_number(table, "elevation", "elevation_m") if "elevation" in table else around.elevation_m,
        time_zone=str(table.get("time_zone", around.time_zone)),
        name=str(table.get("name", town.label if town else f"{latitude:.2f}, {longitude:.2f}")),
        horizon=_horizon(table.get("horizon", [])),
        terrain=terrain,
    )


def _horizon(pairs: object) -> Horizon:
    """A skyline from pairs in any order."""
    if not isinstance(pairs, list) or any(not isinstance(p, list) or len(p) != 2 for p in pairs):
        raise InputError("horizon: expected pairs of azimuth and elevation, as [[90, 10], [180, 5]]")
    points = sorted(
        (parse_quantity(azimuth, "_deg"), parse_quantity(elevation, "_deg")) for azimuth, elevation in pairs
    )
    return Horizon(*zip(*points, strict=True)) if points else Horizon()


def _climate(table: Mapping[str, Any]) -> KnownClimate:
    def twelve(key: str, name: str) -> tuple[float, ...]:
        values = table.get(key, [])
        if not isinstance(values, list) or len(values) not in (0, 12):
            raise InputError(f"{key}: expected twelve values, January to December, in square brackets")
        return tuple(
            parse_quantity(v, name) - (273.15 if isinstance(v, str) and name.endswith("_k") else 0.0) for v in values
        )

    frost = month_day(table["last_frost"]) if "last_frost" in table else None
    lows, highs = twelve("tmin", "tmin_k"), twelve("tmax", "tmax_k")
    if any(low >= high for low, high in zip(lows, highs, strict=False)):
        raise InputError("tmin: a month's lowest is not below its highest")
    if any(not -60.0 <= v <= 60.0 for v in lows + highs):
        raise InputError('tmin, tmax: expected -60 to 60 degC; write "50 F" for Fahrenheit')
    return KnownClimate(lows, highs, twelve("sun_hours", "sun"), frost)


def _visits(table: Mapping[str, Any]) -> Visits:
    def times(key: str, otherwise: tuple[float, ...]) -> tuple[float, ...]:
        if key not in table:
            return otherwise
        if not isinstance(table[key], list):
            raise InputError(f'{key}: expected a list of times, as ["07:30", "17:30"]')
        hours = tuple(parse_quantity(t, "time_h") for t in table[key])
        if any(not 0.0 <= h < 24.0 for h in hours):
            raise InputError(f"{key}: expected times from 00:00 to 23:59")
        return tuple(sorted(hours))

    return Visits(times("weekday", Visits().weekday_h), times("weekend", Visits().weekend_h))


def _crop_id(name: object) -> str:
    return find_crop(str(name)).id


def _shelter(given: object) -> Shelter:
    return shelter_of_table(_table(given, "[shelters]"))


def _seed(table: Mapping[str, Any]) -> SeedPacket:
    packed = table.get("packed")
    if not isinstance(packed, int) or isinstance(packed, bool) or not 1950 <= packed <= 2100:
        raise InputError(f"packed is {packed!r}: expected the year on the packet, as 2025")
    count = table.get("count")
    if count is not None and (not isinstance(count, int) or isinstance(count, bool) or not 0 <= count <= 10**9):
        raise InputError(f"count is {count!r}: expected a number of seeds")
    kept = _number(table, "storage", "storage_k") if "storage" in table else None
    if kept is not None and not COLDEST_K <= kept <= WARMEST_K:
        raise InputError(f"storage is {kept - 273.15:.0f} °C: expected -40 to 50 °C; is the unit right?")
    humidity = table.get("humidity")
    if humidity is not None and (
        isinstance(humidity, bool) or not isinstance(humidity, int | float) or not 0.1 <= humidity <= 0.7
    ):
        raise InputError(f"humidity is {humidity!r}: expected 0.1 to 0.7, as 0.4 for forty percent")
    if (kept is None) != (humidity is None):
        raise InputError("storage and humidity are needed together: what seed does in store depends on both")
    tested, up = table.get("tested", 0), table.get("up", 0)
    if not isinstance(tested, int) or not isinstance(up, int) or not 0 <= up <= tested:
        raise InputError(f"tested is {tested!r} and up {up!r}: expected numbers of seeds laid out and come up")
    return SeedPacket(find_crop(str(table.get("crop", ""))).id, packed, count, kept, humidity, tested, up)


def _standing(table: Mapping[str, Any], shelters: list[str]) -> StandingCrop:
    where = str(table.get("in", ""))
    if where not in shelters:
        raise InputError(f"in is {where!r}: expected one of {', '.join(shelters)}")
    stage, tray = str(table.get("stage", "young")), table.get("tray", False)
    if stage not in STAGES:
        raise InputError(f"stage is {stage!r}: expected one of {', '.join(STAGES)}")
    if not isinstance(tray, bool):
        raise InputError(f"tray is {tray!r}: expected true or false")
    return StandingCrop(find_crop(str(table.get("crop", ""))).id, where, stage, tray)


def household_of_table(table: Mapping[str, Any]) -> Household:
    """A household from plain tables.  Raises InputError that lists every fault; its `paths` name the keys."""
    read = _Reader()
    read.known("", table)
    section = {
        name: read.attempt(name, partial(_table, table.get(name, {}), name), {})
        for name in ("place", "visits", "crops")
    }
    for name, part in section.items():
        read.known(name, part)
    visits = read.attempt("visits", lambda: _visits(section["visits"]), Visits())
    wanted = section["crops"].get("want", "all")
    names = list(catalogue()) if wanted == "all" else wanted if isinstance(wanted, list) else [wanted]
    crops = [read.attempt("crops.want", partial(_crop_id, n)) for n in names]
    shelters: list[Shelter] = []
    for i, given in enumerate(read.attempt("shelters", lambda: _list(table.get("shelters"), "shelters"), [])):
        path = f"shelters[{i + 1}]"
        shelter = read.attempt(path, partial(_shelter, given))
        if shelter is not None:
            own_times = shelter.visits != Visits()
            shelters.append(shelter if own_times else replace(shelter, visits=visits))
    seeds = []
    for i, given in enumerate(read.attempt("seeds", lambda: _list(table.get("seeds"), "seeds"), [])):
        path = f"seeds[{i + 1}]"
        part = read.attempt(path, partial(_table, given, "[seeds]"), {})
        read.known("seeds", part, path)
        seeds.append(read.attempt(path, partial(_seed, part)))
    standing = []
    for i, given in enumerate(table.get("standing", []) or []):
        path = f"standing[{i + 1}]"
        part = read.attempt(path, partial(_table, given, "[standing]"), {})
        read.known("standing", part, path)
        standing.append(read.attempt(path, partial(_standing, part, [s.name for s in shelters])))
    place = read.attempt("place", lambda: _place(section["place"]))
    climate = read.attempt("place", lambda: _climate(section["place"]), KnownClimate())
    if len({s.name for s in shelters}) < len(shelters):
        read.faults.append(("shelters", "shelters: two shelters have the same name; give each its own"))
    weather_file = table.get("weather_file")
    if weather_file is not None and not isinstance(weather_file, str):
        read.faults.append(
            ("weather_file", f"weather_file is {weather_file!r}: expected the path of a file, in quotes")
        )
    wishes = read_wishes(read, table)
    units = table.get("units", "c")
    if units not in ("c", "f"):
        read.faults.append(("units", f'units is {units!r}: expected "c" or "f"'))
    if read.faults:
        error = InputError.of([text for _, text in read.faults])
        error.paths = [path for path, _ in read.faults]  # type: ignore[attr-defined]  # for line numbers in read_household
        raise error
    return Household(
        name=str(table.get("name", "our household")),
        place=place,
        shelters=tuple(shelters),
        crops=tuple(crops),
        seeds=tuple(seeds),
        visits=visits,
        climate=climate,
        weather_file=weather_file,
        units=units,
        standing=tuple(standing),
        wishes=wishes,
    )


def read_household(path: Path) -> Household:
    """The household in a file.  Raises InputError with file and line for every fault."""
    table, text = load_toml(path)
    return _with_lines(table, text, str(path))


def demo_household() -> Household:
    """The demo family: invented people in a real climate, shipped with the package."""
    text = (files("underglass.sources") / "data" / "demo_household.toml").read_text(encoding="utf-8")
    return _with_lines(tomllib.loads(text), text, "the demo household")


def _with_lines(table: Mapping[str, Any], text: str, file: str) -> Household:
    try:
        return household_of_table(table)
    except InputError as error:
        paths = getattr(error, "paths", [])
        said = str(error).splitlines()
        faults = [str(InputError.at(file, line_of(text, p), s)) for p, s in zip(paths, said, strict=False)]
        raise InputError.of(faults or said) from None
