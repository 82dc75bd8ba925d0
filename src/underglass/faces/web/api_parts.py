"""What the parts of the API share: the models of faults, of running work and of what was kept, and whole numbers and days as JSON has them."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Any

from fastapi.responses import JSONResponse
from pydantic import BaseModel, BeforeValidator

from underglass.faces.web.jobs import Job

__all__ = ["Conflict", "Day", "Fault", "Kept", "Whole", "Working", "answer_of"]


class Fault(BaseModel):
    """What was wrong, in a sentence."""

    fault: str


class Working(BaseModel):
    """The answer is being computed: ask again."""

    share: float
    doing: str


class Kept(BaseModel):
    """The record that was written."""

    id: str
    version: int


class Conflict(BaseModel):
    """Somebody else was faster: nothing was overwritten.  theirs : what stands there now, null: it was removed"""

    fault: str
    theirs: dict[str, Any] | None


def _whole(value: object) -> object:
    """JSON knows no whole numbers: 10.0 is one as well as 10, but "10" and true are none."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


Whole = BeforeValidator(_whole)


def _day(value: object) -> object:
    """Year-month-day and nothing else."""
    if not isinstance(value, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        raise ValueError("expected year-month-day")
    return date.fromisoformat(value)


Day = Annotated[date, BeforeValidator(_day)]


def answer_of(job: Job) -> JSONResponse:
    """What a job has to say by now."""
    if not job.done:
        return JSONResponse({"share": job.share, "doing": job.doing}, 202, {"retry-after": "1"})
    if job.fault:
        return JSONResponse({"fault": job.fault}, 404)
    return JSONResponse(job.answer)
