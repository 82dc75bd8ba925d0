"""First visit and Settings: place, shelters, visits, wishes; the demo; language and units; paired phones; sources."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import UTC, datetime
from typing import Annotated, cast, get_args

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from underglass.crop.catalogue import catalogue
from underglass.faces.web.credits import CREDITS
from underglass.faces.web.desk import Desk
from underglass.faces.web.guard import DEVICE_COOKIE
from underglass.faces.web.household_form import LONGEST, Filled, as_form, read_form, sketch_of
from underglass.faces.web.nobody import no_place
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.texts import LANGUAGE_COOKIE, LANGUAGES
from underglass.notebook.faults import Changed
from underglass.place.gazetteer import find
from underglass.plan.household import Household, Units
from underglass.services.household_store import change_units
from underglass.shelter.presets import preset_names

__all__ = ["router"]

Text = Annotated[str, Form()]


def router(desk: Desk, lan: bool) -> APIRouter:
    """The routes of these pages."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/")
    def home() -> Response:
        known = desk.household() is not None or desk.draft.kept() is not None
        return RedirectResponse("/today" if known else "/welcome", 303)

    def form(
        request: Request, filled: Filled, old: Household | None, seen: int, faults: dict[str, str], status: int = 200,
        mine: dict[str, str] | None = None,
    ) -> Response:  # fmt: skip
        show = Shown(request, desk)
        kinds = sorted(((show.crop(c.id, c.name), c.id) for c in catalogue().values()), key=lambda c: c[0].lower())
        own = {s.name: sketch_of(s) for s in old.shelters} if old else {}
        presets = {name: name.split("-")[0] for name in preset_names() if name not in own}
        return page(
            request, desk, "welcome.html", status, here="settings" if old else "", fields=filled.fields, faults=faults,
            chosen=filled.shelters, shelters=own | presets, wanted=filled.crops,
            crops=kinds, mine=mine, seen=seen, first=old is None,
        )  # fmt: skip

    @routes.get("/welcome")
    def welcome(request: Request) -> Response:
        old = desk.home.as_described()
        draft = desk.draft.kept() if old is None else None
        filled = draft or as_form(old)
        if old is None and draft is None and request.headers.get("accept-language", "").lower().startswith("en-us"):
            filled = replace(filled, fields=filled.fields | {"units": "f"})
        return form(request, filled, old, desk.home.own_version(), {})

    @routes.get("/welcome/towns")
    def towns(request: Request, near: str = "") -> Response:
        return page(request, desk, "towns.html", towns=find(near[:80]) if len(near) >= 2 else [])

    @routes.post("/welcome/demo")
    def demo(request: Request, token: Text = "") -> Response:
        check_form(request, token)
        desk.home.show_demo()
        return RedirectResponse("/sow", 303)

    @routes.post("/welcome")
    async def keep(request: Request) -> Response:
        sent = await request.form(max_files=0, max_fields=200)
        given = {k: v for k, v in sent.items() if isinstance(v, str)}
        check_form(request, given.get("token", ""))
        shelters = [str(v)[:LONGEST] for v in sent.getlist("shelter")]
        crops = [str(v) for v in sent.getlist("crop") if str(v) in catalogue()]
        return await asyncio.to_thread(change, request, given, shelters, crops)

    def change(request: Request, given: dict[str, str], shelters: list[str], crops: list[str]) -> Response:
        say, old = Shown(request, desk).say, desk.home.as_described()
        household, faults = read_form(given, shelters, crops, say, old)
        fields = as_form(None).fields | {k: v[:LONGEST] for k, v in given.items()}
        typed = Filled(fields, tuple(shelters), tuple(crops))
        seen = int(given["seen"]) if given.get("seen", "").isdecimal() else 0
        if old is None and list(faults) == ["near"] and not fields["near"]:
            desk.draft.keep(typed)
            return RedirectResponse("/today", 303)
        if household is None:
            return form(request, typed, old, seen, faults, 422)
        try:
            desk.home.keep(household, seen)
            desk.draft.let_go()
        except Changed:
            fault = {"form": say("fault.changed_meanwhile")}
            return form(request, typed, old, desk.home.own_version(), fault, 409, as_form(old).fields)
        return RedirectResponse("/sow", 303)

    @routes.post("/welcome/place")
    def place(request: Request, token: Text = "", near: Text = "") -> Response:
        """The town that was left out on the first visit; all else was answered then."""
        check_form(request, token)
        draft = desk.draft.kept()
        if draft is None or desk.home.as_described() is not None:
            return RedirectResponse("/welcome", 303)
        near = near.strip()[:LONGEST]
        household, faults = read_form(
            draft.fields | {"near": near}, draft.shelters, draft.crops, Shown(request, desk).say, None
        )
        if household is None:
            return no_place(request, desk, 422, near, "\n".join(faults.values()))
        desk.home.keep(household, 0)
        desk.draft.let_go()
        return RedirectResponse("/sow", 303)

    @routes.get("/settings")
    def settings(request: Request) -> Response:
        household = desk.household()
        job = desk.guide() if household else None
        guide, plan = job.answer if job and job.done else None, desk.last_plan()
        return page(
            request, desk, "settings.html", here="settings", household=household, devices=desk.devices.all(), lan=lan,
            guide=guide, ahead=plan["forecast"] if plan else None, credits=CREDITS, folder=str(desk.folder), own=request.cookies.get(LANGUAGE_COOKIE, ""), code=None, qr=None,
        )  # fmt: skip

    @routes.post("/settings")
    def choose(request: Request, token: Text = "", language: Text = "", units: Text = "") -> Response:
        check_form(request, token)
        household = desk.household()
        if household and units in get_args(Units) and units != household.units:
            with desk.home.open() as notebook:
                change_units(notebook, cast("Units", units))
        answer = RedirectResponse("/settings", 303)
        if language in LANGUAGES:
            answer.set_cookie(LANGUAGE_COOKIE, language, max_age=5 * 365 * 86400, httponly=True, samesite="strict")
        else:
            answer.delete_cookie(LANGUAGE_COOKIE)
        return answer

    @routes.post("/settings/code")
    def code(request: Request, token: Text = "") -> Response:
        check_form(request, token)
        import segno

        fresh = desk.devices.new_code()
        address = f"{desk.address}/pair?code={fresh}"
        qr = segno.make(address, error="m").svg_inline(border=4, dark="#000000", light="#ffffff", omitsize=True)
        return page(request, desk, "code.html", here="settings", address=address, qr=qr)

    @routes.post("/settings/revoke")
    def revoke(request: Request, token: Text = "", device: Text = "") -> Response:
        check_form(request, token)
        desk.devices.revoke(device)
        return RedirectResponse("/settings", 303)

    @routes.get("/pair")
    def ask_to_pair(request: Request, code: str = "") -> Response:
        return page(request, desk, "pair.html", here="", code=code[:60], fault="")

    @routes.post("/pair")
    def pair(request: Request, token: Text = "", code: Text = "", name: Text = "") -> Response:
        check_form(request, token)
        say = Shown(request, desk).say
        if desk.devices.must_wait():
            return page(request, desk, "pair.html", 429, here="", code="", fault=say("pair.wait"))
        secret = desk.devices.pair(code.strip(), name.strip(), datetime.now(UTC).date().isoformat())
        if secret is None:
            return page(request, desk, "pair.html", 403, here="", code="", fault=say("pair.wrong"))
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            DEVICE_COOKIE, secret, max_age=365 * 86400, httponly=True, samesite="strict", secure=request.url.scheme == "https"
        )  # fmt: skip
        return answer

    return routes
