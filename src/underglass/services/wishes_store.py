"""Wishes of the year in and out of the notebook, as a plain table of the household's record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import Any

import numpy as np

from underglass.crop.catalogue import catalogue
from underglass.notebook.records import Sowing
from underglass.plan.outlook_types import Route
from underglass.plan.routes import routes
from underglass.plan.wishes import Ground, Pin, Standing, Want, Wishes
from underglass.shelter.model import Shelter

__all__ = ["among", "standing_for_year", "table_of_wishes", "wishes_of_table"]

LATEST_DAYS = 400
"""What was sown longer ago is no part of a year's plan, as in services/year.py."""


def table_of_wishes(wishes: Wishes) -> dict[str, Any]:
    """The wishes as a table of texts, numbers and lists; empty for a family that wishes nothing.

    What stands in the ground is left out: it follows from the sowings.
    """
    if replace(wishes, standing=()) == Wishes():
        return {}

    def plain(value: Any) -> Any:
        if isinstance(value, np.datetime64):
            return str(value)
        if isinstance(value, list | tuple):
            return [plain(v) for v in value]
        return {k: plain(v) for k, v in value.items()} if isinstance(value, dict) else value

    table: dict[str, Any] = plain(asdict(wishes))
    del table["standing"]
    return table


def wishes_of_table(table: Mapping[str, Any]) -> Wishes:
    """The wishes in a table that `table_of_wishes` made."""
    if not table:
        return Wishes()

    def day(text: str | None) -> np.datetime64 | None:
        return None if text is None else np.datetime64(text)

    return Wishes(
        people=table["people"],
        wants=tuple(Want(**{**w, "crops": tuple(w["crops"])}) for w in table["wants"]),
        never=tuple(table["never"]),
        ground=tuple(Ground(**{**g, "manure": day(g["manure"])}) for g in table["ground"]),
        minutes_a_week=table["minutes_a_week"],
        away=tuple((np.datetime64(a), np.datetime64(b)) for a, b in table["away"]),
        seed_budget=table["seed_budget"],
        rotation_years=table["rotation_years"],
        risk=table["risk"],
        pins=tuple(Pin(**{**p, "sow": day(p["sow"])}) for p in table["pins"]),
    )


def standing_for_year(
    sowings: Iterable[Sowing], shelters: Sequence[Shelter], names: Mapping[str, str], on: date
) -> tuple[Standing, ...]:
    """What is in the ground as the year's planner takes it: sowings of the last 400 days whose area was measured, where they can ripen."""
    found = []
    for sowing in sowings:
        crop = catalogue()[sowing.crop_id]
        bed = names.get(sowing.grown_in_id)
        raised = names.get(sowing.raised_in_id or "")
        fresh = sowing.sown_known and 0 <= (on - sowing.sown_on).days <= LATEST_DAYS
        if bed is None or not fresh or sowing.area_m2 is None or Route(bed, raised) not in routes(crop, shelters):
            continue
        found.append(Standing(crop.id, bed, raised, np.datetime64(sowing.sown_on), sowing.area_m2))
    return tuple(found)


def among(wishes: Wishes, names: Iterable[str]) -> Wishes:
    """The wishes without what belongs to shelters that are not in use."""
    there = set(names)
    return replace(
        wishes,
        pins=tuple(p for p in wishes.pins if p.grown_in in there),
        ground=tuple(g for g in wishes.ground if g.shelter in there),
    )
