"""Wishes of the year in and out of the notebook, as a plain table of the household's record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from underglass.crop.catalogue import catalogue
from underglass.crop.types import Crop
from underglass.notebook.records import Sowing
from underglass.plan.outlook_types import Route
from underglass.plan.routes import routes
from underglass.plan.wishes import Drop, Ground, Pin, Standing, Want, Wishes
from underglass.plan.work import areas, figures
from underglass.shelter.model import Shelter

__all__ = ["among", "not_followed", "standing_for_year", "table_of_wishes", "wishes_of_table"]

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

    usual = Wishes()  # a notebook may have been written before a wish was known
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
        new_a_season=table.get("new_a_season", usual.new_a_season),
        new_from=tuple(table.get("new_from", usual.new_from)),
        sowings_a_week=table.get("sowings_a_week", usual.sowings_a_week),
        pins=tuple(Pin(**{**p, "sow": day(p["sow"])}) for p in table["pins"]),
        drops=tuple(Drop(**{**d, "sow": day(d["sow"])}) for d in table.get("drops", ())),
    )


def standing_for_year(
    sowings: Iterable[Sowing],
    shelters: Sequence[Shelter],
    names: Mapping[str, str],
    on: date,
    ground: Sequence[Ground] = (),
    lost: Mapping[str, int] | None = None,
) -> tuple[Standing, ...]:
    """What is in the ground as the year's planner takes it: sowings of the last 400 days, where they can ripen.

    names : of shelters by id;  lost : plants lost of each sowing by its id
    """
    rooms, found = areas(shelters, ground), []
    for sowing in sowings:
        crop, route = catalogue()[sowing.crop_id], _route(sowing, names)
        if route is None or not _is_followed(sowing, route, shelters, on):
            continue
        area = _area_m2(sowing, crop, rooms[route.grown_in], (lost or {}).get(sowing.id, 0))
        if area > 0.0 and crop.harvest.yield_kg_m2 is not None:
            found.append(Standing(crop.id, route.grown_in, route.raised_in, np.datetime64(_sown(sowing, on)), area))
    return tuple(found)


def not_followed(
    sowings: Iterable[Sowing], shelters: Sequence[Shelter], names: Mapping[str, str], on: date
) -> list[dict[str, str]]:
    """What stands in a bed but is no part of a year's plan: sown longer ago, or where the planner does not let it stand.

    Rows of crop (id), name and grown_in; names : of shelters by id
    """
    return [
        {"crop": s.crop_id, "name": catalogue()[s.crop_id].name, "grown_in": route.grown_in}
        for s in sowings
        if (route := _route(s, names)) is not None and not _is_followed(s, route, shelters, on)
    ]


def _route(sowing: Sowing, names: Mapping[str, str]) -> Route | None:
    """Where it was raised and where it grows; None in a bed that is not there any more."""
    bed, raised = names.get(sowing.grown_in_id), names.get(sowing.raised_in_id or "")
    return None if bed is None else Route(bed, None if raised == bed else raised)


def _sown(sowing: Sowing, on: date) -> date:
    return sowing.sown_on if sowing.sown_known else on - timedelta(days=_age_days(sowing))


def _is_followed(sowing: Sowing, route: Route, shelters: Sequence[Shelter], on: date) -> bool:
    recent = 0 <= (on - _sown(sowing, on)).days <= LATEST_DAYS
    return recent and route in routes(catalogue()[sowing.crop_id], shelters)


def _age_days(sowing: Sowing) -> int:
    """How long ago something was sown that stood when the notebook was begun, by its stage."""
    return int(figures()["age_days"].get(sowing.stage.replace(" ", "_"), 0))


def _area_m2(sowing: Sowing, crop: Crop, bed_m2: float, lost: int) -> float:
    """Bed that a sowing holds or will hold: as written, else by its cells, else a tenth of the bed; less what was lost of it."""
    whole = sowing.area_m2
    if whole is None:
        whole = (
            sowing.cells / crop.spacing.per_m2 if sowing.cells else bed_m2 * float(figures()["room"]["unknown_share"])
        )
    whole = min(whole, bed_m2)
    stood = sowing.cells or max(1, round(whole * crop.spacing.per_m2))
    return round(whole * max(0.0, 1.0 - lost / stood), 3)


def among(wishes: Wishes, names: Iterable[str]) -> Wishes:
    """The wishes without what belongs to shelters that are not in use."""
    there = set(names)
    return replace(
        wishes,
        pins=tuple(p for p in wishes.pins if p.grown_in in there and p.raised_in in (None, *there)),
        drops=tuple(d for d in wishes.drops if d.grown_in in (None, *there)),
        ground=tuple(g for g in wishes.ground if g.shelter in there),
    )
