"""From a shelter and the hours outside to the hours inside."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.shelter import kernel
from underglass.shelter.geometry import ROOF, WALL, Enclosure, enclosure
from underglass.shelter.inside import HEAT_PATHS, InsideWeather
from underglass.shelter.model import Construction, Ground, OpenGround, Plants, Shelter, Switches
from underglass.shelter.reduce import params as reduced
from underglass.shelter.soil import Column, annual_wave_k, column_of_layers, soil_column
from underglass.shelter.sunlight import hourly_sunlight, sky_tables
from underglass.shelter.working import fleece_hours, gap_hours, night_cover_hours, swept_hours
from underglass.weather.days import standard_offset_h
from underglass.weather.outside import OutsideWeather

__all__ = ["open_ground_layers", "simulate"]

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]

STEPS_DAY, STEPS_NIGHT = 2, 1
SPIN_UP_H = 30 * 24
REPORTED_DEPTHS_M = (0.05, 0.10, 0.30)


def _ground_column(shelter: Shelter) -> Column:
    ground = shelter.ground
    if ground.layers:
        return column_of_layers(ground.layers)
    return soil_column(ground, freezing=shelter.switches.soil_freezing)


def _wall_column(construction: Construction | None, area_m2: float) -> Column:
    """Inside face first; an absent or unused wall is an empty column."""
    if construction is None or area_m2 <= 0.0:
        empty = np.zeros(0)
        return Column(empty, empty, empty, empty, empty, empty)
    return column_of_layers(tuple(reversed(construction.layers)), finest_m=0.03)


def _wave(ground: Ground, outside: OutsideWeather) -> tuple[float, float, float]:
    """Mean, amplitude and day of minimum of the ground surface's year: given, or the air's first harmonic plus 1 K.

    Soil lies about 1 K above the air in the yearly mean (common practice in ground-heat design; snow and sun decide).
    """
    days = _day_of_year(outside)
    turn = 2.0 * np.pi * days / 365.25
    air = outside.air_temp_k
    if outside.n_hours >= 360 * 24:
        basis = np.stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])[:, ::24]
        mean, c, s = np.linalg.lstsq(basis.T, air[: len(turn)][::24], rcond=None)[0]
    else:
        mean, c, s = float(air.mean()), 0.0, 0.0
    amplitude = float(np.hypot(c, s))
    minimum = float((np.arctan2(-s, -c) % (2.0 * np.pi)) * 365.25 / (2.0 * np.pi)) if amplitude > 0.0 else 20.0
    return (
        mean + 1.0 if ground.wave_mean_k is None else ground.wave_mean_k,
        amplitude if ground.wave_amplitude_k is None else ground.wave_amplitude_k,
        minimum if ground.wave_day_of_minimum is None else ground.wave_day_of_minimum,
    )


def _day_of_year(outside: OutsideWeather) -> F64:
    hours = outside.times
    year = hours.astype("datetime64[Y]")
    return np.asarray((hours - year.astype("datetime64[h]")) / np.timedelta64(24, "h"), dtype=float)


def _picks(column: Column) -> F64:
    """For each reported depth: the layer above it and the weight of the one below."""
    depth = column.depth_m
    picks = np.zeros((3, 2))
    for row, at in enumerate(REPORTED_DEPTHS_M):
        j = int(np.clip(np.searchsorted(depth, at) - 1, 0, max(len(depth) - 2, 0)))
        span = depth[j + 1] - depth[j] if len(depth) > 1 else 1.0
        picks[row] = j, np.clip((at - depth[j]) / span, 0.0, 1.0)
    return picks


def _vapour_pa(outside: OutsideWeather) -> F64:
    t = outside.dew_point_k - 273.15
    return np.asarray(610.8 * np.exp(17.27 * t / (t + 237.3)))


def _room_k(shelter: Shelter, outside: OutsideWeather) -> F64:
    room = shelter.room
    if room is None:
        return np.full(1, 290.0).repeat(outside.n_hours)
    hour = (np.arange(outside.n_hours) + outside.start.astype(np.int64) + standard_offset_h(outside.place)) % 24
    return np.where((hour >= 7) & (hour < 22), room.day_k, room.night_k)


def _check(shelter: Shelter, enc: Enclosure) -> None:
    covered = not isinstance(shelter.shape, OpenGround)
    if covered and shelter.cover is None:
        raise InputError(f"shelter {shelter.name}: it has a shape but no cover; name the glazing")
    if enc.area_m2(WALL) > 0.0 and shelter.walls is None:
        raise InputError(f"shelter {shelter.name}: it has opaque walls but no wall material; name the walls' layers")
    if enc.area_m2(ROOF) > 0.0 and shelter.roof is None and shelter.walls is None:
        raise InputError(f"shelter {shelter.name}: its top is opaque but has no material; name the roof's layers")


def simulate(shelter: Shelter, outside: OutsideWeather, *, heat: bool = False) -> InsideWeather:
    """Hours inside `shelter` for the hours outside.

    heat : also keep the hourly heat flows (HEAT_PATHS)

    The run starts from the annual soil wave and is led in by 30 days: the last of a whole-year series, else the first.
    """
    inside, _ = _simulate(shelter, outside, heat=heat, keep_layers=False)
    return inside


@lru_cache(maxsize=4)
def open_ground_layers(outside: OutsideWeather, ground: Ground, switches: Switches) -> F32:
    """Soil temperatures of open ground beside a shelter, shape (n_hours, n_layers) [K]; kept for the last few weathers."""
    bare = Shelter("open", OpenGround(), ground=ground, switches=switches, plants=Plants(cover_share=0.2))
    return _simulate(bare, outside, heat=False, keep_layers=True)[1]


def _simulate(shelter: Shelter, outside: OutsideWeather, *, heat: bool, keep_layers: bool) -> tuple[InsideWeather, F32]:
    enc = enclosure(shelter.shape, shelter.plants.height_m)
    _check(shelter, enc)
    place, n = outside.place, outside.n_hours
    facing = place.equator_azimuth_deg if shelter.facing_deg is None else shelter.facing_deg
    tables = sky_tables(enc, shelter.cover, facing, place.horizon)
    sun = hourly_sunlight(
        outside.dni_w_m2, outside.dhi_w_m2, outside.sun_zenith_deg, outside.sun_azimuth_deg, outside.snow_depth_m, tables,
        shelter.ground_reflectance,
    )  # fmt: skip
    params = reduced(shelter, enc, tables, place.terrain)
    ground = _ground_column(shelter)
    walls = _wall_column(shelter.walls, params.wall_area)
    roof = _wall_column(shelter.roof or shelter.walls, params.roof_area)
    beside = np.zeros((0, len(ground.thickness_m)), np.float32)
    if params.lateral > 0.0:
        natural = Ground(
            moisture=shelter.ground.moisture, porosity=shelter.ground.porosity, quartz_share=shelter.ground.quartz_share
        )
        beside = open_ground_layers(outside, natural, shelter.switches)
    wave = _wave(shelter.ground, outside)
    days = _day_of_year(outside)
    diffusivity = float(np.mean(ground.conductivity_thawed / ground.heat_thawed))
    bottom = annual_wave_k(float(ground.thickness_m.sum()), days, *wave, diffusivity)
    soil_k = annual_wave_k(ground.depth_m, days[0], *wave, diffusivity)
    if shelter.ground.layers:
        soil_k = np.full(len(ground.thickness_m), outside.air_temp_k[: min(n, 240)].mean())
    wall_k, roof_k = (np.full(len(c.thickness_m), outside.air_temp_k[0]) for c in (walls, roof))
    vapour = _vapour_pa(outside)
    state = kernel.fresh_state(float(outside.air_temp_k[0]), float(vapour[0]), float(soil_k[0]))
    hourly = (
        outside.air_temp_k, vapour, outside.wind_m_s, outside.longwave_down_w_m2, outside.pressure_pa, outside.precipitation_mm,
        outside.snow_depth_m, sun, gap_hours(shelter, outside), night_cover_hours(shelter.night_cover, outside),
        fleece_hours(shelter.fleece, outside), swept_hours(shelter, outside), _room_k(shelter, outside), bottom,
    )  # fmt: skip

    def go(part: slice, out: F32, flows: F32, layers: F32) -> float:
        return float(
            kernel.run(
                params, *(np.ascontiguousarray(a[part]) for a in hourly), beside[part] if len(beside) else beside,
                soil_k, ground.thickness_m, ground.conductivity_thawed, ground.conductivity_frozen, ground.heat_thawed, ground.heat_frozen,
                ground.latent, wall_k, walls.thickness_m, walls.conductivity_thawed, walls.heat_thawed,
                roof_k, roof.thickness_m, roof.conductivity_thawed, roof.heat_thawed,
                _picks(ground), state, STEPS_DAY, STEPS_NIGHT, out, flows, layers,
            )
        )  # fmt: skip

    none9, none_soil = np.zeros((0, 9), np.float32), np.zeros((0, len(soil_k)), np.float32)
    lead = slice(max(n - SPIN_UP_H, 0), n) if n >= 360 * 24 else slice(0, min(n, SPIN_UP_H))
    go(lead, np.empty((lead.stop - lead.start, 16), np.float32), none9, none_soil)
    out = np.empty((n, 16), np.float32)
    flows = np.empty((n, 9), np.float32) if heat else none9
    layers = np.empty((n, len(soil_k)), np.float32) if keep_layers else none_soil
    closure = go(slice(0, n), out, flows, layers)
    columns: dict[str, Any] = {name: np.ascontiguousarray(out[:, i]) for i, name in enumerate(kernel.OUT_COLUMNS)}
    inside = InsideWeather(
        shelter_name=shelter.name, place=place, start=outside.start, **columns,
        heat={name: flows[:, i] for i, name in enumerate(HEAT_PATHS)} if heat else {},
        floor_area_m2=enc.floor_area_m2, closure=closure,
    )  # fmt: skip
    return inside, layers
