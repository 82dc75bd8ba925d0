"""From the form of what a family likes to eat to its wishes and back, with one sentence for each wrong field.

What the form does not show (decided sowings, planted areas, rotation) stays as it was.
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

__all__ = ["NEW_ROWS", "Filled", "Row", "as_form", "read_form"]

NEW_ROWS = 3
LOVED = 2.0
"""A serving of what the family loves is worth so many of another (judgement)."""

LIMITS = {"people": (1, 100), "minutes": (1, 10_000), "budget": (0, 100_000), "new": (0, 5)}
MOST_SERVINGS = 500.0


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
    }
    for row, want in shown:
        fields[f"amount-{row.key}"] = "" if want is None or want.servings is None else f"{want.servings:g}"
        fields[f"fits-{row.key}"] = "yes" if want is not None and want.servings is None else ""
        fields[f"loved-{row.key}"] = "yes" if want is not None and want.weight > 1.0 else ""
    for i in range(NEW_ROWS):
        fields |= {f"crop-{i}": "", f"amount-new{i}": ""}
    for i, (first, last) in enumerate((*wishes.away, ("", ""))):
        fields |= {f"from-{i}": str(first), f"to-{i}": str(last)}
    beds = tuple(s.name for s in household.shelters if s.kind != "nursery")
    manure = {g.shelter: g.manure for g in wishes.ground}
    fields |= {f"manure-{bed}": str(manure.get(bed) or "") for bed in beds}
    return Filled(tuple(row for row, _ in shown), fields, wishes.never, beds, len(wishes.away) + 1)


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
    same = all(fields[k] == stands.fields[k] for k in fields if k.startswith(("amount-", "fits-", "loved-", "crop-")))
    away = _holidays(fields, stands.holidays, say, faults)
    ground = _ground(old, stands.beds, fields, say, faults)
    if faults:
        return None, faults
    wanted = old.wants if same else tuple(w for w in wants if w is not None)
    if not wanted and not same:
        return None, {"form": say("wishes.nothing")}
    return replace(
        old, people=int(limits["people"] or old.people), wants=wanted, never=tuple(c for c in catalogue() if c in never),
        minutes_a_week=limits["minutes"], seed_budget=limits["budget"], new_a_season=int(limits["new"] or 0), away=away, ground=ground,
    ), {}  # fmt: skip


def _limit(fields: Mapping[str, str], name: str, say: Say, faults: dict[str, str]) -> float | None:
    """A number within its limits, None for an empty field."""
    if not fields[name]:
        return None
    number, (low, high) = _number(fields[name]), LIMITS[name]
    whole = name in ("people", "new")
    if number is None or not low <= number <= high or (whole and number != int(number)):
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
    fits, loved = fields[f"fits-{row.key}"] == "yes", fields[f"loved-{row.key}"] == "yes"
    servings = None if fits or not fields[f"amount-{row.key}"] else _servings(fields, row.key, say, faults)
    if not fits and not servings:
        return None
    stands = want or Want(row.label, tuple(c.id for c in catalogue().values() if c.kitchen.dish == row.label))
    weight = stands.weight if loved == (stands.weight > 1.0) else LOVED if loved else 1.0
    return replace(stands, servings=servings, weight=weight)


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
    old: Wishes, beds: Sequence[str], fields: Mapping[str, str], say: Say, faults: dict[str, str]
) -> tuple[Ground, ...]:
    """The grounds with the day of the last raw manure; those of other shelters and planted areas stay."""
    known = {g.shelter: g for g in old.ground}
    for bed in beds:
        text = fields[f"manure-{bed}"]
        day = _day(text)
        if text and day is None:
            faults[f"manure-{bed}"] = say("fault.date")
        elif bed in known or day is not None:
            known[bed] = replace(known.get(bed, Ground(bed)), manure=day)
    return tuple(known.values())
