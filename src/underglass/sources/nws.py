"""US National Weather Service: the forecast grid of api.weather.gov, about 7½ days, US only, no key.

Traps: equal neighbouring hours are merged into one interval (`…/PT13H`); values may be null and layers empty; wind is in
km/h; rain is the *total* of its interval, spread here evenly over it; there is no sun, so the sky cover makes it.
"""

from __future__ import annotations

import re
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

__all__ = ["BASE_URL", "nws_forecast", "span_hours"]

F64 = NDArray[np.float64]

SERVICE = "US National Weather Service"
BASE_URL = "https://api.weather.gov"
LICENCE = "Forecast by the US National Weather Service (https://www.weather.gov), public domain"
LONGEST_H = 24 * 30

PERCENT = {"wmoUnit:percent": 1.0}
LAYERS: dict[str, tuple[str, dict[str, float]]] = {
    "temperature": ("air_temp_k", {"wmoUnit:degC": 1.0}),
    "dewpoint": ("dew_point_k", {"wmoUnit:degC": 1.0}),
    "relativeHumidity": ("rh_frac", PERCENT),
    "windSpeed": ("wind_m_s", {"wmoUnit:km_h-1": 1.0 / 3.6, "wmoUnit:m_s-1": 1.0}),
    "skyCover": ("cloud_frac", {"wmoUnit:percent": 0.01}),
    "quantitativePrecipitation": ("precipitation_mm", {"wmoUnit:mm": 1.0}),
}
"""The service's layer → (our name, unit → factor to the shown unit)."""
TOTALS = frozenset({"quantitativePrecipitation"})
DURATION = re.compile(r"P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?")


def nws_forecast(client: WebClient, place: Place, *, base_url: str = BASE_URL) -> OutsideWeather:
    """The coming week, hour by hour; sun from sky cover."""
    point = f"{_short(place.latitude_deg)},{_short(place.longitude_deg)}"
    try:
        where = client.get_json(SERVICE, f"{base_url}/points/{point}", {}, keep=timedelta(days=30)).data
    except SourceError as error:
        if "HTTP 404" in str(error):
            raise SourceError(f"{SERVICE}: {point} is outside the US; use open-meteo or met-norway there") from error
        raise
    office = dig(SERVICE, where, "properties", "gridId", kind=str)
    x, y = (dig(SERVICE, where, "properties", axis, kind=int) for axis in ("gridX", "gridY"))
    reply = client.get_json(SERVICE, f"{base_url}/gridpoints/{office}/{x},{y}", {}, keep=timedelta(minutes=30))
    grid = _grid(dig(SERVICE, reply.data, "properties", kind=dict))
    draft = HourlyDraft(
        place, grid, SERVICE, "forecast", f"US National Weather Service, office {office}", LICENCE,
        from_service=True, fetched=reply.fetched, notes=reply.notes,
    )  # fmt: skip
    return finish(trimmed(draft))


def _short(degrees: float) -> str:
    """At most four decimals and no trailing zeros, as the service redirects anything else."""
    return f"{degrees:.4f}".rstrip("0").rstrip(".")


def span_hours(valid_time: Any) -> tuple[int, int]:
    """(first hour since 1970 UTC, number of hours) of `2024-06-10T20:00:00+00:00/P1DT11H`.

    >>> span_hours("1970-01-01T05:00:00+00:00/P1DT2H")
    (5, 26)
    """
    start, slash, length = valid_time.partition("/") if isinstance(valid_time, str) else ("", "", "")
    match = DURATION.fullmatch(length)
    if not slash or match is None:
        raise SourceError(f"{SERVICE}: an interval is {str(valid_time)[:50]!r}: expected start/ISO 8601 duration")
    days, hours, minutes = (int(part or 0) for part in match.groups())
    count = 24 * days + hours + (minutes >= 30)
    if count > LONGEST_H:
        raise SourceError(f"{SERVICE}: an interval of {count} hours: expected at most {LONGEST_H}")
    return hour_of(SERVICE, start) // 60, count


def _layer(layers: dict[str, Any], name: str) -> list[tuple[int, int, float]]:
    """(first hour, hours, value in the shown unit) of a layer; nulls are nan, an absent or empty layer gives nothing."""
    layer = layers.get(name)
    values = layer.get("values") if isinstance(layer, dict) else None
    if not isinstance(layer, dict) or not isinstance(values, list) or not values:
        return []
    factor = scale_of(SERVICE, layer.get("uom"), LAYERS[name][1], name)
    out = []
    for entry in values:
        first, count = span_hours(dig(SERVICE, entry, "validTime"))
        value = dig(SERVICE, entry, "value")
        if count:
            out.append((first, count, np.nan if value is None else real(SERVICE, value, name) * factor))
    return out


def _grid(layers: dict[str, Any]) -> HourGrid:
    """All layers on the hours that the temperature covers."""
    temps = _layer(layers, "temperature")
    if not temps:
        raise SourceError(f"{SERVICE}: the reply has no temperatures")
    start = min(first for first, _, _ in temps)
    n = max(first + count for first, count, _ in temps) - start
    if n > LONGEST_H:
        raise SourceError(f"{SERVICE}: a forecast of {n} hours: expected at most {LONGEST_H}")
    columns = {}
    for theirs, (ours, _) in LAYERS.items():
        out = np.full(n, np.nan)
        for first, count, value in _layer(layers, theirs):
            a, b = max(first - start, 0), min(first + count - start, n)
            if a < b:
                out[a:b] = value / count if theirs in TOTALS else value
        columns[ours] = QUANTITIES[ours].to_si(out)
    return HourGrid(np.datetime64(start, "h"), columns, np.zeros(n, dtype=np.int64))
