"""A shelter reduced to the constants of its balance: from names that people use to `parts.Params`."""

from __future__ import annotations

import numpy as np

from underglass.shelter import parts
from underglass.shelter.geometry import COVER, ROOF, WALL, Enclosure
from underglass.shelter.model import Cover, Fleece, OpenGround, Sheet, Shelter
from underglass.shelter.optics import cover_optics
from underglass.shelter.sunlight import SkyTables
from underglass.shelter.views import Views, views

__all__ = ["params", "wind_factor"]

TERRAIN = {"open": (0.03, 1.0, 3.19e-4), "garden": (0.10, 0.75, 1.04e-4), "sheltered": (0.25, 0.6, 3.2e-5)}
"""Roughness length [m] and a factor for what stands around (estimates after the log law); wind coefficient of the leak model
by shielding class 1, 4 and 5 (ASHRAE Fundamentals, basic model) [(L/s)2/(cm4 (m/s)2)]."""

LID_MODE = {
    "shut": parts.SHUT,
    "open": parts.BY_SCHEDULE,
    "gap": parts.BY_SCHEDULE,
    "visits": parts.BY_SCHEDULE,
    "arm": parts.ARM,
    "perfect": parts.PERFECT,
    "rule": parts.RULE,
}

LEAF_KG_M2 = 0.25
LEAF_J_KGK = 4000.0
"""Mass of leaf per area and its heat (mostly water; estimate)."""

POT_FILM_W_M2K = 8.0
"""Convection and radiation at the side of a pot [W/m2K] (estimate; ISO 6946 has 7.7 inside)."""


def wind_factor(shelter: Shelter, terrain: str, height_m: float) -> float:
    """Wind at the shelter over wind at 10 m in the open, by the log law over the garden's own roughness."""
    if shelter.wind_factor is not None:
        return shelter.wind_factor
    rough, factor, _ = TERRAIN[terrain]
    level = max(height_m, 3.0 * rough, 0.3)
    return float(factor * np.log(level / rough) / np.log(10.0 / 0.03))


def params(shelter: Shelter, enc: Enclosure, tables: SkyTables, terrain: str) -> parts.Params:
    """All constants, SI; every group stands in a function of its own below."""
    values: dict[str, float] = {}
    seen = views(enc, shelter.water.area_m2 if shelter.water else 0.0)
    for group in (
        _shape_values(shelter, enc, tables),
        _cover_values(shelter.cover, enc),
        _view_values(shelter, seen),
        _wall_values(shelter),
        _bed_values(shelter, enc, tables),
        _extras_values(shelter, enc),
        _fleece_values(shelter.fleece, enc.floor_area_m2, seen.floor),
        _air_values(shelter, enc, terrain),
        _lid_values(shelter),
        _boundary_values(shelter, enc),
    ):
        values |= group
    return parts.Params(**{name: float(value) for name, value in values.items()})


def _shape_values(shelter: Shelter, enc: Enclosure, tables: SkyTables) -> dict[str, float]:
    frame = shelter.cover.frame_share if shelter.cover else 0.0
    return {
        "covered": float(not isinstance(shelter.shape, OpenGround)),
        "floor_area": enc.floor_area_m2,
        "volume": enc.volume_m3,
        "height": enc.height_m,
        "cover_area": enc.area_m2(COVER) * (1.0 - frame),
        "cover_tilt_cos": enc.cover_mean_tilt_cos(),
        "cover_sky": tables.sky_view_cover,
        "wall_area": enc.area_m2(WALL),
        "wall_sky": tables.sky_view_walls,
        "roof_area": enc.area_m2(ROOF),
        "roof_sky": tables.sky_view_roof,
    }


def _sheet_heat(sheet: Sheet) -> float:
    return sheet.thickness_m * sheet.density_kg_m3 * sheet.specific_heat_j_kgk


def _light_out(cover: Cover | None) -> float:
    """Share of scattered light inside that a cover lets out, with half of what it absorbs (the outer half is lost outwards)."""
    if cover is None:
        return 1.0
    optics = cover_optics(cover)
    return (optics.diffuse_transmittance + 0.5 * optics.diffuse_absorptance) * (1.0 - cover.frame_share)


def _cover_values(cover: Cover | None, enc: Enclosure) -> dict[str, float]:
    outer = cover.sheets[0] if cover else Sheet(0.001)
    inner = cover.sheets[-1] if cover else outer
    known_gap = cover.gap_conductance_w_m2k if cover else None
    return {
        "double": float(cover is not None and len(cover.sheets) == 2),
        "cover_heat_outer": _sheet_heat(outer),
        "cover_heat_inner": _sheet_heat(inner),
        "gap_m": cover.gap_m if cover else 0.0,
        "gap_conductance": -1.0 if known_gap is None else known_gap,
        "gap_grey": 1.0 / (1.0 / outer.ir_emissivity + 1.0 / inner.ir_emissivity - 1.0),
        "emit_outer": outer.ir_emissivity,
        "pass_outer": outer.ir_transmittance,
        "emit_inner": inner.ir_emissivity,
        "pass_inner": inner.ir_transmittance,
        "frame_ua": enc.area_m2(COVER) * cover.frame_share * cover.frame_u_w_m2k if cover else 0.0,
        "light_out": _light_out(cover),
    }


def _view_values(shelter: Shelter, seen: Views) -> dict[str, float]:
    walls, roof = shelter.walls, shelter.roof or shelter.walls
    return {
        "floor_view": seen.floor,
        "cover_view": seen.cover,
        "wall_grey": _grey(seen.wall, walls.ir_emissivity if walls else 0.9),
        "roof_grey": _grey(seen.roof, roof.ir_emissivity if roof else 0.9),
        "water_grey": _grey(seen.water, 0.9),  # plastic jugs (estimate)
    }


def _grey(view: float, emissivity: float) -> float:
    """Link of a grey surface to the star over that of a black one to what it sees; views.py."""
    return 1.0 / (1.0 / view + (1.0 - emissivity) / emissivity)


def _wall_values(shelter: Shelter) -> dict[str, float]:
    walls, roof = shelter.walls, shelter.roof or shelter.walls
    return {
        "wall_emit": walls.ir_emissivity if walls else 0.9,
        "wall_absorb": walls.solar_absorptance if walls else 0.6,
        "wall_to_room": float(shelter.room is not None),
        "roof_emit": roof.ir_emissivity if roof else 0.9,
        "roof_absorb": roof.solar_absorptance if roof else 0.6,
    }


def _bed_values(shelter: Shelter, enc: Enclosure, tables: SkyTables) -> dict[str, float]:
    ground, plants = shelter.ground, shelter.plants
    leaf_area = enc.floor_area_m2 * plants.cover_share * plants.leaf_area_index
    return {
        "soil_emit": ground.ir_emissivity,
        "soil_absorb": ground.solar_absorptance,
        "soil_wet": ground.surface_wetness,
        "floor_sky": tables.sky_view_floor,
        "canopy": plants.cover_share,
        "leaf_area": leaf_area,
        "leaf_absorb": plants.absorptance,
        "leaf_heat": max(leaf_area * LEAF_KG_M2 * LEAF_J_KGK, 1.0),
        "wet_leaf": plants.wet_leaf,
        "plant_height": plants.height_m,
    }


def _extras_values(shelter: Shelter, enc: Enclosure) -> dict[str, float]:
    water, room = shelter.water, shelter.room
    return {
        "water_heat": water.volume_m3 * 4.18e6 if water else 0.0,
        "water_area": water.area_m2 if water else 0.0,
        "water_absorb": water.absorptance if water else 0.0,
        "night_r": shelter.night_cover.resistance_m2k_w if shelter.night_cover else 0.0,
        "room_ua": room.conductance_w_m2k * enc.floor_area_m2 if room else 0.0,
        "gains_air": shelter.gains_w * (1.0 - shelter.gains_radiant_share),
        "gains_radiant": shelter.gains_w * shelter.gains_radiant_share,
        "vapour": float(shelter.switches.vapour),
        "snow": float(shelter.switches.snow),
        "freezing": float(shelter.switches.soil_freezing),
    }


def _fleece_values(fleece: Fleece | None, floor_m2: float, floor_view: float) -> dict[str, float]:
    emit = fleece.ir_emissivity if fleece else 0.5
    return {
        "fleece": float(fleece is not None),
        "fleece_pass": fleece.ir_transmittance if fleece else 0.0,
        "fleece_grey": _grey(floor_view, emit),
        "fleece_grey_under": 2.0 * emit / (2.0 - emit - (fleece.ir_transmittance if fleece else 0.0)),
        "fleece_sun": fleece.solar_transmittance if fleece else 1.0,
        "fleece_air": fleece.air_exchange_m_s if fleece else 0.0,
        "fleece_volume": floor_m2 * fleece.height_m if fleece else 0.0,
    }


def _air_values(shelter: Shelter, enc: Enclosure, terrain: str) -> dict[str, float]:
    fixed = shelter.airtightness.fixed_air_changes_per_h
    covered = not isinstance(shelter.shape, OpenGround)
    return {
        "leak_area": shelter.airtightness.leak_area_m2,
        "fixed_ach": -1.0 if fixed is None else fixed,
        "wind_factor": wind_factor(shelter, terrain, enc.height_m if covered else 0.3),
        "shielding": TERRAIN[terrain][2],
    }


def _lid_values(shelter: Shelter) -> dict[str, float]:
    lid = shelter.lid
    return {
        "working": float(LID_MODE[lid.working]),
        "vent_area_per_m": lid.hinge_length_m + lid.swing_m,  # the long gap and the two triangles beside it
        "vent_height": lid.vent_height_m,
        "full_gap": lid.full_gap_m,
        "start_k": lid.start_k,
        "full_k": lid.full_k,
        "rule_flow": lid.rule_rate_m3_h / 3600.0,
        "rule_gap": lid.gap_m,
        "rule_start_k": lid.rule_start_k or -1.0,
        "rule_stop_k": lid.rule_stop_k or -1.0,
    }


def sideways(shelter: Shelter) -> bool:
    """Whether heat goes sideways between the shelter's soil and that of the open ground beside it."""
    covered = not isinstance(shelter.shape, OpenGround)
    return shelter.switches.sideways_soil and covered and shelter.ground.boundary == "wave"


def _boundary_values(shelter: Shelter, enc: Enclosure) -> dict[str, float]:
    """Soil below and beside: the way sideways is floor over perimeter, which agrees with ISO 13370 for a small floor."""
    ground = shelter.ground
    way_m = max(enc.floor_area_m2 / enc.perimeter_m, 0.1)
    films = (shelter.inside_film_w_m2k, shelter.outside_film_w_m2k)
    return {
        "lateral": float(sideways(shelter)),
        "lateral_perimeter": enc.perimeter_m,
        "lateral_way": way_m,
        "lateral_edge_r": ground.edge_resistance_m2k_w,
        "raised_m": ground.raised_m,
        "raised_ua_per_m": POT_FILM_W_M2K * enc.perimeter_m,
        "bottom_kind": {"insulated": 0.0, "wave": 1.0, "air": 2.0}[ground.boundary],
        "bottom_r": ground.boundary_resistance_m2k_w,
        "film_inside": -1.0 if films[0] is None else films[0],
        "film_outside": -1.0 if films[1] is None else films[1],
    }
