"""Copies of the notebook: everything as one file to take along, such a file read back, backups made and brought back.

This page works also where the notebook itself cannot be read.  No name from a request ever becomes a path: a backup is found among those
that are there, and what is sent is written under a name of our own.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.background import BackgroundTask
from starlette.datastructures import UploadFile

from underglass.errors import InputError, NotebookError
from underglass.faces.web.desk import Desk
from underglass.faces.web.show import Shown, check_form, page
from underglass.notebook.archive import export_archive, import_archive
from underglass.notebook.backup import backups, make_backup, restore
from underglass.notebook.store import open_notebook
from underglass.services.household_store import forget_strange_weather

__all__ = ["router"]

Text = Annotated[str, Form(max_length=200)]
OCCASIONS = {"restore": "restore_former"}


def _made(backup: Path) -> datetime:
    """When a backup was made, by its name."""
    return datetime.fromisoformat(f"{backup.stem.rsplit('-', 1)[1][:15]}+00:00")


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    def copies_page(request: Request, status: int = 200, fault: str = "", said: str = "") -> Response:
        show = Shown(request, desk)
        rows: list[dict[str, Any]] = []
        for backup in backups(desk.home.path()):
            local = desk.local(_made(backup))
            occasion = backup.name.split("-")[0]
            rows.append({
                "name": backup.name, "when": f"{show.day(local.date().isoformat())} {local.year}, {local:%H:%M}",
                "why": show.say(f"copies.{OCCASIONS.get(occasion, occasion)}", or_else=occasion), "kb": round(backup.stat().st_size / 1000),
            })  # fmt: skip
        return page(
            request, desk, "copies.html", status, here="notebook", rows=rows, fault=fault, said=said, folder=str(desk.folder),
            there=desk.home.path().exists(),
        )  # fmt: skip

    def tried(request: Request, work: Callable[[], object], said: str) -> Response:
        try:
            work()
        except (InputError, NotebookError) as error:
            return copies_page(request, 422, str(error))
        return RedirectResponse(f"/notebook/copies?said={said}", 303)

    @routes.get("/notebook/copies")
    def copies(request: Request, said: str = "") -> Response:
        words = Shown(request, desk).say(f"copies.said_{said}") if said in ("made", "back", "read") else ""
        return copies_page(request, said=words)

    @routes.get("/notebook/archive.zip")
    def export() -> Response:
        """Everything as one file."""
        folder = Path(tempfile.mkdtemp(prefix="underglass-"))
        try:
            with desk.home.open() as notebook:
                export_archive(notebook, folder / "archive.zip")
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
        name = f"underglass-{desk.local(desk.now()):%Y-%m-%d}.zip"
        gone = BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
        return FileResponse(folder / "archive.zip", media_type="application/zip", filename=name, background=gone)

    @routes.post("/notebook/backup")
    def backup(request: Request, token: Text = "") -> Response:
        check_form(request, token)

        def work() -> None:
            with desk.home.open() as notebook:
                make_backup(notebook.db, notebook.path, "hand", desk.now())

        return tried(request, work, "made")

    @routes.post("/notebook/restore")
    def bring_back(request: Request, token: Text = "", name: Text = "") -> Response:
        check_form(request, token)
        path = desk.home.path()
        found = next((b for b in backups(path) if b.name == name), None)
        if found is None:
            return copies_page(request, 422, Shown(request, desk).say("copies.no_backup"))

        def work() -> None:
            desk.home.let_go()
            restore(path, found, desk.now())

        return tried(request, work, "back")

    @routes.post("/notebook/archive")
    async def read_back(request: Request) -> Response:
        async with request.form(max_files=1, max_fields=10) as sent:
            check_form(request, str(sent.get("token", "")))
            return await run_in_threadpool(archive, request, sent.get("archive"), sent.get("sure") == "1")

    def archive(request: Request, upload: object, sure: bool) -> Response:
        say = Shown(request, desk).say
        if not isinstance(upload, UploadFile) or not upload.size:
            return copies_page(request, 422, say("copies.choose"))
        path = desk.home.own
        if path.exists() and not sure:
            return copies_page(request, 422, say("copies.be_sure"))
        with tempfile.TemporaryDirectory(prefix="underglass-") as folder:
            source = Path(folder) / "archive.zip"
            with open(source, "wb") as out:
                shutil.copyfileobj(upload.file, out)

            weather_file = desk.home.own_weather_file()

            def work() -> None:
                desk.home.let_go()
                try:
                    import_archive(source, path, desk.now(), replace=True)
                except InputError as error:
                    raise InputError(str(error).replace(str(source), say("copies.the_file"))) from None
                with open_notebook(path, clock=desk.now) as notebook:
                    forget_strange_weather(notebook, weather_file)

            return tried(request, work, "read")

    return routes
