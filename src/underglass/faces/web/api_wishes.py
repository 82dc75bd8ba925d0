"""What the family wishes of its year as data: to read and, with the version that was read, to change."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, Field

from underglass.crop.catalogue import find_crop
from underglass.errors import InputError
from underglass.faces.web.api_parts import Conflict, Day, Fault, Kept, Whole
from underglass.faces.web.desk import Desk
from underglass.notebook.records import HouseholdRecord
from underglass.plan.household import Household
from underglass.plan.wishes import Ground, Want, Wishes
from underglass.plan.work import areas

__all__ = ["record_row", "wishes_api", "wishes_said"]

Name = Annotated[str, Field(min_length=1, max_length=80)]
Names = Annotated[list[Name], Field(max_length=100)]
NOBODY = "there is no household yet: describe one on the first page"


class Said(BaseModel):
    """Nothing but its own fields, each of its own kind."""

    model_config = ConfigDict(extra="forbid", strict=True)


class WantSaid(Said):
    """Something that the family likes to eat.  servings : a week, null: as much as fits;  weight : of a serving beside one of another want;
    each : every one of the crops at least once"""

    label: Name
    crops: Annotated[list[Name], Field(min_length=1, max_length=100)]
    servings: Annotated[float | None, Field(gt=0.0, le=500.0)] = None
    weight: Annotated[float, Field(ge=0.01, le=100.0)] = 1.0
    each: bool = False


class GroundSaid(Said):
    """One shelter's ground.  area_m2 : that is planted, null: all of it;  manure : day on which raw manure was on it last, null: never"""

    shelter: Name
    area_m2: Annotated[float | None, Field(ge=0.01, le=10_000.0)] = None
    manure: Day | None = None


class AwaySaid(Said):
    """Days on which nothing is sown, set out or picked."""

    first: Day
    last: Day


class WishesSaid(Said):
    """All wishes; what is left out is as usual.  wants : none: some of each kind of dish;  risk : weight of the worst fifth of the years.
    Decisions about single sowings are told at /year/decisions and stay as they are."""

    people: Annotated[int, Field(ge=1, le=100), Whole] = 4
    wants: Annotated[list[WantSaid], Field(max_length=60)] = []
    never: Names = []
    ground: Annotated[list[GroundSaid], Field(max_length=60)] = []
    minutes_a_week: Annotated[float | None, Field(ge=1.0, le=10_000.0)] = None
    away: Annotated[list[AwaySaid], Field(max_length=60)] = []
    seed_budget: Annotated[float | None, Field(ge=0.0, le=100_000.0)] = None
    rotation_years: Annotated[int, Field(ge=0, le=10), Whole] = 1
    risk: Annotated[float, Field(ge=0.0, le=1.0)] = 0.3
    new_a_season: Annotated[int, Field(ge=0, le=5), Whole] = 0
    new_from: Names = []
    sowings_a_week: Annotated[int | None, Field(ge=1, le=50), Whole] = None


class WishesChanged(WishesSaid):
    """Changed wishes with the version that they were read with."""

    version: Annotated[int, Field(ge=1, le=2**31), Whole]


class WishesKept(WishesSaid):
    """The wishes as they are kept.  version : to be sent back with a change"""

    version: int


REPLIES: dict[int | str, dict[str, Any]] = {404: {"model": Fault, "description": "no household yet"}}
WRITES: dict[int | str, dict[str, Any]] = {
    400: {"description": "what was sent is no JSON"},
    404: {"model": Fault, "description": "no household, crop or shelter of this name, or values that do not fit together"},
    409: {"model": Conflict, "description": "changed meanwhile"},
    422: {"description": "a value is wrong"},
}  # fmt: skip


def wishes_row(wishes: Wishes, version: int) -> dict[str, Any]:
    """Wishes as plain data."""
    return {
        "version": version, "people": wishes.people, "never": list(wishes.never), "minutes_a_week": wishes.minutes_a_week,
        "wants": [{"label": w.label, "crops": list(w.crops), "servings": w.servings, "weight": w.weight, "each": w.each} for w in wishes.wants],
        "ground": [{"shelter": g.shelter, "area_m2": g.area_m2, "manure": None if g.manure is None else str(g.manure)} for g in wishes.ground],
        "away": [{"first": str(first), "last": str(last)} for first, last in wishes.away],
        "seed_budget": wishes.seed_budget, "rotation_years": wishes.rotation_years, "risk": wishes.risk,
        "new_a_season": wishes.new_a_season, "new_from": list(wishes.new_from), "sowings_a_week": wishes.sowings_a_week,
    }  # fmt: skip


def record_row(record: HouseholdRecord) -> dict[str, Any]:
    """The wishes of a household's record, for whoever was slower."""
    from underglass.services.wishes_store import wishes_of_table

    return wishes_row(wishes_of_table(record.wishes), record.version)


def _ids(names: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(find_crop(name).id for name in names))


def wishes_said(said: WishesSaid, household: Household) -> Wishes:
    """The wishes in the core's values; decisions stay.  Raises InputError for what does not fit together."""
    old, floors = household.wishes, areas(household.shelters, ())
    for ground in said.ground:
        if ground.shelter not in floors:
            raise InputError(f"ground: {ground.shelter!r} is not one of this household's: {', '.join(floors)}")
        if ground.area_m2 is not None and ground.area_m2 > 1.001 * floors[ground.shelter]:
            raise InputError(
                f"ground: the {ground.shelter} has {floors[ground.shelter]:.3g} m2, not {ground.area_m2:g}"
            )
    if len({g.shelter for g in said.ground}) < len(said.ground):
        raise InputError("ground: one shelter is named twice")
    if any(a.last < a.first for a in said.away):
        raise InputError("away: the first day comes after the last")

    def day(value: Any) -> np.datetime64:
        return np.datetime64(value.isoformat(), "D")

    return Wishes(
        people=said.people,
        wants=tuple(Want(w.label, _ids(w.crops), w.servings, w.weight, w.each) for w in said.wants),
        never=_ids(said.never),
        ground=tuple(Ground(g.shelter, g.area_m2, None if g.manure is None else day(g.manure)) for g in said.ground),
        minutes_a_week=said.minutes_a_week,
        away=tuple((day(a.first), day(a.last)) for a in said.away),
        seed_budget=said.seed_budget,
        rotation_years=said.rotation_years,
        risk=said.risk,
        new_a_season=said.new_a_season,
        new_from=_ids(said.new_from),
        sowings_a_week=said.sowings_a_week,
        pins=old.pins,
        drops=old.drops,
        standing=old.standing,
    )


def wishes_api(desk: Desk) -> APIRouter:
    """The routes."""
    routes = APIRouter()

    @routes.get("/wishes", responses=REPLIES, response_model=WishesKept)
    def wishes() -> JSONResponse:
        """What the family likes to eat and has to do it with; keys as in docs/household-file.md."""
        seen = desk.home.seen()
        if seen is None:
            raise InputError(NOBODY)
        return JSONResponse(wishes_row(seen.household.wishes, seen.version))

    @routes.put("/wishes", responses=WRITES)
    def change(said: WishesChanged) -> Kept:
        """Keep other wishes, all of them; POST to /year makes the plan anew from them."""
        from underglass.services.household_store import change_wishes, household_record

        household = desk.household()
        if household is None:
            raise InputError(NOBODY)
        with desk.home.open() as notebook:
            change_wishes(notebook, wishes_said(said, household), "what the family likes to eat", said.version)
            kept = household_record(notebook)
        return Kept(id=kept.id, version=kept.version)

    return routes
