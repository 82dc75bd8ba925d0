"""From a draft of hours to an OutsideWeather: refuse, fill, average, and stand in for what the source does not measure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError, SourceError, UnderglassError
from underglass.sources.climate_check import refuse_fahrenheit
from underglass.sources.draft import HourlyDraft
from underglass.sources.hours import MAX_GAP_H, HourGrid, mean_over_hours, short_gaps_filled
from underglass.sources.quantities import QUANTITIES
from underglass.sources.sunlight import Sunlight, cloud_seen, sunlight
from underglass.weather.chain import snow_on_ground
from underglass.weather.outside import OutsideWeather, Provenance
from underglass.weather.sky import dew_point_k, longwave_down_w_m2, pressure_pa, saturation_pa

__all__ = ["finish", "trimmed"]

F64 = NDArray[np.float64]

SKY_MODEL = "Berdahl & Martin 1984"

MAX_SUPERSATURATION_K = 0.5
"""A dew point this far above the air is rounding; beyond it, columns are swapped or broken."""

AT_A_MOMENT = ("air_temp_k", "dew_point_k", "wind_m_s", "cloud_frac", "pressure_pa", "snow_depth_m")
GALE_M_S = 15.0
"""No inhabited place has this as its mean wind over days (the windiest stations have about 12)."""

SUN = ("dni_w_m2", "dhi_w_m2", "ghi_w_m2")


def finish(draft: HourlyDraft) -> OutsideWeather:
    """The hours of a draft, whole and checked.

    Gaps of up to MAX_GAP_H hours in temperature, humidity, wind and sun are bridged and counted; longer ones are refused
    with their line.  Rain defaults to none, snow to what rain and frost make, pressure to the standard atmosphere, longwave to the sky model.
    """
    _refuse_impossible(draft)
    _refuse_absent(draft)
    columns = {name: values.copy() for name, values in draft.grid.columns.items() if draft.has(name)}
    if "dew_point_k" not in columns:
        columns["dew_point_k"] = dew_point_from_rh_k(columns["air_temp_k"], columns["rh_frac"])
    elif "rh_frac" in columns:
        gaps = np.isnan(columns["dew_point_k"])
        columns["dew_point_k"][gaps] = dew_point_from_rh_k(columns["air_temp_k"], columns["rh_frac"])[gaps]
    columns.pop("rh_frac", None)
    bridged, bridge_notes = _bridge(draft, columns)
    notes = list(bridge_notes)
    columns["dew_point_k"] = _no_wetter_than_air(draft, columns)
    if draft.instants_at_end:
        columns |= {name: mean_over_hours(columns[name]) for name in AT_A_MOMENT if name in columns}
    sun = sunlight(draft, columns)
    months = (draft.grid.start + np.arange(columns["air_temp_k"].shape[0])).astype("datetime64[M]").astype(
        np.int64
    ) % 12
    if not draft.from_service:
        label = draft.named("air_temp_k", "air temperatures")
        refuse_fahrenheit(draft.place, months, columns["air_temp_k"], draft.file, label, per_day=24)
        _refuse_gales(draft, columns["wind_m_s"])
        notes = [*notes, *_nearly_a_year(columns["air_temp_k"].shape[0])]
    return _outside(draft, columns, sun, bridged, (*notes, *sun.notes))


def _refuse_gales(draft: HourlyDraft, wind_m_s: F64) -> None:
    """A mean wind over days that no garden has is a slip of the unit."""
    if wind_m_s.shape[0] >= 48 and wind_m_s.mean() > GALE_M_S:
        label = draft.named("wind_m_s", "wind")
        raise InputError(
            f"{draft.file}: {label} has a mean of {wind_m_s.mean():.0f} m/s, a gale without end: expected at most {GALE_M_S:g}; is it in km/h or knots?"
        )


def _nearly_a_year(hours: int) -> tuple[str, ...]:
    """A word on series that are an hour or a day from whole years, as when a row was lost or a leap day dropped."""
    for years in (1, 2, 3, 4, 5):
        for whole in (years * 8760, years * 8760 + 24 * ((years + 3) // 4)):
            if 0 < abs(hours - whole) <= 2:
                off = "short of" if hours < whole else "more than"
                return (
                    f"{hours} hours, {abs(hours - whole)} {off} {'a year' if years == 1 else f'{years} years'}: is a row missing or twice?",
                )
    return ()


def _outside(
    draft: HourlyDraft, columns: dict[str, F64], sun: Sunlight, bridged: int, notes: tuple[str, ...]
) -> OutsideWeather:
    """The value itself, with the sky model and the standard atmosphere where the draft has nothing."""
    n = columns["air_temp_k"].shape[0]
    longwave, name = _longwave(draft, columns, sun)
    snow, snow_note = _snow(columns)
    seen = Provenance(
        layer=draft.layer, source=draft.source, licence=draft.licence, longwave=name,
        filled_hours=bridged, fetched=draft.fetched, notes=(*draft.notes, *notes, *([snow_note] if snow_note else [])),
    )  # fmt: skip
    return OutsideWeather(
        place=draft.place,
        start=draft.grid.start,
        air_temp_k=columns["air_temp_k"],
        dew_point_k=np.minimum(columns["dew_point_k"], columns["air_temp_k"]),
        wind_m_s=columns["wind_m_s"],
        dni_w_m2=sun.dni_w_m2,
        dhi_w_m2=sun.dhi_w_m2,
        longwave_down_w_m2=longwave,
        precipitation_mm=np.nan_to_num(columns.get("precipitation_mm", np.zeros(n))),
        snow_depth_m=snow,
        pressure_pa=columns.get("pressure_pa", np.full(n, pressure_pa(draft.place.elevation_m))),
        sun_zenith_deg=sun.zenith_deg,
        sun_azimuth_deg=sun.azimuth_deg,
        provenance=seen,
    )


def _longwave(draft: HourlyDraft, columns: dict[str, F64], sun: Sunlight) -> tuple[F64, str]:
    """(longwave from the sky, what it is): the source's own, and the sky model for hours without it."""
    given = columns.get("longwave_down_w_m2")
    if given is not None and np.isfinite(given).all():
        return given, draft.longwave
    cloud = cloud_seen(columns.get("cloud_frac"), sun)
    modelled = longwave_down_w_m2(columns["air_temp_k"], columns["dew_point_k"], cloud)
    name = f"{SKY_MODEL} with cloud {'as given' if 'cloud_frac' in columns else 'from the sun'}"
    if given is None:
        return modelled, name
    missing = np.isnan(given)
    return np.where(missing, modelled, given), f"{draft.longwave}; {missing.sum()} hours by {name}"


def _snow(columns: dict[str, F64]) -> tuple[F64, str]:
    """(snow on the ground, a note where it is modelled)."""
    if "snow_depth_m" in columns:
        return columns["snow_depth_m"], ""
    rain = np.nan_to_num(columns.get("precipitation_mm", np.zeros_like(columns["air_temp_k"])))
    snow = snow_on_ground(columns["air_temp_k"], rain)
    return snow, "snow on the ground from precipitation and temperature" if snow.any() else ""


def dew_point_from_rh_k(air_k: F64, rh_frac: F64) -> F64:
    """Dew point from relative humidity over water.  FAO-56 eq. 11 solved for the temperature.  [K]

    rh_frac : 0.005-1 (clipped)

    >>> round(float(dew_point_from_rh_k(np.array([293.15]), np.array([0.5]))[0]) - 273.15, 2)
    9.27
    """
    return dew_point_k(saturation_pa(air_k) * np.clip(rh_frac, 0.005, 1.0))


def trimmed(draft: HourlyDraft) -> HourlyDraft:
    """A service's draft without the hours at both ends where something needed is not there yet."""
    grid = draft.grid
    needed = [values for name, values in grid.columns.items() if QUANTITIES[name].needed and draft.has(name)]
    if not any(name in SUN and draft.has(name) for name in grid.columns) and draft.has("cloud_frac"):
        needed.append(grid.columns["cloud_frac"])
    whole = (
        np.flatnonzero(np.all([np.isfinite(values) for values in needed], axis=0))
        if needed
        else np.array([], dtype=int)
    )
    if not whole.size:
        raise SourceError(f"{draft.file}: no hour of the reply is complete")
    first, last = int(whole[0]), int(whole[-1]) + 1
    cut = slice(first, last)
    columns = {name: values[cut] for name, values in grid.columns.items()}
    return replace(draft, grid=HourGrid(grid.start + first, columns, grid.lines[cut]))


def _refuse_impossible(draft: HourlyDraft) -> None:
    """One sentence for the first impossible value of each column."""
    faults: list[str] = []
    for name, values in draft.grid.columns.items():
        kind = QUANTITIES[name]
        shown = kind.to_shown(values)
        bad = np.flatnonzero((shown < kind.low - 1e-9) | (shown > kind.high + 1e-9))
        if bad.size:
            value = kind.in_words(float(shown[bad[0]]))
            label = draft.named(name, kind.label)
            allowed = f"{kind.low:g} to {kind.high:g} {kind.unit}".rstrip()
            more = f" ({bad.size} such hours)" if bad.size > 1 else ""
            hint = _hint(name, float(shown[bad[0]]))
            faults.append(str(draft.fault(int(bad[0]), f"{label} is {value}: expected {allowed}{hint}{more}")))
    if faults:
        kind_of_error: type[UnderglassError] = SourceError if draft.from_service else InputError
        raise kind_of_error("\n".join(faults))


def _hint(name: str, value: float) -> str:
    """What an impossible value often is."""
    if value in (-999.0, -9999.0, -99.0, 9999.0, 999.0, -9900.0):
        return "; if this marks a missing value, leave the cell empty"
    if name in ("air_temp_k", "dew_point_k") and 60.0 < value <= 130.0:
        return "; is this in °F? then say '# temperature_unit: F'"
    if name in ("air_temp_k", "dew_point_k") and 150.0 < value < 340.0:
        return "; is this in kelvin?"
    if name == "cloud_frac" and value > 1.0:
        return "; is this in percent or tenths?"
    if name == "pressure_pa" and 400.0 < value < 1100.0:
        return "; is this in hPa?"
    return "; are columns out of order?"


def _refuse_absent(draft: HourlyDraft) -> None:
    """Refuse a draft that lacks temperature, humidity, wind, or anything from which to know the sun."""
    lacks = [QUANTITIES[name].label for name in ("air_temp_k", "wind_m_s") if not draft.has(name)]
    if not draft.has("dew_point_k") and not draft.has("rh_frac"):
        lacks.append("dew point or relative humidity")
    beam_known = sum(draft.has(name) for name in SUN) >= 2
    if not beam_known and not draft.has("ghi_w_m2") and not draft.has("cloud_frac"):
        lacks.append("sun (direct normal and diffuse, or global) or cloud cover")
    if lacks:
        sentence = f"{draft.file}: nowhere a value for {', '.join(lacks)}"
        raise SourceError(sentence) if draft.from_service else InputError(sentence)


def _bridge(draft: HourlyDraft, columns: dict[str, F64]) -> tuple[int, tuple[str, ...]]:
    """Bridge gaps in place; (hours in which something needed was missing, notes on columns that got a default)."""
    bridged = np.zeros(draft.grid.lines.shape[0], dtype=bool)
    notes: list[str] = []
    sun_from_cloud = not any(name in columns for name in SUN)
    for name in list(columns):
        needed = QUANTITIES[name].needed or (name == "cloud_frac" and sun_from_cloud)
        filled, missing, hole = short_gaps_filled(columns[name])
        if hole is None:
            columns[name] = filled if name not in ("precipitation_mm", "longwave_down_w_m2") else columns[name]
            bridged |= missing if needed else False
        elif needed:
            label = draft.named(name, QUANTITIES[name].label)
            when = f"{draft.grid.start + hole} UTC"
            raise draft.fault(
                hole, f"{label} is missing for more than {MAX_GAP_H} hours from {when}: longer gaps are not filled"
            )
        elif name in ("pressure_pa", "snow_depth_m", "cloud_frac"):
            columns.pop(name)
            notes.append(f"{QUANTITIES[name].label} has long gaps and was left out")
        if name == "precipitation_mm" and missing.any():
            notes.append(f"precipitation missing in {missing.sum()} hours, taken as none")
    return int(bridged.sum()), tuple(notes)


def _no_wetter_than_air(draft: HourlyDraft, columns: dict[str, F64]) -> F64:
    """Dew points no higher than the air; in a file, an excess beyond rounding is refused."""
    excess = columns["dew_point_k"] - columns["air_temp_k"]
    bad = np.flatnonzero(excess > MAX_SUPERSATURATION_K)
    if bad.size and not draft.from_service:
        dew, air = (draft.named(name, QUANTITIES[name].label) for name in ("dew_point_k", "air_temp_k"))
        more = f" ({bad.size} such hours)" if bad.size > 1 else ""
        raise draft.fault(
            int(bad[0]),
            f"{dew} is {excess[bad[0]]:.1f} K above {air}: expected at most {MAX_SUPERSATURATION_K} K{more}; are columns swapped?",
        )
    return np.minimum(columns["dew_point_k"], columns["air_temp_k"])
