"""The loop over hours and inner steps: a shelter's heat and vapour balance, compiled.

The unknowns of a step are few.  Every surface (sheet, wall, soil, leaf, water) trades heat with the air, with the radiation
field inside (a star node) and vapour with the air; each surface's own balance is linear in these three and is eliminated
first, columns by a sweep (columns.py, parts.py).  Three equations stay, and three more under a fleece (network.py).  Everything is
implicit in time; coefficients lag by one inner step, films by the hour.  Equations and sources: docs/model/shelter.md.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit
from underglass.shelter.columns import couple, factor, holds, settle, settle_freezing, sweep
from underglass.shelter.films import CP_AIR, FREEZE_K, FUSION_J_KG, LATENT_J_KG, SIGMA, saturation_near, vent_flow
from underglass.shelter.network import Zone, fold, joined, opening_share, response, solve, tied
from underglass.shelter.parts import (
    AIR,
    AIR2,
    ARM,
    BY_SCHEDULE,
    CROP_LIGHT,
    DEW,
    DEW_MAX_KG_M2,
    FLEECE,
    FLEECE_CAST,
    INNER,
    INNER_SUN,
    LEAF,
    LEAF_CAST,
    OPENING,
    OUTER,
    OUTER_SUN,
    PERFECT,
    ROOF_CAST,
    ROOF_OUT_SUN,
    ROOF_SKIN,
    RULE,
    RULE_ON,
    SKIN,
    SNOW,
    SOIL_CAST,
    STAR,
    STAR2,
    TIGHT,
    VAPOUR,
    VAPOUR2,
    WALL_CAST,
    WALL_SKIN,
    WALLS_OUT_SUN,
    WATER,
    WATER_CAST,
    air_zone,
    bed_greys,
    begin_hour,
    couple_cover,
    couple_fleece,
    couple_leaf,
    couple_slab,
    couple_soil,
    couple_water,
    inside_films,
    share_sun,
)  # fmt: skip

__all__ = ["OUT_COLUMNS", "fresh_state", "run", "run_members"]

F64 = NDArray[np.float64]

OUT_COLUMNS = (
    "air_temp_k", "air_min_k", "air_max_k", "leaf_temp_k", "leaf_min_k", "leaf_max_k", "soil_surface_k", "soil_5cm_k", "soil_10cm_k",
    "soil_30cm_k", "rh", "par_umol_m2_s", "solar_in_w", "lid_open", "air_changes_per_h", "cover_temp_k",
)  # fmt: skip
PAR_UMOL_J = 2.05
"""Photosynthetic photons per joule of global radiation [umol/J]: share 0.45 of the energy, 4.57 umol/J in sunlight (McCree 1972)."""

NOTHING = Zone(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)

WAX_PER_H = 4.0
"""The wax of an arm warms and cools with a quarter of an hour's delay (estimate) [1/h]."""

SHUT_FULLY = 1e-4
"""An opening less than this is none: the delay alone would never end."""

NEAR_FROST_DK = 0.3
"""Soil this near to freezing takes the way through enthalpy [K]: more than its sides can cool it within an hour."""


def fresh_state(air_k: float, vapour_pa: float, soil_k: float) -> F64:
    """State at rest: everything at air temperature, the soil's skin at its own, no dew, no snow, shut.  Shape (18,)"""
    state = np.full(18, air_k)
    state[[VAPOUR, VAPOUR2]] = vapour_pa
    state[SKIN] = soil_k
    state[[DEW, SNOW, OPENING, RULE_ON]] = 0.0
    return state


@njit(cache=True, error_model="numpy", forceinline=True)
def beside_soil(p, thick, conductivity, neighbours, side_g):
    """Conductance to what stands beside each soil layer: air around a raised pot, else the open ground at the same depth.

    Returns how many layers, from the top, stand in the air.
    """
    top, raised = 0.0, 0
    for i in range(thick.shape[0]):
        side_g[i] = 0.0
        if top < p.raised_m:
            raised = i + 1
            side_g[i] = p.raised_ua_per_m * thick[i] / p.floor_area
        elif p.lateral > 0.0 and neighbours.shape[0] > 0:
            way = p.lateral_way / conductivity[i] + p.lateral_edge_r
            side_g[i] = p.lateral_perimeter / way * thick[i] / p.floor_area
        top += thick[i]
    return raised


@njit(cache=True, error_model="numpy", forceinline=True)
def coldest(temp):
    """Lowest of a column."""
    low = temp[0]
    for i in range(1, temp.shape[0]):
        low = min(low, temp[i])
    return low


@njit(cache=True, error_model="numpy", forceinline=True)
def lid_flow(p, state, hour, gap):
    """Flow through a lid that follows a schedule or a rule, and how far it is open.  [m3/s], 0-1"""
    if p.working == BY_SCHEDULE and gap > 0.0:
        return vent_flow(p.vent_area_per_m * gap, state[AIR], hour.air, hour.wind, p.vent_height), min(
            1.0, gap / p.full_gap
        )
    if p.working == RULE:
        if p.rule_start_k <= 0.0:
            state[RULE_ON] = gap
        elif state[AIR] > p.rule_start_k:
            state[RULE_ON] = 1.0
        elif state[AIR] < p.rule_stop_k:
            state[RULE_ON] = 0.0
        if p.rule_flow > 0.0:
            return p.rule_flow * state[RULE_ON], state[RULE_ON]
        wide = p.rule_gap * state[RULE_ON]
        return vent_flow(p.vent_area_per_m * wide, state[AIR], hour.air, hour.wind, p.vent_height), min(
            1.0, wide / p.full_gap
        )
    return 0.0, 0.0


@njit(cache=True, error_model="numpy", forceinline=True)
def answer_to_air(zone, shut, p, state, hour, lag):
    """A self-opening arm, or somebody always there: opens by the air that the shut lid would give.  Flow [m3/s]; the opening in `state`."""
    full_q = vent_flow(p.vent_area_per_m * p.full_gap, max(shut, hour.air + 1.0), hour.air, hour.wind, p.vent_height)
    full_g = hour.density * CP_AIR * full_q
    want = opening_share(p.working == PERFECT, p.start_k, p.full_k, shut, response(zone), hour.air, full_g)
    if p.working == ARM:
        want = state[OPENING] + (want - state[OPENING]) * lag
    state[OPENING] = want if want > SHUT_FULLY else 0.0
    want = state[OPENING]
    return full_q * want


@njit(cache=True, error_model="numpy", forceinline=True)
def close_cover(p, state, hour, c, ta, star, e, sun_outer, sun_inner, dt, flow):
    """New temperatures of the sheets, dew and snow; adds the cover's flows.  Returns heat that came and heat stored [W]."""
    t2 = (c.air * ta + c.ray * star + c.vap * e + c.k) / c.d
    t1 = (c.outer_src + c.gap * t2 + c.outer_ray * star) / c.outer_d if p.double > 0.0 else t2
    face = c.face_g * (c.face_k - t1)
    passed = c.pass_g * (hour.cover_rad - star) + (c.cross + c.sky_g) * (hour.cover_rad - t2)
    by_air = face if hour.blanket or hour.snow_r > 0.0 else hour.film_out * (hour.air - t1) * p.cover_area
    flow[1] += by_air
    flow[2] += face - by_air + passed
    stored = c.hold_in * (t2 - state[INNER]) + c.hold_out * (t1 - state[OUTER])
    condensed = c.vap * (e - c.sat - c.slope * (t2 - state[INNER]))
    state[DEW] = min(max(state[DEW] + condensed * dt / (LATENT_J_KG * p.cover_area), 0.0), DEW_MAX_KG_M2)
    if c.melting:
        state[SNOW] = max(0.0, state[SNOW] - max(0.0, -face) * dt / (FUSION_J_KG * p.cover_area))
    state[OUTER], state[INNER] = t1, t2
    return face + passed + sun_inner + (sun_outer if p.double > 0.0 else 0.0), stored


@njit(cache=True, error_model="numpy", forceinline=True)
def close_slab(slab, area, ta, star, temp, hold, up, low, none):
    """New temperatures of a wall or roof.  Returns its skin [K], heat from outside and heat stored [W]."""
    skin = (slab.air * ta + slab.ray * star + slab.k) / slab.d
    soaked, _none, last = settle(temp, hold, up, low, skin, none, none)
    return skin, (slab.face_k - last) * slab.face_g * area, soaked * area


def _run(
    p, air, vapour, wind, longwave, pressure, rain, snow_ground, sun, gap, night, fleece, swept, room, bottom, neighbours,
    soil, thick, k_thawed, k_frozen, c_thawed, c_frozen, latent, wall, wall_thick, wall_k, wall_c, roof, roof_thick, roof_k, roof_c,
    picks, state, steps_day, steps_night, out, heat, layers,
):  # fmt: skip
    """Run all hours; `state`, `soil`, `wall`, `roof` go in and come out changed.  Returns the worst energy imbalance (share).

    hourly (n,): air [K], vapour [Pa], wind [m/s], longwave [W/m2], pressure [Pa], rain [mm], snow_ground [m], gap [m, or rule 0/1],
    night, fleece and swept (0/1), room [K], bottom [K]; sun (n, 6) [W]; neighbours (n or 0, layers) [K]
    columns: temperatures [K], thickness [m], conductivity [W/mK], heat [J/m3K], latent [J/m3]; soil top first, walls inside first
    picks (3, 2): layer and weight of the reported depths;  out (n, 16);  heat (n or 0, 9);  layers (n or 0, n_soil)
    """
    n_soil, n_wall, n_roof = soil.shape[0], wall.shape[0], roof.shape[0]
    up, low, hold, inverse = np.empty(n_soil), np.empty(n_soil), np.empty(n_soil), np.empty(n_soil)
    links, side_g, side_k, side_w = np.empty(n_soil + 1), np.zeros(n_soil), np.zeros(n_soil), np.zeros(n_soil)
    wall_up, wall_low, wall_hold, wall_inverse = np.empty(n_wall), np.empty(n_wall), np.empty(n_wall), np.empty(n_wall)
    wall_links, wall_none = np.empty(n_wall + 1), np.zeros(n_wall)
    roof_up, roof_low, roof_hold, roof_inverse = np.empty(n_roof), np.empty(n_roof), np.empty(n_roof), np.empty(n_roof)
    roof_links, roof_none = np.empty(n_roof + 1), np.zeros(n_roof)
    cast, flow, mean = np.zeros(7), np.zeros(9), np.zeros(16)
    couple(soil, thick, k_thawed, k_frozen, latent, links)
    if n_wall > 0:
        couple(wall, wall_thick, wall_k, wall_k, wall_none, wall_links)
    if n_roof > 0:
        couple(roof, roof_thick, roof_k, roof_k, roof_none, roof_links)
    covered, floor = p.covered > 0.0, p.floor_area
    greys, greys_under = (
        bed_greys(p, p.floor_view * floor),
        bed_greys(p, 2.0 * floor),
    )  # a fleece lies close over the bed
    raised = beside_soil(p, thick, k_thawed, neighbours, side_g)
    stirred = 1.0 / (p.height * np.sqrt(floor)) if covered else 0.0
    frost, factored, worst = False, 0.0, 0.0
    alive = p.working == ARM or p.working == PERFECT
    lag_day, lag_night = 1.0 - np.exp(-WAX_PER_H / steps_day), 1.0 - np.exp(-WAX_PER_H / steps_night)
    for h in range(air.shape[0]):
        hour = begin_hour(
            p,
            state,
            sun[h],
            air[h],
            vapour[h],
            wind[h],
            longwave[h] / SIGMA,
            pressure[h],
            rain[h],
            snow_ground[h],
            night[h],
            fleece[h],
            swept[h],
            room[h],
        )
        share_sun(p, sun[h, 0] * hour.light, sun[h, 1] * hour.light, hour.fleece, cast)
        sun_outer, sun_inner = sun[h, OUTER_SUN] * hour.sheet_light, sun[h, INNER_SUN] * hour.sheet_light
        films = inside_films(p, state, hour, wind[h])
        soil_grey, leaf_grey = greys_under if hour.fleece else greys
        near = p.freezing > 0.0 and coldest(soil) < FREEZE_K + NEAR_FROST_DK
        if frost or near:
            frost = near
            if couple(soil, thick, k_thawed, k_frozen, latent, links):
                factored = 0.0
        for i in range(n_soil):
            side_k[i] = air[h] if i < raised else neighbours[h, i] if side_g[i] > 0.0 else 0.0
            side_w[i] = side_g[i] * side_k[i]
        under_g, under_k = links[n_soil] if p.bottom_kind == 1.0 else 0.0, bottom[h]
        if p.bottom_kind == 2.0:
            under_g, under_k = 1.0 / (p.bottom_r + 1.0 / links[n_soil]), hour.side
        beyond = 7.7 if p.wall_to_room > 0.0 else hour.film_out
        buried = not covered and hour.snow_r > 0.0 and hour.snow_m > 0.7 * p.plant_height
        leafy = p.leaf_area > 0.0 and not buried
        if buried:
            cast[SOIL_CAST] += cast[LEAF_CAST]
            cast[LEAF_CAST] = 0.0
        quick = sun[h, 0] > 0.0 or (h > 0 and abs(air[h] - air[h - 1]) > 1.5)
        steps = steps_day if quick else steps_night
        dt = 3600.0 / steps
        mean[:], flow[:] = 0.0, 0.0
        mean[1], mean[2], mean[4], mean[5] = 1e9, -1e9, 1e9, -1e9
        for _step in range(steps):
            # --- build: air, cover, walls, water, bed, leaves, fleece
            worked, opened = lid_flow(p, state, hour, gap[h])
            q = films.leak + worked
            exchange = hour.density * CP_AIR * q if covered else TIGHT * floor
            store = hour.density * CP_AIR * p.volume / dt if covered else 0.0
            stir = 0.03 + q * stirred if covered else max(hour.wind, 0.2)
            zone = air_zone(p, state, hour, exchange, store)
            if covered:
                zone, cover = couple_cover(zone, p, state, hour, films, stir, sun_outer, sun_inner, dt)
            else:
                zone = tied(zone, 0.0, 0.0, TIGHT * floor, TIGHT * floor * hour.floor_rad, 0.0, 0.0)
            if n_wall > 0:
                shine = p.wall_absorb * sun[h, WALLS_OUT_SUN] / p.wall_area * (1.0 - p.wall_to_room)
                zone, slab = couple_slab(
                    zone, p.wall_area, p.wall_emit, p.wall_grey, films.wall + films.forced * stir, state[WALL_SKIN], state[STAR], hour.side, hour.wall_rad,
                    beyond, shine, cast[WALL_CAST], wall, wall_thick, wall_links, wall_c, wall_none, dt, wall_hold, wall_inverse, wall_up, wall_low,
                )  # fmt: skip
            if n_roof > 0:
                shine = p.roof_absorb * sun[h, ROOF_OUT_SUN] / p.roof_area * (1.0 - p.wall_to_room)
                zone, lid = couple_slab(
                    zone, p.roof_area, p.roof_emit, p.roof_grey, films.roof + films.forced * stir, state[ROOF_SKIN], state[STAR], hour.side, hour.roof_rad,
                    beyond, shine, cast[ROOF_CAST], roof, roof_thick, roof_links, roof_c, roof_none, dt, roof_hold, roof_inverse, roof_up, roof_low,
                )  # fmt: skip
            if p.water_area > 0.0:
                zone, water = couple_water(zone, p, state, films, cast[WATER_CAST], dt)
            if factored != dt or (frost and not holds(soil, thick, c_thawed, c_frozen, latent, dt, hold)):
                factor(soil, thick, links, c_thawed, c_frozen, latent, side_g, under_g, dt, hold, inverse, low)
                factored = dt
            sweep(soil, side_w, under_g * under_k, hold, inverse, up, low)
            bed_zone, bed = couple_soil(
                NOTHING, p, state, hour, films, stir, soil_grey, links[0] * floor, up[0], low[0], cast[SOIL_CAST]
            )
            if leafy:
                bed_zone, leaf = couple_leaf(
                    bed_zone, p, state, hour, films, stir, leaf_grey, cast[LEAF_CAST], cast[CROP_LIGHT], dt
                )
            if hour.fleece:
                zone, bed_zone, hung, cloth = couple_fleece(
                    zone, bed_zone, p, state, hour, films, stir, cast[FLEECE_CAST], dt
                )
                zone, under = fold(zone, bed_zone, hung)
            else:
                zone = joined(zone, bed_zone)
            ta, star, e = solve(zone)
            if alive and (ta > p.start_k or state[OPENING] > 0.0):
                worked = answer_to_air(zone, ta, p, state, hour, lag_day if quick else lag_night)
                extra = hour.density * CP_AIR * worked
                wet = extra * hour.per_gamma
                zone = tied(zone, extra, extra * hour.air, 0.0, 0.0, wet, wet * hour.vapour)
                q, opened, exchange = q + worked, state[OPENING], exchange + extra
                ta, star, e = solve(zone)
            ta2, star2, e2 = ta, star, e
            if hour.fleece:
                ta2 = under.a + under.aa * ta + under.ar * star + under.av * e
                star2 = under.r + under.ra * ta + under.rr * star + under.rv * e
                e2 = under.v + under.va * ta + under.vr * star + under.vv * e
            # --- close: temperatures of all parts, and the books of heat that came and heat stored
            stored = store * (ta - state[AIR] + (e - state[VAPOUR]) * hour.per_gamma)
            leak_w, latent_w = exchange * (hour.air - ta), exchange * (hour.vapour - e) * hour.per_gamma
            latent_w += p.room_ua * (hour.room_vapour - e) * hour.per_gamma
            frame, put_in = p.frame_ua * (hour.air - ta), p.room_ua * (hour.room - ta) + p.gains_air + p.gains_radiant
            came, walls = leak_w + latent_w + frame + put_in, frame
            if covered:
                gain, kept = close_cover(p, state, hour, cover, ta, star, e, sun_outer, sun_inner, dt, flow)
                came, stored = came + gain, stored + kept
            else:
                gain = TIGHT * floor * (hour.floor_rad - star)
                came, flow[2] = came + gain, flow[2] + gain
            if n_wall > 0:
                state[WALL_SKIN], gain, kept = close_slab(
                    slab, p.wall_area, ta, star, wall, wall_hold, wall_up, wall_low, wall_none
                )
                came, walls, stored = came + gain, walls + gain, stored + kept
            if n_roof > 0:
                state[ROOF_SKIN], gain, kept = close_slab(
                    lid, p.roof_area, ta, star, roof, roof_hold, roof_up, roof_low, roof_none
                )
                came, walls, stored = came + gain, walls + gain, stored + kept
            if p.water_area > 0.0:
                new = (water.air * ta + water.ray * star + water.k) / water.d
                stored, state[WATER] = stored + water.hold * (new - state[WATER]), new
            if hour.fleece:
                warmth = cloth.air * ta + cloth.ray * star + cloth.air2 * ta2 + cloth.ray2 * star2
                state[FLEECE] = (warmth + cast[FLEECE_CAST]) / cloth.d
                stored += cloth.store * (ta2 - state[AIR2] + (e2 - state[VAPOUR2]) * hour.per_gamma)
            state[SKIN] = (bed.air * ta2 + bed.ray * star2 + bed.vap * e2 + bed.k) / bed.d
            if frost or state[SKIN] < FREEZE_K:
                soaked, sideways, last = settle_freezing(
                    soil, thick, c_thawed, c_frozen, latent, hold, up, low, state[SKIN], side_g, side_k, dt
                )
            else:
                soaked, sideways, last = settle(soil, hold, up, low, state[SKIN], side_g, side_k)
            down, soaked, sideways = under_g * (under_k - last) * floor, soaked * floor, sideways * floor
            came, stored = came + sideways + down, stored + soaked
            if leafy:
                new = (leaf.air * ta2 + leaf.ray * star2 + leaf.vap * e2 + leaf.k) / leaf.d
                stored, state[LEAF] = stored + leaf.hold * (new - state[LEAF]), new
            else:
                state[LEAF] = state[SKIN] if buried else ta2
            state[AIR], state[STAR], state[VAPOUR] = ta, star, max(e, 1.0)
            state[AIR2], state[STAR2], state[VAPOUR2] = ta2, star2, max(e2, 1.0)
            sun_in = cast[0] + cast[1] + cast[2] + cast[3] + cast[4] + cast[5]
            size = sun_in + abs(leak_w) + abs(gain) + abs(walls) + abs(soaked) + abs(sideways) + 1.0
            if abs(came + sun_in - stored) > worst * size:
                worst = abs(came + sun_in - stored) / size
            # --- sums of the hour
            flow[0] += sun_in
            flow[3] += walls
            flow[4] += leak_w
            flow[5] += down - soaked
            flow[6] += sideways
            flow[7] += latent_w
            flow[8] += put_in
            mean[0], mean[3], mean[6], mean[10] = (
                mean[0] + ta2,
                mean[3] + state[LEAF],
                mean[6] + state[SKIN],
                mean[10] + e2,
            )
            mean[1], mean[2] = min(mean[1], ta2), max(mean[2], ta2)
            mean[4], mean[5] = min(mean[4], state[LEAF]), max(mean[5], state[LEAF])
            for i in range(3):
                j = int(picks[i, 0])
                mean[7 + i] += soil[j] + (soil[min(j + 1, n_soil - 1)] - soil[j]) * picks[i, 1]
            mean[13], mean[14] = mean[13] + opened, mean[14] + (q / p.volume * 3600.0 if covered else 0.0)
            mean[15] += state[INNER] if covered else ta
        for i in range(16):
            out[h, i] = mean[i] if i == 1 or i == 2 or i == 4 or i == 5 else mean[i] / steps
        out[h, 10] = min(1.0, out[h, 10] / saturation_near(out[h, 0])[0])
        out[h, 11] = cast[CROP_LIGHT] * PAR_UMOL_J
        out[h, 12] = (sun[h, 0] + sun[h, 1]) * hour.light
        if heat.shape[0] > 0:
            heat[h] = flow / steps
        if layers.shape[0] > 0:
            layers[h] = soil
    return worst


run = njit(cache=True, error_model="numpy", nogil=True)(_run)


def _run_members(
    p, n, first, last, air, vapour, wind, longwave, pressure, rain, snow_ground, sun, gap, night, fleece, swept, room, bottom, neighbours,
    soils, thick, k_thawed, k_frozen, c_thawed, c_frozen, latent, walls, wall_thick, wall_k, wall_c, roofs, roof_thick, roof_k, roof_c,
    picks, states, steps_day, steps_night, out, layers,
):  # fmt: skip
    """Carry many members through the hours first … last of their own series of `n` hours, worked the same way (gap … swept by hour of that span).

    Outside arrays hold member after member; states, soils, walls, roofs (members, …) change; out (members, hours, 16); layers (members, hours
    or 0, n_soil)
    """
    no_heat = np.zeros((0, 9), np.float32)
    for i in range(states.shape[0]):
        a, b = i * n + first, i * n + last
        beside = neighbours[a:b] if neighbours.shape[0] > 0 else neighbours
        run(
            p, air[a:b], vapour[a:b], wind[a:b], longwave[a:b], pressure[a:b], rain[a:b], snow_ground[a:b], sun[a:b], gap, night, fleece,
            swept, room[a:b], bottom[a:b], beside, soils[i], thick, k_thawed, k_frozen, c_thawed, c_frozen, latent, walls[i], wall_thick,
            wall_k, wall_c, roofs[i], roof_thick, roof_k, roof_c, picks, states[i], steps_day, steps_night, out[i], no_heat, layers[i],
        )  # fmt: skip


run_members = njit(cache=True, error_model="numpy", nogil=True)(_run_members)
