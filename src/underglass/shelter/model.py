"""What a shelter is: shape, sheets, walls, soil, air-tightness, extras and how its lid is worked.  Plain values, all SI.

Everything the physics uses stands here, so that a case from the literature can be rebuilt exactly.  `presets.py` fills
these values for common shelters; a person's own shelter file changes some of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

__all__ = [
    "Airtightness",
    "Box",
    "Construction",
    "Cover",
    "Drum",
    "Fleece",
    "Ground",
    "Hoop",
    "Layer",
    "Lid",
    "LidWorking",
    "NightCover",
    "OpenGround",
    "Plants",
    "Room",
    "Shape",
    "Sheet",
    "Shelter",
    "Switches",
    "Visits",
    "Water",
    "Window",
]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of a cover: a pane, a film, a board.

    thickness_m, refractive_index [-], extinction_per_m [1/m] : Snell, Fresnel and Bouguer give the transmittance from these
    solar_transmittance : measured value at normal incidence, 0-1; replaces the computed one there, keeps the angle's shape
    diffusing           : True for milky plastic, which scatters all that it lets through
    ir_transmittance    : dry, 5-50 um, 0-1              ir_emissivity : each face, 0-1 (the rest is reflected)
    conductivity_w_mk, density_kg_m3, specific_heat_j_kgk : of the sheet
    """

    thickness_m: float
    refractive_index: float = 1.526
    extinction_per_m: float = 8.0
    solar_transmittance: float | None = None
    diffusing: bool = False
    ir_transmittance: float = 0.0
    ir_emissivity: float = 0.84
    conductivity_w_mk: float = 1.0
    density_kg_m3: float = 2500.0
    specific_heat_j_kgk: float = 840.0


@dataclass(frozen=True, slots=True)
class Cover:
    """The glazing: one or two sheets, outermost first.

    gap_m                : air gap between two sheets [m]
    gap_conductance_w_m2k: of the gap in all, when it is known (twin-wall board, low-e); None: computed
    frame_share          : share of the glazed area that is frame, bar or hoop, 0-1; it stops light and conducts
    frame_u_w_m2k        : transmittance of that frame, air to air [W/m2K]
    clean                : factor on light for dirt and age, 0-1
    """

    sheets: tuple[Sheet, ...]
    gap_m: float = 0.012
    gap_conductance_w_m2k: float | None = None
    frame_share: float = 0.0
    frame_u_w_m2k: float = 2.5
    clean: float = 1.0


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of a wall, a roof or the ground.

    thickness_m, conductivity_w_mk, density_kg_m3, specific_heat_j_kgk
    """

    thickness_m: float
    conductivity_w_mk: float
    density_kg_m3: float
    specific_heat_j_kgk: float


@dataclass(frozen=True, slots=True)
class Construction:
    """An opaque wall or roof: layers from the outside in, absorptance for sun and emissivity of both faces."""

    layers: tuple[Layer, ...]
    solar_absorptance: float = 0.6
    ir_emissivity: float = 0.9


@dataclass(frozen=True, slots=True)
class Window:
    """A glazed rectangle in one wall of a box or room: seen from outside, from the wall's lower left corner [m]."""

    wall: Literal["front", "back", "left", "right"]
    width_m: float
    height_m: float
    from_left_m: float
    from_floor_m: float


@dataclass(frozen=True, slots=True)
class Box:
    """A box under a sloping lid; also a cloche (all sides glazed) and, with windows and an opaque top, a room.

    length_m       : along the front [m]                 depth_m : front to back [m]
    front_height_m, back_height_m : inside heights [m]; the lid falls from back to front
    glazed         : which faces are of the cover: 'lid', 'front', 'back', 'left', 'right'
    windows        : glazed rectangles in otherwise opaque walls
    """

    length_m: float
    depth_m: float
    front_height_m: float
    back_height_m: float
    glazed: tuple[str, ...] = ("lid",)
    windows: tuple[Window, ...] = ()


@dataclass(frozen=True, slots=True)
class Hoop:
    """A tunnel: film over bows.  Its length runs across the facing; the cross-section is an arc of an ellipse.

    length_m, width_m [m]          height_m : ridge above ground [m]
    end_walls : 'cover' (film) or 'opaque'
    """

    length_m: float
    width_m: float
    height_m: float
    end_walls: Literal["cover", "opaque"] = "cover"


@dataclass(frozen=True, slots=True)
class Drum:
    """A jug or bottle: an upright cylinder, all of cover above the soil.  diameter_m, height_m [m]"""

    diameter_m: float
    height_m: float


@dataclass(frozen=True, slots=True)
class OpenGround:
    """No cover at all: a bed in the open.  length_m, width_m [m]"""

    length_m: float = 1.0
    width_m: float = 1.0


Shape = Box | Hoop | Drum | OpenGround


@dataclass(frozen=True, slots=True)
class Airtightness:
    """How the shut shelter leaks.

    leak_area_m2          : effective leakage area of all cracks together [m2]
    fixed_air_changes_per_h : a constant rate instead of the leakage model (literature cases) [1/h]
    """

    leak_area_m2: float = 0.0
    fixed_air_changes_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class Visits:
    """Times at which somebody can work the lid, local standard clock hours, for weekdays and weekends."""

    weekday_h: tuple[float, ...] = (7.5, 17.5)
    weekend_h: tuple[float, ...] = (8.0, 12.0, 17.0)


LidWorking = Literal["shut", "open", "gap", "visits", "arm", "perfect", "rule"]


@dataclass(frozen=True, slots=True)
class Lid:
    """The opening that airs the shelter and how it is worked.

    working       : 'shut', 'open', 'gap' (always propped by gap_m), 'visits' (by hand, at the family's times),
                    'arm' (self-opening by inside air), 'perfect' (somebody always there), 'rule' (fixed hours or threshold)
    hinge_length_m: length of the edge that lifts [m]    swing_m : from hinge to that edge [m]
    full_gap_m    : how far the edge lifts when fully open [m]
    gap_m         : prop used by 'gap' [m]
    start_k, full_k : inside air at which an arm begins to lift, is fully up; 'perfect' keeps the air near start_k [K]
    vent_height_m : height between lower and upper edge of the opening, for buoyancy [m]
    warm_season   : by hand it is opened less in the warm half of the year, for tomatoes and their like; else always as for greens
    rule_on_h, rule_off_h, rule_rate_m3_h, rule_start_k, rule_stop_k : for 'rule': a fixed flow between two hours of
                    the local day, or above start until below stop (hysteresis)
    """

    working: LidWorking = "shut"
    hinge_length_m: float = 1.0
    swing_m: float = 1.0
    full_gap_m: float = 0.6
    gap_m: float = 0.05
    start_k: float = 293.15
    full_k: float = 303.15
    vent_height_m: float = 0.3
    warm_season: bool = False
    rule_on_h: float = 0.0
    rule_off_h: float = 0.0
    rule_rate_m3_h: float = 0.0
    rule_start_k: float | None = None
    rule_stop_k: float | None = None


@dataclass(frozen=True, slots=True)
class NightCover:
    """An insulating cover laid over the glazing.

    resistance_m2k_w : of the blanket, straw, foam [m2K/W]
    on_h, off_h      : local standard clock hours; None: on an hour before sunset, off an hour after sunrise
    below_k          : laid only when the night to come falls below this outside air temperature [K]
    """

    resistance_m2k_w: float
    on_h: float | None = None
    off_h: float | None = None
    below_k: float = 400.0


@dataclass(frozen=True, slots=True)
class Fleece:
    """A row cover laid over the plants inside (or, with no shelter, in the open).

    solar_transmittance, ir_transmittance, ir_emissivity : 0-1
    air_exchange_m_s : speed at which air changes through it, per area [m/s]
    height_m         : mean height over the soil [m]
    night_only       : taken off between an hour after sunrise and an hour before sunset
    """

    solar_transmittance: float = 0.85
    ir_transmittance: float = 0.35
    ir_emissivity: float = 0.55
    air_exchange_m_s: float = 0.003
    height_m: float = 0.15
    night_only: bool = False


@dataclass(frozen=True, slots=True)
class Water:
    """Jugs of water standing inside.  volume_m3 [m3], area_m2 : surface [m2], absorptance for sun 0-1"""

    volume_m3: float
    area_m2: float
    absorptance: float = 0.8


@dataclass(frozen=True, slots=True)
class Plants:
    """What grows inside, as the balance sees it.

    cover_share : share of the floor under leaves, 0-1   leaf_area_index : leaf area per covered floor [-]
    absorptance : of leaves for sun 0-1                  height_m : [m]
    wet_leaf    : share of full transpiration, 0-1
    """

    cover_share: float = 0.35
    leaf_area_index: float = 1.5
    absorptance: float = 0.55
    height_m: float = 0.10
    wet_leaf: float = 1.0


@dataclass(frozen=True, slots=True)
class Ground:
    """The soil under the shelter, or a floor built of layers.

    moisture      : volumetric water content [m3/m3]     porosity [m3/m3]      quartz_share : of the solids, 0-1
    surface_wetness : of the top, 0 dry … 1 wet, scales evaporation
    solar_absorptance, ir_emissivity : of the surface, 0-1
    layers        : a built floor instead of soil (top first); moisture and freezing then do not apply
    boundary      : 'wave' (the place's annual wave), 'insulated', or 'air' (outside or room air through resistance)
    wave_mean_k, wave_amplitude_k, wave_day_of_minimum : of the surface; None: taken from the weather [K], [K], day of year
    boundary_resistance_m2k_w : for 'air' [m2K/W]
    raised_m      : height of soil standing above the ground around (a pot, a jug), open to the air at its sides [m]
    edge_resistance_m2k_w : of whatever stands in the soil under the walls (foam board …) [m2K/W]
    """

    moisture: float = 0.25
    porosity: float = 0.48
    quartz_share: float = 0.4
    surface_wetness: float = 0.5
    solar_absorptance: float = 0.80
    ir_emissivity: float = 0.95
    layers: tuple[Layer, ...] = ()
    boundary: Literal["wave", "insulated", "air"] = "wave"
    wave_mean_k: float | None = None
    wave_amplitude_k: float | None = None
    wave_day_of_minimum: float | None = None
    boundary_resistance_m2k_w: float = 0.1
    raised_m: float = 0.0
    edge_resistance_m2k_w: float = 0.0


@dataclass(frozen=True, slots=True)
class Room:
    """A heated room on the other side: a windowsill's air is mostly the room's.

    day_k, night_k : room air from 7 to 22 h and otherwise, local clock [K]
    conductance_w_m2k : between the air at the sill and the room, per floor area [W/m2K]
    """

    day_k: float = 293.15
    night_k: float = 289.15
    conductance_w_m2k: float = 60.0


@dataclass(frozen=True, slots=True)
class Switches:
    """Physics that can be turned off, to compare with dry one-dimensional reference programs."""

    vapour: bool = True
    soil_freezing: bool = True
    snow: bool = True
    sideways_soil: bool = True


@dataclass(frozen=True, slots=True)
class Shelter:
    """Any protected spot: jug, box, tunnel, sill; also the open ground, which protects from nothing.

    facing_deg    : azimuth that the front looks at, clockwise from north; None: towards the equator
    clear_height_m: tallest plant that fits [m]
    ground_reflectance : of the ground around, snow aside, 0-1
    terrain       : what stands around, as for a place; None: the place's
    wind_factor   : wind at the shelter over wind at 10 m in the open; None: from the terrain and the height
    gains_w, gains_radiant_share : constant heat put in [W], share of it as radiation
    inside_film_w_m2k, outside_film_w_m2k : convection at inside and outside faces, when fixed (literature cases); None: modelled
    kind          : what the guide may do with it: 'bed' (plants live there), 'nursery' (raises seedlings), 'both'
    """

    name: str
    shape: Shape
    cover: Cover | None = None
    walls: Construction | None = None
    roof: Construction | None = None
    facing_deg: float | None = None
    clear_height_m: float = 0.3
    airtightness: Airtightness = field(default_factory=Airtightness)
    lid: Lid = field(default_factory=Lid)
    visits: Visits = field(default_factory=Visits)
    night_cover: NightCover | None = None
    fleece: Fleece | None = None
    water: Water | None = None
    plants: Plants = field(default_factory=Plants)
    ground: Ground = field(default_factory=Ground)
    room: Room | None = None
    switches: Switches = field(default_factory=Switches)
    ground_reflectance: float = 0.2
    terrain: Literal["open", "garden", "sheltered"] | None = None
    wind_factor: float | None = None
    gains_w: float = 0.0
    gains_radiant_share: float = 0.6
    inside_film_w_m2k: float | None = None
    outside_film_w_m2k: float | None = None
    kind: Literal["bed", "nursery", "both"] = "bed"
    note: str = ""
