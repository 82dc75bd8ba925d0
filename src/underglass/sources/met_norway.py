"""MET Norway Locationforecast 2.0: about nine days for any place, no key.

Traps: hourly for 2½ days, then every six hours (straight lines are drawn between); values are for the moment of the stamp,
rain is for the hours after it; pressure is reduced to sea level; there is no sun, so the cloud cover makes it.  The
service wants a contact in the User-Agent and to be asked again only after its Expires.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import SourceError
from underglass.place.place import Place
from underglass.sources.draft import HourlyDraft
from underglass.sources.finish import finish, trimmed
from underglass.sources.hours import HourGrid
from underglass.sources.quantities import QUANTITIES
from underglass.sources.shape import dig, hour_of, real, scale_of
from underglass.sources.web import WebClient
from underglass.weather.outside import OutsideWeather

__all__ = ["BASE_URL", "met_norway_forecast"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

SERVICE = "MET Norway"
BASE_URL = "https://api.met.no"
LICENCE = "Forecast by MET Norway (https://api.met.no), CC BY 4.0"
LONGEST_STEP_H = 12
LONGEST_H = 24 * 30

DETAILS: dict[str, tuple[str, dict[str, float]]] = {
    "air_temperature": ("air_temp_k", {"celsius": 1.0}),
    "dew_point_temperature": ("dew_point_k", {"celsius": 1.0}),
    "relative_humidity": ("rh_frac", {"%": 1.0}),
    "wind_speed": ("wind_m_s", {"m/s": 1.0}),
    "cloud_area_fraction": ("cloud_frac", {"%": 0.01}),
    "air_pressure_at_sea_level": ("pressure_pa", {"hPa": 100.0}),
}
"""The service's detail → (our name, unit → factor to the shown unit)."""


def met_norway_forecast(client: WebClient, place: Place, *, base_url: str = BASE_URL) -> OutsideWeather:
    """The coming nine days hour by hour; sun from cloud cover; six-hourly values joined by straight lines."""
    params = {
        "lat": f"{place.latitude_deg:.4f}", "lon": f"{place.longitude_deg:.4f}", "altitude": f"{place.elevation_m:.0f}",
    }  # fmt: skip
    url = f"{base_url}/weatherapi/locationforecast/2.0/complete"
    reply = client.get_json(SERVICE, url, params, keep=timedelta(minutes=1))
    properties = dig(SERVICE, reply.data, "properties", kind=dict)
    hours, instants = _instants(properties)
    columns = {name: _every_hour(hours, values) for name, values in instants.items()}
    rain = _rain(properties, hours)
    if "pressure_pa" in columns:
        columns["pressure_pa"] = columns["pressure_pa"] * (1.0 - 2.25577e-5 * place.elevation_m) ** 5.2559
    # A row of the draft is an hour with the values at its end, so the first stamp closes an hour without rain.
    columns["precipitation_mm"] = np.concatenate(([0.0], rain))
    n = columns["air_temp_k"].shape[0]
    grid = HourGrid(np.datetime64(int(hours[0]) - 1, "h"), columns, np.zeros(n, dtype=np.int64))
    coarse = np.flatnonzero(np.diff(hours) > 1)
    notes = reply.notes
    if coarse.size:
        notes += (
            f"from {np.datetime64(int(hours[coarse[0]]), 'h')} UTC on, six-hourly values joined by straight lines",
        )
    draft = HourlyDraft(
        place, grid, SERVICE, "forecast", "MET Norway Locationforecast", LICENCE,
        instants_at_end=True, from_service=True, fetched=reply.fetched, notes=notes,
    )  # fmt: skip
    return finish(trimmed(draft))


def _instants(properties: dict[str, Any]) -> tuple[I64, dict[str, F64]]:
    """(hours since 1970 UTC of the stamps, SI values at those moments)."""
    series = dig(SERVICE, properties, "timeseries", kind=list)
    units = dig(SERVICE, properties, "meta", "units", kind=dict)
    stamps = np.array([hour_of(SERVICE, dig(SERVICE, entry, "time")) for entry in series], dtype=np.int64)
    hours = stamps // 60
    steps = np.diff(hours)
    if hours.size < 2 or (stamps % 60).any() or (steps < 1).any() or (steps > LONGEST_STEP_H).any():
        raise SourceError(f"{SERVICE}: the times are not whole hours in order, at most {LONGEST_STEP_H} h apart")
    if hours[-1] - hours[0] > LONGEST_H:
        raise SourceError(f"{SERVICE}: a forecast of {hours[-1] - hours[0]} hours: expected at most {LONGEST_H}")
    details = [dig(SERVICE, entry, "data", "instant", "details", kind=dict) for entry in series]
    columns = {}
    for theirs, (ours, known) in DETAILS.items():
        raw = [detail.get(theirs) for detail in details]
        if any(value is not None for value in raw):
            factor = scale_of(SERVICE, units.get(theirs), known, theirs)
            shown = np.array([np.nan if value is None else real(SERVICE, value, theirs) * factor for value in raw])
            columns[ours] = QUANTITIES[ours].to_si(shown)
    if "air_temp_k" not in columns:
        raise SourceError(f"{SERVICE}: the reply has no temperatures")
    return hours, columns


def _every_hour(hours: I64, values: F64) -> F64:
    """Values at every hour from the first to the last stamp, straight lines between known ones."""
    every = np.arange(hours[0], hours[-1] + 1)
    known = np.isfinite(values)
    out = np.interp(every, hours[known], values[known], left=np.nan, right=np.nan)
    return np.asarray(out, dtype=np.float64)


def _rain(properties: dict[str, Any], hours: I64) -> F64:
    """Rain of each hour between the stamps; the total of six hours is spread evenly over them."""
    rain = np.zeros(int(hours[-1] - hours[0]))
    for entry, hour, step in zip(properties["timeseries"], hours, np.diff(hours), strict=False):
        first = int(hour - hours[0])
        for name, span in (("next_1_hours", 1), ("next_6_hours", 6)):
            details = (
                entry["data"].get(name, {}).get("details", {}) if isinstance(entry["data"].get(name), dict) else {}
            )
            if isinstance(details, dict) and details.get("precipitation_amount") is not None and span >= step:
                rain[first : first + int(step)] = real(SERVICE, details["precipitation_amount"], name) / span
                break
    return rain
