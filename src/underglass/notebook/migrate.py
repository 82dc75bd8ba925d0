"""The schema, step by step: numbered .sql files, each applied once in one transaction together with its record."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files

from underglass.errors import NotebookError

__all__ = ["APPLICATION_ID", "migrate", "newest_schema", "schema_of"]

APPLICATION_ID = 0x55474E42
"""Marks an SQLite file as a notebook of ours ('UGNB')."""

RECORD = "CREATE TABLE IF NOT EXISTS migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL, applied TEXT NOT NULL) STRICT"


@cache
def _shipped() -> dict[int, tuple[str, str]]:
    """Name and text of each migration by its number."""
    folder = files("underglass.notebook") / "migrations"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".sql"))
    return {int(name[:4]): (name, (folder / name).read_text(encoding="utf-8")) for name in names}


def newest_schema() -> int:
    """Number of the schema that this version of the package writes."""
    return max(_shipped())


def schema_of(db: sqlite3.Connection) -> int:
    """Number of the schema of an open file; 0 for an empty one.  Raises NotebookError for a file of something else, or a newer schema."""
    tables = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if "migrations" not in tables:
        if tables:
            raise NotebookError("it is an SQLite file, but not a notebook of ours")
        return 0
    (number,) = db.execute("SELECT coalesce(max(number), 0) FROM migrations").fetchone()
    if number > newest_schema():
        raise NotebookError(
            f"it was written by a newer Underglass (schema {number}, this one knows {newest_schema()}); update this program to use it"
        )
    return int(number)


def _statements(script: str) -> Iterator[str]:
    """The statements of a script one by one: `executescript` would commit in between."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def migrate(db: sqlite3.Connection, to: int | None = None) -> None:
    """Bring an open file to a schema (default: the newest).  Another process doing the same meanwhile is waited for."""
    for number, (name, script) in sorted(_shipped().items()):
        if number > (newest_schema() if to is None else to):
            return
        db.execute("BEGIN IMMEDIATE")
        try:
            if schema_of(db) < number:
                db.execute(RECORD)
                db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                for statement in _statements(script):
                    db.execute(statement)
                db.execute("INSERT INTO migrations VALUES (?, ?, ?)", (number, name, datetime.now(UTC).isoformat()))
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
