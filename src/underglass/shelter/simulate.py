"""From a shelter and the hours outside to the hours inside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError
from underglass.place.place import Horizon, Place
from underglass.shelter import kernel
from underglass.shelter.geometry import ROOF, WALL, Enclosure, enclosure
from underglass.shelter.inside import HEAT_PATHS, InsideWeather
from underglass.shelter.model import Construction, Cover, Ground, OpenGround, Plants, Shape, Sheet, Shelter, Switches
from underglass.shelter.reduce import params as reduced
from underglass.shelter.reduce import sideways
from underglass.shelter.soil import Column, annual_wave_k, column_of_layers, soil_column
from underglass.shelter.sunlight import FLOOR, WALLS_IN, Rays, SkyTables, follow_rays, hourly_sunlight, sky_tables
from underglass.shelter.working import Handling, own_handling
from underglass.weather.days import standard_offset_h
from underglass.weather.outside import OutsideWeather

__all__ = [
    "Body",
    "Prepared",
    "advance",
    "body_at_rest",
    "ground_wave",
    "open_ground_layers",
    "picks_of",
    "prepare",
    "simulate",
    "simulate_pieces",
]

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]

STEPS_DAY, STEPS_NIGHT = 2, 1
SPIN_UP_H = 30 * 24
PIECE_H = 4 * 8766
"""Hours that are worked on at once where not all of them are asked for together."""

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


def ground_wave(ground: Ground, outside: OutsideWeather) -> tuple[float, float, float]:
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


def picks_of(column: Column) -> F64:
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


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A shelter and one or more series of outside hours of the same length, ready for the kernel.

    params : constants of the shelter;  enclosure : its shape;  start, n_hours, n_members : of the series
    hourly : the kernel's hourly arrays up to `swept`'s place, each (n_members * n_hours, …), member after member
    ground, walls, roof : columns;  soil_k : the ground at rest at the first hour, by layer [K]
    """

    shelter: Shelter
    params: Any
    enclosure: Enclosure
    place: Place
    start: np.datetime64
    n_hours: int
    n_members: int
    outside: tuple[NDArray[Any], ...]
    after: tuple[F64, F64]
    beside: F32
    ground: Column
    walls: Column
    roof: Column
    soil_k: F64

    @property
    def columns(self) -> tuple[F64, ...]:
        """Thickness, conductivities and heat of ground, walls and roof, in the kernel's order after each column's temperatures."""
        g, w, r = self.ground, self.walls, self.roof
        return (
            g.thickness_m, g.conductivity_thawed, g.conductivity_frozen, g.heat_thawed, g.heat_frozen, g.latent,
            w.thickness_m, w.conductivity_thawed, w.heat_thawed, r.thickness_m, r.conductivity_thawed, r.heat_thawed,
        )  # fmt: skip

    def part(self, member: int, hours: slice) -> slice:
        """Where hours of a member stand in the arrays."""
        return slice(member * self.n_hours + hours.start, member * self.n_hours + hours.stop)


@dataclass(slots=True)
class Body:
    """What a shelter carries from hour to hour: air, surfaces, dew and snow (18,), and its columns by layer [K]."""

    state: F64
    soil: F64
    walls: F64
    roof: F64

    def copy(self) -> Body:
        """A body of its own that can be carried on another way."""
        return Body(self.state.copy(), self.soil.copy(), self.walls.copy(), self.roof.copy())


@lru_cache(maxsize=64)
def _rays(shape: Shape, plant_height_m: float, cover: Cover | None) -> Rays:
    """A shape under its cover and the rays that reach it, kept: the same whatever the weather and wherever it looks."""
    return follow_rays(enclosure(shape, plant_height_m), cover)


@lru_cache(maxsize=64)
def _tables(shape: Shape, plant_height_m: float, cover: Cover | None, facing_deg: float, horizon: Horizon) -> SkyTables:
    return sky_tables(_rays(shape, plant_height_m, cover), facing_deg, horizon)


def _as_light_sees_it(cover: Cover | None) -> Cover | None:
    """A spotless cover without what only heat notices, so that a cover tried dirtier or warmer shares the rays kept for it."""
    if cover is None:
        return None
    sheets = tuple(
        Sheet(s.thickness_m, s.refractive_index, s.extinction_per_m, s.solar_transmittance, s.diffusing)
        for s in cover.sheets
    )
    return Cover(sheets, frame_share=cover.frame_share)


def _sun(outside: OutsideWeather, shelter: Shelter, tables: SkyTables) -> F64:
    """Watts of sun by receiver, (n_hours, 6); dirt dims what comes in, and nothing else (`sunlight.py`)."""
    o = outside
    sun = hourly_sunlight(
        o.dni_w_m2, o.dhi_w_m2, o.sun_zenith_deg, o.sun_azimuth_deg, o.snow_depth_m, tables, shelter.ground_reflectance
    )  # fmt: skip
    if shelter.cover is not None:
        sun[:, [FLOOR, WALLS_IN]] *= shelter.cover.clean
    return sun


def prepare(shelter: Shelter, outside: Sequence[OutsideWeather], beside: F32 | None = None) -> Prepared:
    """The shelter beside one or more series of the same place, start and length.

    beside : open ground's soil next to a small frame, (members * hours, layers) [K]; computed where it is needed and not given
    """
    first = outside[0]
    place = first.place
    facing = place.equator_azimuth_deg if shelter.facing_deg is None else shelter.facing_deg
    light = (shelter.shape, shelter.plants.height_m, _as_light_sees_it(shelter.cover))
    enc, tables = _rays(*light).enclosure, _tables(*light, facing, place.horizon)
    _check(shelter, enc)
    sun = [_sun(o, shelter, tables) for o in outside]
    params = reduced(shelter, enc, tables, shelter.terrain or place.terrain)
    ground = _ground_column(shelter)
    if beside is None:
        beside = _joined([_soil_beside(shelter, o) for o in outside])
    wave = ground_wave(shelter.ground, first)
    days = _day_of_year(first)
    diffusivity = float(np.mean(ground.conductivity_thawed / ground.heat_thawed))
    bottom = annual_wave_k(float(ground.thickness_m.sum()), days, *wave, diffusivity)
    soil_k = annual_wave_k(ground.depth_m, days[0], *wave, diffusivity)
    if shelter.ground.layers:
        soil_k = np.full(len(ground.thickness_m), first.air_temp_k[: min(first.n_hours, 240)].mean())
    m = len(outside)
    vapour = [_vapour_pa(o) for o in outside]
    names = ("wind_m_s", "longwave_down_w_m2", "pressure_pa", "precipitation_mm", "snow_depth_m")
    forced = [_joined([getattr(o, name) for o in outside]) for name in ("air_temp_k", *names)]
    return Prepared(
        shelter, params, enc, place, first.start, first.n_hours, m,
        outside=(forced[0], np.concatenate(vapour), *forced[1:], np.concatenate(sun)),
        after=(np.tile(_room_k(shelter, first), m), np.tile(bottom, m)),
        beside=beside, ground=ground, walls=_wall_column(shelter.walls, params.wall_area),
        roof=_wall_column(shelter.roof or shelter.walls, params.roof_area), soil_k=soil_k,
    )  # fmt: skip


def _joined(arrays: list[NDArray[Any]]) -> NDArray[Any]:
    """One array after the other; read-only like the arrays of an OutsideWeather, so that the kernel is compiled once."""
    out = arrays[0].view() if len(arrays) == 1 else np.concatenate(arrays).view()
    out.flags.writeable = False
    return out


def body_at_rest(ready: Prepared) -> Body:
    """Everything at the first hour's air, the ground on its annual wave."""
    air, vapour = float(ready.outside[0][0]), float(ready.outside[1][0])
    walls, roof = (np.full(len(c.thickness_m), air) for c in (ready.walls, ready.roof))
    return Body(kernel.fresh_state(air, vapour, float(ready.soil_k[0])), ready.soil_k.copy(), walls, roof)


def advance(
    ready: Prepared, body: Body, handling: Handling, hours: slice, out: F32, flows: F32, layers: F32, member: int = 0
) -> float:
    """Carry `body` through `hours` of a member; it is changed.  Returns the worst energy imbalance (share).

    handling : schedules over all hours of the member;  out (hours, 16), flows (hours or 0, 9), layers (hours or 0, n_layers) are filled
    """
    at = ready.part(member, hours)
    beside = ready.beside[at] if len(ready.beside) else ready.beside
    worked = (
        np.ascontiguousarray(a[hours]) for a in (handling.gap, handling.night_cover, handling.fleece, handling.swept)
    )
    g, w, r = ready.columns[:6], ready.columns[6:9], ready.columns[9:]
    return float(
        kernel.run(
            ready.params, *(np.ascontiguousarray(a[at]) for a in ready.outside), *worked, *(a[at] for a in ready.after), beside,
            body.soil, *g, body.walls, *w, body.roof, *r, picks_of(ready.ground), body.state, STEPS_DAY, STEPS_NIGHT, out, flows, layers,
        )
    )  # fmt: skip


def simulate(
    shelter: Shelter, outside: OutsideWeather, *, heat: bool = False, handling: Handling | None = None
) -> InsideWeather:
    """Hours inside `shelter` for the hours outside.

    heat : also keep the hourly heat flows (HEAT_PATHS);  handling : schedules instead of the shelter's own ways of being worked

    The run starts from the annual soil wave and is led in by 30 days: the last of a whole-year series, else the first.
    """
    ((inside, _),) = _in_pieces(shelter, outside, [], heat=heat, handling=handling)
    return inside


def simulate_pieces(shelter: Shelter, outside: OutsideWeather, cuts: Sequence[int]) -> Iterator[InsideWeather]:
    """The same hours as `simulate`, one piece after the other, cut at these hours: who sums them up never holds them all."""
    return (inside for inside, _ in _in_pieces(shelter, outside, cuts))


_layers: WeakKeyDictionary[OutsideWeather, dict[tuple[Ground, Switches], F32]] = WeakKeyDictionary()
"""Soil of open ground, kept as long as the weather that it comes from."""


def open_ground_layers(outside: OutsideWeather, ground: Ground, switches: Switches) -> F32:
    """Soil temperatures of open ground beside a shelter, shape (n_hours, n_layers) [K]; kept with the weather."""
    kept = _layers.setdefault(outside, {})
    if (ground, switches) not in kept:
        bare = Shelter("open", OpenGround(), ground=ground, switches=switches, plants=Plants(cover_share=0.2))
        kept[ground, switches] = np.concatenate(
            [
                layers
                for _, layers in _in_pieces(bare, outside, range(PIECE_H, outside.n_hours, PIECE_H), keep_layers=True)
            ]
        )
    return kept[ground, switches]


def _soil_beside(shelter: Shelter, outside: OutsideWeather) -> F32:
    """Open ground's soil next to a small frame, (n_hours, layers) [K]; no hours where none of its heat comes in."""
    if not sideways(shelter):
        return np.zeros((0, len(_ground_column(shelter).thickness_m)), np.float32)
    g = shelter.ground
    natural = Ground(
        moisture=g.moisture, porosity=g.porosity, quartz_share=g.quartz_share, wave_mean_k=g.wave_mean_k,
        wave_amplitude_k=g.wave_amplitude_k, wave_day_of_minimum=g.wave_day_of_minimum,
    )  # fmt: skip
    return open_ground_layers(outside, natural, shelter.switches)


def _in_pieces(
    shelter: Shelter, outside: OutsideWeather, cuts: Sequence[int], *, heat: bool = False, keep_layers: bool = False,
    handling: Handling | None = None,
) -> Iterator[tuple[InsideWeather, F32]]:  # fmt: skip
    """Hours inside and of the ground's layers, cut at these hours: what is prepared for the kernel is many times what comes out."""
    n, worked = outside.n_hours, handling or own_handling(shelter, outside)
    beside = _soil_beside(shelter, outside)
    mean, amplitude, minimum = ground_wave(shelter.ground, outside)
    ground = replace(shelter.ground, wave_mean_k=mean, wave_amplitude_k=amplitude, wave_day_of_minimum=minimum)
    told = replace(shelter, ground=ground)  # a piece of the weather does not know the wave of the whole

    def ready(hours: slice) -> Prepared:
        part = outside if hours == slice(0, n) else outside.part(hours.start, hours.stop)
        return prepare(told, [part], beside[hours] if len(beside) else beside)

    pieces = [slice(a, b) for a, b in pairwise((0, *cuts, n))]
    now = ready(pieces[0])
    body, none9, none_soil = body_at_rest(now), np.zeros((0, 9), np.float32), np.zeros((0, len(now.soil_k)), np.float32)
    lead = slice(max(n - SPIN_UP_H, 0), n) if n >= 360 * 24 else slice(0, min(n, SPIN_UP_H))
    _carried(ready(lead), body, worked.part(lead), none9, none_soil)
    for i, hours in enumerate(pieces):
        now = now if i == 0 else ready(hours)
        flows = np.empty((now.n_hours, 9), np.float32) if heat else none9
        layers = np.empty((now.n_hours, len(now.soil_k)), np.float32) if keep_layers else none_soil
        yield _carried(now, body, worked.part(hours), flows, layers), layers


def _carried(ready: Prepared, body: Body, worked: Handling, flows: F32, layers: F32) -> InsideWeather:
    """The body carried through all that is prepared."""
    out = np.empty((ready.n_hours, 16), np.float32)
    closure = advance(ready, body, worked, slice(0, ready.n_hours), out, flows, layers)
    columns: dict[str, Any] = {name: np.ascontiguousarray(out[:, i]) for i, name in enumerate(kernel.OUT_COLUMNS)}
    return InsideWeather(
        shelter_name=ready.shelter.name, place=ready.place, start=ready.start, **columns,
        heat={name: flows[:, i] for i, name in enumerate(HEAT_PATHS)} if len(flows) else {},
        floor_area_m2=ready.enclosure.floor_area_m2, closure=closure,
    )  # fmt: skip
