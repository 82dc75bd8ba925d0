"""Year: the chosen sowings by week and by shelter with the basket; what the family decides about them; making the plan anew."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from underglass.errors import InputError
from underglass.faces.charts.basket import basket_chart, basket_rows
from underglass.faces.web.desk import Desk
from underglass.faces.web.jobs import Job
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.work import wait
from underglass.faces.web.year_words import before_lean, by_shelter, by_week, summary
from underglass.faces.web.year_work import Kept
from underglass.notebook.store import Notebook

__all__ = ["router"]

Text = Annotated[str, Form(max_length=400)]
Seen = Annotated[int, Form()]


def _picture(show: Shown, plan: Mapping[str, Any], want: str) -> dict[str, Any]:
    """The basket of one want, or of all, with its rows for the table beside it."""
    wants = {w["want"]: w for w in plan["wants"]}
    want = want if want in wants else ""
    told = [wants[want]] if want else list(wants.values())
    wanted = None if any(w["as_much_as_fits"] for w in told) else sum(w["servings_a_week"] for w in told)
    title = show.say("basket.of", want=show.want(want)) if want else show.say("basket.title")
    drawing = basket_chart(
        plan["basket"], show.say, show.day, title=title, want=want, wanted=wanted, lean=plan["under_ten_hours"]
    )
    rows = [
        {"day": show.day(week["week_of"]), **row, "minutes": week["minutes"]}
        for week, row in zip(plan["basket"], basket_rows(plan["basket"], want), strict=True)
    ]
    return {"drawing": drawing, "rows": rows, "title": title, "want": want}


def router(desk: Desk) -> APIRouter:
    """The routes of the pages."""
    routes = APIRouter(include_in_schema=False)

    def year_page(
        request: Request, status: int = 200, *, by: str = "week", want: str = "", fault: str = ""
    ) -> Response:
        from underglass.services.year_book import decided

        # the work is looked at before the plan: what ends between the two looks would else leave the old plan as if it were the new one
        job = desk.year.making()
        working = job is not None and not job.done
        kept = desk.year.kept()
        if kept is None:
            return first(request)
        show, plan = Shown(request, desk), kept.plan
        if job is not None:
            job.back = "/year"
        with desk.home.open() as notebook:
            choices = decided(notebook)
        found = desk.year.helped(kept)
        helped = {w["want"]: w["changes"][0] for w in found["wants"] if w["changes"]} if found else {}
        return page(
            request, desk, "year.html", status, here="sow", tab="year", kept=kept, plan=plan, working=working,
            job=job if working else _worth_showing(job), fault=fault, by=by, weeks=by_week(plan), beds=by_shelter(plan), sums=summary(plan), lean=before_lean(plan), choices=choices, helped=helped, picture=_picture(show, plan, want),
        )  # fmt: skip

    def first(request: Request) -> Response:
        """No plan yet: the work that makes it, or what stands in its way."""
        job = desk.year.making()
        if job is not None and job.done and not job.fault and job.answer["possible"]:
            if desk.year.kept() is not None:  # it was done between the two looks
                return RedirectResponse("/year", 303)
            job = None  # the plan it made was taken back since
        job = job or desk.year.begin(count=True)
        if job.done and not job.fault and not job.answer["possible"]:
            return page(request, desk, "year_blocked.html", here="sow", tab="year", job=job)
        return wait(request, desk, "sow", job)

    @routes.get("/year")
    def year(request: Request, by: str = "week", want: str = "") -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        return year_page(request, by=by, want=want)

    @routes.get("/year/basket")
    def basket(request: Request, want: str = "") -> Response:
        kept = desk.year.kept() if desk.household() else None
        if kept is None:
            return RedirectResponse("/year", 303)
        return page(request, desk, "basket.html", picture=_picture(Shown(request, desk), kept.plan, want))

    @routes.get("/year/sowing")
    def sowing(request: Request, id: str = "") -> Response:  # noqa: A002
        kept = desk.year.kept() if desk.household() else None
        if kept is None:
            return RedirectResponse("/year", 303)
        row = next((s for s in kept.plan["sowings"] if s["id"] == id), None)
        if row is None:
            return year_page(request, 404, fault=Shown(request, desk).say("year.no_sowing"))
        job = None if row["standing"] else desk.year.why(kept, id)
        if job is not None:
            job.back = f"/year/sowing?id={quote(id)}"
        return page(request, desk, "sowing.html", here="sow", tab="year", kept=kept, plan=kept.plan, row=row, job=job)

    @routes.get("/year/help")
    def help_(request: Request) -> Response:
        kept = desk.year.kept() if desk.household() else None
        if kept is None:
            return RedirectResponse("/year", 303)
        job = desk.year.help(kept)
        if not job.done or job.fault:
            return wait(request, desk, "sow", job)
        return page(request, desk, "year_help.html", here="sow", tab="year", plan=kept.plan, help=job.answer)

    def decide(request: Request, token: str, seen: int, write: Callable[[Notebook, Kept], None]) -> Response:
        """Write a decision about the plan that was seen, and make the plan anew; another plan meanwhile is shown instead."""
        check_form(request, token)
        kept = desk.year.kept() if desk.household() else None
        if kept is None:
            return RedirectResponse("/year", 303)
        if kept.version != seen:
            return year_page(request, 409, fault=Shown(request, desk).say("year.changed_meanwhile"))
        try:
            with desk.home.open() as notebook:
                write(notebook, kept)
        except InputError as error:
            return year_page(request, 422, fault=str(error))
        desk.year.begin()
        return RedirectResponse("/year", 303)

    @routes.post("/year/keep")
    def keep(request: Request, token: Text = "", seen: Seen = 0, id: Text = "") -> Response:  # noqa: A002
        from underglass.services.year_book import keep_sowing

        return decide(request, token, seen, lambda book, kept: keep_sowing(book, kept.plan, id))

    @routes.post("/year/drop")
    def drop(request: Request, token: Text = "", seen: Seen = 0, id: Text = "") -> Response:  # noqa: A002
        from underglass.services.year_book import drop_sowing

        return decide(request, token, seen, lambda book, kept: drop_sowing(book, kept.plan, id))

    @routes.post("/year/swap")
    def swap(request: Request, token: Text = "", seen: Seen = 0, id: Text = "", other: Text = "") -> Response:  # noqa: A002
        from underglass.services.year_book import swap_sowing

        def write(book: Notebook, kept: Kept) -> None:
            row = desk.year.offered(kept, id, other)
            if row is None:
                raise InputError(Shown(request, desk).say("year.not_offered"))
            swap_sowing(book, kept.plan, id, row)

        return decide(request, token, seen, write)

    @routes.post("/year/forget")
    def forget(request: Request, token: Text = "", seen: Seen = 0, decision: Text = "") -> Response:
        from underglass.services.year_book import forget_decision

        return decide(request, token, seen, lambda book, kept: forget_decision(book, decision))

    @routes.post("/year/plan")
    def plan(request: Request, token: Text = "", fresh: Text = "") -> Response:
        check_form(request, token)
        if desk.household() is None:
            return nobody_yet(request, desk)
        desk.year.begin(fresh=bool(fresh))
        return RedirectResponse("/year", 303)

    return routes


def _worth_showing(job: Job | None) -> Job | None:
    """Work that failed, or ended without a plan."""
    return None if job is None or (not job.fault and job.answer["possible"]) else job
