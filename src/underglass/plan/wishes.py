"""What a family wishes of its year, and what it has to do it with: plain values, all that the planner is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from underglass.crop.types import Crop

__all__ = ["Drop", "Ground", "Pin", "Standing", "Want", "Wishes", "claimed", "usual_wants"]

USUAL_SERVINGS = {
    "salad": 2.5,
    "greens": 1.5,
    "roots": 1.5,
    "fruits": 2.5,
    "onions": 1.0,
    "beans": 1.0,
    "heads": 1.0,
    "herbs": 1.0,
}
"""Servings per person and week that are wanted where nothing is said (estimate; about a third of the five a day)."""


@dataclass(frozen=True, slots=True)
class Want:
    """Something the family likes to eat.

    label    : what the family calls it, 'salad' or a crop's name
    crops    : ids of the crops that count towards it
    servings : wanted a week by the whole family; None: as much as fits
    weight   : how much one serving is worth beside one of another want
    each     : every one of the crops should be grown at least once, as a few things that the children choose
    """

    label: str
    crops: tuple[str, ...]
    servings: float | None = None
    weight: float = 1.0
    each: bool = False


@dataclass(frozen=True, slots=True)
class Ground:
    """What is known of one shelter's ground.  area_m2 : that may be planted [m2], None: its whole floor;
    manure : date on which raw manure or poultry were last on it, None: never"""

    shelter: str
    area_m2: float | None = None
    manure: np.datetime64 | None = None


@dataclass(frozen=True, slots=True)
class Pin:
    """A sowing that the family has decided on.  sow : date, None: the planner chooses;  area_m2 : None: one block

    raised_in : where it is raised first;  direct : it is sown where it stays;  neither: the planner chooses
    held : whether it is to stand for the lean weeks, None: the planner chooses
    """

    crop_id: str
    grown_in: str
    sow: np.datetime64 | None = None
    area_m2: float | None = None
    raised_in: str | None = None
    direct: bool = False
    held: bool | None = None


@dataclass(frozen=True, slots=True)
class Drop:
    """A sowing that is never to be proposed again.  grown_in, sow : None: anywhere, at any time; else within a fortnight of the date"""

    crop_id: str
    grown_in: str | None = None
    sow: np.datetime64 | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """Something that stands in the ground already: sown on a past date, so much of it, still alive.

    area_m2 : bed that it holds [m2];  held : it was sown to stand for the lean weeks
    """

    crop_id: str
    grown_in: str
    raised_in: str | None
    sow: np.datetime64
    area_m2: float
    held: bool = False


@dataclass(frozen=True, slots=True)
class Wishes:
    """The family's wishes and limits for a year.

    people, wants, never : who eats, what they like (empty: usual_wants), ids of crops that they will not have
    ground       : planted area and manure by shelter;  minutes_a_week : work in a week at most, None: no limit
    away         : (first, last day) of holidays: nothing is sown, set out or eaten then
    seed_budget  : money for seed, in the family's own currency, None: no limit
    rotation_years : years before a crop family may come back to the same ground; 0: never mind, 1: once a year
    risk         : weight of the worst years against the mean of all, 0-1
    new_a_season : kinds that the family does not know yet, to be tried in each quarter of the year
    new_from     : ids of crops that such a kind may be; empty: all that it neither names among its wants nor never wants
    sowings_a_week : sowings in a week at most, None: the usual one of data/work.toml
    pins, drops, standing : decided sowings, those never to be proposed, and what is in the ground already
    """

    people: int = 4
    wants: tuple[Want, ...] = ()
    never: tuple[str, ...] = ()
    ground: tuple[Ground, ...] = ()
    minutes_a_week: float | None = None
    away: tuple[tuple[np.datetime64, np.datetime64], ...] = ()
    seed_budget: float | None = None
    rotation_years: int = 1
    risk: float = 0.3
    new_a_season: int = 0
    new_from: tuple[str, ...] = ()
    sowings_a_week: int | None = None
    pins: tuple[Pin, ...] = ()
    drops: tuple[Drop, ...] = ()
    standing: tuple[Standing, ...] = ()


def usual_wants(crops: Mapping[str, Crop], people: int) -> tuple[Want, ...]:
    """What a family that says nothing is taken to want: some of each kind of dish, of these crops."""
    found = []
    for dish, servings in USUAL_SERVINGS.items():
        ids = tuple(c.id for c in crops.values() if c.kitchen.dish == dish)
        if ids:
            found.append(Want(dish, ids, servings * people))
    return tuple(found)


def claimed(wants: Sequence[Want]) -> tuple[Want, ...]:
    """Wants without overlap: a crop counts for the narrowest want that names it, so that 'tomato' comes before 'fruits'."""
    taken: set[str] = set()
    found: dict[int, Want] = {}
    for i in sorted(range(len(wants)), key=lambda k: (len(wants[k].crops), k)):
        own = tuple(c for c in wants[i].crops if c not in taken)
        taken |= set(own)
        if own:
            found[i] = replace(wants[i], crops=own)
    return tuple(found[i] for i in sorted(found))
