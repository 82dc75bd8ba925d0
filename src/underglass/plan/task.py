"""From fates and wishes to the planner's task: what may be sown, in blocks of which size, under which limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.candidates import Candidate, candidates_of, prune
from underglass.plan.optimise import Option, Task
from underglass.plan.outlook import RouteFates
from underglass.plan.wishes import Pin, Want, Wishes, claimed, usual_wants
from underglass.plan.work import areas, block_m2
from underglass.shelter.model import Shelter

__all__ = ["check_places", "manure_free", "task_of", "wants_of", "wished_crops"]

MOST_OPTIONS = 1200
TOUCHING_D, NOT_TOUCHING_D = 120, 90
"""Days from raw manure to harvest: the edible part touches soil, or not.  Source: 7 CFR 205.203(c)(1)."""

PIN_SLACK_D = 3


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


def wants_of(crops: Mapping[str, Crop], wishes: Wishes) -> tuple[Want, ...]:
    """Wants without overlap; where the family names none, the usual ones.  What only a pin or the ground names is wanted as itself."""
    wants = wishes.wants or usual_wants(crops, wishes.people)
    wants = claimed(tuple(Want(w.label, tuple(c for c in w.crops if c in crops), w.servings, w.weight) for w in wants))
    named = {c for w in wants for c in w.crops}
    return wants + tuple(Want(c.name, (c.id,)) for c in crops.values() if c.id not in named)


def manure_free(crop: Crop, bed: str, wishes: Wishes) -> np.datetime64 | None:
    """First day on which this crop may be harvested from a manured bed, None where there was no manure."""
    dates = [g.manure for g in wishes.ground if g.shelter == bed and g.manure is not None]
    return max(dates) + (TOUCHING_D if crop.kitchen.touches_soil else NOT_TOUCHING_D) if dates else None


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
    seed_ages: Mapping[str, float],
    on_hand: Mapping[str, int],
    earlier: Sequence[tuple[str, str, np.datetime64, float]] = (),
) -> Task:
    """The task for a year from `on`.

    fates : of all wished crops, routes and dates from `on` on;  past : fates of wishes.standing by its number, one sowing date each
    earlier : (crop id, bed, date of sowing, area) of an earlier plan that should change little
    """
    room, wants = _room(shelters, wishes), wants_of(crops, wishes)
    want_of = {c: w for w in wants for c in w.crops}
    free: list[Candidate] = []
    for one in fates:
        if one.crop_id in crops and one.route.grown_in in room.beds:
            free += [c for c in candidates_of(crops[one.crop_id], one, on) if _allowed(crops[c.crop_id], c, wishes)]
    chosen = prune(free, on, MOST_OPTIONS)
    pinned = [_for_pin(pin, crops, fates, free, on, wishes) for pin in wishes.pins]
    kept = [
        _closest([c for c in free if (c.crop_id, c.route.grown_in) == (crop, bed)], sow)
        for crop, bed, sow, _ in earlier
    ]
    for extra in [c for found in pinned for c in found] + [c for c in kept if c is not None]:
        if all(extra is not c for c in chosen):
            chosen.append(extra)
    options = [
        Option(c, crops[c.crop_id], size, seed_ages.get(c.crop_id, 0.0))
        for c in chosen
        if (size := _block(crops[c.crop_id], c, room, want_of)) <= room.beds[c.route.grown_in] + 1e-9
    ]
    options += _standing(crops, past, wishes, on)
    number = {id(o.candidate): j for j, o in enumerate(options)}
    return Task(
        on, tuple(options), wants, wishes, room.beds, room.trays, on_hand,
        pinned=tuple(tuple(number[id(c)] for c in found if id(c) in number) for found in pinned),
        kept=tuple(
            (number[id(c)], max(1, round(area / options[number[id(c)]].block_m2)))
            for c, (_, _, _, area) in zip(kept, earlier, strict=True)
            if c is not None and id(c) in number
        ),
    )  # fmt: skip


def _block(crop: Crop, c: Candidate, room: _Room, want_of: Mapping[str, Want]) -> float:
    return block_m2(crop, room.beds[c.route.grown_in], want_of[crop.id], float(c.servings.sum(axis=1).mean()))


def _allowed(crop: Crop, c: Candidate, wishes: Wishes) -> bool:
    """Whether nothing forbids this sowing: manure on the bed, or nobody home to sow and set out."""
    ready = manure_free(crop, c.route.grown_in, wishes)
    if ready is not None and c.earliest < ready:
        return False
    days = [c.sow] + ([c.set_out.p50] if c.set_out is not None else [])
    return not any(start <= day <= end for day in days for start, end in wishes.away)


def _closest(found: Sequence[Candidate], sow: np.datetime64) -> Candidate | None:
    near = [c for c in found if abs(int((c.sow - sow).astype(int))) <= PIN_SLACK_D]
    return min(near, key=lambda c: (abs(int((c.sow - sow).astype(int))), -c.worth_a_day())) if near else None


def _for_pin(
    pin: Pin, crops: Mapping[str, Crop], fates: Sequence[RouteFates], free: Sequence[Candidate], on: np.datetime64, wishes: Wishes
) -> list[Candidate]:  # fmt: skip
    """The candidates that a pin can mean: on its date, or on all dates; also unlikely ones, as the family has decided."""
    found = [c for c in free if c.crop_id == pin.crop_id and c.route.grown_in == pin.grown_in]
    if pin.sow is None:
        return sorted(found, key=lambda c: -c.worth_a_day())[:12]
    near = _closest(found, pin.sow)
    if near is None:
        risky = [
            c
            for one in fates
            if one.crop_id == pin.crop_id and one.route.grown_in == pin.grown_in
            for c in candidates_of(crops[pin.crop_id], one, on, least_chance=0.0)
            if _allowed(crops[pin.crop_id], c, wishes)
        ]
        near = _closest(risky, pin.sow)
    return [] if near is None else [near]


def _standing(
    crops: Mapping[str, Crop], past: Mapping[int, RouteFates], wishes: Wishes, on: np.datetime64
) -> list[Option]:
    """What is in the ground, one option each, taken as alive today."""
    found = []
    for i, stands in enumerate(wishes.standing):
        crop = crops[stands.crop_id]
        alive = candidates_of(crop, past[i], on, least_chance=0.0, alive_on=True)
        if alive:
            found.append(Option(alive[0], crop, stands.area_m2, standing=True))
    return found


def check_places(wishes: Wishes, shelters: Sequence[Shelter]) -> None:
    """Raises InputError where a pin, a bed or something standing names a shelter that is not there."""
    names = {s.name for s in shelters}
    for place in (
        [p.grown_in for p in wishes.pins] + [s.grown_in for s in wishes.standing] + [g.shelter for g in wishes.ground]
    ):
        if place not in names:
            raise InputError(f"no shelter is called {place!r}; there are {', '.join(sorted(names))}")
