"""First visit and Settings: place, shelters, visits, wishes; the demo; language and units; paired phones; sources."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response

from underglass.crop.catalogue import catalogue
from underglass.faces.web.desk import DEMO, Desk
from underglass.faces.web.guard import DEVICE_COOKIE
from underglass.faces.web.household_form import as_form, read_form
from underglass.faces.web.notebook import begin
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.texts import LANGUAGES
from underglass.place.gazetteer import find
from underglass.shelter.presets import preset_names

__all__ = ["router"]

Text = Annotated[str, Form()]


def router(desk: Desk, lan: bool) -> APIRouter:
    """The routes of these pages."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/")
    def home() -> Response:
        return RedirectResponse("/welcome" if desk.household() is None else "/today", 303)

    def form(request: Request, values: Any, faults: dict[str, str], status: int = 200, **more: Any) -> Response:
        fields, presets, crops = values
        show = Shown(request, desk)
        kinds = sorted(((show.crop(c.id, c.name), c.id) for c in catalogue().values()), key=lambda c: c[0].lower())
        return page(
            request, desk, "welcome.html", status, here="settings" if desk.table() else "", fields=fields, chosen=presets,
            wanted=crops, faults=faults, presets=preset_names(), crops=kinds, **{"mine": None, **more},
        )  # fmt: skip

    @routes.get("/welcome")
    def welcome(request: Request) -> Response:
        table = desk.table()
        return form(request, as_form({} if table.get(DEMO) else table), {})

    @routes.get("/welcome/towns")
    def towns(request: Request, near: str = "") -> Response:
        return page(request, desk, "towns.html", towns=find(near[:80]) if len(near) >= 2 else [])

    @routes.post("/welcome/demo")
    def demo(request: Request, token: Text = "", version: Text = "") -> Response:
        check_form(request, token)
        if not desk.keep({DEMO: True, **_choices(desk)}, version):
            return RedirectResponse("/settings", 303)
        return RedirectResponse("/sow", 303)

    @routes.post("/welcome")
    async def keep(request: Request) -> Response:
        sent = await request.form(max_files=0, max_fields=200)
        given = {k: v for k, v in sent.items() if isinstance(v, str)}
        check_form(request, given.get("token", ""))
        show = Shown(request, desk)
        presets = [str(v) for v in sent.getlist("shelter")]
        crops = [str(v) for v in sent.getlist("crop") if str(v) in catalogue()]
        table, faults = await asyncio.to_thread(read_form, given, presets, crops, show.say)
        typed = ({**as_form({})[0], **{k: v[:200] for k, v in given.items()}}, presets, crops)
        if faults:
            return form(request, typed, faults, 422)
        if not desk.keep({**_choices(desk), **table}, given.get("version", "")):
            return form(
                request, typed, {"form": show.say("fault.changed_meanwhile")}, 409, mine=as_form(desk.table())[0]
            )
        await asyncio.to_thread(begin, desk)
        return RedirectResponse("/sow", 303)

    @routes.get("/settings")
    def settings(request: Request) -> Response:
        job = desk.guide() if desk.household() else None
        guide = job.answer if job and job.done else None
        return page(
            request, desk, "settings.html", here="settings", household=desk.household(), devices=desk.devices.all(), lan=lan,
            guide=guide, folder=str(desk.folder), own=desk.table().get("language", ""), code=None, qr=None,
        )  # fmt: skip

    @routes.post("/settings")
    def choose(
        request: Request, token: Text = "", version: Text = "", language: Text = "", units: Text = ""
    ) -> Response:
        check_form(request, token)
        table = desk.table()
        table |= {"language": language if language in LANGUAGES else ""}
        table |= {"units": units} if units in ("c", "f") else {}
        if not desk.keep(table, version):
            return PlainTextResponse(Shown(request, desk).say("fault.changed_meanwhile"), 409)
        return RedirectResponse("/settings", 303)

    @routes.post("/settings/code")
    def code(request: Request, token: Text = "") -> Response:
        check_form(request, token)
        import segno

        fresh = desk.devices.new_code()
        address = f"{desk.address}/pair?code={fresh}"
        qr = segno.make(address, error="m").svg_inline(
            scale=5, border=4, dark="#000000", light="#ffffff", omitsize=False
        )
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


def _choices(desk: Desk) -> dict[str, Any]:
    """What stays when the household is described anew."""
    return {k: v for k, v in desk.table().items() if k == "language"}
