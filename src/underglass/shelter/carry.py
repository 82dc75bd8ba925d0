"""Many futures of one shelter at once: bodies carried on from a shared past, each through its own weather, worked the same way.

The lid plan tries many settings on many forecasts; everything that does not depend on the setting is made once (`members_of`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.shelter import kernel, parts
from underglass.shelter.model import Ground, OpenGround, Plants, Shelter
from underglass.shelter.simulate import STEPS_DAY, STEPS_NIGHT, Prepared, advance, body_at_rest, picks_of, prepare
from underglass.shelter.working import Handling, can_be_bared, own_handling
from underglass.weather.outside import OutsideWeather

__all__ = ["Bodies", "Futures", "carry", "carry_bared", "futures_of"]

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]

AIR, AIR_MIN, AIR_MAX, LEAF, LEAF_MIN, LEAF_MAX = range(6)
SOIL_5CM, RH, PAR, LID_OPEN = 7, 10, 11, 13
"""Places of what the plan looks at in the last axis of `carry`'s answer (kernel.OUT_COLUMNS)."""


@dataclass(slots=True, eq=False)
class Bodies:
    """What the members carry from hour to hour, each (members, …): states, soil, walls, roof."""

    states: F64
    soils: F64
    walls: F64
    roofs: F64

    def copy(self) -> Bodies:
        """Bodies of their own that can be carried on another way."""
        return Bodies(self.states.copy(), self.soils.copy(), self.walls.copy(), self.roofs.copy())


@dataclass(frozen=True, slots=True, eq=False)
class Futures:
    """A shelter before many possible futures of the same hours, and where it stands now.

    ready : prepared with the members' weather;  now : bodies at the first hour, after the shared past
    bared : the same bed without its cover, where it can be taken away
    """

    ready: Prepared
    now: Bodies
    bared: Prepared | None = None

    def first(self, members: int) -> Futures:
        """The first so many members alone: members are alike by chance, so fewer serve where only the better of two ways is asked."""
        k, b = min(members, self.ready.n_members), self.now
        bared = None if self.bared is None else _of_first(self.bared, k)
        return Futures(_of_first(self.ready, k), Bodies(b.states[:k], b.soils[:k], b.walls[:k], b.roofs[:k]), bared)


def _of_first(ready: Prepared, members: int) -> Prepared:
    n = members * ready.n_hours
    after = (ready.after[0][:n], ready.after[1][:n])
    outside = tuple(a[:n] for a in ready.outside)
    return replace(ready, n_members=members, outside=outside, after=after, beside=ready.beside[:n])


def futures_of(
    shelter: Shelter,
    past: OutsideWeather,
    members: Sequence[OutsideWeather],
    handled: Handling | None = None,
    *,
    ground_warmer_k: float = 0.0,
) -> Futures:
    """A shelter led through the past and set before the members (which begin where the past ends).

    handled : what was done in the past; the shelter's own ways where it is not known
    ground_warmer_k : by how much the ground begins the past warmer than the climate has it
    """
    before = prepare(shelter, [past])
    body = body_at_rest(before)
    body.soil += ground_warmer_k
    n_layers = len(before.soil_k)
    none9, none_soil = np.zeros((0, 9), np.float32), np.zeros((0, n_layers), np.float32)
    worked = handled or own_handling(shelter, past)
    advance(before, body, worked, slice(0, past.n_hours), np.empty((past.n_hours, 16), np.float32), none9, none_soil)
    beside = _open_ground(shelter, past, members) if before.params.lateral > 0.0 else None
    ready = prepare(shelter, members, beside=np.zeros((0, n_layers), np.float32) if beside is None else beside)
    ready.after[1][:] = before.after[1][-1]  # deep ground goes on from the past; a few days do not move it
    m = len(members)
    bodies = Bodies(*(np.tile(a, (m, 1)) for a in (body.state, body.soil, body.walls, body.roof)))
    return Futures(ready, bodies, _bared(shelter, ready, members) if can_be_bared(shelter) else None)


def _bared(shelter: Shelter, ready: Prepared, members: Sequence[OutsideWeather]) -> Prepared:
    """The bed of a shelter with its cover taken away: plants, soil and fleece as they are, in the open.  What is left of walls gives no shade or lee."""
    bare = replace(shelter, shape=OpenGround(), cover=None, walls=None, roof=None, night_cover=None)
    open_ = prepare(bare, members, beside=np.zeros((0, len(ready.soil_k)), np.float32))
    open_.after[1][:] = ready.after[1]
    air, vapour, wind, longwave, pressure, rain, snow, sun = open_.outside
    by_member = snow.reshape(len(members), -1)
    fallen = np.maximum(by_member - by_member[:, :1], 0.0).ravel()  # what lay before lies around the bed, not on it
    fallen.flags.writeable = False
    return replace(open_, outside=(air, vapour, wind, longwave, pressure, rain, fallen, sun))


def _open_ground(shelter: Shelter, past: OutsideWeather, members: Sequence[OutsideWeather]) -> F32:
    """Soil of the open ground beside a small frame, for every member: (members * hours, layers) [K]."""
    g = shelter.ground
    bare = Shelter(
        "open", OpenGround(), ground=Ground(moisture=g.moisture, porosity=g.porosity, quartz_share=g.quartz_share),
        switches=replace(shelter.switches, sideways_soil=False), plants=Plants(cover_share=0.2),
    )  # fmt: skip
    futures = futures_of(bare, past, members)
    n = members[0].n_hours
    layers = np.empty((len(members), n, len(futures.ready.soil_k)), np.float32)
    idle = np.zeros(n)
    carry(futures.ready, futures.now, Handling(idle, idle, idle, idle), slice(0, n), layers)
    return layers.reshape(len(members) * n, -1)


def carry_bared(futures: Futures, bodies: Bodies, handling: Handling, hours: slice) -> F32:
    """As `carry`, with the cover taken away for these hours; it comes back dry, swept and as cold as the air."""
    assert futures.bared is not None  # asked only of what can be bared
    m = len(bodies.states)
    bare = Bodies(bodies.states, bodies.soils, np.zeros((m, 0)), np.zeros((m, 0)))
    out = carry(futures.bared, bare, handling, hours)
    out[:, :, LID_OPEN] = 1.0
    air = bodies.states[:, parts.AIR]
    bodies.states[:, [parts.DEW, parts.SNOW]] = 0.0
    bodies.states[:, [parts.OUTER, parts.INNER, parts.WALL_SKIN, parts.ROOF_SKIN]] = air[:, None]
    bodies.walls[:], bodies.roofs[:] = air[:, None], air[:, None]
    return out


def carry(ready: Prepared, bodies: Bodies, handling: Handling, hours: slice, layers: F32 | None = None) -> F32:
    """Carry all members through `hours`; bodies are changed.  Returns (members, hours, 16), columns as kernel.OUT_COLUMNS.

    handling : schedules of these hours alone, the same for all members;  layers : filled with soil temperatures where given
    """
    m, n = ready.n_members, hours.stop - hours.start
    out = np.empty((m, n, 16), np.float32)
    kept = np.empty((m, 0, len(ready.soil_k)), np.float32) if layers is None else layers
    g, w, r = ready.columns[:6], ready.columns[6:9], ready.columns[9:]
    kernel.run_members(
        ready.params, ready.n_hours, hours.start, hours.stop, *ready.outside, handling.gap, handling.night_cover, handling.fleece,
        handling.swept, *ready.after, ready.beside, bodies.soils, *g, bodies.walls, *w, bodies.roofs, *r, picks_of(ready.ground),
        bodies.states, STEPS_DAY, STEPS_NIGHT, out, kept,
    )  # fmt: skip
    return out
