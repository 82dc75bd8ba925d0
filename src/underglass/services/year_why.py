"""Why this sowing and not that: the runner-up and what it costs.  Plain data, documented in docs/json.md."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue, find_crop
from underglass.errors import InputError
from underglass.plan.basket import Chosen
from underglass.plan.decide import counted
from underglass.plan.explain import Measure, Without, instead_of, with_crop, without_pin, without_sowing
from underglass.plan.household import Household
from underglass.plan.optimise import Task
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather
from underglass.services.year import sowing_id, sowing_row, stepper, year_plan, year_task

__all__ = ["explain_sowing"]

VERSION = 1


def explain_sowing(
    household: Household,
    on: np.datetime64,
    which: str,
    *,
    plan: Mapping[str, Any] | None = None,
    n_years: int = 30,
    seed: int = 1,
    read: ReadWeather | None = None,
    use_cache: bool = True,
    progress: Progress = silent,
) -> dict[str, Any]:
    """Why a plan has these sowings: each forbidden in turn and the plan found again; or why a crop is not in it.

    which : a sowing's id in the plan, or a crop;  plan : the answer of year_plan to ask about, None: the plan is made first
    Raises InputError for a crop that there is not, or a sowing that the plan has not.
    """
    asked: dict[str, Any] = {
        "n_years": n_years,
        "seed": seed,
        "read": read,
        "use_cache": use_cache,
        "progress": progress,
    }
    if plan is None:
        plan = year_plan(household, on, **asked)
    if not plan["possible"]:
        raise InputError("there is no plan to ask about: see what is in its way with `underglass year`")
    task, _ = year_task(household, on, earlier=plan, **asked)
    blocks = counted(task).solution.x
    ids = {sowing_id(o.candidate): j for j, o in enumerate(task.options)}
    crop = None if which in ids else find_crop(which)
    numbers = [ids[which]] if crop is None else [j for j, o in enumerate(task.options) if o.crop.id == crop.id]
    found = [j for j in numbers if blocks[j] > 0.0]
    step = stepper(progress, 0.85, 0.99, "looking for the runner-up")
    answer: dict[str, Any] = {
        "version": VERSION,
        "date": str(on),
        "household": household.name,
        "crop": which if crop is None else crop.id,
    }
    answer["sowings"] = [_explained(task, blocks, j, step) for j in found]
    answer["left_out"] = None if found or crop is None else _left_out(task, blocks, crop.id, step)
    progress(1.0, "done")
    return answer


def _explained(task: Task, blocks: NDArray[np.float64], j: int, step: Any) -> dict[str, Any]:
    option = task.options[j]
    row = sowing_row(task, Chosen(j, option, round(float(blocks[j]))))
    answer: dict[str, Any] = {"sowing": row, "without": None, "instead": [], "decided": None}
    if option.standing:
        return answer
    answer["without"] = _beside(task, without_sowing(task, blocks, j, step))
    answer["instead"] = [
        sowing_row(task, Chosen(i.option, task.options[i.option], 1)) | {"costs_servings": round(i.costs, 1)}
        for i in instead_of(task, blocks, j)
    ]
    pins = [i for i, numbers in enumerate(task.pinned) if j in numbers]
    if pins:
        answer["decided"] = _beside(task, without_pin(task, blocks, pins[0], step))
    return answer


def _left_out(task: Task, blocks: NDArray[np.float64], crop_id: str, step: Any) -> dict[str, Any]:
    name = catalogue()[crop_id].name
    if all(o.crop.id != crop_id for o in task.options):
        return {"crop": crop_id, "name": name, "why": "not offered", "sowing": None, "with": None}
    found = with_crop(task, blocks, crop_id, step)
    if found is None:
        return {"crop": crop_id, "name": name, "why": "no room", "sowing": None, "with": None}
    j, beside = found
    row = sowing_row(task, Chosen(j, task.options[j], 1))
    return {"crop": crop_id, "name": name, "why": "others bring more", "sowing": row, "with": _beside(task, beside)}


def _beside(task: Task, found: Without) -> dict[str, Any]:
    """Another plan beside the chosen one, in numbers and sowings."""
    return {
        "costs_servings": round(found.costs, 1),
        "before": _measure(found.before),
        "after": _measure(found.after),
        "comes": [sowing_row(task, Chosen(j, task.options[j], n)) for j, n in found.comes.items()],
        "goes": [sowing_row(task, Chosen(j, task.options[j], n)) for j, n in found.goes.items()],
    }


def _measure(m: Measure) -> dict[str, Any]:
    return {"servings": round(m.servings, 1), "worst_years": round(m.worst, 1), "weeks": m.weeks}
