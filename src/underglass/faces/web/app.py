"""The application: guard, pages, API, and what makes it installable."""

from __future__ import annotations

import hashlib
from functools import cache, partial
from importlib.resources import files
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, PlainTextResponse, Response
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from underglass.errors import InputError, NotebookError
from underglass.faces.web import (
    copies,
    edit,
    inside,
    notebook,
    records,
    seeds,
    set_out,
    shelters,
    sow,
    today,
    tuning,
    welcome,
    wishes,
    work,
    year,
)
from underglass.faces.web.api import api
from underglass.faces.web.desk import Desk
from underglass.faces.web.guard import Guard
from underglass.faces.web.show import Shown, page

__all__ = ["create_app"]

STATIC = Path(str(files("underglass.faces.web"))) / "static"


@cache
def static_mark() -> str:
    """Changes with every change of the static files, so that a phone's kept copies are let go."""
    return hashlib.sha256(b"".join(p.read_bytes() for p in sorted(STATIC.iterdir()))).hexdigest()[:12]


def create_app(desk: Desk, *, lan: bool = False) -> Guard:
    """The pages and the API of one household, behind the guard."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    for routes in (
        welcome.router(desk, lan),
        today.router(desk),
        set_out.router(desk),
        sow.router(desk),
        shelters.router(desk),
        seeds.router(desk),
        year.router(desk),
        wishes.router(desk),
        inside.router(desk),
        notebook.router(desk),
        copies.router(desk),
        tuning.router(desk),
        edit.router(desk),
        records.router(
            desk, {"today": partial(today.show_today, desk), "notebook": partial(notebook.show_notebook, desk)}
        ),
        work.router(desk),
    ):
        app.include_router(routes)
    app.mount("/api", api(desk))
    app.mount("/static", StaticFiles(directory=STATIC))
    app.add_middleware(GZipMiddleware, minimum_size=800, compresslevel=5)

    @app.get("/manifest.webmanifest")
    def manifest(request: Request) -> Response:
        say = Shown(request, desk).say
        icons = [{"src": "/static/icon.svg", "sizes": "any", "type": "image/svg+xml", "purpose": "any maskable"}]
        icons += [{"src": f"/static/icon-{w}.png", "sizes": f"{w}x{w}", "type": "image/png"} for w in (192, 512)]
        return JSONResponse({"name": "Underglass", "short_name": "Underglass", "description": say("page.about"), "start_url": "/",
                             "display": "standalone", "background_color": "#f6f4ee", "theme_color": "#23443c", "icons": icons},
                            media_type="application/manifest+json")  # fmt: skip

    @app.get("/sw.js")
    def worker() -> Response:
        text = (STATIC / "sw.js").read_text(encoding="utf-8").replace("MARK", static_mark())
        return Response(text, media_type="text/javascript", headers={"cache-control": "no-cache"})

    @app.get("/healthz")
    def healthz() -> Response:
        return PlainTextResponse("ok")

    @app.exception_handler(InputError)
    async def wrong(request: Request, error: InputError) -> Response:
        return page(request, desk, "fault.html", 422, here="", said=str(error))

    @app.exception_handler(NotebookError)
    async def unreadable(request: Request, error: NotebookError) -> Response:
        return page(request, desk, "fault.html", 503, here="", said=str(error), link="/notebook/copies")

    @app.exception_handler(RequestValidationError)
    async def unfit(request: Request, error: RequestValidationError) -> Response:
        fields = ", ".join(dict.fromkeys(str(fault["loc"][-1]) for fault in error.errors()))
        return page(request, desk, "fault.html", 422, here="", said=Shown(request, desk).say("fault.address", fields=fields))  # fmt: skip

    @app.exception_handler(Exception)
    async def broken(request: Request, error: Exception) -> Response:
        # the server still writes the traceback to its own log; the person gets a sentence
        return page(request, desk, "fault.html", 500, here="", said=Shown(request, desk).say("fault.ours"))

    @app.exception_handler(404)
    async def lost(request: Request, error: Exception) -> Response:
        return page(request, desk, "fault.html", 404, here="", said=Shown(request, desk).say("fault.no_page"))

    return Guard(app, desk.devices, lan=lan)
