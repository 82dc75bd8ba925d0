"""What a family likes to eat, how much of it and what never; who eats, and how much time, money and which days there are."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from underglass.crop.catalogue import catalogue
from underglass.faces.web.desk import Desk
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.wishes_form import CARES, LIKES, NEW_ROWS, Filled, as_form, read_form
from underglass.notebook.faults import Changed

__all__ = ["router"]


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    def form(
        request: Request, status: int = 200, *, typed: Filled | None = None, faults: dict[str, str] | None = None,
        changed: bool = False,
    ) -> Response:  # fmt: skip
        seen = desk.home.seen()
        if seen is None:
            return nobody_yet(request, desk)
        show, stands = Shown(request, desk), as_form(seen.household)
        kinds = sorted(((show.crop(c.id, c.name), c.id) for c in catalogue().values()), key=lambda c: c[0].lower())
        filled = typed or stands
        fields = stands.fields | filled.fields
        return page(
            request, desk, "wishes.html", status, here="sow", tab="wishes", rows=stands.rows, fields=fields, beds=stands.beds,
            holidays=stands.holidays, never=filled.never, crops=kinds, new_rows=NEW_ROWS, seen=seen.version, faults=faults or {},
            mine=stands.fields if changed else None, likes=tuple(LIKES), cares=tuple(CARES),
            opened=[part for part in ("area", "manure") if any(fields[f"{part}-{bed}"] for bed in stands.beds)],
        )  # fmt: skip

    @routes.get("/wishes")
    def wishes(request: Request) -> Response:
        return form(request)

    @routes.post("/wishes")
    async def keep(request: Request) -> Response:
        sent = await request.form(max_files=0, max_fields=300)
        given = {k: v for k, v in sent.items() if isinstance(v, str)}
        check_form(request, given.get("token", ""))
        never = tuple(str(v) for v in sent.getlist("never") if str(v) in catalogue())
        return await asyncio.to_thread(change, request, given, never)

    def change(request: Request, given: dict[str, str], never: tuple[str, ...]) -> Response:
        from underglass.services.household_store import change_wishes

        household = desk.household()
        if household is None:
            return nobody_yet(request, desk)
        stands = as_form(household)
        fields = {name: given.get(name, "")[:40] for name in stands.fields}
        typed = Filled(stands.rows, fields, never, stands.beds, stands.holidays)
        said, faults = read_form(given, never, household, Shown(request, desk).say)
        if said is None:
            return form(request, 422, typed=typed, faults=faults)
        seen = int(given["seen"]) if given.get("seen", "").isdecimal() else 0
        try:
            with desk.home.open() as notebook:
                change_wishes(notebook, said, "what the family likes to eat", seen)
        except Changed:
            fault = {"form": Shown(request, desk).say("fault.changed_meanwhile")}
            return form(request, 409, typed=typed, faults=fault, changed=True)
        desk.year.begin()
        return RedirectResponse("/year", 303)

    return routes
