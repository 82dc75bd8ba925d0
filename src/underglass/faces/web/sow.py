"""Sow: what to sow now and next, the outlook curve of a crop, and why."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from underglass.faces.charts.outlook import outlook_curve
from underglass.faces.web.desk import Desk
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.show import Shown, page
from underglass.faces.web.story_words import tell_story
from underglass.faces.web.work import wait
from underglass.services.guide import best_routes

__all__ = ["router"]


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/sow")
    def sow(request: Request) -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        job = desk.guide()
        if not job.done or job.fault:
            return wait(request, desk, "sow", job)
        return page(request, desk, "sow.html", here="sow", guide=job.answer, groups=best_routes(job.answer["rows"]))

    def curve(request: Request, crop: str, grown_in: str, raised_in: str, week: int, template: str) -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        job = desk.outlook(crop, grown_in, raised_in or None)
        if not job.done or job.fault:
            return wait(request, desk, "sow", job)
        show, answer = Shown(request, desk), job.answer
        dates = answer["dates"]
        week = min(max(week, 0), len(dates) - 1)
        drawing = outlook_curve(dates, week, show.say, show.day)
        return page(
            request, desk, template, here="sow", answer=answer, dates=dates, week=week, at=dates[week], drawing=drawing,
            ways=_ways(crop),
        )  # fmt: skip

    def _ways(crop: str) -> list[dict[str, Any]]:
        job = desk.guide()
        rows = job.answer["rows"] if job.done and job.answer else []
        return sorted((r for r in rows if r["crop"] == crop), key=lambda r: -r["score"])[:6]

    @routes.get("/sow/{crop}")
    def crop_page(request: Request, crop: str, grown_in: str, raised_in: str = "", week: int = 0) -> Response:
        return curve(request, crop, grown_in, raised_in, week, "crop.html")

    @routes.get("/sow/{crop}/at")
    def crop_at(request: Request, crop: str, grown_in: str, raised_in: str = "", week: int = 0) -> Response:
        return curve(request, crop, grown_in, raised_in, week, "crop_at.html")

    @routes.get("/why/{crop}")
    def why(request: Request, crop: str, grown_in: str, on: str, raised_in: str = "") -> Response:
        household = desk.household()
        if household is None:
            return nobody_yet(request, desk)
        job = desk.story(crop, grown_in, raised_in or None, on)
        if not job.done or job.fault:
            return wait(request, desk, "sow", job)
        told = tell_story(job.answer, Shown(request, desk))
        return page(request, desk, "why.html", here="sow", told=told, story=job.answer)

    return routes
