"""What to warn of in the days ahead: kinds with the numbers behind them; thresholds and their sources stand in data/tending.toml."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.carry import AIR, AIR_MIN, LEAF, RH
from underglass.shelter.model import OpenGround, Shelter
from underglass.tend.lidplan import LidPlan
from underglass.tend.numbers import numbers
from underglass.weather.outside import OutsideWeather
from underglass.weather.sky import SIGMA

__all__ = ["Caution", "warnings_for"]


@dataclass(frozen=True, slots=True)
class Caution:
    """One warning.

    kind : 'cold', 'heat', 'frozen leaves', 'film on a clear night', 'gusts', 'snow', 'rain on snow', 'damp'
    hour : of the plan, where it begins or is worst;  value : chance 0-1, degC, m/s, m or mm as the kind has it
    until : hour from which it is over, where that can be told; None: not within the plan
    """

    kind: str
    hour: int
    value: float
    until: int | None = None


def warnings_for(
    shelter: Shelter, plan: LidPlan, forecast: OutsideWeather, members_air: NDArray[np.float64]
) -> list[Caution]:
    """Warnings of one shelter under its plan.  members_air : outside air (members, hours) [K]"""
    n = numbers("warnings")
    found: list[Caution] = []
    out = plan.out
    leaf = np.median(out[:, :, LEAF], axis=0) - 273.15
    if plan.cold > n["cold_chance"]:
        found.append(Caution("cold", int(np.argmin(leaf)), plan.cold))
    if plan.heat > n["heat_chance"]:
        found.append(Caution("heat", int(np.argmax(leaf)), plan.heat))
    frozen = np.flatnonzero(leaf < n["frozen_leaf_c"])
    if frozen.size:
        found.append(Caution("frozen leaves", int(frozen[0]), float(leaf.min()), _thawed(leaf, int(frozen[0]), n)))
    covered = not isinstance(shelter.shape, OpenGround) and shelter.room is None and shelter.cover is not None
    if covered:
        found += _film(shelter, plan, members_air, _clear_night(forecast), n["inversion_k"])
        found += _weather_on_it(forecast, n)
        damp = (np.median(out[:, :, RH], axis=0) > numbers("harm")["mould_rh"]).sum() / forecast.n_hours * 24.0
        if damp > n["damp_h"] and float(np.median(out[:, :, AIR])) - 273.15 > numbers("harm")["mould_c"]:
            found.append(Caution("damp", 0, float(damp)))
    return found


def _thawed(leaf_c: NDArray[np.floating], first: int, n: dict[str, float]) -> int | None:
    """The hour after a frost from which leaves have been thawed for two hours; None where that does not come."""
    warm = leaf_c > n["thawed_leaf_c"]
    after = np.flatnonzero(warm[first:-1] & warm[first + 1 :])
    return first + int(after[0]) + 1 if after.size else None


def _clear_night(outside: OutsideWeather) -> NDArray[np.bool_]:
    """True in the dark hours in which the sky takes the ground's heat away (data/tending.toml)."""
    black = SIGMA * outside.air_temp_k**4
    return np.asarray(
        (outside.sun_zenith_deg > 90.0) & (outside.longwave_down_w_m2 < numbers("warnings")["clear_sky"] * black)
    )


def _film(
    shelter: Shelter, plan: LidPlan, members_air: NDArray[np.float64], clear: NDArray[np.bool_], least_k: float
) -> list[Caution]:
    """Under plastic that lets heat rays through a clear night can be as cold inside as out."""
    cover = shelter.cover
    if cover is None or min(s.ir_transmittance for s in cover.sheets) <= 0.0:
        return []
    lift = np.median(plan.out[:, :, AIR_MIN] - members_air, axis=0)
    told = clear & (np.median(members_air, axis=0) < 276.15)
    worst = int(np.argmin(np.where(told, lift, 99.0)))
    return [Caution("film on a clear night", worst, float(lift[worst]))] if told.any() and lift[worst] < least_k else []


def _weather_on_it(forecast: OutsideWeather, n: dict[str, float]) -> list[Caution]:
    found = []
    wind, snow = forecast.wind_m_s, forecast.snow_depth_m
    if wind.max() > n["gust_m_s"]:
        found.append(Caution("gusts", int(wind.argmax()), float(wind.max())))
    fallen = snow - np.minimum.accumulate(snow)
    if fallen.max() > n["snow_m"]:
        found.append(Caution("snow", int(fallen.argmax()), float(fallen.max())))
    rain = np.where((snow > 0.05) & (forecast.air_temp_k > 273.65), forecast.precipitation_mm, 0.0)
    if rain.sum() > n["rain_on_snow_mm"]:
        found.append(Caution("rain on snow", int(rain.argmax()), float(rain.sum())))
    return found
