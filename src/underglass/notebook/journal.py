"""The history of a notebook, and going back in it.

Every transaction that wrote something is one change, with each row it touched before and after.  An undo writes the rows of a change back as they
were and is a change itself, so that it can be undone by a redo; nothing is ever taken out of the journal.  Versions only grow: a row that was
brought back counts as changed, so nobody who read it before can overwrite it unseen.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from underglass.errors import InputError
from underglass.notebook.columns import KINDS, SqlValue, columns_of, decode
from underglass.notebook.faults import Changed, plain_faults
from underglass.notebook.store import Notebook

__all__ = ["Change", "changes", "redo", "undo"]

UNDONE = "(SELECT kind FROM changes AS later WHERE later.of = changes.id ORDER BY later.id DESC LIMIT 1) IS 'undo'"
"""Whether the last word on a change was an undo."""


@dataclass(frozen=True, slots=True)
class Change:
    """One step of the history.  kind : do, undo or redo    of : the change that was undone or redone    undone : it does not hold now"""

    id: int
    at: datetime
    what: str
    kind: Literal["do", "undo", "redo"]
    of: int | None
    undone: bool


def changes(notebook: Notebook, limit: int = 50, where: str = "1", *values: SqlValue) -> list[Change]:
    """The newest steps of the history, newest first."""
    with plain_faults(notebook.path):
        rows = notebook.db.execute(
            f"SELECT id, at, what, kind, of, {UNDONE} FROM changes WHERE {where} ORDER BY id DESC LIMIT ?",
            (*values, limit),
        ).fetchall()
    return [Change(i, datetime.fromisoformat(at), what, kind, of, bool(gone)) for i, at, what, kind, of, gone in rows]


def undo(notebook: Notebook, change_id: int | None = None) -> Change:
    """Take back a change, by default the last one that still holds; within a transaction.

    Returns what was taken back.  Raises InputError where there is nothing to undo, Changed where its records were changed since.
    """
    if change_id is None:
        found = changes(notebook, 1, f"kind = 'do' AND NOT {UNDONE}")
    else:
        found = changes(notebook, 1, f"id = ? AND kind = 'do' AND NOT {UNDONE}", change_id)
    if not found:
        raise InputError("there is nothing to undo" if change_id is None else _why_not(notebook, change_id))
    notebook.name_change(f"undone: {found[0].what}", "undo", found[0].id)
    _write_back(notebook, found[0].id)
    return found[0]


def _why_not(notebook: Notebook, change_id: int) -> str:
    known = changes(notebook, 1, "id = ?", change_id)
    if not known:
        return f"the history has no entry {change_id}"
    return f"entry {change_id} {'does not hold any more' if known[0].undone else 'is itself a step back or forth: undo the entry it names'}"


def redo(notebook: Notebook) -> Change:
    """Take back the last undo, as long as nothing new was written since; within a transaction.

    Returns what holds again.  Raises InputError where there is nothing to redo.
    """
    undos = changes(
        notebook,
        1,
        "kind = 'undo' AND id > (SELECT coalesce(max(id), 0) FROM changes WHERE kind = 'do')"
        " AND id = (SELECT max(id) FROM changes AS other WHERE other.of = changes.of)",
    )
    if not undos or undos[0].of is None:
        raise InputError("there is nothing to redo")
    (taken_back,) = changes(notebook, 1, "id = ?", undos[0].of)
    notebook.name_change(f"redone: {taken_back.what}", "redo", taken_back.id)
    _write_back(notebook, undos[0].id)
    return taken_back


def _write_back(notebook: Notebook, change_id: int) -> None:
    """Write the rows of a change as they were before it, the last first."""
    rows = notebook.db.execute(
        'SELECT "table", record_id, before, after FROM journal WHERE change_id = ? ORDER BY id DESC', (change_id,)
    ).fetchall()
    for table, record_id, before_text, after_text in rows:
        before, after = _row(table, before_text), _row(table, after_text)
        stands = notebook.row(table, record_id)
        if _apart_from_version(stands) != _apart_from_version(after):
            wanted: dict[str, SqlValue] = before or after or {}
            raise Changed(decode(KINDS[table], wanted), None if stands is None else decode(KINDS[table], stands))
        if before is not None:
            before["version"] = max(_version(row) for row in (before, after, stands)) + 1
        try:
            notebook.put_row(table, stands, before)
        except sqlite3.IntegrityError:
            raise InputError("this cannot be undone: later entries belong to it; undo those first") from None


def _row(table: str, text: str | None) -> dict[str, SqlValue] | None:
    """A row out of the journal; only with the columns that its table has now, whoever wrote the journal."""
    if text is None:
        return None
    row: dict[str, SqlValue] = json.loads(text)
    if table not in KINDS or set(row) != set(columns_of(KINDS[table])):
        raise InputError("this was written by an older Underglass, before its tables changed, and cannot be undone")
    return row


def _version(row: dict[str, SqlValue] | None) -> int:
    return int(row["version"] or 0) if row else 0


def _apart_from_version(row: dict[str, SqlValue] | None) -> dict[str, SqlValue] | None:
    return None if row is None else {**row, "version": 0}
