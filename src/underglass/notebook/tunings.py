"""What readings taught about each shelter: at most one set of values is active, and the one before comes back when it is undone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from underglass.errors import InputError
from underglass.notebook.records import Tuning
from underglass.notebook.store import Notebook

__all__ = ["active", "add", "undo"]


def active(notebook: Notebook, shelter_id: str) -> Tuning | None:
    """The values in force for a shelter, None where it is as it was described."""
    found = notebook.find(Tuning, "shelter_id = ? AND active", shelter_id)
    return found[-1] if found else None


def add(
    notebook: Notebook,
    shelter_id: str,
    parameters: dict[str, float],
    intervals: dict[str, tuple[float, float]],
    quality: dict[str, Any] | None = None,
) -> Tuning:
    """Put fitted values in force instead of those before; within a transaction."""
    for old in notebook.find(Tuning, "shelter_id = ? AND active", shelter_id):
        notebook.update(replace(old, active=False))
    return notebook.add(
        Tuning(shelter_id=shelter_id, parameters=parameters, intervals=intervals, quality=quality or {})
    )


def undo(notebook: Notebook, shelter_id: str) -> Tuning | None:
    """Take the active values out of force; within a transaction.  Returns those before, now in force again, None where there were none.

    Raises InputError where the shelter is not tuned.
    """
    now = active(notebook, shelter_id)
    if now is None:
        raise InputError("this shelter is not tuned; there is nothing to undo")
    earlier = notebook.find(Tuning, "shelter_id = ? AND NOT active AND created < ?", shelter_id, now.created)
    notebook.remove(now)
    return notebook.update(replace(earlier[-1], active=True)) if earlier else None
