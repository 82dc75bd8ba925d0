"""May it go out: the chance of a killing night before a date, from the forecast and then the climate."""

from __future__ import annotations

from datetime import date, timedelta

from fastapi import APIRouter, Request
from fastapi.responses import Response

from underglass.crop.catalogue import catalogue
from underglass.faces.web.desk import Desk
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.show import Shown, page
from underglass.faces.web.work import wait

__all__ = ["router"]

USUAL_DAYS, MOST_DAYS = 30, 120


def router(desk: Desk) -> APIRouter:
    """The route of the page."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/set-out")
    def set_out(request: Request, crop: str = "", bed: str = "", before: str = "") -> Response:
        household = desk.household()
        if household is None:
            return nobody_yet(request, desk)
        show, today = Shown(request, desk), date.fromisoformat(str(desk.today()))
        kinds = sorted(
            (show.crop(c.id, c.name), c.id) for c in catalogue().values() if c.growth.raise_weeks is not None
        )
        beds = [s.name for s in household.shelters if s.room is None]
        usual = (today + timedelta(days=USUAL_DAYS)).isoformat()
        fields = {"crop": crop, "bed": bed, "before": before or usual}
        faults = _faults(fields, today, [i for _, i in kinds], beds, show) if crop else {}
        answer = None
        if crop and not faults:
            job = desk.set_out(crop, bed, fields["before"])
            if not job.done or job.fault:
                return wait(request, desk, "today", job)
            answer = job.answer
        return page(
            request, desk, "set_out.html", 422 if faults else 200, here="today", kinds=kinds, beds=beds, fields=fields, faults=faults,
            answer=answer, first=today + timedelta(days=1), last=today + timedelta(days=MOST_DAYS),
        )  # fmt: skip

    return routes


def _faults(fields: dict[str, str], today: date, kinds: list[str], beds: list[str], show: Shown) -> dict[str, str]:
    faults = {}
    if fields["crop"] not in kinds:
        faults["crop"] = show.say("set_out.no_crop")
    if fields["bed"] not in beds:
        faults["bed"] = show.say("set_out.no_bed")
    try:
        days = (date.fromisoformat(fields["before"]) - today).days
    except ValueError:
        days = 0
    if not 1 <= days <= MOST_DAYS:
        faults["before"] = show.say("set_out.no_date", most=MOST_DAYS)
    return faults
