"""The year's plan as data: the kept one, making it anew, decisions about its sowings, and why a sowing is in it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from underglass.errors import InputError
from underglass.faces.web.api_parts import Fault, Whole, Working, answer_of
from underglass.faces.web.desk import Desk
from underglass.faces.web.year_work import Kept

__all__ = ["year_api"]

SowingId = Annotated[str, Field(min_length=1, max_length=300)]


class Asked(BaseModel):
    """How the plan is made anew.  fresh : without regard to the plan before"""

    model_config = ConfigDict(extra="forbid", strict=True)

    fresh: bool = False


class Decision(BaseModel):
    """A decision about a sowing of the kept plan.  seen : the plan's `kept_version` that it was made from;  instead : for swap, the
    id of a row that /year/why offers"""

    model_config = ConfigDict(extra="forbid", strict=True)

    wish: Literal["keep", "drop", "swap"]
    sowing: SowingId
    seen: Annotated[int, Field(ge=1, le=2**31), Whole]
    instead: SowingId | None = None


class Newer(BaseModel):
    """Another plan was made meanwhile; nothing was decided."""

    fault: str
    kept_version: int


REPLIES: dict[int | str, dict[str, Any]] = {
    202: {"model": Working, "description": "being made: ask again"},
    404: {"model": Fault, "description": "no household, no plan, or no such sowing"},
}
WRITES: dict[int | str, dict[str, Any]] = {
    202: {"model": Working, "description": "a new plan is being made"},
    400: {"description": "what was sent is no JSON"},
    404: {"model": Fault, "description": "no household, no plan, or no such sowing or decision"},
    409: {"model": Newer, "description": "another plan was made meanwhile"},
    422: {"description": "a value is wrong"},
}


def year_api(desk: Desk) -> APIRouter:
    """The routes."""
    routes = APIRouter()

    def kept() -> Kept:
        if desk.household() is None:
            raise InputError("there is no household yet: describe one on the first page")
        found = desk.year.kept()
        if found is None:
            raise InputError("there is no plan yet: POST to /year makes one")
        return found

    def begun(*, fresh: bool = False) -> JSONResponse:
        job = desk.year.begin(fresh=fresh)
        return JSONResponse({"share": job.share, "doing": job.doing}, 202, {"retry-after": "2"})

    @routes.get("/year", responses=REPLIES)
    def year() -> JSONResponse:
        """The kept plan, as `underglass year --json`, with `kept_version`, `changed_since`, `change` and `why_no_newer`."""
        job = desk.year.making() if desk.household() else None
        if job is not None and not job.done:
            return JSONResponse({"share": job.share, "doing": job.doing}, 202, {"retry-after": "1"})
        why_not = desk.year.why_not()
        if desk.household() and desk.year.kept() is None and why_not:
            raise InputError("; ".join(why_not))
        found = kept()
        more = {
            "kept_version": found.version,
            "changed_since": found.changed,
            "change": found.change,
            "why_no_newer": why_not,
        }
        return JSONResponse({**found.plan, **more})

    @routes.post("/year", status_code=202, responses=WRITES)
    def make(asked: Asked) -> JSONResponse:
        """Make the plan anew, from today on and from what stands by the notebook."""
        if desk.household() is None:
            raise InputError("there is no household yet: describe one on the first page")
        return begun(fresh=asked.fresh)

    @routes.delete("/year/work", status_code=204, response_class=Response, responses={404: REPLIES[404]})
    def stop() -> Response:
        """Stop the making of a plan; the one before stays."""
        job = desk.year.making()
        if job is None or job.done:
            raise InputError("no plan is being made")
        desk.jobs.stop(job)
        return Response(status_code=204)

    @routes.get("/year/why", responses={**REPLIES, 422: {"description": "a value is wrong"}})
    def why(sowing: Annotated[str, Query(min_length=1, max_length=300)]) -> JSONResponse:
        """Why this sowing and not that, and what could stand in its place."""
        return answer_of(desk.year.why(kept(), sowing))

    @routes.get("/year/help", responses=REPLIES)
    def help_() -> JSONResponse:
        """The smallest change for each want that is not met."""
        return answer_of(desk.year.help(kept()))

    @routes.get("/year/decisions", responses={404: REPLIES[404]})
    def decisions() -> list[dict[str, Any]]:
        """What was decided about sowings: `id`, `crop`, `name`, `wish`, `sow`, `grown_in`, `raised_in`."""
        from underglass.services.year_book import decided

        kept()
        with desk.home.open() as notebook:
            return decided(notebook)

    @routes.post("/year/decisions", status_code=202, responses=WRITES)
    def decide(said: Decision) -> JSONResponse:
        """Keep, drop or swap a sowing; a new plan is then being made."""
        from underglass.services import year_book

        plan = kept()
        if plan.version != said.seen:
            newer = {"fault": "another plan was made meanwhile: nothing was decided", "kept_version": plan.version}
            return JSONResponse(newer, 409)
        with desk.home.open() as notebook:
            if said.wish == "keep":
                year_book.keep_sowing(notebook, plan.plan, said.sowing)
            elif said.wish == "drop":
                year_book.drop_sowing(notebook, plan.plan, said.sowing)
            else:
                other = desk.year.offered(plan, said.sowing, said.instead or "")
                if other is None:
                    raise InputError("instead: expected the id of a row that /year/why offers for this sowing")
                year_book.swap_sowing(notebook, plan.plan, said.sowing, other)
        return begun()

    @routes.delete("/year/decisions", status_code=202, responses=WRITES)
    def forget(decision: Annotated[str, Query(min_length=1, max_length=300)]) -> JSONResponse:
        """Take a decision back; a new plan is then being made."""
        from underglass.services.year_book import forget_decision

        kept()
        with desk.home.open() as notebook:
            forget_decision(notebook, decision)
        return begun()

    return routes
