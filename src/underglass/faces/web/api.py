"""The same questions as data, described by OpenAPI at /api/openapi.json; fields as in docs/json.md."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, FastAPI, Path, Query, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.routing import Match, Route

from underglass.errors import InputError
from underglass.faces.web.api_parts import Fault, Working, answer_of
from underglass.faces.web.api_seeds import packet_row, seeds_api
from underglass.faces.web.api_wishes import record_row, wishes_api
from underglass.faces.web.api_year import year_api
from underglass.faces.web.desk import Desk
from underglass.notebook.faults import Changed
from underglass.notebook.records import HouseholdRecord, PacketRecord

__all__ = ["api"]

Name = Annotated[str, Query(min_length=1, max_length=80)]
MaybeName = Annotated[str | None, Query(min_length=1, max_length=80)]


class Town(BaseModel):
    """A town of the gazetteer; elevation_m is a guess from a relief map."""

    label: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str


REPLIES: dict[int | str, dict[str, Any]] = {
    202: {"model": Working, "description": "being computed"},
    404: {"model": Fault, "description": "no household yet, or no such crop, shelter or way to grow it"},
    422: {"description": "a value is wrong"},
}


def api(desk: Desk) -> FastAPI:
    """The API as an application of its own, to be mounted at /api."""
    routes = APIRouter()
    missing = {"fault": "there is no household yet: describe one on the first page"}

    @routes.get("/guide", responses=REPLIES)
    def guide() -> JSONResponse:
        """What to sow, where and when, as `underglass sow --json`."""
        return JSONResponse(missing, 404) if desk.household() is None else answer_of(desk.guide())

    @routes.get("/outlook", responses=REPLIES)
    def outlook(crop: Name, grown_in: Name, raised_in: MaybeName = None) -> JSONResponse:
        """Every week's outlook of one crop on one route."""
        return (
            JSONResponse(missing, 404)
            if desk.household() is None
            else answer_of(desk.outlook(crop, grown_in, raised_in))
        )

    @routes.get("/inside/{shelter}", responses=REPLIES)
    def inside(shelter: Annotated[str, Path(min_length=1, max_length=80)]) -> JSONResponse:
        """A shelter's months over one year, as `underglass inside --json`."""
        from underglass.services.why import named_shelter

        household = desk.household()
        if household is None:
            return JSONResponse(missing, 404)
        found = named_shelter(household, shelter)
        seen = desk.look(found)
        return JSONResponse({"version": 1, "weather": seen.weather,
                             "shelters": [{"shelter": found.name, "months": seen.months, "heat_w_m2": None}]})  # fmt: skip

    @routes.get("/towns")
    def towns(near: Annotated[str, Query(min_length=1, max_length=80)]) -> list[Town]:
        """Towns by the beginning of their name, the biggest first."""
        from underglass.place.gazetteer import find

        return [Town(label=t.label, latitude=t.latitude_deg, longitude=t.longitude_deg, elevation_m=t.elevation_m, time_zone=t.time_zone)
                for t in find(near)]  # fmt: skip

    app = FastAPI(title="Underglass", version="1", docs_url=None, redoc_url=None, description=__doc__ or "")
    app.include_router(routes)
    app.include_router(seeds_api(desk))
    app.include_router(year_api(desk))
    app.include_router(wishes_api(desk))
    routes_all = [r for r in app.routes if isinstance(r, Route)]

    @app.exception_handler(InputError)
    async def wrong(request: Request, error: InputError) -> JSONResponse:
        return JSONResponse({"fault": str(error)}, 404)

    @app.exception_handler(405)
    async def unfit(request: Request, error: Exception) -> JSONResponse:
        fitting = [r for r in routes_all if r.matches(request.scope)[0] is not Match.NONE]
        allow = ", ".join(sorted({m for route in fitting for m in route.methods or ()}))
        return JSONResponse({"detail": "Method Not Allowed"}, 405, {"allow": allow})

    @app.exception_handler(Changed)
    async def changed(request: Request, error: Changed) -> JSONResponse:
        theirs, row = error.theirs, None
        if isinstance(theirs, PacketRecord):
            row = packet_row(theirs)
        elif isinstance(theirs, HouseholdRecord):
            row = record_row(theirs)
        return JSONResponse({"fault": str(error), "theirs": row}, 409)

    return app
