"""NASA POWER: reanalysis weather and satellite sun for any place on Earth, with longwave; no key.

Traps: missing values are -999 (named in the header); sun comes in MJ, Wh or kWh by community and averaging, so the unit is
read from the reply; the stamp is the *start* of the hour; hours are local solar time unless UTC is asked for; a cell is
50 km wide, so its temperatures are moved from the cell's elevation to the place's.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError, SourceError
from underglass.place.place import Place
from underglass.sources.daily import DailyRecord, daily_record
from underglass.sources.draft import HourlyDraft
from underglass.sources.finish import finish, trimmed
from underglass.sources.hours import lay_out
from underglass.sources.shape import dig, from_service, real, scale_of
from underglass.sources.web import Reply, WebClient
from underglass.units import ZERO_C_K
from underglass.weather.outside import OutsideWeather

__all__ = ["BASE_URL", "MonthlyClimate", "nasa_power_climate", "nasa_power_daily", "nasa_power_hourly"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

SERVICE = "NASA POWER"
BASE_URL = "https://power.larc.nasa.gov"
LICENCE = "Data from the NASA Langley Research Center POWER Project (https://power.larc.nasa.gov), open data"
MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")

CELSIUS = {"C": 1.0}
POWER_PER_AREA = {"W/m^2": 1.0, "Wh/m^2": 1.0, "MJ/hr": 1e6 / 3600.0, "MJ/m^2/hr": 1e6 / 3600.0, "kW-hr/m^2/hr": 1000.0}
ENERGY_PER_DAY = {"MJ/m^2/day": 1.0, "kW-hr/m^2/day": 3.6, "kWh/m^2/day": 3.6}
HOURLY: dict[str, tuple[str, dict[str, float]]] = {
    "T2M": ("air_temp_k", CELSIUS),
    "T2MDEW": ("dew_point_k", CELSIUS),
    "WS10M": ("wind_m_s", {"m/s": 1.0}),
    "PS": ("pressure_pa", {"kPa": 1000.0}),
    "PRECTOTCORR": ("precipitation_mm", {"mm/hour": 1.0, "mm/hr": 1.0}),
    "ALLSKY_SFC_SW_DWN": ("ghi_w_m2", POWER_PER_AREA),
    "ALLSKY_SFC_SW_DNI": ("dni_w_m2", POWER_PER_AREA),
    "ALLSKY_SFC_SW_DIFF": ("dhi_w_m2", POWER_PER_AREA),
    "ALLSKY_SFC_LW_DWN": ("longwave_down_w_m2", POWER_PER_AREA),
}
DAILY: dict[str, tuple[str, dict[str, float]]] = {
    "T2M_MIN": ("tmin_k", CELSIUS),
    "T2M_MAX": ("tmax_k", CELSIUS),
    "PRECTOTCORR": ("precipitation_mm", {"mm/day": 1.0}),
    "ALLSKY_SFC_SW_DWN": ("ghi_mj_m2", ENERGY_PER_DAY),
    "WS10M": ("wind_m_s", {"m/s": 1.0}),
}
CLIMATE: dict[str, tuple[str, dict[str, float]]] = {
    "T2M": ("mean_k", CELSIUS),
    "PRECTOTCORR": ("precipitation_mm_day", {"mm/day": 1.0}),
    "ALLSKY_SFC_SW_DWN": ("ghi_mj_m2", ENERGY_PER_DAY),
}
LEAST_HEIGHT_GAP_M = 50.0


@dataclass(frozen=True, slots=True, eq=False)
class MonthlyClimate:
    """Twelve monthly means, January first.

    mean_k : air temperature [K]     ghi_mj_m2 : global sun per day [MJ/m2]     precipitation_mm_day : per day [mm]
    """

    mean_k: F64
    ghi_mj_m2: F64
    precipitation_mm_day: F64
    source: str
    licence: str
    fetched: datetime
    notes: tuple[str, ...] = ()


def nasa_power_hourly(
    client: WebClient, place: Place, first: date, last: date, *, base_url: str = BASE_URL
) -> OutsideWeather:
    """Hours from first to last day (UTC) inclusive, 2001 on; sun from satellites, longwave included."""
    reply = _ask(client, "hourly", place, HOURLY, base_url, first, last, {"community": "RE", "time-standard": "UTC"})
    keys, columns, cell_m = _columns(reply.data, HOURLY)
    begin = np.array([_hour(key) for key in keys], dtype=np.int64)
    standard = dig(SERVICE, reply.data, "header").get("time_standard", "UTC")
    if standard != "UTC":
        raise SourceError(f"{SERVICE}: the hours are in {str(standard)[:20]!r}: expected UTC")
    month = (begin.astype("datetime64[m]").astype("datetime64[M]").astype(np.int64)) % 12
    notes = reply.notes + _to_elevation(columns, ("air_temp_k", "dew_point_k"), month, cell_m, place)
    grid = from_service(SERVICE, lambda: lay_out(begin, columns, np.zeros(len(keys), dtype=np.int64), SERVICE))
    draft = HourlyDraft(
        place, grid, SERVICE, "hourly record", "NASA POWER hourly", LICENCE,
        longwave="NASA POWER (satellite)", from_service=True, fetched=reply.fetched, notes=notes,
    )  # fmt: skip
    return finish(trimmed(draft))


def nasa_power_daily(
    client: WebClient, place: Place, first: date, last: date, *, base_url: str = BASE_URL
) -> DailyRecord:
    """Days from first to last inclusive, 1981 on (sun from 1984); the day is the place's solar day."""
    reply = _ask(client, "daily", place, DAILY, base_url, first, last, {"community": "AG"})
    keys, columns, cell_m = _columns(reply.data, DAILY)
    dates = np.array([_day(key) for key in keys])
    month = dates.astype("datetime64[M]").astype(np.int64) % 12
    notes = reply.notes + _to_elevation(columns, ("tmin_k", "tmax_k"), month, cell_m, place)
    return from_service(SERVICE, lambda: daily_record(
        place, dates, columns, np.arange(1, len(keys) + 1), SERVICE,
        source="NASA POWER daily", licence=LICENCE, fetched=reply.fetched, notes=notes,
    ))  # fmt: skip


def nasa_power_climate(client: WebClient, place: Place, *, base_url: str = BASE_URL) -> MonthlyClimate:
    """Twelve means of temperature, sun and rain.

    The service's monthly T2M_MIN and T2M_MAX are left alone: over a month they may be its extremes, not the mean of the
    daily ones; take those from `nasa_power_daily`.
    """
    reply = _ask(client, "climatology", place, CLIMATE, base_url, None, None, {"community": "AG"})
    keys, columns, cell_m = _columns(reply.data, CLIMATE)
    if not set(MONTHS) <= set(keys):
        raise SourceError(f"{SERVICE}: the climatology has no twelve months")
    order = [keys.index(month) for month in MONTHS]
    twelve = {name: values[order] for name, values in columns.items()}
    if set(twelve) != {"mean_k", "ghi_mj_m2", "precipitation_mm_day"} or any(
        np.isnan(v).any() for v in twelve.values()
    ):
        raise SourceError(f"{SERVICE}: a month of the climatology is missing")
    notes = reply.notes + _to_elevation(twelve, ("mean_k",), np.arange(12), cell_m, place)
    return MonthlyClimate(
        **twelve, source="NASA POWER climatology", licence=LICENCE, fetched=reply.fetched, notes=notes
    )


def _ask(
    client: WebClient, average: str, place: Place, wanted: dict[str, Any], base_url: str,
    first: date | None, last: date | None, extra: dict[str, str],
) -> Reply:  # fmt: skip
    params = {
        "parameters": ",".join(wanted), "format": "JSON",
        "latitude": f"{place.latitude_deg:.4f}", "longitude": f"{place.longitude_deg:.4f}", **extra,
    }  # fmt: skip
    if first is not None and last is not None:
        if last < first:
            raise InputError(f"from {first} to {last}: the last day comes before the first")
        params |= {"start": f"{first:%Y%m%d}", "end": f"{last:%Y%m%d}"}
    return client.get_json(SERVICE, f"{base_url}/api/temporal/{average}/point", params, keep=timedelta(days=30))


def _columns(data: Any, wanted: dict[str, tuple[str, dict[str, float]]]) -> tuple[list[str], dict[str, F64], float]:
    """(keys in order, columns in our units with fill values as nan, elevation of the cell)."""
    given = dig(SERVICE, data, "properties", "parameter", kind=dict)
    described = dig(SERVICE, data, "parameters", kind=dict)
    fill = real(SERVICE, dig(SERVICE, data, "header", "fill_value"), "fill_value")
    cell_m = real(SERVICE, dig(SERVICE, data, "geometry", "coordinates", 2), "the cell's elevation")
    keys = sorted({key for theirs in wanted if theirs in given for key in dig(SERVICE, given, theirs, kind=dict)})
    columns = {}
    for theirs, (ours, units) in wanted.items():
        if theirs not in given:
            continue
        unit = dig(SERVICE, described, theirs, "units")
        raw = np.array([real(SERVICE, given[theirs].get(key, fill), theirs) for key in keys])
        raw[raw == fill] = np.nan
        columns[ours] = raw * scale_of(SERVICE, unit, units, theirs) + (ZERO_C_K if ours.endswith("_k") else 0.0)
    if not keys:
        raise SourceError(f"{SERVICE}: the reply holds no values")
    return keys, columns, cell_m


def _hour(key: str) -> int:
    """`2024050107` → minutes since 1970 UTC."""
    if len(key) != 10 or not key.isdigit():
        raise SourceError(f"{SERVICE}: an hour is {key[:20]!r}: expected YYYYMMDDHH")
    return int(_day(key[:8]).astype("datetime64[m]").astype(np.int64)) + 60 * int(key[8:])


def _day(key: str) -> np.datetime64:
    """`20240501` → the day."""
    try:
        if len(key) != 8:
            raise ValueError
        return np.datetime64(date(int(key[:4]), int(key[4:6]), int(key[6:])))
    except ValueError as error:
        raise SourceError(f"{SERVICE}: a day is {key[:20]!r}: expected YYYYMMDD") from error


def _to_elevation(
    columns: dict[str, F64], names: tuple[str, ...], month: I64, cell_m: float, place: Place
) -> tuple[str, ...]:
    """Move temperatures (in place) from the cell's mean elevation to the place's, by the month's lapse; says so."""
    from underglass.weather.grid import LAPSE_K_PER_M

    rise_m = place.elevation_m - cell_m
    if abs(rise_m) < LEAST_HEIGHT_GAP_M:
        return ()
    lapse = LAPSE_K_PER_M if not place.southern else np.roll(LAPSE_K_PER_M, 6)
    for name in names:
        if name in columns:
            columns[name] = columns[name] + lapse[month] * rise_m
    if "pressure_pa" in columns:
        columns["pressure_pa"] = columns["pressure_pa"] * np.exp(-rise_m / 8430.0)
    mean_dk = float(lapse[month].mean()) * rise_m
    return (f"the service's cell lies at {cell_m:.0f} m, the place at {place.elevation_m:.0f} m: {mean_dk:+.1f} K",)
