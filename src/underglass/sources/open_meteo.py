"""Open-Meteo: forecast and reanalysis history for any place, no key.

Traps: wind is in km/h unless asked otherwise; snowfall is in cm (we read snow *depth*, m); sun and rain belong to the hour
*before* the stamp, temperature and wind to the stamp itself; times are bare.  We ask for m/s and GMT, and read the
units the reply names all the same.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError, SourceError
from underglass.place.place import Place
from underglass.sources.daily import DailyRecord, daily_record
from underglass.sources.draft import HourlyDraft
from underglass.sources.finish import finish, trimmed
from underglass.sources.hours import lay_out
from underglass.sources.quantities import QUANTITIES
from underglass.sources.shape import dig, floats, from_service, hour_of, real, scale_of
from underglass.sources.web import Reply, WebClient
from underglass.weather.outside import OutsideWeather

__all__ = [
    "ARCHIVE_URL",
    "ENSEMBLE_URL",
    "FORECAST_URL",
    "open_meteo_archive",
    "open_meteo_daily",
    "open_meteo_ensemble",
    "open_meteo_forecast",
]

F64 = NDArray[np.float64]

SERVICE = "Open-Meteo"
FORECAST_URL = "https://api.open-meteo.com"
ENSEMBLE_URL = "https://ensemble-api.open-meteo.com"
ARCHIVE_URL = "https://archive-api.open-meteo.com"
LICENCE = "Weather data by Open-Meteo.com (https://open-meteo.com), CC BY 4.0"
ARCHIVE_LICENCE = f"{LICENCE}; contains modified Copernicus Climate Change Service information (ERA5)"
YEARS_PER_CALL = 5
MEMBER = re.compile(r"_member\d+$")
"""Suffix of an ensemble member's variables."""

HOURLY: dict[str, tuple[str, dict[str, float]]] = {
    "temperature_2m": ("air_temp_k", {"°C": 1.0}),
    "dew_point_2m": ("dew_point_k", {"°C": 1.0}),
    "wind_speed_10m": ("wind_m_s", {"m/s": 1.0, "km/h": 1.0 / 3.6}),
    "cloud_cover": ("cloud_frac", {"%": 0.01}),
    "precipitation": ("precipitation_mm", {"mm": 1.0}),
    "snow_depth": ("snow_depth_m", {"m": 1.0, "cm": 0.01}),
    "surface_pressure": ("pressure_pa", {"hPa": 100.0}),
    "shortwave_radiation": ("ghi_w_m2", {"W/m²": 1.0}),
    "direct_normal_irradiance": ("dni_w_m2", {"W/m²": 1.0}),
    "diffuse_radiation": ("dhi_w_m2", {"W/m²": 1.0}),
}
"""The service's variable → (our name, unit → factor to the shown unit)."""

DAILY: dict[str, tuple[str, dict[str, float]]] = {
    "temperature_2m_min": ("tmin_k", {"°C": 1.0}),
    "temperature_2m_max": ("tmax_k", {"°C": 1.0}),
    "precipitation_sum": ("precipitation_mm", {"mm": 1.0}),
    "shortwave_radiation_sum": ("ghi_mj_m2", {"MJ/m²": 1.0}),
}


def _where(place: Place) -> dict[str, str]:
    return {
        "latitude": f"{place.latitude_deg:.4f}",
        "longitude": f"{place.longitude_deg:.4f}",
        "elevation": f"{place.elevation_m:.0f}",
        "wind_speed_unit": "ms",
        "timeformat": "iso8601",
    }


def open_meteo_forecast(
    client: WebClient, place: Place, *, past_days: int = 2, forecast_days: int = 10, base_url: str = FORECAST_URL
) -> OutsideWeather:
    """The last days and the coming ones, hour by hour.

    past_days : 0-92      forecast_days : 1-16
    """
    if not (0 <= past_days <= 92 and 1 <= forecast_days <= 16):
        raise InputError(f"{past_days} past and {forecast_days} forecast days: expected 0-92 and 1-16")
    params = _where(place) | {
        "hourly": ",".join(HOURLY), "timezone": "GMT",
        "past_days": str(past_days), "forecast_days": str(forecast_days),
    }  # fmt: skip
    reply = client.get_json(SERVICE, f"{base_url}/v1/forecast", params, keep=timedelta(minutes=30))
    begin, columns = _hours(reply.data)
    return finish(trimmed(_draft(place, begin, columns, reply, "forecast", "Open-Meteo forecast", LICENCE)))


def open_meteo_ensemble(
    client: WebClient,
    place: Place,
    *,
    forecast_days: int = 7,
    models: str = "icon_seamless",
    base_url: str = ENSEMBLE_URL,
) -> tuple[OutsideWeather, ...]:
    """The coming days as the members of a weather model's ensemble see them, each hour by hour from midnight UTC.

    forecast_days : 1-16      models : one ensemble of the service, as 'icon_seamless' (40 members, 7 days)
    The reply names members by a suffix: `temperature_2m_member01` beside the control run's `temperature_2m`.
    """
    if not 1 <= forecast_days <= 16:
        raise InputError(f"{forecast_days} forecast days: expected 1-16")
    params = _where(place) | {
        "hourly": ",".join(HOURLY), "timezone": "GMT", "models": models, "forecast_days": str(forecast_days),
    }  # fmt: skip
    reply = client.get_json(SERVICE, f"{base_url}/v1/ensemble", params, keep=timedelta(hours=3))
    given, units = dig(SERVICE, reply.data, "hourly", kind=dict), dig(SERVICE, reply.data, "hourly_units", kind=dict)
    names = sorted({m.group(0) for key in given if (m := MEMBER.search(key))})
    source = f"Open-Meteo ensemble ({models})"
    found = []
    for name in ("", *names):
        one = {
            **reply.data,
            "hourly": {"time": given.get("time")} | {v: given[v + name] for v in HOURLY if v + name in given},
            "hourly_units": {v: units.get(v + name, units.get(v)) for v in HOURLY if v + name in given},
        }
        begin, columns = _hours(one)
        found.append(finish(trimmed(_draft(place, begin, columns, reply, "forecast", source, LICENCE))))
    return tuple(found)


def open_meteo_archive(
    client: WebClient, place: Place, first: date, last: date, *, models: str = "era5", base_url: str = ARCHIVE_URL
) -> OutsideWeather:
    """Hours of the past from a reanalysis, first to last day (UTC) inclusive; asked for in pieces of five years.

    models : 'era5' (25 km, from 1940; the one that does not change underneath) or 'era5_land' (10 km, from 1950)
    """
    begins, pieces, replies = [], [], []
    for start, end in _pieces(first, last):
        params = _where(place) | {
            "hourly": ",".join(HOURLY), "timezone": "GMT", "models": models,
            "start_date": start.isoformat(), "end_date": end.isoformat(),
        }  # fmt: skip
        reply = client.get_json(SERVICE, f"{base_url}/v1/archive", params, keep=timedelta(days=30))
        begin, columns = _hours(reply.data)
        begins.append(begin)
        pieces.append(columns)
        replies.append(reply)
    joined = {name: np.concatenate([piece[name] for piece in pieces]) for name in pieces[0]}
    notes = tuple(dict.fromkeys(note for reply in replies for note in reply.notes))
    whole = Reply(None, min(reply.fetched for reply in replies), notes)
    source = f"Open-Meteo archive ({models})"
    return finish(
        trimmed(_draft(place, np.concatenate(begins), joined, whole, "hourly record", source, ARCHIVE_LICENCE))
    )


def open_meteo_daily(
    client: WebClient, place: Place, first: date, last: date, *, models: str = "era5_land", base_url: str = ARCHIVE_URL
) -> DailyRecord:
    """Lowest and highest temperature, rain and sun of each day (the place's own days) from a reanalysis."""
    if last < first:
        raise InputError(f"from {first} to {last}: the last day comes before the first")
    params = _where(place) | {
        "daily": ",".join(DAILY), "timezone": place.time_zone, "models": models,
        "start_date": first.isoformat(), "end_date": last.isoformat(),
    }  # fmt: skip
    reply = client.get_json(SERVICE, f"{base_url}/v1/archive", params, keep=timedelta(days=30))
    days = dig(SERVICE, reply.data, "daily", "time", kind=list)
    try:
        dates = np.array([np.datetime64(date.fromisoformat(day)) for day in days])
    except (ValueError, TypeError) as error:
        raise SourceError(f"{SERVICE}: a day of the reply is no date") from error
    columns = _columns(reply.data, "daily", DAILY, len(days))
    for name in ("tmin_k", "tmax_k"):
        columns[name] = columns[name] + 273.15
    return from_service(SERVICE, lambda: daily_record(
        place, dates, columns, np.arange(1, len(days) + 1), SERVICE,
        source=f"Open-Meteo archive ({models})", licence=ARCHIVE_LICENCE, fetched=reply.fetched, notes=reply.notes,
    ))  # fmt: skip


def _pieces(first: date, last: date) -> list[tuple[date, date]]:
    """The span cut at every fifth New Year, so that each piece of the past is asked for once and then kept."""
    if last < first:
        raise InputError(f"from {first} to {last}: the last day comes before the first")
    cuts = [date(year, 1, 1) for year in range(first.year + 1, last.year + 1) if year % YEARS_PER_CALL == 0]
    starts = [first, *cuts]
    ends = [cut - timedelta(days=1) for cut in cuts] + [last]
    return list(zip(starts, ends, strict=True))


def _columns(data: Any, block: str, wanted: dict[str, tuple[str, dict[str, float]]], n: int) -> dict[str, F64]:
    """The variables of a block in the shown units; one that the service left out is simply absent."""
    given, units = dig(SERVICE, data, block, kind=dict), dig(SERVICE, data, f"{block}_units", kind=dict)
    return {
        ours: floats(SERVICE, given[theirs], theirs, n) * scale_of(SERVICE, units.get(theirs), known, theirs)
        for theirs, (ours, known) in wanted.items()
        if theirs in given
    }


def _hours(data: Any) -> tuple[NDArray[np.int64], dict[str, F64]]:
    """(minute at which each hour begins, columns): the row stamped 07:00 is the hour 06:00-07:00."""
    stamps = dig(SERVICE, data, "hourly", "time", kind=list)
    ahead_s = real(SERVICE, dig(SERVICE, data, "utc_offset_seconds"), "utc_offset_seconds")
    minutes = np.array([hour_of(SERVICE, stamp, utc_if_bare=True) for stamp in stamps], dtype=np.int64)
    columns = _columns(data, "hourly", HOURLY, len(stamps))
    si = {name: QUANTITIES[name].to_si(values) if name.endswith("_k") else values for name, values in columns.items()}
    return minutes - 60 - round(ahead_s / 60.0), si


def _draft(
    place: Place, begin: NDArray[np.int64], columns: dict[str, F64], reply: Reply, layer: str, source: str, licence: str
) -> HourlyDraft:
    if not begin.size:
        raise SourceError(f"{SERVICE}: the reply holds no hours")
    lines = np.zeros(begin.shape[0], dtype=np.int64)
    grid = from_service(SERVICE, lambda: lay_out(begin, columns, lines, SERVICE))
    return HourlyDraft(
        place, grid, SERVICE, layer, source, licence,
        instants_at_end=True, from_service=True, fetched=reply.fetched, notes=reply.notes,
    )  # fmt: skip
