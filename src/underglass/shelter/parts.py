"""The parts of a shelter as the balance sees them: each function adds one part to the small system of a step.

`Params` are the constants of one shelter, `Hour` what one hour brings, `Films` the convection inside.  Every `couple_…` function
adds a part to its zone (network.py) and returns that with what is needed to find the part's temperature once the zones are solved.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from underglass.compiled import njit
from underglass.shelter.columns import factor, sweep
from underglass.shelter.films import (
    CP_AIR,
    FREEZE_K,
    LATENT_J_KG,
    film_up,
    fourth_root,
    gap_film,
    leak_flow,
    radiation,
    saturation,
    saturation_near,
)
from underglass.shelter.network import Cloth, Zone, add_surface, joined, tied

__all__ = ["Films", "Hour", "Params"]

SHUT, BY_SCHEDULE, ARM, PERFECT, RULE = 0, 1, 2, 3, 4
"""How the lid is worked (`Params.working`)."""

(
    OUTER, INNER, AIR, STAR, VAPOUR, AIR2, STAR2, VAPOUR2, LEAF, FLEECE, WATER, SKIN, WALL_SKIN, ROOF_SKIN,
    DEW, SNOW, OPENING, RULE_ON,
) = range(18)  # fmt: skip
"""Places in the state vector: temperatures [K], vapour [Pa], dew on the cover and snow on it [kg/m2], opening 0-1, rule on 0/1."""

FLOOR_SUN, WALLS_SUN, OUTER_SUN, INNER_SUN, WALLS_OUT_SUN, ROOF_OUT_SUN = range(6)
"""Rows of the sunlight array, as in sunlight.py."""

LEAF_CAST, SOIL_CAST, WALL_CAST, ROOF_CAST, WATER_CAST, FLEECE_CAST, CROP_LIGHT = range(7)
"""Places in what `share_sun` fills."""

TIGHT = 1e4
"""Conductance that ties the open ground's air and sky to the outside [W/m2K]: large against any real one."""

DEW_FILM_KG_M2 = 0.03
"""Condensate from which a sheet is wet all over (estimate; drops of 0.03 mm mean depth)."""

DEW_MAX_KG_M2 = 0.10
"""What a sheet holds before it drips (estimate)."""

MELT_KG_M2_K_H = 0.17
"""Melt by warm air, as on open ground (weather/chain.py): 4 mm of water per K and day."""

SNOW_KG_M3 = 150.0
SNOW_W_MK = 0.15
"""Density and conductivity of settled new snow (Sturm et al. 1997, J. Glaciol. 43: 0.14 W/mK at 150-200 kg/m3, from memory)."""

LEAF_WIDTH_M = 0.04
"""Characteristic width of a leaf of a salad or cabbage plant [m] (estimate)."""


class Params(NamedTuple):
    """Constants of one shelter [SI]; areas m2, conductances W/K or W/m2K as named, shares 0-1."""

    covered: float
    floor_area: float
    volume: float
    height: float
    cover_area: float
    cover_tilt_cos: float
    cover_sky: float
    cover_heat_outer: float  # J/m2K of the outer sheet; 0 for a single sheet
    cover_heat_inner: float
    double: float
    gap_m: float
    gap_conductance: float  # negative: computed
    emit_outer: float  # outer sheet, or the only one
    pass_outer: float  # infrared transmittance
    emit_inner: float
    pass_inner: float
    frame_ua: float
    gap_grey: float  # black exchange between two sheets times this
    floor_view: float  # how much of the radiation field it sees, views.py
    cover_view: float
    wall_area: float
    wall_sky: float
    wall_emit: float
    wall_grey: float  # black exchange with the field inside times this
    wall_absorb: float
    wall_to_room: float
    roof_area: float
    roof_sky: float
    roof_emit: float
    roof_grey: float
    roof_absorb: float
    soil_emit: float
    soil_absorb: float
    soil_wet: float
    floor_sky: float
    canopy: float
    leaf_area: float  # m2 of leaf, one side
    leaf_absorb: float
    leaf_heat: float  # J/K
    wet_leaf: float
    plant_height: float
    water_heat: float  # J/K
    water_area: float
    water_absorb: float
    water_grey: float
    fleece: float
    fleece_pass: float
    fleece_grey: float  # to the field above it
    fleece_grey_under: float
    fleece_sun: float
    fleece_air: float  # m/s
    fleece_volume: float
    light_out: float  # share of scattered light inside that the cover lets out
    leak_area: float
    fixed_ach: float  # negative: modelled
    wind_factor: float
    shielding: float  # wind coefficient of the leak model
    working: float
    vent_area_per_m: float  # m2 of opening per m of gap
    vent_height: float
    full_gap: float
    start_k: float
    full_k: float
    rule_flow: float  # m3/s; 0: the lid is propped by rule_gap instead
    rule_gap: float
    rule_start_k: float
    rule_stop_k: float
    night_r: float
    room_ua: float
    gains_air: float
    gains_radiant: float
    vapour: float
    snow: float
    freezing: float
    lateral: float
    lateral_perimeter: float
    lateral_way: float  # m
    lateral_edge_r: float  # m2K/W in the way
    raised_m: float
    raised_ua_per_m: float  # W/K per m of raised depth
    bottom_kind: float  # 0 insulated, 1 given temperature, 2 air through resistance
    bottom_r: float
    film_inside: float  # negative: modelled
    film_outside: float


class Hour(NamedTuple):
    """What one hour brings from outside: air and vapour, wind at the shelter, the sky as temperatures, what lies on the lid."""

    air: float
    vapour: float
    wind: float
    density: float
    per_gamma: float  # 1 / psychrometric constant, K/Pa
    cover_rad: float
    floor_rad: float
    wall_rad: float
    roof_rad: float
    side: float  # air outside walls: the room's, at a sill
    film_out: float
    room: float
    room_vapour: float
    fleece: bool
    blanket: bool
    snow_m: float
    snow_r: float  # 0 where there is none
    light: float  # share of the sun that snow, dew or a blanket let through
    sheet_light: float


class Films(NamedTuple):
    """Natural convection inside [W/m2K] and the leak [m3/s], from the state at the start of the hour."""

    cover: float
    wall: float
    roof: float
    soil: float
    water: float
    fleece_top: float
    fleece_under: float
    leaf: float
    forced: float  # W/m2K per m/s of air movement
    leak: float
    gap: float  # between two sheets, convection and conduction


class CoverTerms(NamedTuple):
    """The cover after elimination, for its own temperatures and for the books."""

    d: float
    k: float
    air: float
    ray: float
    vap: float
    sat: float
    slope: float
    outer_d: float
    outer_src: float
    gap: float
    outer_ray: float
    face_g: float
    face_k: float
    melting: bool
    pass_g: float
    cross: float
    sky_g: float
    hold_in: float
    hold_out: float


class Slab(NamedTuple):
    """A wall or roof after elimination."""

    d: float
    k: float
    air: float
    ray: float
    face_g: float
    face_k: float


class Simple(NamedTuple):
    """A part with one temperature after elimination."""

    d: float
    k: float
    air: float
    ray: float
    vap: float
    hold: float


class FleeceTerms(NamedTuple):
    """The fleece after elimination: links to air and radiation above and below it."""

    d: float
    air: float
    ray: float
    air2: float
    ray2: float
    store: float


@njit(cache=True, error_model="numpy", forceinline=True)
def begin_hour(
    p, state, sun, air_k, vapour, wind, longwave4, pressure, rain_mm, snow_ground_m, night, fleece_laid, swept, room_k
):
    """Outside conditions as this shelter meets them; snow falls on the lid and melts.  longwave4: sky temperature to the 4th"""
    ground4 = air_k * air_k * air_k * air_k
    gust = wind * p.wind_factor
    covered = p.covered > 0.0
    blanket = covered and night > 0.0
    if p.snow > 0.0 and covered:
        if air_k < FREEZE_K + 1.0:
            state[SNOW] += rain_mm * min(1.0, max(0.0, (p.cover_tilt_cos - 0.5) * 2.5))  # steep film sheds it
        melt = max(0.0, air_k - FREEZE_K) * MELT_KG_M2_K_H + sun[INNER_SUN] / p.cover_area * 3600.0 / 3.34e5
        state[SNOW] = 0.0 if swept > 0.0 else max(0.0, state[SNOW] - melt)
    snow_m = state[SNOW] / SNOW_KG_M3 if covered else (snow_ground_m if p.snow > 0.0 else 0.0)
    snowed = snow_m > 0.004
    light = 0.0 if blanket else 1.0
    if snowed:
        light *= 0.3 * np.exp(-15.0 * snow_m)
    elif covered and p.vapour > 0.0:
        light *= 1.0 - 0.08 * min(state[DEW] / DEW_FILM_KG_M2, 1.0)
    indoors = p.wall_to_room > 0.0
    side = room_k if indoors else air_k
    cover_rad = floor_rad = air_k
    wall_rad = roof_rad = side
    if covered:
        cover_rad = fourth_root(p.cover_sky * longwave4 + (1.0 - p.cover_sky) * ground4)
        if p.wall_area > 0.0 and not indoors:
            wall_rad = fourth_root(p.wall_sky * longwave4 + (1.0 - p.wall_sky) * ground4)
        if p.roof_area > 0.0 and not indoors:
            roof_rad = fourth_root(p.roof_sky * longwave4 + (1.0 - p.roof_sky) * ground4)
    else:
        floor_rad = fourth_root(p.floor_sky * longwave4 + (1.0 - p.floor_sky) * ground4)
    return Hour(
        air_k, vapour, gust, pressure / (287.05 * air_k), 0.622 * LATENT_J_KG / (CP_AIR * pressure), cover_rad, floor_rad, wall_rad, roof_rad,
        side, p.film_outside if p.film_outside >= 0.0 else 2.8 + 3.0 * gust, room_k,
        0.45 * saturation(room_k) if p.room_ua > 0.0 else 0.0,
        p.fleece > 0.0 and fleece_laid > 0.0, blanket, snow_m, snow_m / SNOW_W_MK if snowed else 0.0, light,
        0.0 if blanket or snowed else 1.0,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", forceinline=True)
def share_sun(p, floor_w, walls_w, fleece_on, cast):
    """Where light that has come in is absorbed: cast = leaf, soil, walls, roof, water, fleece [W], light on the crop [W/m2]."""
    bounce = walls_w * (1.0 - p.wall_absorb)
    cast[WALL_CAST] = walls_w * p.wall_absorb
    taken = min(0.4, 0.25 * p.water_area / p.floor_area)
    cast[WATER_CAST] = floor_w * taken * p.water_absorb
    bounce += floor_w * taken * (1.0 - p.water_absorb)
    onto = floor_w * (1.0 - taken)
    through = p.fleece_sun if fleece_on else 1.0
    cast[FLEECE_CAST] = onto * (1.0 - through) * 0.4
    bounce += onto * (1.0 - through) * 0.6
    onto *= through
    leaf_share, soil_share = p.canopy * p.leaf_absorb, (1.0 - p.canopy + 0.2 * p.canopy) * p.soil_absorb
    cast[LEAF_CAST], cast[SOIL_CAST] = onto * leaf_share, onto * soil_share
    bounce += onto * (1.0 - leaf_share - soil_share)
    cast[ROOF_CAST] = 0.0
    scattered = 0.0
    if p.covered > 0.0:
        floor_pull = p.floor_area * (leaf_share + soil_share)
        pull = floor_pull + p.wall_area * p.wall_absorb + p.roof_area * p.roof_absorb + p.cover_area * p.light_out
        scattered = bounce / pull
        cast[LEAF_CAST] += scattered * p.floor_area * leaf_share
        cast[SOIL_CAST] += scattered * p.floor_area * soil_share
        cast[WALL_CAST] += scattered * p.wall_area * p.wall_absorb
        cast[ROOF_CAST] += scattered * p.roof_area * p.roof_absorb
    cast[CROP_LIGHT] = onto / p.floor_area + scattered * through


@njit(cache=True, error_model="numpy", forceinline=True)
def inside_films(p, state, hour, wind_m_s):
    """Films change slowly and cost cube roots: once an hour, for the parts that there are.  wind_m_s at 10 m drives the leak."""
    air = state[AIR]
    low = state[AIR2] if hour.fleece else air
    leaf = water = top = under = leak = gap = 0.0
    if p.double > 0.0:
        gap = gap_film(p.gap_m, state[OUTER], state[INNER]) if p.gap_conductance < 0.0 else p.gap_conductance
    if p.leaf_area > 0.0:  # Campbell & Norman 1998, eq. 7.35, free convection
        leaf = 1.47 * fourth_root(abs(state[LEAF] - low) / LEAF_WIDTH_M)
    if p.water_area > 0.0:
        water = max(film_up(state[WATER], air, 0.0), 2.0)
    if hour.fleece:
        top = max(film_up(state[FLEECE], air, 1.0), 0.5)
        under = max(film_up(state[FLEECE], low, -1.0), 0.5)
    if p.covered <= 0.0:
        soil = max(film_up(state[SKIN], low, 1.0), 0.5) if hour.fleece else 2.8
        return Films(0.0, 0.0, 0.0, soil, water, top, under, leaf, 3.0, 0.0, 0.0)
    if p.fixed_ach >= 0.0:
        leak = p.fixed_ach * p.volume / 3600.0
    else:
        leak = leak_flow(p.leak_area, air - hour.air, wind_m_s, p.height, p.shielding)
    if p.film_inside >= 0.0:
        f = p.film_inside
        return Films(f, f, f, f, water, top, under, leaf, 0.0, leak, gap)
    cover, soil = max(film_up(state[INNER], air, -p.cover_tilt_cos), 0.5), max(film_up(state[SKIN], low, 1.0), 0.5)
    wall = max(film_up(state[WALL_SKIN], air, 0.0), 0.5) if p.wall_area > 0.0 else 0.0
    roof = max(film_up(state[ROOF_SKIN], air, -1.0), 0.5) if p.roof_area > 0.0 else 0.0
    return Films(cover, wall, roof, soil, water, top, under, leaf, 3.0, leak, gap)


@njit(cache=True, error_model="numpy", forceinline=True)
def air_zone(p, state, hour, exchange, store):
    """The shelter's air and vapour alone: exchange with outside, frame, room behind a sill, heat put in."""
    warmth = exchange * hour.air + store * state[AIR] + p.frame_ua * hour.air + p.room_ua * hour.room + p.gains_air
    damp = (exchange * hour.vapour + store * state[VAPOUR] + p.room_ua * hour.room_vapour) * hour.per_gamma
    return Zone(
        exchange + store + p.frame_ua + p.room_ua, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, (exchange + store + p.room_ua) * hour.per_gamma,
        warmth, p.gains_radiant, damp,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", forceinline=True)
def outer_face(p, hour, t1, emit):
    """Conductance [W/K] and temperature of what the outer sheet meets: air and sky, through snow or a blanket where they lie."""
    area = p.cover_area
    if hour.snow_r > 0.0 and t1 > FREEZE_K:
        return area / (0.5 * hour.snow_r + 0.02), FREEZE_K, True  # melting snow stays at 0 degC
    ray = emit * radiation(t1, hour.cover_rad)
    both = hour.film_out + ray
    meets = (hour.film_out * hour.air + ray * hour.cover_rad) / both
    if hour.blanket or hour.snow_r > 0.0:
        return area / (1.0 / both + hour.snow_r + (p.night_r if hour.blanket else 0.0)), meets, False
    return area * both, meets, False


@njit(cache=True, error_model="numpy", forceinline=True)
def couple_cover(zone, p, state, hour, films, stir, sun_outer, sun_inner, dt):
    """One or two sheets between outside and inside; infrared passes a dry film and stops at a wet one.

    The radiosity of a sheet that reflects, absorbs and passes gives three links between the field inside, the sheet and the sky;
    the one between sheet and sky comes out negative and cancels what the star node would count twice (docs/model/shelter.md).
    """
    area, t1, t2 = p.cover_area, state[OUTER], state[INNER]
    wet = min(state[DEW] / DEW_FILM_KG_M2, 1.0)
    closed = hour.blanket or hour.snow_r > 0.0
    emit_out = p.emit_outer if p.double > 0.0 else p.emit_outer + 0.95 * p.pass_outer * wet
    emit_in = p.emit_inner + (0.95 - p.emit_inner) * wet
    through = p.pass_inner * (1.0 - wet) * (p.pass_outer if p.double > 0.0 else 1.0)
    if closed:
        emit_in, through, emit_out = min(0.95, emit_in + through), 0.0, 0.9
    face_g, face_k, melting = outer_face(p, hour, t1, emit_out)
    spread = area / (emit_in + through + p.cover_view * (1.0 - emit_in - through))
    ray = p.cover_view * emit_in * spread * radiation(t2, state[STAR])
    pass_g = p.cover_view * through * spread * radiation(state[STAR], hour.cover_rad)
    cross = (1.0 - p.cover_view) * emit_in * through * spread * radiation(t2, hour.cover_rad)
    hold_in, hold_out = p.cover_heat_inner * area / dt, 0.0
    rest, source = hold_in + cross, sun_inner + hold_in * t2 + cross * hour.cover_rad
    outer_d = outer_src = gap = outer_ray = sky_g = outer_star = outer_w = 0.0
    if p.double > 0.0:
        film = films.gap
        if p.gap_conductance < 0.0:
            film += p.gap_grey * radiation(t1, t2)
        gap, hold_out = film * area, p.cover_heat_outer * area / dt
        outer_ray = p.pass_inner * (1.0 - wet) * p.emit_outer * area * radiation(state[STAR], t1)
        outer_d = face_g + gap + hold_out + outer_ray
        outer_src = sun_outer + face_g * face_k + hold_out * t1
        share = gap / outer_d
        ray += share * outer_ray
        outer_star, outer_w = outer_ray * (1.0 - outer_ray / outer_d - share), outer_ray * outer_src / outer_d
        sky_g = 0.0 if closed else p.pass_outer * p.emit_inner * area * radiation(t2, hour.cover_rad)
        rest += gap - gap * share - share * outer_ray + sky_g
        source += share * outer_src + sky_g * hour.cover_rad
    else:
        rest += face_g
        source += face_g * face_k
    air = (films.cover + films.forced * stir) * area
    sat = slope = vap = 0.0
    if p.vapour > 0.0:
        sat, slope = saturation_near(t2)
        vap = air * hour.per_gamma
        if state[VAPOUR] < sat:  # no more can dry off than there is dew
            vap = min(vap, state[DEW] * LATENT_J_KG * area / (dt * max(sat - state[VAPOUR], 1.0)))
    zone = tied(zone, 0.0, 0.0, pass_g + outer_star, pass_g * hour.cover_rad + outer_w, 0.0, 0.0)
    zone, d, k = add_surface(zone, air, ray, vap, rest, source, sat, slope, t2)
    return zone, CoverTerms(
        d, k, air, ray, vap, sat, slope, outer_d, outer_src, gap, outer_ray, face_g, face_k, melting, pass_g, cross, sky_g, hold_in, hold_out,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", forceinline=True)
def couple_slab(
    zone, area, emit, grey, film_in, skin_k, star_k, side_k, rad_k, film_out, sun_out, cast, temp, thick, links, heat, none, dt, hold, inverse, up, low,
):  # fmt: skip
    """A wall or an opaque roof: a column, inside face first, whose outside meets air, surroundings and sun (sun_out [W/m2])."""
    n = temp.shape[0]
    ray = emit * radiation(temp[n - 1], rad_k)
    outside = film_out + ray
    face_k = (film_out * side_k + ray * rad_k + sun_out) / outside
    face_g = outside * links[n] / (outside + links[n])
    factor(temp, thick, links, heat, heat, none, none, face_g, dt, hold, inverse, low)
    sweep(temp, none, face_g * face_k, hold, inverse, up, low)
    conduct = links[0] * area
    air = film_in * area
    inner_ray = area * grey * radiation(skin_k, star_k)
    rest, source = conduct * (1.0 - low[0]), conduct * up[0] + cast
    zone, d, k = add_surface(zone, air, inner_ray, 0.0, rest, source, 0.0, 0.0, 0.0)
    return zone, Slab(d, k, air, inner_ray, face_g, face_k)


@njit(cache=True, error_model="numpy", forceinline=True)
def couple_water(zone, p, state, films, cast, dt):
    """Jugs of water: one temperature, convection and radiation all around."""
    air = films.water * p.water_area
    ray = p.water_area * radiation(state[WATER], state[STAR]) * p.water_grey
    hold = p.water_heat / dt
    zone, d, k = add_surface(zone, air, ray, 0.0, hold, hold * state[WATER] + cast, 0.0, 0.0, 0.0)
    return zone, Simple(d, k, air, ray, 0.0, hold)


@njit(cache=True, error_model="numpy", forceinline=True)
def couple_fleece(top, low, p, state, hour, films, stir, cast, dt):
    """A fleece between the zone of the plants and the shelter's: its own temperature eliminated, air and infrared through it."""
    floor, t = p.floor_area, state[FLEECE]
    between = hour.density * CP_AIR * p.fleece_air * floor
    air, air2 = (films.fleece_top + films.forced * stir) * floor, films.fleece_under * floor
    ray = p.fleece_grey * floor * radiation(t, state[STAR])
    ray2 = p.fleece_grey_under * floor * radiation(t, state[STAR2])
    passed = 1.2 * p.fleece_pass * floor * radiation(state[STAR], state[STAR2])
    store = hour.density * CP_AIR * p.fleece_volume / dt
    d = air + ray + air2 + ray2
    inverse = 1.0 / d
    air_d, ray_d, air2_d, ray2_d = air * inverse, ray * inverse, air2 * inverse, ray2 * inverse
    wet, store_wet = between * hour.per_gamma, store * hour.per_gamma
    top = joined(
        top,
        Zone(
            air - air * air_d + between,
            -air * ray_d,
            0.0,
            -ray * air_d,
            ray - ray * ray_d + passed,
            0.0,
            0.0,
            0.0,
            wet,
            air_d * cast,
            ray_d * cast,
            0.0,
        ),
    )
    low = joined(low, Zone(
        air2 - air2 * air2_d + between + store, -air2 * ray2_d, 0.0, -ray2 * air2_d, ray2 - ray2 * ray2_d + passed, 0.0, 0.0, 0.0, wet + store_wet,
        air2_d * cast + store * state[AIR2], ray2_d * cast, store_wet * state[VAPOUR2],
    ))  # fmt: skip
    cloth = Cloth(-air * air2_d - between, -air * ray2_d, -ray * air2_d, -ray * ray2_d - passed, -wet)
    return top, low, cloth, FleeceTerms(d, air, ray, air2, ray2, store)


@njit(cache=True, error_model="numpy", forceinline=True)
def bed_greys(p, view):
    """What black exchange with the field is times, for the soil between the leaves and for the leaves, which share the floor's view [m2]."""
    soil = 1.0 / (1.0 / max(view * (1.0 - p.canopy), 1e-9) + (1.0 - p.soil_emit) / (p.soil_emit * p.floor_area))
    leaves = 1.0 / (1.0 / (view * p.canopy) + 0.05 / (0.95 * p.leaf_area)) if p.leaf_area > 0.0 else 0.0
    return soil, leaves


@njit(cache=True, error_model="numpy", forceinline=True)
def couple_soil(zone, p, state, hour, films, stir, grey, conduct, up, low, cast):
    """The soil's skin under plants, fleece or snow; its column has been swept (`up`, `low`)."""
    star, vapour = (state[STAR2], state[VAPOUR2]) if hour.fleece else (state[STAR], state[VAPOUR])
    skin = state[SKIN]
    air = (films.soil + (0.0 if hour.fleece else films.forced * stir)) * p.floor_area
    ray = grey * radiation(skin, star)
    sat = slope = vap = 0.0
    if p.covered <= 0.0 and hour.snow_r > 0.0:
        damp = 1.0 / (1.0 + (air + ray) / p.floor_area * hour.snow_r)
        air, ray = air * damp, ray * damp
    elif p.vapour > 0.0:
        sat, slope = saturation_near(skin)
        vap = air * hour.per_gamma * (p.soil_wet * (1.0 - 0.5 * p.canopy) if vapour < sat else 1.0)
    zone, d, k = add_surface(zone, air, ray, vap, conduct * (1.0 - low), conduct * up + cast, sat, slope, skin)
    return zone, Simple(d, k, air, ray, vap, 0.0)


@njit(cache=True, error_model="numpy", forceinline=True)
def couple_leaf(zone, p, state, hour, films, stir, grey, cast, light, dt):
    """Leaves: both faces trade heat, light opens the stomata, dew settles on them when they are colder than the dew point."""
    star, vapour = (state[STAR2], state[VAPOUR2]) if hour.fleece else (state[STAR], state[VAPOUR])
    leaf = state[LEAF]
    film = max(
        films.leaf, 19.8 * np.sqrt(0.03 if hour.fleece else stir)
    )  # forced: Campbell & Norman 1998, eq. 7.30, width 4 cm
    air = 2.0 * film * p.leaf_area
    ray = grey * radiation(leaf, star)
    sat = slope = vap = 0.0
    if p.vapour > 0.0:
        sat, slope = saturation_near(leaf)
        vap = air * hour.per_gamma
        if vapour < sat:
            open_share = light / (light + 60.0) + 0.03
            stomata = hour.density * CP_AIR * p.leaf_area * open_share / 120.0 * hour.per_gamma
            vap = p.wet_leaf * vap * stomata / (vap + stomata) if leaf > FREEZE_K + 0.85 else 0.0
    hold = p.leaf_heat / dt
    zone, d, k = add_surface(zone, air, ray, vap, hold, hold * leaf + cast, sat, slope, leaf)
    return zone, Simple(d, k, air, ray, vap, hold)
