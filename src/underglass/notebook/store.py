"""The open notebook: transactions, and adding, changing, removing and finding records of any kind."""

from __future__ import annotations

import json
import os
import sqlite3
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Literal, Self, TypeVar

from underglass.errors import InputError, NotebookError
from underglass.notebook.backup import backups, make_backup, newest_backup
from underglass.notebook.columns import SqlValue, columns_of, decode, encode, quoted, to_sql
from underglass.notebook.faults import Changed, Damaged, plain_faults
from underglass.notebook.migrate import migrate, newest_schema, schema_of
from underglass.notebook.records import PlannedDay, Record

__all__ = ["Notebook", "open_notebook"]

R = TypeVar("R", bound=Record)
Clock = Callable[[], datetime]

UNLOGGED = (PlannedDay.TABLE,)
"""Tables that are no part of the history: what they hold is not something that a person did."""

BUSY_S = 10.0
"""How long a write waits for another program's to end."""


def utc_now() -> datetime:
    """The time, UTC."""
    return datetime.now(UTC)


class Notebook:
    """An open notebook.  Close it, or use it in a `with`; not for two threads at one time.

    path : the file    db : its connection, for the rooms of the notebook only    backup_fault : why today's backup could not be made, '' if it was
    """

    def __init__(self, path: Path, db: sqlite3.Connection, clock: Clock = utc_now) -> None:
        self.path, self.db, self.clock = path, db, clock
        self.backup_fault = ""
        self._change_id = 0
        self._change: tuple[str, Literal["do", "undo", "redo"], int | None] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let the file go."""
        self.db.close()

    @contextmanager
    def transaction(self, what: str) -> Iterator[None]:
        """All that is written in the block is kept when it ends, as one change called `what` in the history; nothing of it after an error.

        Raises NotebookError where it could not be kept.
        """
        if self._change is not None:
            raise RuntimeError("a transaction is already open")
        with plain_faults(self.path, newest_backup(self.path)):
            self._daily_backup()
            self.db.execute("BEGIN IMMEDIATE")
            self._change, self._change_id = (what, "do", None), 0
            try:
                yield
                self.db.execute("COMMIT")
            finally:
                self._change = None
                if self.db.in_transaction:
                    self.db.execute("ROLLBACK")

    def _daily_backup(self) -> None:
        """Copy yesterday's state before the first entry of a day; a copy that cannot be made does not hinder the entry."""
        now = self.clock()
        if any(b.name.startswith(f"daily-{now:%Y%m%d}T") for b in backups(self.path)):
            return
        if self.db.execute("SELECT 1 FROM changes LIMIT 1").fetchone() is None:
            return
        try:
            make_backup(self.db, self.path, "daily", now)
        except Damaged:
            raise
        except NotebookError as error:
            self.backup_fault = f"today's backup could not be made: {error}"

    def name_change(self, what: str, kind: Literal["do", "undo", "redo"] = "do", of: int | None = None) -> None:
        """Say what the change is, once it is known; before the first write of the transaction."""
        if self._change is None or self._change_id:
            raise RuntimeError("name a change within its transaction and before its first write")
        self._change = (what, kind, of)

    def _log(
        self, table: str, record_id: str, before: dict[str, SqlValue] | None, after: dict[str, SqlValue] | None
    ) -> None:
        """Add a row to the journal, and the change it belongs to with the first of them."""
        if self._change is None:
            raise RuntimeError("open a transaction before writing: `with notebook.transaction(...)`")
        if table in UNLOGGED:
            return
        if not self._change_id:
            values = (to_sql(self.clock()), *self._change)
            made = self.db.execute("INSERT INTO changes (at, what, kind, of) VALUES (?, ?, ?, ?)", values)
            self._change_id = int(made.lastrowid or 0)
        texts = [None if row is None else json.dumps(row, ensure_ascii=False) for row in (before, after)]
        self.db.execute(
            'INSERT INTO journal (change_id, "table", record_id, before, after) VALUES (?, ?, ?, ?, ?)',
            (self._change_id, table, record_id, *texts),
        )

    def put_row(self, table: str, before: dict[str, SqlValue] | None, after: dict[str, SqlValue] | None) -> None:
        """Write, change or delete one row as it is, with its line in the journal: what all other writing goes through."""
        row = after or before or {}
        self._log(table, str(row["id"]), before, after)
        if before is not None and after is not None:
            sets = ", ".join(f'"{name}" = :{name}' for name in after)
            self.db.execute(f'UPDATE "{table}" SET {sets} WHERE id = :id', after)
        elif after is not None:
            marks = ", ".join(f":{name}" for name in after)
            self.db.execute(f'INSERT INTO "{table}" ({quoted(tuple(after))}) VALUES ({marks})', after)
        else:
            self.db.execute(f'DELETE FROM "{table}" WHERE id = :id', row)

    def row(self, table: str, record_id: str) -> dict[str, SqlValue] | None:
        """One row as it is, None where there is none."""
        found = self.db.execute(f'SELECT * FROM "{table}" WHERE id = ?', (record_id,))
        values = found.fetchone()
        return None if values is None else dict(zip([c[0] for c in found.description], values, strict=True))

    def add(self, record: R) -> R:
        """Write a new record; returns it with its id, time and version.

        An id may be given, as by a phone that was offline: what is sent twice is kept once, and the first stands.
        """
        there = self.get_or_none(type(record), record.id) if record.id else None
        if there is not None:
            return there
        given = replace(record, id=record.id or uuid.uuid4().hex, created=self.clock(), version=1)
        row = encode(given)
        self._write(record.TABLE, None, row)
        return decode(type(record), row)

    def update(self, record: R) -> R:
        """Write a changed record over the version that it was read with.  Raises Changed where somebody was faster."""
        stands = self.row(record.TABLE, record.id)
        if stands is None or stands["version"] != record.version:
            raise Changed(record, None if stands is None else decode(type(record), stands))
        row = encode(replace(record, version=record.version + 1))
        self._write(record.TABLE, stands, row)
        return decode(type(record), row)

    def remove(self, record: Record) -> None:
        """Take a record out.  Raises Changed where it was changed meanwhile, InputError where others refer to it."""
        stands = self.row(record.TABLE, record.id)
        if stands is None or stands["version"] != record.version:
            raise Changed(record, None if stands is None else decode(type(record), stands))
        self._write(record.TABLE, stands, None)

    def _write(self, table: str, before: dict[str, SqlValue] | None, after: dict[str, SqlValue] | None) -> None:
        try:
            self.put_row(table, before, after)
        except sqlite3.IntegrityError as error:
            raise InputError(_refusal(table, str(error), after is None)) from None

    def get_or_none(self, kind: type[R], record_id: str) -> R | None:
        """A record by its id, None where there is none."""
        row = self.row(kind.TABLE, record_id)
        return None if row is None else decode(kind, row)

    def get(self, kind: type[R], record_id: str) -> R:
        """A record by its id.  Raises InputError where there is none."""
        found = self.get_or_none(kind, record_id)
        if found is None:
            raise InputError(f"{kind.TABLE}: there is no entry {record_id!r}; it may have been removed")
        return found

    def find(self, kind: type[R], where: str = "1", *values: object, order: str = "created, rowid") -> list[R]:
        """Records that fulfil a condition in SQL, as `find(Reading, "shelter_id = ? AND at >= ?", box.id, monday)`.

        where, order : written by us, never by a person; what a person gave goes into `values`
        """
        names = columns_of(kind)
        with plain_faults(self.path, newest_backup(self.path)):
            rows = self.db.execute(
                f'SELECT {quoted(names)} FROM "{kind.TABLE}" WHERE {where} ORDER BY {order}',
                [to_sql(v) for v in values],
            ).fetchall()
        return [decode(kind, dict(zip(names, row, strict=True))) for row in rows]


def _refusal(table: str, said: str, removing: bool) -> str:
    """What the rules between tables say, in a sentence."""
    if "UNIQUE" in said:
        return f"{table}: there is already an entry with this {said.rsplit('.', 1)[-1]}"
    if removing:
        return f"{table}: other entries belong to this one; remove them first, or mark it as done"
    return f"{table}: it belongs to an entry that is not there (any more)"


def open_notebook(path: Path, *, create: bool = False, clock: Clock = utc_now) -> Notebook:
    """Open a notebook, bringing an older schema up to date after a backup.

    Raises NotebookError in one sentence: not there, not ours, newer than this program, damaged, or not writable.
    """
    with plain_faults(path, newest_backup(path)):
        if not path.exists():
            if not create:
                raise NotebookError(f"there is no notebook yet at {path}; `underglass note start` begins one")
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        db = _connect(path)
        try:
            schema = schema_of(db)
            if schema < newest_schema():
                if schema:
                    make_backup(db, path, "schema", clock())
                migrate(db)
        except NotebookError as error:
            db.close()
            raise NotebookError(f"{path}: {error}") from None
        except BaseException:
            db.close()
            raise
    return Notebook(path, db, clock)


def _connect(path: Path) -> sqlite3.Connection:
    """A connection that waits for others and keeps what it was told.  A file on a read-only disk can still be read."""
    if os.access(path.parent, os.W_OK) and (not path.exists() or os.access(path, os.W_OK)):
        db = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
        db.execute("PRAGMA journal_mode = WAL")
    else:
        beside = "" if Path(f"{path}-wal").exists() else "&immutable=1"
        address = f"{path.resolve().as_uri()}?mode=ro{beside}"
        db = sqlite3.connect(address, uri=True, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA synchronous = FULL")  # an entry that was acknowledged is on the disk, not on its way to it
    return db
