"""The lid plan: what to set at each visit so that the least is lost over all that the forecast leaves possible.

The setting made at one visit stays until the next.  Every way of working the lid is a path through the visits; the physics is carried
along the paths for all members at once, and only the best few go on at each visit (a beam that keeps the best way to each setting).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.carry import Bodies, Futures, carry, carry_bared
from underglass.shelter.model import OpenGround, Shelter
from underglass.shelter.working import BY_HAND, Handling, can_be_bared
from underglass.tend.harm import Harm, harm_of
from underglass.tend.numbers import numbers
from underglass.tend.setting import Setting
from underglass.tend.standing import Limits

__all__ = ["LidPlan", "Reason", "Step", "each_risk", "follow", "plan_lid", "reasons", "settings_of", "spans_of"]

F64 = NDArray[np.float64]
F32 = NDArray[np.float32]

GAPS_M = (0.0, 0.025, 0.05, 0.10, 0.20)
"""Props that a family has at hand: an inch, two, a hand's breadth, two; beside them the lid wide open."""

BEAM = 4
SEARCHED = 24
"""Ways kept at each visit, and members on which ways are compared; what the plan promises comes from all members."""


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One setting from a visit (hour `first` of the plan) to the next (`last`), and the harm expected meanwhile (a mean over members)."""

    first: int
    last: int
    setting: Setting
    harm: Harm = field(repr=False)


@dataclass(frozen=True, slots=True, eq=False)
class LidPlan:
    """A way through the visits with what it gives.

    out : hours inside by member, (members, hours, 16);  toll : what it costs what stands there
    """

    steps: tuple[Step, ...]
    out: F32
    toll: Toll

    @property
    def cold(self) -> float:
        """Chance that cold kills, 0-1."""
        return float(self.toll.cold.mean())

    @property
    def heat(self) -> float:
        """Chance that heat kills, 0-1."""
        return float(self.toll.heat.mean())

    @property
    def cost(self) -> float:
        """Expected harm, in shares of a standing."""
        return self.toll.expected


@dataclass(frozen=True, slots=True, eq=False)
class Toll:
    """Harm so far by member, each (members,).

    A plant that lived through one night lives through another as cold: what counts of cold and heat is the worst span, not their sum.
    """

    cold: F64
    heat: F64
    other: F64

    @property
    def expected(self) -> float:
        """Mean over members of all of it."""
        return float((self.cold + self.heat + self.other).mean())

    def and_then(self, harm: Harm) -> Toll:
        """The toll after one more span."""
        return Toll(np.maximum(self.cold, harm.cold), np.maximum(self.heat, harm.heat), self.other + harm.other)


def _no_toll(members: int) -> Toll:
    nothing = np.zeros(members)
    return Toll(nothing, nothing, nothing)


def settings_of(shelter: Shelter) -> tuple[Setting, ...]:
    """Every setting that this shelter can be given by hand."""
    opens = not isinstance(shelter.shape, OpenGround) and shelter.room is None
    by_hand = opens and shelter.lid.working in BY_HAND
    full = shelter.lid.full_gap_m
    gaps = (*(g for g in GAPS_M if g < full), full) if by_hand else (0.0,)
    covers = (False, True) if shelter.night_cover is not None else (False,)
    cloths = (False, True) if shelter.fleece is not None else (False,)
    set_ = [
        Setting(gap, cover, cloth) for gap in gaps for cover in covers for cloth in cloths if not (cover and gap > 0.0)
    ]
    if by_hand and can_be_bared(shelter):
        set_ += [Setting(full, fleece=cloth, off=True) for cloth in cloths]
    return tuple(set_)


def _handling(setting: Setting, hours: int) -> Handling:
    swept = np.zeros(hours)
    swept[0] = 1.0  # whoever is there sweeps the snow off
    return Handling(
        np.full(hours, setting.gap_m), np.full(hours, float(setting.night_cover)), np.full(hours, float(setting.fleece)), swept
    )  # fmt: skip


def _wind(futures: Futures) -> F64:
    ready = futures.ready
    return ready.outside[2].reshape(ready.n_members, ready.n_hours)


def spans_of(visits: Sequence[int], n_hours: int) -> list[tuple[int, int]]:
    """Hours from each visit to the next, the first one now."""
    at = sorted({0, *(v for v in visits if 0 < v < n_hours)})
    return list(zip(at, [*at[1:], n_hours], strict=True))


def _allowed(settings: Sequence[Setting], gusty: bool) -> list[Setting]:
    """In strong wind a propped lid is a wing: shut and latched, or right off, nothing between; wide open where it can't be taken off."""
    if not gusty or len({s.gap_m for s in settings}) == 1:
        return list(settings)
    widest, can_be_off = max(s.gap_m for s in settings), any(s.off for s in settings)
    return [s for s in settings if s.gap_m == 0.0 or (s.off if can_be_off else s.gap_m == widest)]


def _cold_night(futures: Futures, first: int, last: int) -> bool:
    """Whether these hours are a night in which one errs to cover: mostly dark, and cold outside."""
    n, ready = numbers("harm"), futures.ready
    air_k = ready.outside[0].reshape(ready.n_members, ready.n_hours)[:, first:last]
    sun = ready.outside[7][first:last].reshape(last - first, -1).sum(axis=1)  # dark hours are dark for every member
    cold = float(np.median(air_k.min(axis=1))) < n["open_night_c"] + 273.15
    return cold and last - first <= n["night_h"] and bool((sun <= 0.0).mean() > 0.5)


def _carried(futures: Futures, bodies: Bodies, setting: Setting, hours: slice) -> F32:
    """Carry bodies on under a setting; they are changed."""
    handling = _handling(setting, hours.stop - hours.start)
    if setting.off and futures.bared is not None:
        return carry_bared(futures, bodies, handling, hours)
    return carry(futures.ready, bodies, handling, hours)


def _harm(limits: Sequence[Limits], out: F32, wind: F64, setting: Setting) -> Harm:
    return harm_of(limits, out, wind, bared=setting.off, trays_in=setting.trays_in)


def _effort(setting: Setting, last: Setting | None) -> float:
    """What a change costs; a lid that is lifted off must be laid somewhere and held, so it counts twice."""
    if setting == last:
        return 0.0
    n, before = numbers("harm"), last or Setting()
    carried = n["carry_effort"] if setting.trays_in != before.trays_in else 0.0
    return carried + n["effort"] * (2.0 if setting.off != before.off else 1.0)


def plan_lid(
    futures: Futures, limits: Sequence[Limits], settings: Sequence[Setting], visits: Sequence[int], now: Setting | None
) -> LidPlan:
    """The best way found through the visits.

    visits : hours of the plan at which somebody comes (hour 0 always counts);  now : how it is set, where that is known
    """
    whole, futures = futures, futures.first(SEARCHED)
    n = futures.ready.n_hours
    wind, gust = _wind(futures), numbers("warnings")["gust_m_s"]
    trays = any(limit.in_tray for limit in limits)
    ways = [_Way(0.0, (), now, futures.now, _no_toll(futures.ready.n_members))]
    for first, last in spans_of(visits, n):
        gusty = bool(np.quantile(wind[:, first:last].max(axis=1), 0.8) > gust)
        keep_shut = _cold_night(futures, first, last)
        found: dict[Setting, _Way] = {}
        for way in ways:
            hot_if_shut = np.inf
            for base in sorted(_allowed(settings, gusty)):
                if base.gap_m > 0.0 and keep_shut and hot_if_shut < numbers("harm")["night_heat"]:
                    continue
                after = way.bodies.copy()
                out = _carried(futures, after, base, slice(first, last))
                for setting in (base, replace(base, trays_in=True)) if trays else (base,):
                    harm = _harm(limits, out, wind[:, first:last], setting)
                    if base.gap_m == 0.0 and not setting.trays_in:
                        hot_if_shut = min(hot_if_shut, float((harm.heat + harm.strain).mean()))
                    toll = way.toll.and_then(harm)
                    walks = way.walks + _effort(setting, way.last)
                    new = _Way(walks, (*way.steps, (first, last, setting)), setting, after, toll)
                    if setting not in found or new.cost < found[setting].cost:
                        found[setting] = new
        ways = sorted(found.values(), key=lambda way: way.cost)[:BEAM]
    return follow(whole, limits, ways[0].steps)


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A way as far as it has come: effort of its changes, its settings, and where it left the shelter."""

    walks: float
    steps: tuple[tuple[int, int, Setting], ...]
    last: Setting | None
    bodies: Bodies
    toll: Toll

    @property
    def cost(self) -> float:
        return self.walks + self.toll.expected


def follow(futures: Futures, limits: Sequence[Limits], steps: Sequence[tuple[int, int, Setting]]) -> LidPlan:
    """What a given way through the hours brings."""
    bodies, wind = futures.now.copy(), _wind(futures)
    toll, done, parts = _no_toll(futures.ready.n_members), [], []
    for first, last, setting in steps:
        out = _carried(futures, bodies, setting, slice(first, last))
        harm = _harm(limits, out, wind[:, first:last], setting)
        done.append(Step(first, last, setting, harm))
        parts.append(out)
        toll = toll.and_then(harm)
    return LidPlan(tuple(done), np.concatenate(parts, axis=1), toll)


def each_risk(futures: Futures, plan: LidPlan, limits: Sequence[Limits]) -> list[tuple[float, float]]:
    """Chances that cold, that heat kills each standing under a plan, 0-1."""
    wind, found = _wind(futures), []
    for limit in limits:
        toll = _no_toll(futures.ready.n_members)
        for s in plan.steps:
            hours = slice(s.first, s.last)
            toll = toll.and_then(_harm([limit], plan.out[:, hours], wind[:, hours], s.setting))
        found.append((float(toll.cold.mean()), float(toll.heat.mean())))
    return found


Reason = Literal["heat", "cold", "damp", "growth", "warmth"]
"""Why a setting is made: against heat, cold or mould, for growth, or (shut) to keep the warmth in."""


def reasons(futures: Futures, plan: LidPlan, limits: Sequence[Limits]) -> list[Reason]:
    """Why each step is set as it is.  An open lid is held against the same hours shut: what that would cost most in is the reason."""
    futures = futures.first(SEARCHED)
    bodies, wind, found = futures.now.copy(), _wind(futures), list[Reason]()
    for step in plan.steps:
        setting, hours = step.setting, slice(step.first, step.last)
        if setting.gap_m > 0.0:
            shut = replace(setting, gap_m=0.0, off=False)
            else_ = _harm(limits, _carried(futures, bodies.copy(), shut, hours), wind[:, hours], shut)
            open_ = _harm(limits, _carried(futures, bodies, setting, hours), wind[:, hours], setting)
            spared: dict[Reason, float] = {
                "heat": float((else_.heat + else_.strain - open_.heat - open_.strain).mean()),
                "cold": float((else_.cold - open_.cold).mean()),
                "damp": float((else_.damp - open_.damp).mean()),
                "growth": float((else_.growth - open_.growth).mean()),
            }
            found.append(max(spared, key=lambda reason: spared[reason]))
            continue
        _carried(futures, bodies, setting, hours)
        found.append("cold" if setting.night_cover or setting.fleece else "warmth")
    return found
