"""From fates and wishes to the planner's task: what may be sown, in blocks of which size, under which limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.candidates import Candidate, candidates_of, held_candidates_of, prune
from underglass.plan.optimise import Option, Task
from underglass.plan.outlook import RouteFates
from underglass.plan.outlook_types import Route
from underglass.plan.quality import too_warm_days
from underglass.plan.wishes import Drop, Pin, Standing, Want, Wishes, claimed, usual_wants
from underglass.plan.work import areas, block_m2
from underglass.shelter.model import OpenGround, Shelter

__all__ = ["Earlier", "as_planned", "check_places", "manure_free", "task_of", "new_kinds", "wants_of", "wished_crops"]

MOST_OPTIONS, OPTIONS_A_CROP = 700, 20
"""Sowings that are weighed against each other, in all and of one crop: about one for each fortnight and more than half of the beds."""

TOUCHING_D, NOT_TOUCHING_D = 120, 90
"""Days from raw manure to harvest: the edible part touches soil, or not.  Source: 7 CFR 205.203(c)(1)."""

PIN_SLACK_D, AS_PLANNED_D = 3, 10
SOMETHING_NEW = "something new"
NEW_SERVINGS = 0.5
"""Servings per person and week of kinds that nobody knows yet: enough to taste."""

MOST_NEW = 12
"""New kinds that are looked at: more would only make a family wait."""

DROP_SLACK_D = 14
"""A dropped sowing does not come back a week later."""


def wished_crops(crops: Mapping[str, Crop], wishes: Wishes) -> dict[str, Crop]:
    """The crops that a plan looks at: those of the wants, the pins and the ground, or all that there are, without the never-list."""
    named = (
        {c for w in wishes.wants for c in w.crops}
        | {p.crop_id for p in wishes.pins}
        | {s.crop_id for s in wishes.standing}
    )
    decided = {p.crop_id for p in wishes.pins} | {s.crop_id for s in wishes.standing}
    keep = named if wishes.wants else set(crops) | named
    never = set(wishes.never) - decided
    return {c.id: c for c in crops.values() if c.id in keep and c.id not in never}


def wants_of(crops: Mapping[str, Crop], wishes: Wishes, news: Sequence[str] = ()) -> tuple[Want, ...]:
    """Wants without overlap; where the family names none, the usual ones.  What only a pin or the ground names is wanted as itself."""
    usual = {c: crop for c, crop in crops.items() if c not in news}
    wants = wishes.wants or usual_wants(usual, wishes.people)
    wants = claimed(tuple(replace(w, crops=tuple(c for c in w.crops if c in usual)) for w in wants))
    named = {c for w in wants for c in w.crops}
    strange = tuple(c for c in crops if c in news and c not in named)
    if strange:
        wants += (Want(SOMETHING_NEW, strange, NEW_SERVINGS * wishes.people),)
    return wants + tuple(Want(c.name, (c.id,)) for c in usual.values() if c.id not in named)


def manure_free(crop: Crop, bed: str, wishes: Wishes) -> np.datetime64 | None:
    """First day on which this crop may be harvested from a manured bed, None where there was no manure."""
    dates = [g.manure for g in wishes.ground if g.shelter == bed and g.manure is not None]
    return max(dates) + (TOUCHING_D if crop.kitchen.touches_soil else NOT_TOUCHING_D) if dates else None


@dataclass(frozen=True, slots=True)
class Earlier:
    """A sowing of an earlier plan.  standing : it stood in the ground then;  held : it was to stand for the lean weeks"""

    crop_id: str
    route: Route
    sow: np.datetime64
    area_m2: float
    held: bool = False
    standing: bool = False


def as_planned(standing: Sequence[Standing], earlier: Sequence[Earlier]) -> tuple[Standing, ...]:
    """What stands, as it was meant to be eaten: what the plan had sown for the lean weeks is kept for them."""
    meant = [e for e in earlier if e.held]

    def held(s: Standing) -> bool:
        route = Route(s.grown_in, s.raised_in)
        return any(
            (e.crop_id, e.route) == (s.crop_id, route) and abs(int((e.sow - s.sow).astype(int))) <= AS_PLANNED_D
            for e in meant
        )

    return tuple(replace(s, held=s.held or held(s)) for s in standing)


@dataclass(frozen=True, slots=True, eq=False)
class _Room:
    """Planted area of beds, and of shelters that only raise seedlings, by name [m2]."""

    beds: dict[str, float]
    trays: dict[str, float]


def _room(shelters: Sequence[Shelter], wishes: Wishes) -> _Room:
    all_of_it = areas(shelters, wishes.ground)
    trays = {s.name: all_of_it[s.name] for s in shelters if s.kind == "nursery"}
    return _Room({name: area for name, area in all_of_it.items() if name not in trays}, trays)


def task_of(
    crops: Mapping[str, Crop],
    fates: Sequence[RouteFates],
    past: Mapping[int, RouteFates],
    shelters: Sequence[Shelter],
    wishes: Wishes,
    on: np.datetime64,
    *,
    seed_shares: Mapping[str, float],
    on_hand: Mapping[str, int],
    earlier: Sequence[Earlier] = (),
    news: Sequence[str] = (),
    grown: Sequence[RouteFates] = (),
    lean: tuple[np.datetime64, np.datetime64] | None = None,
    month_mean_c: Sequence[float] = (),
) -> Task:
    """The task for a year from `on`.

    fates : of all wished crops, routes and dates from `on` on;  past : fates of wishes.standing by its number, one sowing date each
    earlier : sowings of an earlier plan that should change little
    news : ids of crops that the family does not know yet
    grown : fates of crops as lean.near_full makes them, sown before the lean weeks `lean`
    month_mean_c : 12 monthly means of the air outside, so that nothing is counted in months that are too warm for it [degC]
    """
    room, wants = _room(shelters, wishes), wants_of(crops, wishes, news)
    want_of = {c: w for w in wants for c in w.crops}
    covered = frozenset(
        s.name for s in shelters if not isinstance(s.shape, OpenGround)
    )  # no wind goes there to carry pollen
    free: list[Candidate] = []
    for one in fates:
        if one.crop_id in crops and one.route.grown_in in room.beds:
            crop = crops[one.crop_id]
            if not (crop.kitchen.pollination == "wind" and one.route.grown_in in covered):
                warm = too_warm_days(crop.id, month_mean_c, on)
                found = candidates_of(crop, one, on, dark=lean, warm=warm)
                free += [c for c in found if _allowed(crop, c, wishes)]
    for one in grown:
        if lean is not None and one.crop_id in crops and one.route.grown_in in room.beds:
            held = held_candidates_of(crops[one.crop_id], one, on, lean)
            free += [c for c in held if _allowed(crops[c.crop_id], c, wishes)]
    seasons = _seasons(free, news, on)
    free = [c for c in free if c.crop_id not in seasons or seasons[c.crop_id] == _quarter(c, on)]
    chosen = prune(free, on, min(MOST_OPTIONS, OPTIONS_A_CROP * len({c.crop_id for c in free})))
    pinned = [_for_pin(pin, crops, fates, free, on, wishes) for pin in wishes.pins]
    known = free + [c for found in pinned for c in found]
    kept = [
        _closest([c for c in known if (c.crop_id, c.route, c.held) == (e.crop_id, e.route, e.held)], e.sow)
        if e.sow >= on and not e.standing
        else None
        for e in earlier
    ]
    for extra in [c for found in pinned for c in found] + [c for c in kept if c is not None]:
        if all(extra is not c for c in chosen):
            chosen.append(extra)
    options = [
        Option(c, crops[c.crop_id], size, seed_shares.get(c.crop_id, 1.0))
        for c in chosen
        if (size := _block(crops[c.crop_id], c, room, want_of)) <= room.beds[c.route.grown_in] + 1e-9
    ]
    options += _standing(crops, past, wishes, on, lean)
    number = {id(o.candidate): j for j, o in enumerate(options)}
    return Task(
        on, tuple(options), wants, wishes, room.beds, room.trays, on_hand,
        pinned=tuple(tuple(number[id(c)] for c in found if id(c) in number) for found in pinned),
        kept=tuple(
            (number[id(c)], max(1, round(e.area_m2 / options[number[id(c)]].block_m2)))
            for c, e in zip(kept, earlier, strict=True)
            if c is not None and id(c) in number
        ),
        news=seasons,
        month_mean_c=tuple(month_mean_c),
        covered=covered,
    )  # fmt: skip


def new_kinds(crops: Mapping[str, Crop], wishes: Wishes, known: set[str]) -> list[Crop]:
    """Crops that the family may try as new ones: those it named, else of each dish some that it neither knows nor never wants."""
    if wishes.new_a_season < 1:
        return []
    if wishes.new_from:
        return [crops[c] for c in wishes.new_from if c not in wishes.never]
    strange = [
        c for c in crops.values()
        if c.id not in known and c.id not in wishes.never and c.harvest.yield_kg_m2 is not None and c.kitchen.dish != "flowers"
    ]  # fmt: skip
    by_dish: dict[str, list[Crop]] = {}
    for crop in strange:
        by_dish.setdefault(crop.kitchen.dish, []).append(crop)
    rounds = [
        row[i] for i in range(max(map(len, by_dish.values()), default=0)) for row in by_dish.values() if i < len(row)
    ]
    return rounds[:MOST_NEW]


def _quarter(c: Candidate, on: np.datetime64) -> int:
    return min(3, int((c.sow - on).astype(int)) // 91)


def _seasons(found: Sequence[Candidate], news: Sequence[str], on: np.datetime64) -> dict[str, int]:
    """The quarter in which each new crop may be tried: its best one, but so that each quarter gets about as many."""
    worth: dict[tuple[str, int], float] = {}
    for c in found:
        if c.crop_id in news:
            key = (c.crop_id, _quarter(c, on))
            worth[key] = max(worth.get(key, 0.0), c.worth_a_day())
    best = {crop: max(v for (c, _), v in worth.items() if c == crop) for crop, _ in worth}
    seasons: dict[str, int] = {}
    while len(seasons) < len(best):
        for q in range(4):
            left = [
                (v / best[crop], crop) for (crop, quarter), v in worth.items() if quarter == q and crop not in seasons
            ]
            if left:
                seasons[max(left)[1]] = q
    return seasons


def _block(crop: Crop, c: Candidate, room: _Room, want_of: Mapping[str, Want]) -> float:
    weeks = int((c.servings.mean(axis=0) > 0.0).sum())
    return block_m2(crop, room.beds[c.route.grown_in], want_of[crop.id], float(c.servings.sum(axis=1).mean()), weeks)


def _allowed(crop: Crop, c: Candidate, wishes: Wishes) -> bool:
    """Whether nothing forbids this sowing: manure on the bed, or nobody home to sow and set out."""
    ready = manure_free(crop, c.route.grown_in, wishes)
    if ready is not None and c.earliest < ready:
        return False
    days = [c.sow] + ([c.set_out.p50] if c.set_out is not None else [])
    if any(start <= day <= end for day in days for start, end in wishes.away):
        return False
    return not any(_dropped(drop, c) for drop in wishes.drops)


def _dropped(drop: Drop, c: Candidate) -> bool:
    if drop.crop_id != c.crop_id or drop.grown_in not in (None, c.route.grown_in):
        return False
    return drop.sow is None or abs(int((c.sow - drop.sow).astype(int))) < DROP_SLACK_D


def _closest(found: Sequence[Candidate], sow: np.datetime64) -> Candidate | None:
    near = [c for c in found if abs(int((c.sow - sow).astype(int))) <= PIN_SLACK_D]
    return min(near, key=lambda c: (abs(int((c.sow - sow).astype(int))), -c.worth_a_day())) if near else None


def _for_pin(
    pin: Pin, crops: Mapping[str, Crop], fates: Sequence[RouteFates], free: Sequence[Candidate], on: np.datetime64, wishes: Wishes
) -> list[Candidate]:  # fmt: skip
    """The candidates that a pin can mean: on its date, or on all dates; also unlikely ones, as the family has decided."""

    def meant(route: Route) -> bool:
        if route.grown_in != pin.grown_in or (pin.direct and route.raised_in is not None):
            return False
        return pin.raised_in in (None, route.raised_in)

    found = [c for c in free if c.crop_id == pin.crop_id and meant(c.route) and pin.held in (None, c.held)]
    if pin.sow is None:
        return sorted(found, key=lambda c: -c.worth_a_day())[:12]
    near = _closest(found, pin.sow)
    if near is None:
        risky = [
            c
            for one in fates
            if one.crop_id == pin.crop_id and meant(one.route)
            for c in candidates_of(crops[pin.crop_id], one, on, least_chance=0.0)
            if _allowed(crops[pin.crop_id], c, wishes)
        ]
        near = _closest(risky, pin.sow)
    return [] if near is None else [near]


def _standing(
    crops: Mapping[str, Crop], past: Mapping[int, RouteFates], wishes: Wishes, on: np.datetime64,
    lean: tuple[np.datetime64, np.datetime64] | None,
) -> list[Option]:  # fmt: skip
    """What is in the ground, one option each, taken as alive today; what is held from its fates near full size."""
    found = []
    for i, stands in enumerate(wishes.standing):
        crop = crops[stands.crop_id]
        if stands.held and lean is not None:
            alive = held_candidates_of(crop, past[i], on, lean, least_chance=0.0)
        else:
            alive = candidates_of(crop, past[i], on, least_chance=0.0, alive_on=True)
        if alive and alive[0].bed_to > on:  # else it should be long eaten
            found.append(Option(alive[0], crop, stands.area_m2, standing=True))
    return found


def check_places(wishes: Wishes, shelters: Sequence[Shelter]) -> None:
    """Raises InputError where a pin, a bed or something standing names a shelter that is not there."""
    names = {s.name for s in shelters}
    for place in (
        [p.grown_in for p in wishes.pins]
        + [p.raised_in for p in wishes.pins if p.raised_in]
        + [d.grown_in for d in wishes.drops if d.grown_in]
        + [s.grown_in for s in wishes.standing]
        + [g.shelter for g in wishes.ground]
    ):
        if place not in names:
            raise InputError(f"no shelter is called {place!r}; there are {', '.join(sorted(names))}")
