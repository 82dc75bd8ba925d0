"""The hourly heat and vapour balance of a shelter: one compiled loop, and the small formulas that it uses.

Contents
    Params                     constants of one shelter, all SI
    saturation … film_up       formulas of one line or two, each with its source; tested one by one
    sweep, settle              implicit conduction through a column: elimination upwards, then the new temperatures
    add_surface, solve         the small linear system of air, radiation and vapour
    run                        the loop over hours and inner steps

The unknowns of a step are few.  Every surface (sheet, wall, soil, leaf, water) trades heat with the air [Ta], with the
radiation field inside [S, a star node] and vapour with the air [e]; each surface's own balance is linear in these three
and is eliminated first, columns by a sweep.  Three equations stay (six with an inner fleece: the same three below it).
Everything is implicit in time; only coefficients lag by one inner step.  See docs/model/shelter.md.

Why one file: numba's cache does not notice a change in a helper that lives elsewhere.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

__all__ = ["HEAT_COLUMNS", "OUT_COLUMNS", "Params", "fresh_state", "run"]

F64 = NDArray[np.float64]

SIGMA = 5.670374e-8
"""Stefan-Boltzmann constant (CODATA 2018) [W/m2K4]."""

LATENT_J_KG = 2.5e6
"""Heat of vaporisation near 0 degC [J/kg]; FUSION_J_KG of ice; CP_AIR of air [J/kgK]."""
FUSION_J_KG = 3.34e5
CP_AIR = 1006.0
GRAVITY = 9.81
FREEZE_K = 273.15
MUSHY_DK = 0.8
"""Width of the freezing range of soil water below 0 degC [K] (estimate, see soil.py)."""

OUT_COLUMNS = (
    "air_temp_k", "air_min_k", "air_max_k", "leaf_temp_k", "leaf_min_k", "leaf_max_k", "soil_surface_k", "soil_5cm_k", "soil_10cm_k",
    "soil_30cm_k", "rh", "par_umol_m2_s", "solar_in_w", "lid_open", "air_changes_per_h", "cover_temp_k",
)  # fmt: skip
HEAT_COLUMNS = (
    "sun_in_w", "cover_convection_w", "cover_longwave_w", "walls_w", "air_leak_w", "soil_down_w", "soil_sideways_w", "latent_w", "room_and_gains_w",
)  # fmt: skip

SHUT, BY_SCHEDULE, ARM, PERFECT, RULE = 0, 1, 2, 3, 4


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
    wall_area: float
    wall_sky: float
    wall_emit: float
    wall_absorb: float
    wall_to_room: float
    roof_area: float
    roof_sky: float
    roof_emit: float
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
    fleece: float
    fleece_pass: float
    fleece_emit: float
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
    rule_flow: float  # m3/s
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
    lateral_ua_per_m: float  # W/mK of depth at soil conductivity 1: perimeter over path
    raised_m: float
    raised_ua_per_m: float  # W/K per m of raised depth
    bottom_kind: float  # 0 insulated, 1 given temperature, 2 air through resistance
    bottom_r: float
    film_inside: float  # negative: modelled
    film_outside: float


# ---------------------------------------------------------------------------------------------------------------- formulas


@njit(cache=True, error_model="numpy")
def saturation(temp_k: float) -> float:
    """Saturation vapour pressure over water, Tetens as FAO-56 eq. 11 gives it.  [Pa]"""
    t = temp_k - 273.15
    return 610.8 * np.exp(17.27 * t / (t + 237.3))


@njit(cache=True, error_model="numpy")
def saturation_slope(temp_k: float, pressure: float) -> float:
    """Slope of that curve, FAO-56 eq. 13.  [Pa/K]"""
    return 4098.0 * pressure / (temp_k - 35.85) ** 2


@njit(cache=True, error_model="numpy")
def fourth_root(value: float) -> float:
    """Square root twice: a third of the time of a power."""
    return np.sqrt(np.sqrt(value))


@njit(cache=True, error_model="numpy")
def radiation(one_k: float, other_k: float) -> float:
    """Exact linear coefficient of black exchange between two temperatures.  [W/m2K]"""
    return SIGMA * (one_k * one_k + other_k * other_k) * (one_k + other_k)


@njit(cache=True, error_model="numpy")
def film_up(surface_k: float, air_k: float, tilt_cos: float) -> float:
    """Natural convection at an upward face (Walton 1983, TARP; ASHRAE's detailed model): warm faces stir, cold ones do not.

    tilt_cos : of the face's normal to straight up, 1 floor, 0 wall, -1 ceiling.  [W/m2K]
    """
    warm = surface_k - air_k
    cube = np.cbrt(abs(warm))
    lift = warm * tilt_cos
    if lift > 0.0:
        return 9.482 * cube / (7.238 - abs(tilt_cos))
    return 1.810 * cube / (1.382 + abs(tilt_cos))


@njit(cache=True, error_model="numpy")
def leak_flow(area_m2: float, warmer_k: float, wind_m_s: float, height_m: float, shielding: float) -> float:
    """Leak through cracks: buoyancy and wind added as squares (Sherman & Grimsrud 1980; ASHRAE Fundamentals, basic model).

    Stack coefficient 0.000145 (L/s)2/(cm4 K) is for one storey (2.5 m) and goes with height; wind coefficient by shielding
    class.  [m3/s]
    """
    stack = 1.45e-4 * height_m / 2.5 * abs(warmer_k)
    return 10.0 * area_m2 * np.sqrt(stack + shielding * wind_m_s * wind_m_s)


@njit(cache=True, error_model="numpy")
def vent_flow(area_m2: float, inside_k: float, outside_k: float, wind_m_s: float, height_m: float) -> float:
    """Flow through one open lid or vent (Boulard & Baille 1995): half the opening lets in, half out.

    Discharge coefficient 0.65, wind effect 0.10 (mid values of that paper).  [m3/s]
    """
    buoyancy = 2.0 * GRAVITY * abs(inside_k - outside_k) / outside_k * height_m / 4.0
    return 0.5 * area_m2 * 0.65 * np.sqrt(buoyancy + 0.10 * wind_m_s * wind_m_s)


@njit(cache=True, error_model="numpy")
def gap_film(gap_m: float, one_k: float, other_k: float) -> float:
    """Convection and conduction across an air gap, EN 673 (2011) eq. 8-10 for vertical panes: Nu = 0.035 Gr^0.38·Pr^0.38.  [W/m2K]"""
    if gap_m <= 0.0:
        return 1e3
    mean = 0.5 * (one_k + other_k)
    conduct = 0.02496 + 7.6e-5 * (mean - 283.0)
    viscosity = 1.761e-5 + 5.0e-8 * (mean - 283.0)
    density = 1.232 * 283.0 / mean
    grashof = 9.81 * gap_m**3 * abs(one_k - other_k) * density**2 / (mean * viscosity**2)
    nusselt = max(1.0, 0.035 * (grashof * 0.711) ** 0.38)
    return nusselt * conduct / gap_m


@njit(cache=True, error_model="numpy")
def soil_heat(temp_k: float, thawed: float, frozen: float, latent: float) -> float:
    """Heat held per volume above 0 degC thawed, with ice forming evenly over the freezing range.  [J/m3]"""
    t = temp_k - FREEZE_K
    if t >= 0.0:
        return thawed * t
    if t >= -MUSHY_DK:
        return (latent / MUSHY_DK + 0.5 * (thawed + frozen)) * t
    return -latent - 0.5 * (thawed + frozen) * MUSHY_DK + frozen * (t + MUSHY_DK)


@njit(cache=True, error_model="numpy")
def soil_temp(heat: float, thawed: float, frozen: float, latent: float) -> float:
    """Inverse of `soil_heat`.  [K]"""
    if heat >= 0.0:
        return FREEZE_K + heat / thawed
    edge = -latent - 0.5 * (thawed + frozen) * MUSHY_DK
    if heat >= edge:
        return FREEZE_K + heat / (latent / MUSHY_DK + 0.5 * (thawed + frozen))
    return FREEZE_K - MUSHY_DK + (heat - edge) / frozen


# ----------------------------------------------------------------------------------------------------------------- columns


@njit(cache=True, error_model="numpy")
def couple(temp, thick, thawed, frozen, latent, links):
    """Conductance from each layer's middle up to the next middle (the first: to its own face), by its share of ice.  [W/m2K]"""
    last = 0.0
    for i in range(temp.shape[0]):
        k = thawed[i]
        if latent[i] > 0.0 and temp[i] < FREEZE_K:
            k += (frozen[i] - thawed[i]) * min((FREEZE_K - temp[i]) / MUSHY_DK, 1.0)
        half = 0.5 * thick[i] / k
        links[i] = 1.0 / (last + half)
        last = half
    links[temp.shape[0]] = 1.0 / last


@njit(cache=True, error_model="numpy")
def heat_per_k(temp_k, thawed, frozen, latent):
    """Volumetric heat capacity at a temperature; in the freezing range the latent heat counts in.  [J/m3K]"""
    if temp_k >= FREEZE_K:
        return thawed
    if latent > 0.0 and temp_k > FREEZE_K - MUSHY_DK:
        return latent / MUSHY_DK + 0.5 * (thawed + frozen)
    return frozen


@njit(cache=True, error_model="numpy")
def sweep(temp, thick, links, heat_thawed, heat_frozen, latent, side_g, side_k, bottom_g, bottom_k, dt, upper, lower):
    """Eliminate a column from the bottom up: layer i becomes upper[i] + lower[i] × (layer above, or skin).

    links : from `couple`;  side_g, side_k : conductance [W/m2K] and temperature of what stands beside each layer
    """
    n = temp.shape[0]
    diagonal, right = bottom_g, bottom_g * bottom_k
    for i in range(n - 1, -1, -1):
        hold = heat_per_k(temp[i], heat_thawed[i], heat_frozen[i], latent[i]) * thick[i] / dt
        diagonal += hold + links[i] + side_g[i]
        right += hold * temp[i] + side_g[i] * side_k[i]
        inverse = 1.0 / diagonal
        lower[i] = links[i] * inverse
        upper[i] = right * inverse
        diagonal = links[i] * (1.0 - lower[i])
        right = links[i] * upper[i]


@njit(cache=True, error_model="numpy")
def settle(temp, thick, heat_thawed, heat_frozen, latent, upper, lower, skin_k, dt):
    """New temperatures of a column under its skin; what crosses freezing goes through enthalpy.  Returns heat gained [W/m2]."""
    above = skin_k
    gained = 0.0
    for i in range(temp.shape[0]):
        new = upper[i] + lower[i] * above
        above = new
        old = temp[i]
        joules = heat_per_k(old, heat_thawed[i], heat_frozen[i], latent[i]) * (new - old)
        if latent[i] > 0.0 and (old < FREEZE_K or new < FREEZE_K):
            heat = soil_heat(old, heat_thawed[i], heat_frozen[i], latent[i]) + joules
            temp[i] = soil_temp(heat, heat_thawed[i], heat_frozen[i], latent[i])
        else:
            temp[i] = new
        gained += joules * thick[i] / dt
    return gained


# ----------------------------------------------------------------------------------------------------------- linear system


@njit(cache=True, error_model="numpy")
def add_surface(m, b, o, air, ray, vap, rest, source, sat0, slope, temp0):
    """Eliminate one surface into the rows o (air), o+1 (radiation), o+2 (vapour) and return (D, K) for later.

    Its balance: air·(Ta-T) + ray·(S-T) + vap·(e - sat0 - slope·(T-temp0)) + source - rest·T = 0
    """
    d = air + ray + vap * slope + rest
    k = source + vap * (slope * temp0 - sat0)
    inverse = 1.0 / d
    air_d, ray_d, vap_d = air * inverse, ray * inverse, vap * inverse
    m[o, o] += air - air * air_d
    m[o, o + 1] -= air * ray_d
    b[o] += k * air_d
    m[o + 1, o] -= ray * air_d
    m[o + 1, o + 1] += ray - ray * ray_d
    b[o + 1] += k * ray_d
    if vap != 0.0:
        bent = vap * slope
        m[o, o + 2] -= air * vap_d
        m[o + 1, o + 2] -= ray * vap_d
        m[o + 2, o] -= bent * air_d
        m[o + 2, o + 1] -= bent * ray_d
        m[o + 2, o + 2] += vap - bent * vap_d
        b[o + 2] += vap * (sat0 - slope * temp0) + bent * inverse * k
    return d, k


@njit(cache=True, error_model="numpy")
def solve(m, b, n, w, x):
    """Gauss elimination without pivots (rows are dominated by their diagonal); m and b stay as they are."""
    for i in range(n):
        for j in range(n):
            w[i, j] = m[i, j]
        x[i] = b[i]
    for i in range(n - 1):
        inverse = 1.0 / w[i, i]
        for r in range(i + 1, n):
            f = w[r, i] * inverse
            if f != 0.0:
                for c in range(i + 1, n):
                    w[r, c] -= f * w[i, c]
                x[r] -= f * x[i]
    for i in range(n - 1, -1, -1):
        s = x[i]
        for c in range(i + 1, n):
            s -= w[i, c] * x[c]
        x[i] = s / w[i, i]


# ------------------------------------------------------------------------------------------------------------------- state

(
    OUTER, INNER, AIR, STAR, VAPOUR, AIR2, STAR2, VAPOUR2, LEAF, FLEECE, WATER, SKIN, WALL_SKIN, ROOF_SKIN,
    DEW, FROST, SNOW, OPENING, RULE_ON,
) = range(19)  # fmt: skip


def fresh_state(air_k: float, vapour_pa: float, soil_k: float) -> F64:
    """State at rest: everything at air temperature, the soil's skin at its own, no dew, no snow, shut.  Shape (19,)"""
    state = np.full(19, air_k)
    state[[VAPOUR, VAPOUR2]] = vapour_pa
    state[SKIN] = soil_k
    state[[DEW, FROST, SNOW, OPENING, RULE_ON]] = 0.0
    return state


@njit(cache=True, error_model="numpy")
def share_sun(p, floor_w, walls_w, fleece_on, cast):
    """Where light that has come in is absorbed: cast = leaf, soil, walls, roof, water, fleece [W], light on the crop [W/m2]."""
    bounce = walls_w * (1.0 - p.wall_absorb)
    cast[2] = walls_w * p.wall_absorb
    taken = min(0.4, 0.25 * p.water_area / p.floor_area)
    cast[4] = floor_w * taken * p.water_absorb
    bounce += floor_w * taken * (1.0 - p.water_absorb)
    onto = floor_w * (1.0 - taken)
    through = p.fleece_sun if fleece_on else 1.0
    cast[5] = onto * (1.0 - through) * 0.4
    bounce += onto * (1.0 - through) * 0.6
    onto *= through
    leaf_share, soil_share = p.canopy * p.leaf_absorb, (1.0 - p.canopy + 0.2 * p.canopy) * p.soil_absorb
    cast[0], cast[1] = onto * leaf_share, onto * soil_share
    bounce += onto * (1.0 - leaf_share - soil_share)
    cast[3] = 0.0
    scattered = 0.0
    if p.covered > 0.0:
        floor_pull = p.floor_area * (leaf_share + soil_share)
        pull = floor_pull + p.wall_area * p.wall_absorb + p.roof_area * p.roof_absorb + p.cover_area * p.light_out
        scattered = bounce / pull
        cast[0] += scattered * p.floor_area * leaf_share
        cast[1] += scattered * p.floor_area * soil_share
        cast[2] += scattered * p.wall_area * p.wall_absorb
        cast[3] += scattered * p.roof_area * p.roof_absorb
    cast[6] = onto / p.floor_area + scattered * through


@njit(cache=True, error_model="numpy")
def opening_needed(p, x0, response, outside_k, full_g):
    """Share of the full opening that an arm takes, or that keeps the air at start_k, given air shut (x0) and K per W."""
    if x0 <= outside_k or full_g <= 0.0:
        return 0.0
    if p.working == PERFECT:
        if x0 <= p.start_k:
            return 0.0
        if p.start_k <= outside_k + 0.05:
            return 1.0
        return min(1.0, (x0 - p.start_k) / (response * (p.start_k - outside_k)) / full_g)
    low, high = 0.0, 1.0
    for _ in range(12):
        f = 0.5 * (low + high)
        g = response * f * full_g
        air = (x0 + g * outside_k) / (1.0 + g)
        if min(max((air - p.start_k) / (p.full_k - p.start_k), 0.0), 1.0) > f:
            low = f
        else:
            high = f
    return 0.5 * (low + high)


def _run(
    p, air, vapour_out, wind, longwave, pressure, precipitation, snow_ground, sun, gap, night, fleece_cover, room_k, bottom_k, beside,
    soil, thick, k_thawed, k_frozen, c_thawed, c_frozen, latent, wall, wall_thick, wall_k, wall_c, roof, roof_thick, roof_k, roof_c,
    pick, state, steps_day, steps_night, out, heat, layers,
):  # fmt: skip
    """Run all hours; `state`, `soil`, `wall`, `roof` go in and come out changed.  Returns the worst energy imbalance (share).

    hourly (n,): air [K], vapour_out [Pa], wind [m/s], longwave [W/m2], pressure [Pa], precipitation [mm], snow_ground [m],
    gap [m, or opening 0-1], night and fleece_cover (0/1), room_k [K], bottom_k [K]; sun (n, 6) [W]; beside (n or 0, layers) [K]
    columns: temperatures, thickness [m], conductivity [W/mK], heat [J/m3K], latent [J/m3], top or outside… first
    pick (4, 2): layer indices and weight of the reported soil depths;  out (n, 16);  heat (n or 0, 9);  layers (n or 0, n_soil)
    """
    n_soil = soil.shape[0]
    upper, lower, links = np.empty(n_soil), np.empty(n_soil), np.empty(n_soil + 1)
    side_g, side_k = np.zeros(n_soil), np.zeros(n_soil)
    n_wall, n_roof = wall.shape[0], roof.shape[0]
    wall_links, roof_links = np.empty(n_wall + 1), np.empty(n_roof + 1)
    wall_up, wall_low, wall_none = np.empty(n_wall), np.empty(n_wall), np.zeros(n_wall)
    roof_up, roof_low, roof_none = np.empty(n_roof), np.empty(n_roof), np.zeros(n_roof)
    m, w = np.zeros((6, 6)), np.zeros((6, 6))
    b, x, unit, y = np.zeros(6), np.zeros(6), np.zeros(6), np.zeros(6)
    cast, flow, mean = np.zeros(7), np.zeros(9), np.zeros(16)
    couple(soil, thick, k_thawed, k_frozen, latent, links)
    if n_wall > 0:
        couple(wall, wall_thick, wall_k, wall_k, wall_none, wall_links)
    if n_roof > 0:
        couple(roof, roof_thick, roof_k, roof_k, roof_none, roof_links)
    frozen_before = True
    worst = 0.0
    area, floor = p.cover_area, p.floor_area
    around = p.cover_area + p.wall_area + p.roof_area + p.water_area
    for h in range(air.shape[0]):
        # --- what the hour brings
        tout, eout, gust = air[h], vapour_out[h], wind[h] * p.wind_factor
        density = pressure[h] / (287.05 * tout)
        gamma = CP_AIR * pressure[h] / (0.622 * LATENT_J_KG)
        per_gamma = 1.0 / gamma
        sky4, ground4 = longwave[h] / SIGMA, tout * tout * tout * tout
        cover_rad = fourth_root(p.cover_sky * sky4 + (1.0 - p.cover_sky) * ground4)
        floor_rad = fourth_root(p.floor_sky * sky4 + (1.0 - p.floor_sky) * ground4)
        film_out = p.film_outside if p.film_outside >= 0.0 else 2.8 + 3.0 * gust
        fleece_on = p.fleece > 0.0 and fleece_cover[h] > 0.0
        n = 6 if fleece_on else 3
        low = 3 if fleece_on else 0
        blanket = p.covered > 0.0 and night[h] > 0.0
        if p.snow > 0.0 and p.covered > 0.0:
            shed = max(0.0, min(1.0, (p.cover_tilt_cos - 0.5) * 2.5))
            if tout < 274.15:
                state[SNOW] += precipitation[h] * shed
            state[SNOW] = max(0.0, state[SNOW] - max(0.0, tout - 273.15) * 0.2 - (sun[h, INNER_ROW] / area if area > 0.0 else 0.0) * 3600.0 / FUSION_J_KG)
        snow_m = state[SNOW] / 150.0 if p.covered > 0.0 else (snow_ground[h] if p.snow > 0.0 else 0.0)
        snowed = snow_m > 0.004
        snow_r = snow_m / 0.15 if snowed else 0.0
        dim = 0.0 if blanket else 1.0
        if snowed:
            dim *= 0.3 * np.exp(-15.0 * snow_m)
        elif p.covered > 0.0 and p.vapour > 0.0:
            dim *= 1.0 - 0.08 * min(state[DEW] / 0.03, 1.0)
        share_sun(p, sun[h, 0] * dim, sun[h, 1] * dim, fleece_on, cast)
        sheet_dim = 0.0 if blanket or snowed else 1.0
        # --- soil: conductivity by ice, what stands beside each layer
        coldest = soil.min()
        if coldest < FREEZE_K or frozen_before:
            couple(soil, thick, k_thawed, k_frozen, latent, links)
        frozen_before = coldest < FREEZE_K
        top = 0.0
        for i in range(n_soil):
            if top < p.raised_m:
                side_g[i], side_k[i] = p.raised_ua_per_m * thick[i] / floor, tout
            elif p.lateral > 0.0 and beside.shape[0] > 0:
                side_g[i], side_k[i] = k_thawed[i] * p.lateral_ua_per_m * thick[i] / floor, beside[h, i]
            else:
                side_g[i] = 0.0
            top += thick[i]
        under_k = (room_k[h] if p.room_ua > 0.0 else tout) if p.bottom_kind == 2.0 else bottom_k[h]
        under_g = 0.0
        if p.bottom_kind == 1.0:
            under_g = links[n_soil]
        elif p.bottom_kind == 2.0:
            under_g = 1.0 / (p.bottom_r + 1.0 / links[n_soil])
        wall_side = room_k[h] if p.wall_to_room > 0.0 else tout
        wall_rad = wall_side if p.wall_to_room > 0.0 else fourth_root(p.wall_sky * sky4 + (1.0 - p.wall_sky) * ground4)
        roof_rad = wall_side if p.wall_to_room > 0.0 else fourth_root(p.roof_sky * sky4 + (1.0 - p.roof_sky) * ground4)
        room_e = 0.45 * saturation(room_k[h]) if p.room_ua > 0.0 else 0.0
        steps = steps_day if sun[h, 0] > 0.0 or (h > 0 and abs(tout - air[h - 1]) > 1.5) else steps_night
        dt = 3600.0 / steps
        # --- films: from the state at the start of the hour; they change slowly and cost cube roots
        n_air, n_air2 = state[AIR], (state[AIR2] if fleece_on else state[AIR])
        film_cover = film_walls = film_roof = film_water = film_up_side = film_under = 0.0
        if p.film_inside >= 0.0:
            film_cover = film_walls = film_roof = film_soil = p.film_inside
        elif p.covered > 0.0:
            film_cover = max(film_up(state[INNER], n_air, -p.cover_tilt_cos), 0.5)
            film_walls = max(film_up(state[WALL_SKIN], n_air, 0.0), 0.5) if n_wall > 0 else 0.0
            film_roof = max(film_up(state[ROOF_SKIN], n_air, -1.0), 0.5) if n_roof > 0 else 0.0
            film_soil = max(film_up(state[SKIN], n_air2, 1.0), 0.5)
        else:
            film_soil = max(film_up(state[SKIN], n_air2, 1.0), 0.5) if fleece_on else 2.8
        if p.water_area > 0.0:
            film_water = max(film_up(state[WATER], n_air, 0.0), 2.0)
        if fleece_on:
            film_up_side = max(film_up(state[FLEECE], n_air, 1.0), 0.5)
            film_under = max(film_up(state[FLEECE], n_air2, -1.0), 0.5)
        film_leaf = 1.47 * fourth_root(abs(state[LEAF] - n_air2) / 0.04)
        leak = 0.0
        if p.covered > 0.0:
            leak = p.fixed_ach * p.volume / 3600.0 if p.fixed_ach >= 0.0 else leak_flow(p.leak_area, n_air - tout, wind[h], p.height, p.shielding)
        forced = 0.0 if p.film_inside >= 0.0 else 3.0
        mean[:] = 0.0
        flow[:] = 0.0
        mean[1], mean[4], mean[2], mean[5] = 1e9, 1e9, -1e9, -1e9
        for _step in range(steps):
            m[:n, :n] = 0.0
            b[:n] = 0.0
            ta, star, e = state[AIR], state[STAR], state[VAPOUR]
            ta2, star2, e2 = (state[AIR2], state[STAR2], state[VAPOUR2]) if fleece_on else (ta, star, e)
            # --- air exchange without a worked lid
            q = leak
            opened = 0.0
            if p.working == BY_SCHEDULE and gap[h] > 0.0:
                q += vent_flow(p.vent_area_per_m * gap[h], ta, tout, gust, p.vent_height)
                opened = min(1.0, gap[h] / p.full_gap)
            elif p.working == RULE:
                if p.rule_start_k > 0.0:
                    if ta > p.rule_start_k:
                        state[RULE_ON] = 1.0
                    elif ta < p.rule_stop_k:
                        state[RULE_ON] = 0.0
                else:
                    state[RULE_ON] = gap[h]
                q += p.rule_flow * state[RULE_ON]
                opened = state[RULE_ON]
            exchange = density * CP_AIR * q if p.covered > 0.0 else 1e4 * floor
            stir = (0.03 + q / (p.height * np.sqrt(floor))) if p.covered > 0.0 else max(gust, 0.2)
            store = density * CP_AIR * p.volume / dt if p.covered > 0.0 else 0.0
            m[0, 0] += exchange + store + p.frame_ua + p.room_ua
            b[0] += exchange * tout + store * ta + p.frame_ua * tout + p.room_ua * room_k[h] + p.gains_air
            m[2, 2] += (exchange + store + p.room_ua) * per_gamma
            b[2] += (exchange * eout + store * e + p.room_ua * room_e) * per_gamma
            b[1] += p.gains_radiant
            # --- cover: outer face, gap, inner face
            d_in = k_in = d_out = g_gap = src_out = q_ray = g_outer = t_outer = sky_g = pass_g = vap_cover = 0.0
            sat_c = slope_c = 0.0
            melting = False
            if p.covered > 0.0:
                t1, t2 = state[OUTER], state[INNER]
                wet = min(state[DEW] / 0.03, 1.0)
                emit_out = p.emit_outer if p.double > 0.0 else p.emit_outer + 0.95 * p.pass_outer * wet
                emit_in = p.emit_inner + (0.95 - p.emit_inner) * wet
                through = p.pass_inner * (1.0 - wet) * (p.pass_outer if p.double > 0.0 else 1.0)
                if blanket or snowed:
                    emit_in, through, emit_out = min(0.95, emit_in + through), 0.0, 0.9
                ray_out = emit_out * radiation(t1, cover_rad)
                both = film_out + ray_out
                t_outer = (film_out * tout + ray_out * cover_rad) / both
                melting = snowed and t1 > FREEZE_K
                if melting:
                    g_outer, t_outer = area / (0.5 * snow_r + 0.02), FREEZE_K
                else:
                    g_outer = area / (1.0 / both + snow_r + (p.night_r if blanket else 0.0))
                spread = area / (2.0 - emit_in - through)
                ray = 2.0 * emit_in * spread * radiation(t2, star)
                pass_g = 2.0 * through * spread * radiation(star, cover_rad)
                cross = -emit_in * through * spread * radiation(t2, cover_rad)
                hold_in = p.cover_heat_inner * area / dt
                rest = hold_in + cross
                source = sun[h, INNER_ROW] * sheet_dim + hold_in * t2 + cross * cover_rad
                if p.double > 0.0:
                    if p.gap_conductance >= 0.0:
                        g_gap = p.gap_conductance * area
                    else:
                        pair = 1.0 / (1.0 / p.emit_outer + 1.0 / p.emit_inner - 1.0)
                        g_gap = (gap_film(p.gap_m, t1, t2) + pair * radiation(t1, t2)) * area
                    hold_out = p.cover_heat_outer * area / dt
                    q_ray = p.pass_inner * (1.0 - wet) * p.emit_outer * area * radiation(star, t1)
                    d_out = g_outer + g_gap + hold_out + q_ray
                    src_out = sun[h, OUTER_ROW] * sheet_dim + g_outer * t_outer + hold_out * t1
                    share = g_gap / d_out
                    ray += share * q_ray
                    m[1, 1] += q_ray * (1.0 - q_ray / d_out - share)
                    b[1] += q_ray * src_out / d_out
                    sky_g = 0.0 if blanket or snowed else p.pass_outer * p.emit_inner * area * radiation(t2, cover_rad)
                    rest += g_gap - g_gap * share - share * q_ray + sky_g
                    source += share * src_out + sky_g * cover_rad
                else:
                    rest += g_outer
                    source += g_outer * t_outer
                film_c = film_cover + forced * stir
                sat_c, slope_c = 0.0, 0.0
                if p.vapour > 0.0:
                    sat_c = saturation(t2)
                    slope_c = saturation_slope(t2, sat_c)
                    vap_cover = film_c * area * per_gamma
                    if e < sat_c:
                        vap_cover = min(vap_cover, state[DEW] * LATENT_J_KG * area / (dt * max(sat_c - e, 1.0)))
                m[1, 1] += pass_g
                b[1] += pass_g * cover_rad
                d_in, k_in = add_surface(m, b, 0, film_c * area, ray, vap_cover, rest, source, sat_c, slope_c, t2)
                a_cover, r_cover = film_c * area, ray
            else:
                m[1, 1] += 1e4 * floor
                b[1] += 1e4 * floor * floor_rad
                a_cover = r_cover = cross = 0.0
            # --- walls and an opaque roof
            d_wall = k_wall = a_wall = r_wall = d_roof = k_roof = a_roof = r_roof = g_wall = g_roof = 0.0
            h_wall = h_roof = t_wall = t_roof = 0.0
            if n_wall > 0:
                ray_w = p.wall_emit * radiation(wall[n_wall - 1], wall_rad)
                out_f = 7.7 if p.wall_to_room > 0.0 else film_out
                h_wall = out_f + ray_w
                t_wall = (out_f * wall_side + ray_w * wall_rad + p.wall_absorb * sun[h, 4] / p.wall_area * (1.0 - p.wall_to_room)) / h_wall
                g_face = 1.0 / (1.0 / h_wall + 1.0 / wall_links[n_wall])
                sweep(wall, wall_thick, wall_links, wall_c, wall_c, wall_none, wall_none, wall_none, g_face, t_wall, dt, wall_up, wall_low)
                g_wall = wall_links[0] * p.wall_area
                a_wall = (film_walls + forced * stir) * p.wall_area
                r_wall = p.wall_area * radiation(state[WALL_SKIN], star) / (0.5 + (1.0 - p.wall_emit) / p.wall_emit)
                d_wall, k_wall = add_surface(m, b, 0, a_wall, r_wall, 0.0, g_wall * (1.0 - wall_low[0]), g_wall * wall_up[0] + cast[2], 0.0, 0.0, 0.0)
            if n_roof > 0:
                ray_r = p.roof_emit * radiation(roof[n_roof - 1], roof_rad)
                out_f = 7.7 if p.wall_to_room > 0.0 else film_out
                h_roof = out_f + ray_r
                t_roof = (out_f * wall_side + ray_r * roof_rad + p.roof_absorb * sun[h, 5] / p.roof_area * (1.0 - p.wall_to_room)) / h_roof
                g_face = 1.0 / (1.0 / h_roof + 1.0 / roof_links[n_roof])
                sweep(roof, roof_thick, roof_links, roof_c, roof_c, roof_none, roof_none, roof_none, g_face, t_roof, dt, roof_up, roof_low)
                g_roof = roof_links[0] * p.roof_area
                a_roof = (film_roof + forced * stir) * p.roof_area
                r_roof = p.roof_area * radiation(state[ROOF_SKIN], star) / (0.5 + (1.0 - p.roof_emit) / p.roof_emit)
                d_roof, k_roof = add_surface(m, b, 0, a_roof, r_roof, 0.0, g_roof * (1.0 - roof_low[0]), g_roof * roof_up[0] + cast[3], 0.0, 0.0, 0.0)
            # --- water
            d_water = k_water = a_water = r_water = hold_water = 0.0
            if p.water_area > 0.0:
                a_water = film_water * p.water_area
                r_water = 1.6 * p.water_area * radiation(state[WATER], star)
                hold_water = p.water_heat / dt
                d_water, k_water = add_surface(m, b, 0, a_water, r_water, 0.0, hold_water, hold_water * state[WATER] + cast[4], 0.0, 0.0, 0.0)
            # --- radiation seen by the floor of the upper room
            spread_floor = floor * 2.0 * around / (2.0 * around - floor) if p.covered > 0.0 else floor
            fa = fr = fa2 = fr2 = d_fleece = k_fleece = between = 0.0
            if fleece_on:
                between = density * CP_AIR * p.fleece_air * floor
                tf = state[FLEECE]
                fa = (film_up_side + 3.0 * stir) * floor
                fa2 = film_under * floor
                fr = radiation(tf, star) / (1.0 / spread_floor + (1.0 - p.fleece_emit) / (p.fleece_emit * floor))
                fr2 = 2.0 * p.fleece_emit * floor * radiation(tf, star2) / (2.0 - p.fleece_emit - p.fleece_pass)
                open_g = 1.2 * p.fleece_pass * floor * radiation(star, star2)
                d_fleece = fa + fr + fa2 + fr2
                k_fleece = cast[5]
                link = (fa, fr, fa2, fr2)
                inverse = 1.0 / d_fleece
                spot = (0, 1, 3, 4)
                for i in range(4):
                    m[spot[i], spot[i]] += link[i]
                    b[spot[i]] += link[i] * k_fleece * inverse
                    for j in range(4):
                        m[spot[i], spot[j]] -= link[i] * link[j] * inverse
                store2 = density * CP_AIR * p.fleece_volume / dt
                m[3, 3] += between + store2
                m[0, 0] += between
                m[0, 3] -= between
                m[3, 0] -= between
                b[3] += store2 * ta2
                m[5, 5] += (between + store2) * per_gamma
                m[2, 2] += between * per_gamma
                m[2, 5] -= between * per_gamma
                m[5, 2] -= between * per_gamma
                b[5] += store2 * e2 * per_gamma
                m[4, 4] += open_g
                m[1, 1] += open_g
                m[1, 4] -= open_g
                m[4, 1] -= open_g
                spread_floor = 2.0 * floor
            else:
                open_g = store2 = 0.0
            # --- soil and leaf
            below_star, below_air, below_e = (star2, ta2, e2) if fleece_on else (star, ta, e)
            bury = 0.0
            if snowed and p.covered <= 0.0:
                bury = snow_r
            sweep(soil, thick, links, c_thawed, c_frozen, latent, side_g, side_k, under_g, under_k, dt, upper, lower)
            skin = state[SKIN]
            g_soil = links[0] * floor
            film_s = film_soil + (0.0 if fleece_on else forced * stir)
            bare = spread_floor * (1.0 - p.canopy)
            r_soil = radiation(skin, below_star) / (1.0 / max(bare, 1e-9) + (1.0 - p.soil_emit) / (p.soil_emit * floor))
            a_soil = film_s * floor
            v_soil = sat_s = slope_s = 0.0
            if bury > 0.0:
                damp = 1.0 / (1.0 + (a_soil + r_soil) / floor * bury)
                a_soil *= damp
                r_soil *= damp
            elif p.vapour > 0.0:
                sat_s = saturation(skin)
                slope_s = saturation_slope(skin, sat_s)
                v_soil = a_soil * per_gamma * (p.soil_wet * (1.0 - 0.5 * p.canopy) if below_e < sat_s else 1.0)
            d_soil, k_soil = add_surface(m, b, low, a_soil, r_soil, v_soil, g_soil * (1.0 - lower[0]), g_soil * upper[0] + cast[1], sat_s, slope_s, skin)
            d_leaf = k_leaf = a_leaf = r_leaf = v_leaf = sat_l = slope_l = hold_leaf = 0.0
            if p.leaf_area > 0.0:
                leaf = state[LEAF]
                wind_leaf = 0.03 if fleece_on else stir
                film_l = max(film_leaf, 19.8 * np.sqrt(wind_leaf))
                a_leaf = 2.0 * film_l * p.leaf_area
                r_leaf = radiation(leaf, below_star) / (1.0 / (spread_floor * p.canopy) + 0.05 / (0.95 * p.leaf_area))
                if p.vapour > 0.0:
                    sat_l = saturation(leaf)
                    slope_l = saturation_slope(leaf, sat_l)
                    v_leaf = a_leaf * per_gamma
                    if below_e < sat_l:
                        light = cast[6] / (cast[6] + 60.0) + 0.03
                        stomata = density * CP_AIR * p.leaf_area / (120.0 / light) * per_gamma
                        v_leaf = p.wet_leaf * v_leaf * stomata / (v_leaf + stomata) if leaf > 274.0 else 0.0
                if bury > 0.0 and snow_m > 0.7 * p.plant_height:
                    damp = 1.0 / (1.0 + (a_leaf + r_leaf) / floor * bury)
                    a_leaf, r_leaf, v_leaf = a_leaf * damp, r_leaf * damp, 0.0
                    hold_leaf = 5.0 * floor  # lies on the soil under snow: heat reaches it from there, lagged
                    d_leaf, k_leaf = add_surface(m, b, low, a_leaf, r_leaf, 0.0, hold_leaf, hold_leaf * skin + cast[0], 0.0, 0.0, 0.0)
                else:
                    hold_leaf = p.leaf_heat / dt
                    d_leaf, k_leaf = add_surface(m, b, low, a_leaf, r_leaf, v_leaf, hold_leaf, hold_leaf * leaf + cast[0], sat_l, slope_l, leaf)
            # --- a lid that answers to the air inside
            if p.working == ARM or p.working == PERFECT:
                solve(m, b, n, w, x)
                unit[0] = 1.0
                solve(m, unit, n, w, y)
                full_q = vent_flow(p.vent_area_per_m * p.full_gap, max(x[0], tout + 1.0), tout, gust, p.vent_height)
                want = opening_needed(p, x[0], y[0], tout, density * CP_AIR * full_q)
                opened = want if p.working == PERFECT else state[OPENING] + (want - state[OPENING]) * (1.0 - np.exp(-dt / 900.0))
                state[OPENING] = opened
                extra = density * CP_AIR * full_q * opened
                q += full_q * opened
                m[0, 0] += extra
                b[0] += extra * tout
                m[2, 2] += extra * per_gamma
                b[2] += extra * eout * per_gamma
                exchange += extra
            solve(m, b, n, w, x)
            # --- back to every temperature, and the books
            ta, star, e = x[0], x[1], x[2]
            ta2, star2, e2 = (x[3], x[4], x[5]) if fleece_on else (ta, star, e)
            stored = store * (ta - state[AIR]) + store * per_gamma * (e - state[VAPOUR])
            came = exchange * (tout - ta) + exchange * per_gamma * (eout - e)
            leak_w = exchange * (tout - ta)
            latent_w = exchange * per_gamma * (eout - e)
            through_w = abs(leak_w)
            cover_c = cover_r = 0.0
            if p.covered > 0.0:
                t2 = (a_cover * ta + r_cover * star + vap_cover * e + k_in) / d_in
                t1 = (src_out + g_gap * t2 + q_ray * star) / d_out if p.double > 0.0 else t2
                face = g_outer * (t_outer - t1)
                passed = pass_g * (cover_rad - star) + cross * (cover_rad - t2) + sky_g * (cover_rad - t2)
                conv_share = film_out * (tout - t1) * area if not (blanket or snowed) else face
                cover_c, cover_r = conv_share, face - conv_share + passed
                stored += hold_in * (t2 - state[INNER]) + (p.cover_heat_outer * area / dt * (t1 - state[OUTER]) if p.double > 0.0 else 0.0)
                came += face + passed + (sun[h, INNER_ROW] + (sun[h, OUTER_ROW] if p.double > 0.0 else 0.0)) * sheet_dim
                condensed = vap_cover * (e - sat_c - slope_c * (t2 - state[INNER]))
                state[DEW] = min(max(state[DEW] + condensed * dt / (LATENT_J_KG * area), 0.0), 0.10)
                if melting:
                    state[SNOW] = max(0.0, state[SNOW] - max(0.0, -face) * dt / (FUSION_J_KG * area))
                state[OUTER], state[INNER] = t1, t2
            frame = p.frame_ua * (tout - ta)
            room = p.room_ua * (room_k[h] - ta)
            room_damp = p.room_ua * per_gamma * (room_e - e)
            came += frame + room + room_damp + p.gains_air + p.gains_radiant
            walls = frame
            if n_wall > 0:
                t = (a_wall * ta + r_wall * star + k_wall) / d_wall
                state[WALL_SKIN] = t
                stored += settle(wall, wall_thick, wall_c, wall_c, wall_none, wall_up, wall_low, t, dt) * p.wall_area
                into = (t_wall - wall[n_wall - 1]) / (1.0 / h_wall + 1.0 / wall_links[n_wall]) * p.wall_area
                came += into + cast[2]
                walls += into
            if n_roof > 0:
                t = (a_roof * ta + r_roof * star + k_roof) / d_roof
                state[ROOF_SKIN] = t
                stored += settle(roof, roof_thick, roof_c, roof_c, roof_none, roof_up, roof_low, t, dt) * p.roof_area
                into = (t_roof - roof[n_roof - 1]) / (1.0 / h_roof + 1.0 / roof_links[n_roof]) * p.roof_area
                came += into + cast[3]
                walls += into
            if p.water_area > 0.0:
                t = (a_water * ta + r_water * star + k_water) / d_water
                stored += hold_water * (t - state[WATER])
                came += cast[4]
                state[WATER] = t
            if fleece_on:
                state[FLEECE] = (fa * ta + fr * star + fa2 * ta2 + fr2 * star2 + k_fleece) / d_fleece
                stored += store2 * (ta2 - state[AIR2]) + store2 * per_gamma * (e2 - state[VAPOUR2])
                came += cast[5]
            new_skin = (a_soil * ta2 + r_soil * star2 + v_soil * e2 + k_soil) / d_soil
            sideways = down = 0.0
            layer_k = new_skin
            for i in range(n_soil):
                layer_k = upper[i] + lower[i] * layer_k
                sideways += side_g[i] * (side_k[i] - layer_k) * floor
            down = under_g * (under_k - layer_k) * floor
            stored_soil = settle(soil, thick, c_thawed, c_frozen, latent, upper, lower, new_skin, dt) * floor
            stored += stored_soil
            came += sideways + down + cast[1]
            if p.leaf_area > 0.0:
                leaf = (a_leaf * ta2 + r_leaf * star2 + (v_leaf * e2 if not bury > 0.0 else 0.0) + k_leaf) / d_leaf
                if bury > 0.0 and snow_m > 0.7 * p.plant_height:
                    came += hold_leaf * (skin - leaf)
                else:
                    stored += hold_leaf * (leaf - state[LEAF])
                came += cast[0]
                state[LEAF] = leaf
            else:
                state[LEAF] = ta2
            state[SKIN] = new_skin
            if p.covered <= 0.0:
                cover_r = 1e4 * floor * (floor_rad - star)
                came += cover_r
            state[AIR], state[STAR], state[VAPOUR] = ta, star, max(e, 1.0)
            state[AIR2], state[STAR2], state[VAPOUR2] = ta2, star2, max(e2, 1.0)
            sun_in = cast[0] + cast[1] + cast[2] + cast[3] + cast[4] + cast[5]
            through_w = sun_in + abs(leak_w) + abs(cover_c) + abs(cover_r) + abs(walls) + abs(stored_soil) + abs(sideways) + 1.0
            worst = max(worst, abs(came - stored) / through_w)
            # --- means of the hour
            flow[0] += sun_in
            flow[1] += cover_c
            flow[2] += cover_r
            flow[3] += walls
            flow[4] += leak_w
            flow[5] += down - stored_soil
            flow[6] += sideways
            flow[7] += latent_w + room_damp
            flow[8] += room + p.gains_air + p.gains_radiant
            mean[0] += ta2
            mean[1], mean[2] = min(mean[1], ta2), max(mean[2], ta2)
            mean[3] += state[LEAF]
            mean[4], mean[5] = min(mean[4], state[LEAF]), max(mean[5], state[LEAF])
            mean[6] += new_skin
            for i in range(3):
                j = int(pick[i, 0])
                mean[7 + i] += soil[j] + (soil[min(j + 1, n_soil - 1)] - soil[j]) * pick[i, 1]
            mean[10] += e2
            mean[13] += opened
            mean[14] += q / p.volume * 3600.0 if p.covered > 0.0 else 0.0
            mean[15] += state[INNER] if p.covered > 0.0 else ta
        for i in range(16):
            out[h, i] = mean[i] if i == 1 or i == 2 or i == 4 or i == 5 else mean[i] / steps
        out[h, 10] = min(1.0, out[h, 10] / saturation(out[h, 0]))
        out[h, 11] = cast[6] * 2.05
        out[h, 12] = (sun[h, 0] + sun[h, 1]) * dim
        if heat.shape[0] > 0:
            for i in range(9):
                heat[h, i] = flow[i] / steps
        if layers.shape[0] > 0:
            for i in range(n_soil):
                layers[h, i] = soil[i]
    return worst


INNER_ROW, OUTER_ROW = 3, 2  # rows of the sunlight array: absorbed in the inner (or only) and in the outer sheet

run = njit(cache=True, error_model="numpy", nogil=True)(_run)
