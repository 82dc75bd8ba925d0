"""Notebook: what stands where, one-tap records, the last steps and their undo."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date
from typing import Annotated, get_args

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from underglass.errors import InputError
from underglass.faces.web.desk import Desk
from underglass.faces.web.show import Shown, check_form, page
from underglass.notebook.journal import changes
from underglass.notebook.records import LidSetting, ReadingKind
from underglass.notebook.store import Notebook
from underglass.services import notes
from underglass.units import INCH_M, c_to_k, f_to_k

__all__ = ["router"]

Text = Annotated[str, Form(max_length=4000)]
Write = Callable[[Notebook, str], None]
SETTINGS: tuple[LidSetting, ...] = get_args(LidSetting)
KINDS: tuple[ReadingKind, ...] = get_args(ReadingKind)


def _number(text: str, show: Shown) -> float:
    try:
        return float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        raise InputError(show.say("fault.number")) from None


def _fresh(record_id: str) -> str:
    """The form's own id, by which a record that was sent twice is kept once; anything else is refused."""
    try:
        return uuid.UUID(record_id).hex
    except ValueError:
        raise InputError("the form carries no id: load the page again") from None


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    def show_page(
        request: Request, status: int = 200, fault: str = "", typed: dict[str, str] | None = None
    ) -> Response:
        household = desk.household()
        if household is None:
            return RedirectResponse("/welcome", 303)
        values = {"note": "", "value": "", "gap": "", "shelter": "", "setting": "", "kind": "", **(typed or {})}
        with desk.home.open() as notebook:
            standing, steps = notes.standing(notebook, date.fromisoformat(str(desk.today()))), changes(notebook, 12)
        return page(
            request, desk, "notebook.html", status, here="notebook", shelters=household.shelters, standing=standing,
            steps=steps, settings=SETTINGS, kinds=KINDS, ids=[uuid.uuid4().hex for _ in range(3)], fault=fault, typed=values,
        )  # fmt: skip

    @routes.get("/notebook")
    def notebook_page(request: Request) -> Response:
        return show_page(request)

    def kept(request: Request, token: str, record_id: str, typed: dict[str, str], write: Write) -> Response:
        """Write, once even if it was sent twice; a fault shows the page again with what was typed."""
        check_form(request, token)
        try:
            fresh = _fresh(record_id)
            with desk.home.open() as notebook:
                write(notebook, fresh)
        except InputError as error:
            return show_page(request, 422, str(error), typed)
        return RedirectResponse("/notebook", 303)

    @routes.post("/notebook/note")
    def note(request: Request, token: Text = "", id: Text = "", note: Text = "", shelter: Text = "") -> Response:  # noqa: A002
        def write(notebook: Notebook, fresh: str) -> None:
            notes.add_note(notebook, desk.now(), note, shelter=shelter or None, record_id=fresh)

        return kept(request, token, id, {"note": note, "shelter": shelter}, write)

    @routes.post("/notebook/lid")
    def lid(
        request: Request, token: Text = "", id: Text = "", shelter: Text = "", setting: Text = "", gap: Text = ""  # noqa: A002
    ) -> Response:  # fmt: skip
        def write(notebook: Notebook, fresh: str) -> None:
            show = Shown(request, desk)
            known = next((s for s in SETTINGS if s == setting), None)
            if known is None:
                raise InputError(show.say("fault.setting"))
            length = _number(gap, show) * (INCH_M if show.units == "f" else 0.01) if known == "gap" else None
            notes.record_lid(notebook, desk.now(), shelter, known, length, record_id=fresh)

        return kept(request, token, id, {"shelter": shelter, "setting": setting, "gap": gap}, write)

    @routes.post("/notebook/reading")
    def reading(
        request: Request, token: Text = "", id: Text = "", shelter: Text = "", kind: Text = "", value: Text = ""  # noqa: A002
    ) -> Response:  # fmt: skip
        def write(notebook: Notebook, fresh: str) -> None:
            show = Shown(request, desk)
            known: ReadingKind = next((k for k in KINDS if k == kind), KINDS[0])
            number = _number(value, show)
            kelvin = f_to_k(number) if show.units == "f" else c_to_k(number)
            notes.record_reading(notebook, desk.now(), kelvin, shelter=shelter or None, kind=known, record_id=fresh)

        return kept(request, token, id, {"shelter": shelter, "kind": kind, "value": value}, write)

    @routes.post("/notebook/undo")
    def undo(request: Request, token: Text = "", change: Annotated[int, Form()] = 0) -> Response:
        check_form(request, token)
        with desk.home.open() as notebook:
            notes.undo(notebook, change)
        return RedirectResponse("/notebook", 303)

    return routes
