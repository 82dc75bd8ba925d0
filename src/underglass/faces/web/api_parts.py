"""What the parts of the API share: the models of faults and of running work, and whole numbers as JSON has them."""

from __future__ import annotations

from fastapi.responses import JSONResponse
from pydantic import BaseModel, BeforeValidator

from underglass.faces.web.jobs import Job

__all__ = ["Fault", "Whole", "Working", "answer_of"]


class Fault(BaseModel):
    """What was wrong, in a sentence."""

    fault: str


class Working(BaseModel):
    """The answer is being computed: ask again."""

    share: float
    doing: str


def _whole(value: object) -> object:
    """JSON knows no whole numbers: 10.0 is one as well as 10, but "10" and true are none."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


Whole = BeforeValidator(_whole)


def answer_of(job: Job) -> JSONResponse:
    """What a job has to say by now."""
    if not job.done:
        return JSONResponse({"share": job.share, "doing": job.doing}, 202, {"retry-after": "1"})
    if job.fault:
        return JSONResponse({"fault": job.fault}, 404)
    return JSONResponse(job.answer)
