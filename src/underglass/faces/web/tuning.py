"""Readings correct a shelter: a logger's file with a preview of what was understood, the fit as work with progress, keeping and undoing it."""

from __future__ import annotations

import re
import threading
import uuid
from collections import OrderedDict
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import UploadFile

from underglass.errors import InputError, NotebookError
from underglass.faces.web.desk import Desk
from underglass.faces.web.home import mark_of
from underglass.faces.web.jobs import Job
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.tuning_words import told
from underglass.faces.web.understood_words import understood as said_of_file
from underglass.faces.web.work import wait
from underglass.notebook import tunings
from underglass.notebook.records import LidAction, Reading, ShelterRecord
from underglass.notebook.store import Notebook

if TYPE_CHECKING:
    from underglass.shelter.tune_types import Readings

__all__ = ["router"]

Text = Annotated[str, Form(max_length=200)]
YEAR_BEFORE = timedelta(days=370)
MOST_HELD = 4
"""Files that wait for somebody to look at them; the oldest goes when a fifth comes."""


@dataclass(frozen=True, slots=True)
class Held:
    """A file that was sent and not yet kept: its text, and what it is called here."""

    text: str
    label: str


class Files:
    """Files that wait, by an id of our own."""

    def __init__(self) -> None:
        self._held: OrderedDict[str, Held] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, held: Held) -> str:
        """Keep a file for a while."""
        with self._lock:
            name = uuid.uuid4().hex
            self._held[name] = held
            while len(self._held) > MOST_HELD:
                self._held.popitem(last=False)
            return name

    def get(self, name: str) -> Held | None:
        """A file that still waits."""
        return self._held.get(name)


def label_of(filename: str | None) -> str:
    """What a file is called in the notebook: a name to read, never a path."""
    last = re.split(r"[/\\]", filename or "")[-1]
    return re.sub(r"[^\w. -]", "", last).strip(" .")[:60] or "logger"


def _read(desk: Desk, held: Held, options: dict[str, str]) -> tuple[tuple[Readings, ...], tuple[str, ...]]:
    from underglass.sources.readings import parse_readings

    household = desk.household()
    assert household is not None
    book = parse_readings(
        held.text, held.label, place=household.place, units=options["units"] or None, date_order=options["order"] or None,
        time_zone=options["zone"].strip() or None, columns=[c.strip() for c in options["columns"].split(",") if c.strip()],
    )  # fmt: skip
    return book.readings, book.understood


def _fit(desk: Desk, name: str) -> Job:
    """What the notebook's readings say of a shelter, as work."""
    from underglass.services.household_store import household_in
    from underglass.services.lids import handling_in
    from underglass.services.noted_readings import noted_readings

    with desk.home.open() as notebook:
        household = household_in(notebook, tune=lambda shelter, _: shelter)
        shelter = next((s for s in household.shelters if s.name == name), None)
        if shelter is None:
            raise InputError(f"no shelter is called {name!r}")
        readings, understood = noted_readings(notebook, name)
        lids = len(notebook.find(LidAction))
    sums = [(r.probe, r.kind, r.n_readings, int(r.at_s.sum()), float(r.temp_k.sum())) for r in readings]
    lived = shelter

    def work(progress: Any) -> dict[str, Any]:
        from underglass.services.apart import apart
        from underglass.services.tune import tune_shelter

        progress(0.02, "weather of those days")
        times = [int(s) for r in readings for s in (r.at_s.min(), r.at_s.max())]
        first, last = (datetime.fromtimestamp(pick(times), UTC).date() for pick in (min, max))
        outside = desk.past(household, first - YEAR_BEFORE, last)
        with desk.home.open() as notebook:
            handling = handling_in(notebook, lived, outside)
        return apart(tune_shelter, lived, outside, readings, understood, handling=handling, progress=progress)[0]

    return desk.jobs.ask(f"tune {mark_of(shelter, household.place, sums, lids)}", work)


def _rows(notebook: Notebook, show: Shown) -> list[dict[str, Any]]:
    """Each shelter with the number of its readings and whether it is corrected."""
    found = []
    for record in notebook.find(ShelterRecord, "active", order="position, created"):
        active = tunings.active(notebook, record.id)
        count = len(notebook.find(Reading, "shelter_id = ?", record.id))
        since = show.day(active.created.date().isoformat()) if active else ""
        found.append({"name": record.name, "readings": count, "since": since})
    return found


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes, files = APIRouter(include_in_schema=False), Files()

    def tuning_page(request: Request, status: int = 200, fault: str = "", said: str = "") -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        with desk.home.open() as notebook:
            rows = _rows(notebook, Shown(request, desk))
        return page(request, desk, "tuning.html", status, here="notebook", rows=rows, fault=fault, said=said)

    @routes.get("/tuning")
    def tuning(request: Request, new: int = -1) -> Response:
        said = Shown(request, desk).say("tuning.kept", n=new) if new >= 0 else ""
        return tuning_page(request, said=said)

    def preview(request: Request, name: str, options: dict[str, str], status: int = 200, fault: str = "") -> Response:
        """What was understood of a file, or why it was not, with what can be said besides."""
        held, show = files.get(name), Shown(request, desk)
        if held is None:
            return tuning_page(request, 422, show.say("tuning.gone"))
        from underglass.services.logger_import import preview_of

        rows, understood = list[dict[str, Any]](), tuple[str, ...]()
        try:
            readings, understood = _read(desk, held, options)
            rows = preview_of(readings)
        except InputError as error:
            fault, status = str(error), 422
        for row in rows:
            for key in ("first", "last"):
                local = desk.local(row[key])
                row[key] = f"{show.day(local.date().isoformat())} {local:%H:%M}"
        household = desk.household()
        assert household is not None
        return page(
            request, desk, "preview.html", status, here="notebook", held=name, label=held.label, rows=rows, understood=understood,
            said=said_of_file, options=options, fault=said_of_file(fault, show), shelters=household.shelters,
        )  # fmt: skip

    @routes.post("/tuning/file")
    async def file(request: Request) -> Response:
        async with request.form(max_files=1, max_fields=10) as sent:
            check_form(request, str(sent.get("token", "")))
            upload, shelter = sent.get("file"), str(sent.get("shelter", ""))[:200]
            if not isinstance(upload, UploadFile) or not upload.size:
                return tuning_page(request, 422, Shown(request, desk).say("copies.choose"))
            return await run_in_threadpool(take, request, upload, shelter)

    def take(request: Request, upload: UploadFile, shelter: str) -> Response:
        from underglass.sources.table import decode

        if desk.household() is None:
            return nobody_yet(request, desk)
        label = label_of(upload.filename)
        name = files.put(Held(decode(upload.file.read(), label, lenient=True), label))
        return preview(request, name, {"shelter": shelter, "units": "", "order": "", "zone": "", "columns": ""})

    @routes.post("/tuning/preview")
    def again(
        request: Request, token: Text = "", held: Text = "", shelter: Text = "", units: Text = "", order: Text = "",
        zone: Text = "", columns: Text = "", keep: Text = "",
    ) -> Response:  # fmt: skip
        """The preview anew with what was said besides, or keep what was understood."""
        check_form(request, token)
        options = {
            "shelter": shelter, "units": units if units in ("c", "f") else "", "order": order if order in ("mdy", "dmy") else "",
            "zone": zone, "columns": columns,
        }  # fmt: skip
        found = files.get(held)
        if not keep or found is None:
            return preview(request, held, options)
        from underglass.services.logger_import import keep_readings

        try:
            readings, _ = _read(desk, found, options)
            with desk.home.open() as notebook:
                new = keep_readings(notebook, readings, shelter, found.label)
        except (InputError, NotebookError) as error:
            return preview(request, held, options, 422, str(error))
        return RedirectResponse(f"/tuning?new={new}", 303)

    @routes.get("/tuning/result")
    def result(request: Request, shelter: str = "") -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        with desk.home.open() as notebook:
            rows = {r["name"]: r for r in _rows(notebook, Shown(request, desk))}
        if not rows.get(shelter, {}).get("readings"):
            return tuning_page(request, 422, Shown(request, desk).say("tuning.no_readings"))
        job = _fit(desk, shelter)
        if not job.done or job.fault:
            return wait(request, desk, "notebook", job)
        show = Shown(request, desk)
        return page(
            request, desk, "tuned.html", here="notebook", shelter=shelter, told=told(job.answer, show),
            said=said_of_file, understood=job.answer["understood"], questions=job.answer["questions"], since=rows[shelter]["since"],
        )  # fmt: skip

    @routes.post("/tuning/keep")
    def keep_it(request: Request, token: Text = "", shelter: Text = "") -> Response:
        check_form(request, token)
        from underglass.services.tune import keep_tuning

        job = _fit(desk, shelter)
        if not job.done or job.fault:
            return RedirectResponse("/tuning", 303)
        with desk.home.open() as notebook:
            keep_tuning(notebook, job.answer)
        return RedirectResponse("/tuning", 303)

    @routes.post("/tuning/undo")
    def undo(request: Request, token: Text = "", shelter: Text = "") -> Response:
        check_form(request, token)
        from underglass.services.tune import undo_tuning

        try:
            with desk.home.open() as notebook:
                undo_tuning(notebook, shelter)
        except InputError as error:
            return tuning_page(request, 422, str(error))
        return RedirectResponse("/tuning", 303)

    return routes
