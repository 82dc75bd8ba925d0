"""ACIS (Applied Climate Information System): decades of daily readings of US weather stations, no key.

Traps: questions are POSTed; an error comes as HTTP 200 with a key `error`; 'M' is missing, 'T' a trace of rain, 'S' and 'A'
mark sums over several days; letters may stick to a number; elevations are in feet.  The shortest way to thirty years of Tmin.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np

from underglass.errors import InputError, SourceError
from underglass.place.place import Place
from underglass.sources.daily import DailyRecord, daily_record
from underglass.sources.draft import distance_km, place_of
from underglass.sources.shape import dig, from_service, real
from underglass.sources.web import WebClient

__all__ = ["BASE_URL", "Station", "acis_daily", "acis_stations"]

SERVICE = "ACIS"
BASE_URL = "https://data.rcc-acis.org"
LICENCE = "Station readings from the Regional Climate Centers' ACIS (https://www.rcc-acis.org) and NOAA, public domain"
FOOT_M = 0.3048
TRACE_MM = 0.1
"""A trace is less than the least amount that is measured, 0.25 mm; a nominal 0.1 mm keeps the day a wet one (judgement)."""
VALUE = re.compile(r"(-?\d+(?:\.\d+)?)[A-Z]?")


@dataclass(frozen=True, slots=True)
class Station:
    """A weather station near a place."""

    sid: str
    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    distance_km: float


def acis_stations(
    client: WebClient, place: Place, first: date, last: date, *, within_deg: float = 0.5, base_url: str = BASE_URL
) -> tuple[Station, ...]:
    """Stations with temperatures in that span within a square of ± `within_deg`, nearest first."""
    lat, lon = place.latitude_deg, place.longitude_deg
    question = {
        "bbox": f"{lon - within_deg:.3f},{lat - within_deg:.3f},{lon + within_deg:.3f},{lat + within_deg:.3f}",
        "meta": "name,sids,ll,elev", "elems": ["mint", "maxt"], "sdate": first.isoformat(), "edate": last.isoformat(),
    }  # fmt: skip
    reply = client.post_json(SERVICE, f"{base_url}/StnMeta", question, keep=timedelta(days=30))
    _refuse_error(reply.data)
    found = [_station(entry, place) for entry in dig(SERVICE, reply.data, "meta", kind=list)]
    return tuple(sorted((station for station in found if station is not None), key=lambda s: s.distance_km))


def _station(entry: Any, place: Place) -> Station | None:
    """One station, or None where its place is not known."""
    if not isinstance(entry, dict) or not entry.get("ll") or not entry.get("sids"):
        return None
    lon, lat = (real(SERVICE, dig(SERVICE, entry, "ll", k), "ll") for k in (0, 1))
    feet = entry.get("elev")
    return Station(
        sid=str(entry["sids"][0]).split(" ")[0],
        name=str(entry.get("name", "")),
        latitude_deg=lat,
        longitude_deg=lon,
        elevation_m=FOOT_M * real(SERVICE, feet, "elev") if feet is not None else float("nan"),
        distance_km=distance_km(place.latitude_deg, place.longitude_deg, lat, lon),
    )


def acis_daily(
    client: WebClient, station: str, first: date, last: date, *, time_zone: str = "UTC", base_url: str = BASE_URL
) -> DailyRecord:
    """Daily lowest and highest temperature and rain of a station (id such as 'USW00094728' or 'ORD')."""
    if last < first:
        raise InputError(f"from {first} to {last}: the last day comes before the first")
    elems = [
        {"name": "mint", "units": "degreeC"},
        {"name": "maxt", "units": "degreeC"},
        {"name": "pcpn", "units": "mm"},
    ]
    question = {
        "sid": station, "sdate": first.isoformat(), "edate": last.isoformat(), "meta": "name,state,ll,elev,sids",
        "elems": [{**elem, "interval": "dly"} for elem in elems],
    }  # fmt: skip
    reply = client.post_json(SERVICE, f"{base_url}/StnData", question, keep=timedelta(days=7))
    _refuse_error(reply.data)
    rows = dig(SERVICE, reply.data, "data", kind=list)
    if not rows:
        raise SourceError(f"{SERVICE}: station {station} has no data from {first} to {last}")
    dates = np.array([_day(dig(SERVICE, row, 0)) for row in rows])
    shown = np.array([[_value(dig(SERVICE, row, k)) for k in (1, 2, 3)] for row in rows])
    columns = {"tmin_k": shown[:, 0] + 273.15, "tmax_k": shown[:, 1] + 273.15, "precipitation_mm": shown[:, 2]}
    swapped = columns["tmin_k"] > columns["tmax_k"]
    columns["tmin_k"][swapped] = columns["tmax_k"][swapped] = np.nan
    notes = reply.notes + ((f"{swapped.sum()} days with Tmin above Tmax left out",) if swapped.any() else ())
    where, name = _where(reply.data, time_zone)
    return from_service(SERVICE, lambda: daily_record(
        where, dates, columns, np.arange(1, len(rows) + 1), SERVICE,
        source=f"ACIS station {station} {name}".strip(), licence=LICENCE, fetched=reply.fetched, notes=notes,
    ))  # fmt: skip


def _refuse_error(data: Any) -> None:
    if isinstance(data, dict) and data.get("error"):
        raise SourceError(f"{SERVICE}: {str(data['error'])[:200]}")


def _where(data: Any, time_zone: str) -> tuple[Place, str]:
    lon, lat = (real(SERVICE, dig(SERVICE, data, "meta", "ll", k), "ll") for k in (0, 1))
    meta = dig(SERVICE, data, "meta", kind=dict)
    feet, name = meta.get("elev"), str(meta.get("name", ""))
    height = None if feet is None else FOOT_M * real(SERVICE, feet, "elev")
    return from_service(SERVICE, lambda: place_of(SERVICE, lat, lon, height, time_zone, name=name)), name


def _day(text: Any) -> np.datetime64:
    try:
        return np.datetime64(date.fromisoformat(text))
    except (TypeError, ValueError) as error:
        raise SourceError(f"{SERVICE}: a day is {str(text)[:20]!r}: expected YYYY-MM-DD") from error


def _value(text: Any) -> float:
    """A reading: number with or without a flag letter, 'M' missing, 'T' trace, 'S' part of a later sum."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return real(SERVICE, text, "a reading")
    word = str(text).strip().upper()
    if word in ("M", "S", ""):
        return float("nan")
    if word == "T":
        return TRACE_MM
    match = VALUE.fullmatch(word)
    if match is None:
        raise SourceError(f"{SERVICE}: a reading is {str(text)[:20]!r}: expected a number, M or T")
    return float(match[1])
