"""PVGIS (European Commission, JRC): a typical year of hours from satellite sun and ERA5, with longwave; no key.

Traps: sun is the value *at* the stamp plus `irradiance_time_offset` hours, the rest at the stamp; the months come from
different years; no rain; a browser is refused, a program is not.  The service's series of real years carries no humidity, so it cannot
end in an OutsideWeather and is not read.
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
from underglass.sources.finish import finish
from underglass.sources.hours import HourGrid
from underglass.sources.shape import dig, floats, real
from underglass.sources.typical import LEAP_YEAR, PLAIN_YEAR
from underglass.sources.web import WebClient
from underglass.sun.position import sun_at
from underglass.weather.outside import OutsideWeather

__all__ = ["BASE_URL", "pvgis_typical_year"]

F64 = NDArray[np.float64]

SERVICE = "PVGIS"
BASE_URL = "https://re.jrc.ec.europa.eu/api/v5_3"
LICENCE = "Typical year from PVGIS, © European Commission, Joint Research Centre (https://re.jrc.ec.europa.eu)"
STAMP = re.compile(r"\d{4}(\d{2})(\d{2}):(\d{2})(\d{2})")
AT_STAMP: dict[str, tuple[str, float, float]] = {
    "air_temp_k": ("T2m", 1.0, 273.15),
    "rh_frac": ("RH", 0.01, 0.0),
    "wind_m_s": ("WS10m", 1.0, 0.0),
    "pressure_pa": ("SP", 1.0, 0.0),
    "longwave_down_w_m2": ("IR(h)", 1.0, 0.0),
}
"""Our name → (the service's column, factor, offset)."""
SUN = {"ghi_w_m2": "G(h)", "dni_w_m2": "Gb(n)", "dhi_w_m2": "Gd(h)"}
LEAST_COS = 0.05


def pvgis_typical_year(client: WebClient, place: Place, *, base_url: str = BASE_URL) -> OutsideWeather:
    """A typical year for the place, 8760 hours on the calendar of 2001; the skyline of the land is in its sun."""
    params = {"lat": f"{place.latitude_deg:.4f}", "lon": f"{place.longitude_deg:.4f}", "outputformat": "json"}
    reply = client.get_json(SERVICE, f"{base_url}/tmy", params, keep=timedelta(days=365))
    rows = dig(SERVICE, reply.data, "outputs", "tmy_hourly", kind=list)
    late_h = reply.data.get("inputs", {}).get("location", {}).get("irradiance_time_offset", 0.0)
    late_h = real(SERVICE, late_h, "irradiance_time_offset")
    if not -1.0 <= late_h <= 1.0:
        raise SourceError(f"{SERVICE}: irradiance_time_offset is {late_h:g} h: expected -1 to 1")
    start = _start(rows)
    columns = {}
    for ours, (theirs, factor, offset) in AT_STAMP.items():
        at_stamp = _column(rows, theirs) * factor + offset
        columns[ours] = np.roll(at_stamp, -1)  # the value at the next stamp closes the hour
    columns["longwave_down_w_m2"] = 0.5 * (np.roll(columns["longwave_down_w_m2"], 1) + columns["longwave_down_w_m2"])
    columns |= _sun(place, start, {ours: _column(rows, theirs) for ours, theirs in SUN.items()}, late_h)
    draft = HourlyDraft(
        place, HourGrid(start, columns, np.zeros(len(rows), dtype=np.int64)), SERVICE, "typical year",
        f"PVGIS typical year, {_years(reply.data)}", LICENCE, longwave="PVGIS (ERA5)",
        instants_at_end=True, from_service=True, fetched=reply.fetched,
        notes=(*reply.notes, "no precipitation in this source: taken as none"),
    )  # fmt: skip
    return finish(draft)


def _column(rows: list[Any], name: str) -> F64:
    return floats(SERVICE, [dig(SERVICE, row, name) for row in rows], name)


def _start(rows: list[Any]) -> np.datetime64:
    """First hour on the one calendar year; every row must be the hour after the one before it."""
    n = len(rows)
    if n not in (8760, 8784):
        raise SourceError(f"{SERVICE}: {n} hours: expected 8760 or 8784; the reply may be cut off")
    start = np.datetime64(f"{PLAIN_YEAR if n == 8760 else LEAP_YEAR}-01-01T00", "h")
    expected = np.datetime_as_string(start + np.arange(n), unit="h").tolist()
    for row, hour in zip(rows, expected, strict=True):
        stamp = dig(SERVICE, row, "time(UTC)", kind=str)
        match = STAMP.fullmatch(stamp)
        if match is None or match.groups()[:3] != (hour[5:7], hour[8:10], hour[11:13]):
            raise SourceError(f"{SERVICE}: a row is stamped {stamp[:20]!r}: expected {hour[5:]}:00 of a year")
    return start


def _sun(place: Place, start: np.datetime64, at_stamp: dict[str, F64], late_h: float) -> dict[str, F64]:
    """Values at stamp + `late_h` as means over the hours that begin at the stamps.

    What is carried to the middle of the hour is not the sun but its share of what could come at that height: beam over
    Meinel's clear beam, diffuse over the sine of the height; between two moments that share is a straight line.
    """
    moments = start.astype("datetime64[m]") + 60 * np.arange(at_stamp["dni_w_m2"].shape[0])
    height_then = _cos_zenith(place, moments + round(60 * late_h))
    height_mid = _cos_zenith(place, moments + 30)
    weight = abs(0.5 - late_h)
    toward = -1 if late_h <= 0.5 else 1
    lit = height_then > 0.0
    lit_next = np.roll(lit, toward)
    out = {}
    for name, could in (("dni_w_m2", _clear_beam), ("dhi_w_m2", _height)):
        share = at_stamp[name] / could(height_then)
        share_next = np.roll(share, toward)
        mixed = (1.0 - weight) * share + weight * share_next
        mid = np.where(lit & lit_next, mixed, np.where(lit, share, share_next))
        out[name] = np.where(height_mid > 0.0, mid * could(height_mid), 0.0)
    return out


def _clear_beam(cos_zenith: F64) -> F64:
    """Shape of the clear sky's beam, 0.7^(AM^0.678) (Meinel and Meinel 1976); only ratios of it are used."""
    return np.asarray(0.7 ** (1.0 / np.maximum(cos_zenith, LEAST_COS)) ** 0.678, dtype=np.float64)


def _height(cos_zenith: F64) -> F64:
    return np.maximum(cos_zenith, LEAST_COS)


def _cos_zenith(place: Place, moments: NDArray[np.datetime64]) -> F64:
    """Cosine of the zenith angle at given moments, minutes UTC."""
    return np.asarray(np.cos(np.radians(sun_at(place, moments)[0])))


def _years(data: Any) -> str:
    meteo = data.get("inputs", {}).get("meteo_data", {}) if isinstance(data, dict) else {}
    if isinstance(meteo, dict) and meteo.get("year_min") and meteo.get("year_max"):
        return f"months of {meteo['year_min']}-{meteo['year_max']}"
    return "months of several years"
