"""Towns of the world, offline: from a name to coordinates, height and time zone, and from coordinates to the nearest town.

GeoNames (geonames.org), CC BY 4.0; made by scripts/build_gazetteer.py.  Height is a guess from the relief map.
"""

from __future__ import annotations

import math
import sqlite3
import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files

from underglass.errors import InputError
from underglass.place.relief import elevation_guess_m

__all__ = ["Town", "find", "found", "locate", "nearest"]

COLUMNS = "select t.name, t.region, t.country, t.latitude, t.longitude, z.name, t.population from town t join zone z on z.id = t.zone "


@dataclass(frozen=True, slots=True)
class Town:
    """A town: where it is, its time zone, its people."""

    name: str
    region: str
    country: str
    latitude_deg: float
    longitude_deg: float
    time_zone: str
    population: int

    @property
    def label(self) -> str:
        """Name with state or country."""
        return f"{self.name}, {self.region or self.country}"

    @property
    def elevation_m(self) -> float:
        """A guess from the relief map, often 30 m off, 100 m among hills [m]."""
        return elevation_guess_m(self.latitude_deg, self.longitude_deg)


@cache
def _database() -> sqlite3.Connection:
    """The shipped towns, read into memory-mapped read-only SQLite."""
    with as_file(files("underglass.place") / "data" / "gazetteer.sqlite") as path:
        return sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True, check_same_thread=False)


def _plain(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(c))


def find(text: str, limit: int = 8) -> list[Town]:
    """Towns whose name (with state or country) has every word of the text, by the beginning of words; biggest first.

    >>> find("Montpelier, Vermont")[0].time_zone
    'America/New_York'
    """
    words = [w for w in "".join(c if c.isalnum() else " " for c in _plain(text)).split() if w]
    if not words:
        return []
    query = " AND ".join(f"{word}*" for word in words)
    order = "where t.id in (select rowid from town_name where town_name match ?) order by t.population desc limit ?"
    towns = [Town(*row) for row in _database().execute(COLUMNS + order, (query, 200))]
    exact = [t for t in towns if _plain(t.name) == _plain(text.split(",")[0].strip())]
    return (exact + [t for t in towns if t not in exact])[:limit]


def nearest(latitude_deg: float, longitude_deg: float) -> Town:
    """The town nearest to a point; for its time zone and for a name to show."""
    for reach in (0.5, 2.0, 8.0, 180.0):
        rows = _database().execute(
            COLUMNS + "where t.latitude between ? and ?", (latitude_deg - reach, latitude_deg + reach)
        )
        wide = max(math.cos(math.radians(latitude_deg)), 0.05)
        best = min(
            (Town(*row) for row in rows),
            key=lambda t: math.hypot(t.latitude_deg - latitude_deg, _turn(t.longitude_deg - longitude_deg) * wide),
            default=None,
        )
        if (
            best is not None
            and math.hypot(best.latitude_deg - latitude_deg, _turn(best.longitude_deg - longitude_deg) * wide) <= reach
        ):
            return best
    raise InputError(f"no town found near {latitude_deg:g}, {longitude_deg:g}: check latitude and longitude")


def _turn(degrees: float) -> float:
    """An angle brought to -180 … 180."""
    return (degrees + 180.0) % 360.0 - 180.0


def locate(where: str | tuple[float, float]) -> Town:
    """The town that a text means, or the one nearest to (latitude, longitude).  Raises InputError with what to write instead."""
    if isinstance(where, tuple):
        return nearest(*where)
    return found(where)[0]


def found(text: str, limit: int = 8) -> list[Town]:
    """Towns that a text means, at least one.  Raises InputError that names those of that name elsewhere, or says what to write instead."""
    towns = find(text, limit)
    if towns:
        return towns
    name = text.split(",")[0]
    elsewhere = "; ".join(
        dict.fromkeys(f"{t.label} ({t.latitude_deg:.1f}, {t.longitude_deg:.1f})" for t in find(name, 4))
    )
    if "," in text and elsewhere:
        raise InputError(
            f"no town is called {text!r} here (after the comma stands a country, or a state of the USA); there is: {elsewhere}"
        )
    raise InputError(
        f"no town is called {text!r} here: try another spelling, a bigger town nearby, or latitude and longitude"
    )
