"""From the form of what a family likes to eat to its wishes and back, with one sentence for each wrong field.

What the form does not show (decided sowings, which new kinds) stays as it was, and so does what it shows only roughly, unless it is changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from underglass.crop.catalogue import DISHES, catalogue
from underglass.faces.web.texts import Say
from underglass.plan.household import Household
from underglass.plan.wishes import Ground, Want, Wishes, usual_wants
from underglass.plan.work import areas
from underglass.units import SQUARE_FOOT_M2

__all__ = ["CARES", "LIKES", "NEW_ROWS", "Filled", "Row", "as_form", "read_form"]

NEW_ROWS = 3
LIKES = {"little": 0.5, "usual": 1.0, "loved": 2.0}
"""What a serving is worth beside one of what the family likes as usual, by how much it is liked (judgement)."""

CARES = {"most": 0.0, "middle": Wishes().risk, "safe": 0.7}
"""Weight of the bad years by how much a family cares for them (judgement)."""

LIMITS = {"people": (1, 100), "minutes": (1, 10_000), "budget": (0, 100_000), "new": (0, 5), "rotation": (0, 10)}
WHOLE = ("people", "new", "rotation")
MOST_SERVINGS = 500.0
LEAST_AREA_M2 = 0.01


@dataclass(frozen=True, slots=True)
class Row:
    """Something wanted as the form shows it.  key : of its fields;  label : what it is called;  crops : ids, none for a whole kind"""

    key: str
    label: str
    crops: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Filled:
    """The form: its rows, its fields by name, the crops that nobody will have, the shelters whose ground may be manured."""

    rows: tuple[Row, ...]
    fields: dict[str, str]
    never: tuple[str, ...]
    beds: tuple[str, ...]
    holidays: int


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _nearest(value: float, choices: Mapping[str, float]) -> str:
    """The choice that comes nearest."""
    return min(choices, key=lambda name: abs(choices[name] - value))


def _chosen(word: str, before: float, choices: Mapping[str, float]) -> float:
    """The value of a choice; one that was left as it was shown keeps the value that it stood for."""
    return before if word == _nearest(before, choices) else choices.get(word, before)


def _shown(wishes: Wishes) -> tuple[tuple[Row, Want | None], ...]:
    """Each row with the want that it stands for: all kinds of dish first, wanted or not, then what is the family's own."""
    wants = wishes.wants or usual_wants(catalogue(), wishes.people)
    kinds = {w.label: w for w in wants if w.label in DISHES}
    own = [w for w in wants if w.label not in DISHES]
    rows: list[tuple[Row, Want | None]] = [(Row(kind, kind), kinds.get(kind)) for kind in DISHES]
    return (*rows, *((Row(f"own{i}", w.label, w.crops), w) for i, w in enumerate(own)))


def as_form(household: Household) -> Filled:
    """The wishes of a household as a form, to be changed."""
    wishes = household.wishes
    shown = _shown(wishes)
    fields = {
        "people": str(wishes.people),
        "minutes": "" if wishes.minutes_a_week is None else f"{wishes.minutes_a_week:g}",
        "budget": "" if wishes.seed_budget is None else f"{wishes.seed_budget:g}",
        "new": str(wishes.new_a_season),
        "rotation": str(wishes.rotation_years),
        "care": _nearest(wishes.risk, CARES),
    }
    for row, want in shown:
        fields[f"amount-{row.key}"] = "" if want is None or want.servings is None else f"{want.servings:g}"
        fields[f"fits-{row.key}"] = "yes" if want is not None and want.servings is None else ""
        fields[f"like-{row.key}"] = _nearest(1.0 if want is None else want.weight, LIKES)
    for i in range(NEW_ROWS):
        fields |= {f"crop-{i}": "", f"amount-new{i}": ""}
    for i, (first, last) in enumerate((*wishes.away, ("", ""))):
        fields |= {f"from-{i}": str(first), f"to-{i}": str(last)}
    beds = tuple(s.name for s in household.shelters if s.kind != "nursery")
    known = {g.shelter: g for g in wishes.ground}
    for bed in beds:
        ground = known.get(bed, Ground(bed))
        fields |= {f"manure-{bed}": str(ground.manure or ""), f"area-{bed}": _area_text(ground.area_m2, household)}
    return Filled(tuple(row for row, _ in shown), fields, wishes.never, beds, len(wishes.away) + 1)


def _area_text(area_m2: float | None, household: Household) -> str:
    if area_m2 is None:
        return ""
    return f"{area_m2 / (SQUARE_FOOT_M2 if household.units == 'f' else 1.0):.3g}"


def read_form(
    given: Mapping[str, str], never: Sequence[str], household: Household, say: Say
) -> tuple[Wishes | None, dict[str, str]]:
    """The wishes and the faults by field; none where there is a fault.  household : that the form was filled from"""
    old, stands, faults = household.wishes, as_form(household), dict[str, str]()
    fields = {name: given.get(name, "").strip()[:40] for name in stands.fields}
    limits = {name: _limit(fields, name, say, faults) for name in LIMITS}
    if fields["people"] == "":
        faults["people"] = say("wishes.bad_people")
    wants = [_want(row, want, fields, say, faults) for row, want in _shown(old)]
    wants += [_new_want(i, fields, say, faults) for i in range(NEW_ROWS)]
    same = all(fields[k] == stands.fields[k] for k in fields if k.startswith(("amount-", "fits-", "like-", "crop-")))
    away = _holidays(fields, stands.holidays, say, faults)
    ground = _ground(household, stands, fields, say, faults)
    if faults:
        return None, faults
    wanted = old.wants if same else tuple(w for w in wants if w is not None)
    if not wanted and not same:
        return None, {"form": say("wishes.nothing")}
    return replace(
        old, people=int(limits["people"] or old.people), wants=wanted, never=tuple(c for c in catalogue() if c in never),
        minutes_a_week=limits["minutes"], seed_budget=limits["budget"], new_a_season=int(limits["new"] or 0), away=away, ground=ground,
        rotation_years=int(limits["rotation"] or 0), risk=_chosen(fields["care"], old.risk, CARES),
    ), {}  # fmt: skip


def _limit(fields: Mapping[str, str], name: str, say: Say, faults: dict[str, str]) -> float | None:
    """A number within its limits, None for an empty field."""
    if not fields[name]:
        return None
    number, (low, high) = _number(fields[name]), LIMITS[name]
    if number is None or not low <= number <= high or (name in WHOLE and number != int(number)):
        faults[name] = say(f"wishes.bad_{name}")
        return None
    return number


def _servings(fields: Mapping[str, str], key: str, say: Say, faults: dict[str, str]) -> float | None:
    number = _number(fields[f"amount-{key}"])
    if number is None or not 0.0 <= number <= MOST_SERVINGS:
        faults[f"amount-{key}"] = say("wishes.bad_amount")
        return None
    return number


def _want(row: Row, want: Want | None, fields: Mapping[str, str], say: Say, faults: dict[str, str]) -> Want | None:
    """What a row says, None where it is not wanted."""
    fits = fields[f"fits-{row.key}"] == "yes"
    servings = None if fits or not fields[f"amount-{row.key}"] else _servings(fields, row.key, say, faults)
    if not fits and not servings:
        return None
    stands = want or Want(row.label, tuple(c.id for c in catalogue().values() if c.kitchen.dish == row.label))
    return replace(stands, servings=servings, weight=_chosen(fields[f"like-{row.key}"], stands.weight, LIKES))


def _new_want(i: int, fields: Mapping[str, str], say: Say, faults: dict[str, str]) -> Want | None:
    crop = catalogue().get(fields[f"crop-{i}"])
    if crop is None:
        if fields[f"amount-new{i}"]:
            faults[f"crop-{i}"] = say("wishes.bad_crop")
        return None
    servings = _servings(fields, f"new{i}", say, faults) if fields[f"amount-new{i}"] else None
    return None if servings == 0.0 else Want(crop.name, (crop.id,), servings)


def _day(text: str) -> np.datetime64 | None:
    try:
        return np.datetime64(text, "D") if len(text) == 10 else None
    except ValueError:
        return None


def _holidays(fields: Mapping[str, str], rows: int, say: Say, faults: dict[str, str]) -> tuple[Any, ...]:
    found = []
    for i in range(rows):
        if not fields[f"from-{i}"] and not fields[f"to-{i}"]:
            continue
        first, last = _day(fields[f"from-{i}"]), _day(fields[f"to-{i}"])
        if first is None or last is None or not first <= last <= first + 365:
            faults[f"to-{i}"] = say("fault.span")
        else:
            found.append((first, last))
    return tuple(found)


def _ground(
    household: Household, stands: Filled, fields: Mapping[str, str], say: Say, faults: dict[str, str]
) -> tuple[Ground, ...]:
    """The grounds with the day of the last raw manure and the part that is planted; those of other shelters stay."""
    known = {g.shelter: g for g in household.wishes.ground}
    floors = areas(household.shelters, ())
    for bed in stands.beds:
        before = known.get(bed, Ground(bed))
        day = _day(fields[f"manure-{bed}"])
        if fields[f"manure-{bed}"] and day is None:
            faults[f"manure-{bed}"] = say("fault.date")
        if fields[f"area-{bed}"] == stands.fields[f"area-{bed}"]:
            area_m2 = before.area_m2
        else:
            area_m2 = _area(fields[f"area-{bed}"], floors[bed], household)
            if area_m2 is None and fields[f"area-{bed}"]:
                faults[f"area-{bed}"] = say("wishes.bad_area", most=_area_text(floors[bed], household))
        ground = Ground(bed, area_m2, day)
        if bed in known or ground != Ground(bed):
            known[bed] = ground
    return tuple(known.values())


def _area(text: str, floor_m2: float, household: Household) -> float | None:
    """An area that fits on the floor, None for anything else."""
    number = _number(text)
    if number is None:
        return None
    area_m2 = number * (SQUARE_FOOT_M2 if household.units == "f" else 1.0)
    return min(area_m2, floor_m2) if LEAST_AREA_M2 <= area_m2 <= 1.006 * floor_m2 else None  # shown to three digits
