"""From a shelter and the hours outside to the hours inside."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.shelter import kernel, parts
from underglass.shelter.geometry import COVER, ROOF, WALL, Enclosure, enclosure
from underglass.shelter.inside import HEAT_PATHS, InsideWeather
from underglass.shelter.model import Construction, Cover, Ground, OpenGround, Plants, Sheet, Shelter, Switches
from underglass.shelter.optics import cover_optics
from underglass.shelter.soil import Column, annual_wave_k, column_of_layers, soil_column
from underglass.shelter.sunlight import SkyTables, hourly_sunlight, sky_tables
from underglass.shelter.working import fleece_hours, gap_hours, night_cover_hours
from underglass.weather.days import standard_offset_h
from underglass.weather.outside import OutsideWeather

__all__ = ["open_ground_layers", "simulate"]

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]

STEPS_DAY, STEPS_NIGHT = 2, 1
SPIN_UP_H = 30 * 24
TERRAIN = {"open": (0.03, 1.0, 3.6e-4), "garden": (0.10, 0.75, 1.04e-4), "sheltered": (0.25, 0.6, 3.2e-5)}
"""Roughness length [m] and a factor for what stands around (estimates after the log law); wind coefficient of the leak model
by shielding class 1, 4 and 5 (ASHRAE Fundamentals, basic model) [(L/s)2/(cm4 (m/s)2)]."""

LID_MODE = {"shut": parts.SHUT, "open": parts.BY_SCHEDULE, "gap": parts.BY_SCHEDULE, "visits": parts.BY_SCHEDULE,
            "arm": parts.ARM, "perfect": parts.PERFECT, "rule": parts.RULE}  # fmt: skip
REPORTED_DEPTHS_M = (0.05, 0.10, 0.30)


def _wind_factor(shelter: Shelter, terrain: str, height_m: float) -> float:
    """Wind at the shelter over wind at 10 m in the open, by the log law over the garden's own roughness."""
    if shelter.wind_factor is not None:
        return shelter.wind_factor
    rough, factor, _ = TERRAIN[terrain]
    level = max(height_m, 3.0 * rough, 0.3)
    return float(factor * np.log(level / rough) / np.log(10.0 / 0.03))


def _sheet_heat(sheet: Sheet) -> float:
    return sheet.thickness_m * sheet.density_kg_m3 * sheet.specific_heat_j_kgk


def _light_out(cover: Cover | None) -> float:
    """Share of scattered light inside that a cover lets out, with half of what it absorbs (the outer half is lost outwards)."""
    if cover is None:
        return 1.0
    optics = cover_optics(cover)
    return (optics.diffuse_transmittance + 0.5 * optics.diffuse_absorptance) * (1.0 - cover.frame_share)


def _params(shelter: Shelter, enc: Enclosure, tables: SkyTables, terrain: str) -> parts.Params:
    cover, plants, ground, lid = shelter.cover, shelter.plants, shelter.ground, shelter.lid
    covered = not isinstance(shelter.shape, OpenGround)
    outer = cover.sheets[0] if cover else Sheet(0.001)
    inner = cover.sheets[-1] if cover else outer
    double = cover is not None and len(cover.sheets) == 2
    glazed = enc.area_m2(COVER)
    frame = cover.frame_share if cover else 0.0
    walls, roof = shelter.walls, shelter.roof or shelter.walls
    fleece, water, room = shelter.fleece, shelter.water, shelter.room
    switches = shelter.switches
    floor = enc.floor_area_m2
    leaf_area = floor * plants.cover_share * plants.leaf_area_index
    path = max(floor / enc.perimeter_m, 0.1)
    tight = shelter.airtightness
    values = dict(
        covered=float(covered), floor_area=floor, volume=enc.volume_m3, height=enc.height_m,
        cover_area=glazed * (1.0 - frame), cover_tilt_cos=enc.cover_mean_tilt_cos(), cover_sky=tables.sky_view_cover,
        cover_heat_outer=_sheet_heat(outer), cover_heat_inner=_sheet_heat(inner), double=float(double),
        gap_m=cover.gap_m if cover else 0.0,
        gap_conductance=-1.0 if cover is None or cover.gap_conductance_w_m2k is None else cover.gap_conductance_w_m2k,
        emit_outer=outer.ir_emissivity, pass_outer=outer.ir_transmittance,
        emit_inner=inner.ir_emissivity, pass_inner=inner.ir_transmittance,
        frame_ua=glazed * frame * (cover.frame_u_w_m2k if cover else 0.0),
        wall_area=enc.area_m2(WALL), wall_sky=tables.sky_view_walls,
        wall_emit=walls.ir_emissivity if walls else 0.9, wall_absorb=walls.solar_absorptance if walls else 0.6,
        wall_to_room=float(room is not None),
        roof_area=enc.area_m2(ROOF), roof_sky=tables.sky_view_roof,
        roof_emit=roof.ir_emissivity if roof else 0.9, roof_absorb=roof.solar_absorptance if roof else 0.6,
        soil_emit=ground.ir_emissivity, soil_absorb=ground.solar_absorptance,
        soil_wet=ground.surface_wetness, floor_sky=tables.sky_view_floor,
        canopy=plants.cover_share, leaf_area=leaf_area, leaf_absorb=plants.absorptance,
        leaf_heat=max(leaf_area * 0.25 * 4000.0, 1.0), wet_leaf=plants.wet_leaf, plant_height=plants.height_m,
        water_heat=water.volume_m3 * 4.18e6 if water else 0.0, water_area=water.area_m2 if water else 0.0,
        water_absorb=water.absorptance if water else 0.0,
        fleece=float(fleece is not None), fleece_pass=fleece.ir_transmittance if fleece else 0.0,
        fleece_emit=fleece.ir_emissivity if fleece else 0.5, fleece_sun=fleece.solar_transmittance if fleece else 1.0,
        fleece_air=fleece.air_exchange_m_s if fleece else 0.0, fleece_volume=floor * fleece.height_m if fleece else 0.0,
        light_out=_light_out(cover), leak_area=tight.leak_area_m2,
        fixed_ach=-1.0 if tight.fixed_air_changes_per_h is None else tight.fixed_air_changes_per_h,
        wind_factor=_wind_factor(shelter, terrain, enc.height_m if covered else 0.3), shielding=TERRAIN[terrain][2],
        working=float(LID_MODE[lid.working]), vent_area_per_m=lid.hinge_length_m + lid.swing_m, vent_height=lid.vent_height_m,
        full_gap=lid.full_gap_m, start_k=lid.start_k, full_k=lid.full_k, rule_flow=lid.rule_rate_m3_h / 3600.0, rule_gap=lid.gap_m,
        rule_start_k=lid.rule_start_k or -1.0, rule_stop_k=lid.rule_stop_k or -1.0,
        night_r=shelter.night_cover.resistance_m2k_w if shelter.night_cover else 0.0,
        room_ua=room.conductance_w_m2k * floor if room else 0.0,
        gains_air=shelter.gains_w * (1.0 - shelter.gains_radiant_share), gains_radiant=shelter.gains_w * shelter.gains_radiant_share,
        vapour=float(switches.vapour), snow=float(switches.snow), freezing=float(switches.soil_freezing),
        lateral=float(switches.sideways_soil and covered and ground.boundary == "wave"),
        lateral_ua_per_m=enc.perimeter_m / (path + ground.edge_resistance_m2k_w), raised_m=ground.raised_m,
        raised_ua_per_m=8.0 * enc.perimeter_m,
        bottom_kind={"insulated": 0.0, "wave": 1.0, "air": 2.0}[ground.boundary], bottom_r=ground.boundary_resistance_m2k_w,
        film_inside=-1.0 if shelter.inside_film_w_m2k is None else shelter.inside_film_w_m2k,
        film_outside=-1.0 if shelter.outside_film_w_m2k is None else shelter.outside_film_w_m2k,
    )  # fmt: skip
    return parts.Params(**{name: float(value) for name, value in values.items()})


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
    params = _params(shelter, enc, tables, place.terrain)
    ground = _ground_column(shelter)
    walls = _wall_column(shelter.walls, params.wall_area)
    roof = _wall_column(shelter.roof or shelter.walls, params.roof_area)
    beside = np.zeros((0, len(ground.thickness_m)), np.float32)
    if params.lateral > 0.0:
        natural = Ground(moisture=shelter.ground.moisture, porosity=shelter.ground.porosity, quartz_share=shelter.ground.quartz_share)
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
        fleece_hours(shelter.fleece, outside), _room_k(shelter, outside), bottom,
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
    columns = {name: np.ascontiguousarray(out[:, i]) for i, name in enumerate(kernel.OUT_COLUMNS)}
    inside = InsideWeather(
        shelter_name=shelter.name, place=place, start=outside.start, **columns,
        heat={name: flows[:, i] for i, name in enumerate(HEAT_PATHS)} if heat else {},
        floor_area_m2=enc.floor_area_m2, closure=closure,
    )  # fmt: skip
    return inside, layers
