"""Notebook: what stands where with its one-tap records, words and pictures, what was written and found again, the last steps and their undo."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from underglass.crop.catalogue import catalogue
from underglass.crop.outcome import WORDS, Fate
from underglass.errors import InputError, NotebookError
from underglass.faces.web.desk import Desk
from underglass.faces.web.household_form import clocks
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.records import KINDS, PROBES, SETTINGS
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.step_words import step
from underglass.notebook.journal import changes
from underglass.notebook.records import STAGES, VisitException
from underglass.services import notes
from underglass.services.found import Entry, entries

__all__ = ["router", "show_notebook"]

Text = Annotated[str, Form(max_length=200)]
STEPS, LISTED = 12, 20
CAUSES = tuple(words for fate, words in WORDS.items() if fate not in (Fate.HARVESTED, Fate.BEYOND_RECORD))


def _ids(n: int) -> list[str]:
    return [uuid.uuid4().hex for _ in range(n)]


def _group(entry: Entry, word: str) -> str:
    """The part of the catalogue in which a word of an entry stands."""
    if entry.kind == "reading":
        return "probe" if word in PROBES else "kind"
    return {"lid": "setting", "loss": "cause"}.get(entry.kind, "entry")


def _entry(entry: Entry, show: Shown, desk: Desk) -> dict[str, Any]:
    """Something that was written down, as the list shows it."""
    local = desk.local(entry.at)
    about = [show.shelter(entry.shelter)] if entry.shelter else []
    about += [show.crop(entry.crop, catalogue()[entry.crop].name)] if entry.crop else []
    words = [entry.words] if entry.words else []
    words += [said for word in entry.said if (said := show.say(f"{_group(entry, word)}.{word}", or_else=word))]
    return {
        "kind": entry.kind,
        "id": entry.id,
        "words": ", ".join(words),
        "file": entry.file,
        "about": ", ".join(about),
        "tags": entry.tags,
        "when": f"{show.day(local.date().isoformat())} {local:%H:%M}",
    }


def show_notebook(
    desk: Desk, request: Request, status: int = 200, fault: str = "", typed: Mapping[str, str] | None = None
) -> Response:
    """The page."""
    household, show = desk.household(), Shown(request, desk)
    if household is None:
        return nobody_yet(request, desk)
    with desk.home.open() as notebook:
        stands = notes.standing(notebook, desk.local(desk.now()).date())
        steps, written = changes(notebook, STEPS), entries(notebook, "", LISTED)
        days = notebook.find(VisitException, '"on" >= ?', desk.local(desk.now()).date(), order='"on"')[:LISTED]
    crops = sorted(((show.crop(c.id, c.name), c.id) for c in catalogue().values()), key=lambda c: c[0].lower())
    return page(
        request, desk, "notebook.html", status, here="notebook", shelters=household.shelters, standing=stands, steps=steps,
        written=[_entry(e, show, desk) for e in written], settings=SETTINGS, kinds=KINDS, stages=STAGES[1:], causes=CAUSES,
        step=step, crops=crops, away=[(d.on.isoformat(), clocks(d.hours)) for d in days], ids=_ids(7), fresh=[_ids(4) for _ in stands], fault=fault, typed=defaultdict(str, typed or {}),
        today=desk.local(desk.now()).date().isoformat(), redo=bool(steps) and steps[0].kind == "undo",
    )  # fmt: skip


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/notebook")
    def notebook_page(request: Request) -> Response:
        return show_notebook(desk, request)

    @routes.get("/notebook/search")
    def search(request: Request, words: str = "") -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        show, words = Shown(request, desk), words.strip()[:80]
        with desk.home.open() as notebook:
            found = entries(notebook, words, 100) if words else []
        return page(
            request, desk, "found.html", here="notebook", words=words, written=[_entry(e, show, desk) for e in found]
        )

    def stepped(request: Request, back: str, change: int | None) -> Response:
        """Undo a step or, with none, redo the last undo."""
        try:
            with desk.home.open() as notebook:
                notes.redo(notebook) if change is None else notes.undo(notebook, change)
        except (InputError, NotebookError) as error:
            return show_notebook(desk, request, 409, str(error))
        return RedirectResponse("/today" if back == "today" else "/notebook#steps", 303)

    @routes.post("/notebook/undo")
    def undo(request: Request, token: Text = "", back: Text = "", change: Annotated[int, Form()] = 0) -> Response:
        check_form(request, token)
        return stepped(request, back, change)

    @routes.post("/notebook/redo")
    def redo(request: Request, token: Text = "") -> Response:
        check_form(request, token)
        return stepped(request, "", None)

    return routes
