"""The part of a household file that says what the family wishes of its year: [wishes], [[wants]], [[ground]], [[pins]], [[drops]]."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from functools import partial
from typing import Any, Protocol

import numpy as np

from underglass.crop.catalogue import DISHES, catalogue, find_crop
from underglass.errors import InputError
from underglass.plan.wishes import Drop, Ground, Pin, Want, Wishes

__all__ = ["WISH_KEYS", "read_wishes", "wishes_of_table"]

WISH_KEYS: dict[str, tuple[str, ...]] = {
    "wishes": (
        "people",
        "never",
        "minutes",
        "away",
        "seed_budget",
        "rotation",
        "risk",
        "new_a_season",
        "new_from",
        "sowings",
    ),
    "wants": ("name", "crop", "crops", "kind", "servings", "weight", "each"),
    "ground": ("shelter", "area", "manure"),
    "pins": ("crop", "in", "raised_in", "sow", "area"),
    "drops": ("crop", "in", "sow"),
}
AS_MUCH_AS_FITS = "as much as fits"


class Reads(Protocol):
    """The household file's reader: keeps faults with the path of their key."""

    def known(self, section: str, table: Mapping[str, Any], path: str = "") -> None: ...
    def attempt(self, path: str, make: Callable[[], Any], otherwise: Any = None) -> Any: ...


def _number(table: Mapping[str, Any], key: str, low: float, high: float, otherwise: float | None) -> float | None:
    value = table.get(key, otherwise)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise InputError(f"{key} is {value!r}: expected a number from {low:g} to {high:g}")
    return float(value)


def _date(value: object, key: str) -> np.datetime64:
    try:
        return np.datetime64(value if isinstance(value, date) else date.fromisoformat(str(value)), "D")
    except ValueError:
        raise InputError(f"{key} is {value!r}: expected a date, as 2027-03-15") from None


def _area(table: Mapping[str, Any]) -> float | None:
    if "area" not in table:
        return None
    value = table["area"]
    text = str(value).strip().lower()
    square_feet = text.endswith(("sq ft", "ft2"))
    try:
        area = float(text.removesuffix("sq ft").removesuffix("ft2").removesuffix("m2")) * (
            0.09290304 if square_feet else 1.0
        )
    except ValueError:
        raise InputError(f'area is {value!r}: expected square metres, or "30 sq ft"') from None
    if not 0.01 <= area <= 10000.0:
        raise InputError(f"area is {value!r}: expected 0.01 to 10000 square metres")
    return area


def _want(table: Mapping[str, Any]) -> Want:
    names = table.get("crops", [table["crop"]] if "crop" in table else [])
    if not isinstance(names, list) or bool(names) == ("kind" in table):
        raise InputError(f"say what is wanted: crop, crops or kind (one of {', '.join(DISHES)})")
    ids = tuple(find_crop(str(n)).id for n in names)
    if "kind" in table:
        kind = str(table["kind"]).strip().lower()
        if kind not in DISHES:
            raise InputError(f"kind is {table['kind']!r}: expected one of {', '.join(DISHES)}")
        ids = tuple(c.id for c in catalogue().values() if c.kitchen.dish == kind)
    said = table.get("servings", AS_MUCH_AS_FITS)
    servings = None if said == AS_MUCH_AS_FITS else _number(table, "servings", 0.1, 500.0, None)
    label = str(table.get("name") or table.get("kind") or ", ".join(catalogue()[i].name for i in ids))
    each = table.get("each", False)
    if not isinstance(each, bool):
        raise InputError(f"each is {each!r}: expected true or false")
    return Want(label, ids, servings, _number(table, "weight", 0.01, 100.0, 1.0) or 1.0, each)


def _ground(table: Mapping[str, Any]) -> Ground:
    if "shelter" not in table:
        raise InputError("shelter is missing: name one of the household's")
    manure = _date(table["manure"], "manure") if "manure" in table else None
    return Ground(str(table["shelter"]), _area(table), manure)


def _pin(table: Mapping[str, Any]) -> Pin:
    if "crop" not in table or "in" not in table:
        raise InputError('crop and in are needed, as crop = "garlic", in = "open"')
    sow = _date(table["sow"], "sow") if "sow" in table else None
    raised = str(table["raised_in"]) if "raised_in" in table else None
    return Pin(find_crop(str(table["crop"])).id, str(table["in"]), sow, _area(table), raised)


def _drop(table: Mapping[str, Any]) -> Drop:
    if "crop" not in table:
        raise InputError('crop is needed, as crop = "radish"')
    sow = _date(table["sow"], "sow") if "sow" in table else None
    return Drop(find_crop(str(table["crop"])).id, str(table["in"]) if "in" in table else None, sow)


def _away(table: Mapping[str, Any]) -> tuple[tuple[np.datetime64, np.datetime64], ...]:
    spans = table.get("away", [])
    if not isinstance(spans, list) or any(not isinstance(s, list) or len(s) != 2 for s in spans):
        raise InputError('away: expected pairs of dates, as [["2027-07-10", "2027-07-24"]]')
    found = tuple((_date(a, "away"), _date(b, "away")) for a, b in spans)
    if any(a > b for a, b in found):
        raise InputError("away: the first day comes after the last")
    return found


def _general(table: Mapping[str, Any]) -> Wishes:
    never = table.get("never", [])
    if not isinstance(never, list):
        raise InputError('never: expected a list of crops, as ["radish"]')
    people, rotation = (
        _number(table, k, low, high, d) for k, low, high, d in (("people", 1, 100, 4), ("rotation", 0, 10, 1))
    )
    risk = _number(table, "risk", 0.0, 1.0, 0.3)
    new, sowings = _number(table, "new_a_season", 0, 5, 0), _number(table, "sowings", 1, 50, None)
    new_from = table.get("new_from", [])
    if not isinstance(new_from, list):
        raise InputError('new_from: expected a list of crops, as ["kohlrabi"]')
    return Wishes(
        people=int(people or 4),
        never=tuple(find_crop(str(n)).id for n in never),
        minutes_a_week=_number(table, "minutes", 1.0, 10000.0, None),
        away=_away(table),
        seed_budget=_number(table, "seed_budget", 0.0, 100000.0, None),
        rotation_years=int(rotation or 0),
        risk=0.3 if risk is None else risk,
        new_a_season=int(new or 0),
        new_from=tuple(find_crop(str(n)).id for n in new_from),
        sowings_a_week=None if sowings is None else int(sowings),
    )


def read_wishes(read: Reads, table: Mapping[str, Any]) -> Wishes:
    """The wishes of a household's table; faults go to the reader."""
    general = table.get("wishes", {})
    if not isinstance(general, dict):
        read.attempt("wishes", _not_a_table("wishes"))
        general = {}
    read.known("wishes", general)
    wishes: Wishes = read.attempt("wishes", partial(_general, general), Wishes())
    lists: dict[str, list[Any]] = {}
    for section, make in (("wants", _want), ("ground", _ground), ("pins", _pin), ("drops", _drop)):
        lists[section] = []
        given = table.get(section, [])
        for i, part in enumerate(given if isinstance(given, list) else [given]):
            path = f"{section}[{i + 1}]"
            if not isinstance(part, dict):
                read.attempt(path, _not_a_table(f"[{section}]"))
                continue
            read.known(section, part, path)
            value = read.attempt(path, partial(make, part))
            lists[section] += [] if value is None else [value]
    return replace(
        wishes, wants=tuple(lists["wants"]), ground=tuple(lists["ground"]), pins=tuple(lists["pins"]),
        drops=tuple(lists["drops"]),
    )  # fmt: skip


class _Faults:
    """A reader for wishes alone."""

    def __init__(self) -> None:
        self.texts: list[str] = []

    def known(self, section: str, table: Mapping[str, Any], path: str = "") -> None:
        self.texts += [f"{path or section}: {key!r} is not known" for key in table if key not in WISH_KEYS[section]]

    def attempt(self, path: str, make: Callable[[], Any], otherwise: Any = None) -> Any:
        try:
            return make()
        except InputError as error:
            self.texts += [f"{path}: {text}" for text in str(error).splitlines()]
        return otherwise


def wishes_of_table(table: Mapping[str, Any]) -> Wishes:
    """Wishes from a table with the sections of a household file.  Raises InputError with all its faults."""
    read = _Faults()
    wishes = read_wishes(read, table)
    if read.texts:
        raise InputError.of(read.texts)
    return wishes


def _not_a_table(what: str) -> Callable[[], Any]:
    def complain() -> Any:
        raise InputError(f"expected a table, as in [{what}]")

    return complain
