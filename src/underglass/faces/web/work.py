"""Long work as a page sees it: its progress as it comes, stopping it, and asking anew; without script the page asks again by itself."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response, StreamingResponse

from underglass.faces.web.desk import Desk
from underglass.faces.web.jobs import Job
from underglass.faces.web.show import Shown, check_form, page

__all__ = ["router", "wait"]

Text = Annotated[str, Form(max_length=200)]
BEAT_S = 0.2


def wait(request: Request, desk: Desk, here: str, job: Job) -> Response:
    """The page that shows a job, until it is done or where it failed; it is the page to come back to."""
    job.back = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    answer = page(request, desk, "wait.html", here=here, job=job)
    answer.headers["x-passing"] = "1"  # nothing that a phone should keep to be read later
    return answer


def router(desk: Desk) -> APIRouter:
    """The routes of running work."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/task/{job_id}")
    async def watch(request: Request, job_id: str) -> Response:
        job = desk.jobs.by_id(job_id)
        if job is None:
            return PlainTextResponse("no such work", 404)

        show = Shown(request, desk)

        async def events() -> AsyncIterator[str]:
            while True:
                state = {
                    "share": round(job.share, 3),
                    "doing": show.doing(job.doing) if job.doing else "",
                    "done": job.done,
                }
                yield f"data: {json.dumps(state)}\n\n"
                if job.done:
                    return
                await asyncio.sleep(BEAT_S)

        return StreamingResponse(events(), media_type="text/event-stream")

    @routes.post("/task/{job_id}/stop")
    def stop(request: Request, job_id: str, token: Text = "") -> Response:
        check_form(request, token)
        job = desk.jobs.by_id(job_id)
        if job is not None and not job.done:
            desk.jobs.stop(job)
        return RedirectResponse(job.back if job else "/", 303)

    @routes.post("/task/{job_id}/again")
    def again(request: Request, job_id: str, token: Text = "") -> Response:
        check_form(request, token)
        job = desk.jobs.by_id(job_id)
        if job is not None:
            desk.jobs.forget(job)
        return RedirectResponse(job.back if job else "/", 303)

    return routes
