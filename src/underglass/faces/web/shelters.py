"""Shelters: each with a sketch that changes while its sizes are typed; one more from a preset; one put away."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from underglass.errors import InputError
from underglass.faces.charts.sketch import sketch
from underglass.faces.web.desk import Desk
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.shelter_form import as_fields, extras_of, read_shelter
from underglass.faces.web.show import Shown, check_form, page
from underglass.notebook.faults import Changed
from underglass.services.shelter_store import LONGEST_NAME, add_shelter, change_shelter, described, put_away_shelter
from underglass.shelter.model import Shelter
from underglass.shelter.presets import PRESETS
from underglass.shelter.sizes import size_keys

__all__ = ["router"]

Text = Annotated[str, Form(max_length=200)]
POINTS = ("0", "45", "90", "135", "180", "225", "270", "315")


def _drawing(shelter: Shelter, show: Shown) -> str:
    named = show.say("sketch.title", shelter=show.shelter(shelter.name))
    return sketch(shelter, named, show.say, show.length)


def router(desk: Desk) -> APIRouter:
    """The routes of the pages."""
    routes = APIRouter(include_in_schema=False)

    def listing(request: Request, status: int = 200, fault: str = "", name: str = "") -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        show = Shown(request, desk)
        household = desk.household()
        assert household is not None
        drawn = [(s, _drawing(s, show)) for s in household.shelters]
        return page(request, desk, "shelters.html", status, here="settings", drawn=drawn, presets=PRESETS, fault=fault, name=name, longest=LONGEST_NAME)  # fmt: skip

    def form(
        request: Request, shelter: Shelter, seen: int, fields: Mapping[str, str], faults: Mapping[str, str], drawn: Shelter, status: int = 200,
        theirs: Mapping[str, str] | None = None,
    ) -> Response:  # fmt: skip
        show = Shown(request, desk)
        return page(
            request, desk, "shelter.html", status, here="settings", shelter=shelter, seen=seen, fields=fields, faults=faults,
            sizes=size_keys(shelter.shape), extras=extras_of(shelter), drawing=_drawing(drawn, show), theirs=theirs, points=POINTS,
        )  # fmt: skip

    @routes.get("/shelters")
    def all_of_them(request: Request) -> Response:
        return listing(request)

    @routes.post("/shelters")
    def add(request: Request, token: Text = "", like: Text = "", name: Text = "") -> Response:
        check_form(request, token)
        try:
            with desk.home.open() as notebook:
                record = add_shelter(notebook, like, name)
        except InputError as error:
            return listing(request, 422, str(error), name)
        return RedirectResponse(f"/shelters/{record.name}", 303)

    @routes.get("/shelters/{name}")
    def one(request: Request, name: str) -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        with desk.home.open() as notebook:
            record, shelter = described(notebook, name)
        return form(request, shelter, record.version, as_fields(shelter, Shown(request, desk)), {}, shelter)

    @routes.get("/shelters/{name}/sketch")
    def drawn(request: Request, name: str) -> Response:
        """The sketch for what is typed just now; a field that makes no sense yet stays as it was."""
        show = Shown(request, desk)
        with desk.home.open() as notebook:
            _, shelter = described(notebook, name)
        made, _ = read_shelter(shelter, {k: v[:60] for k, v in request.query_params.items()}, show)
        return page(request, desk, "shelter_sketch.html", drawing=_drawing(made, show))

    def kept(request: Request, name: str, given: dict[str, str]) -> Response:
        show, seen = Shown(request, desk), int(given["seen"]) if given.get("seen", "").isdecimal() else 0
        with desk.home.open() as notebook:
            record, shelter = described(notebook, name)
            made, faults = read_shelter(shelter, given, show)
            typed = {key: given.get(key, "") for key in as_fields(shelter, show)}
            if faults:
                return form(request, shelter, seen, typed, faults, made, 422)
            try:
                change_shelter(notebook, record, made, seen)
            except Changed:
                return form(request, shelter, record.version, typed, {"form": show.say("fault.changed_meanwhile")}, made, 409, as_fields(shelter, show))  # fmt: skip
        return RedirectResponse("/shelters", 303)

    @routes.post("/shelters/{name}")
    async def keep(request: Request, name: str) -> Response:
        import asyncio

        sent: Any = await request.form(max_files=0, max_fields=40)
        given = {k: v[:200] for k, v in sent.items() if isinstance(v, str)}
        check_form(request, given.get("token", ""))
        return await asyncio.to_thread(kept, request, name, given)

    @routes.post("/shelters/{name}/away")
    def away(request: Request, name: str, token: Text = "", seen: int = Form(0)) -> Response:
        check_form(request, token)
        try:
            with desk.home.open() as notebook:
                record, _ = described(notebook, name)
                put_away_shelter(notebook, record, seen)
        except InputError as error:
            return listing(request, 422, str(error))
        return RedirectResponse("/shelters", 303)

    return routes
