"""Inside: a shelter's year as a carpet, its heat paths for a day, and what a change would do, while a slider is moved."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel

from underglass.errors import InputError
from underglass.faces.charts.heat_paths import heat_paths
from underglass.faces.charts.sketch import sketch
from underglass.faces.charts.small_carpet import HALF, WHOLE, Layout, small_carpet
from underglass.faces.web.desk import Desk
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.show import Shown, page
from underglass.faces.web.sliders import Change, sliders, with_change
from underglass.faces.web.work import wait
from underglass.shelter.model import Shelter

__all__ = ["router"]


class Asked(BaseModel):
    """What an address asks for: the sliders (as `Change`) and the shelter set beside."""

    double: int = 0
    leaks: int = 100
    cover: int = 0
    jugs: int = 0
    length: int = 100
    across: int = 100
    front: int = 100
    high: int = 100
    facing: int = -45
    trees: int = -5
    day: int = 60
    beside: str = ""


def _answer(desk: Desk, show: Shown, shelter: Shelter, change: Change, layout: Layout) -> dict[str, Any]:
    """The picture, its table, and the day's heat paths."""
    shelter = with_change(shelter, change)
    seen = desk.look(shelter, day=change.day, trees_deg=None if change.trees < 0 else float(change.trees))
    title = show.say("inside.heat_of", day=show.day(seen.date))
    named = show.say("sketch.title", shelter=show.shelter(shelter.name))
    return {
        "sketch": sketch(shelter, named, show.say, show.length, float(change.trees)),
        "carpet": small_carpet(seen.inside, show.say, show.degrees, layout), "months": seen.months, "date": seen.date,
        "heat": heat_paths(seen.flows, title, show.say, show.heat), "flows": seen.flows,
        "coldest": min(m["coldest"] for m in seen.months), "frost_hours": sum(m["hours_below_0"] for m in seen.months),
        "hot_hours": sum(m["hours_above_35"] for m in seen.months),
    }  # fmt: skip


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    def render(request: Request, name: str, asked: Asked, template: str) -> Response:
        household = desk.household()
        if household is None:
            return nobody_yet(request, desk)
        from underglass.services.why import named_shelter

        job = desk.year_ready()
        if not job.done or job.fault:
            return wait(request, desk, "inside", job)
        shelter = named_shelter(household, name)
        show, beside = Shown(request, desk), asked.beside
        change = Change(**asked.model_dump(exclude={"beside"})).clipped()
        layout = HALF if beside else WHOLE
        other = (
            _answer(desk, show, named_shelter(household, beside), Change(day=change.day), layout) if beside else None
        )
        return page(
            request, desk, template, here="inside", shelters=household.shelters, shelter=shelter, change=change, beside=beside,
            now=_answer(desk, show, shelter, change, layout), other=other, sliders=sliders(shelter, change, show),
            can_double=shelter.cover is not None and len(shelter.cover.sheets) == 1,
        )  # fmt: skip

    @routes.get("/inside")
    def first(request: Request) -> Response:
        household = desk.household()
        if household is None:
            return nobody_yet(request, desk)
        covered = [s for s in household.shelters if s.cover is not None and s.room is None] or list(household.shelters)
        if not covered:
            raise InputError(Shown(request, desk).say("told.no_places"))
        return RedirectResponse(f"/inside/{covered[0].name}", 303)

    @routes.get("/inside/{name}")
    def one(request: Request, name: str, asked: Annotated[Asked, Query()]) -> Response:
        return render(request, name, asked, "inside.html")

    @routes.get("/inside/{name}/picture")
    def picture(request: Request, name: str, asked: Annotated[Asked, Query()]) -> Response:
        return render(request, name, asked, "inside_change.html")

    return routes
