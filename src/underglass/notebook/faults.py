"""What can go wrong with the notebook's file, as one sentence each that says what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from underglass.errors import NotebookError
from underglass.notebook.records import Record

__all__ = ["Changed", "Damaged", "plain_faults"]


class Changed(NotebookError):
    """Somebody else changed or removed the record since it was read; carries both versions, and nothing was overwritten.

    mine : the record as it should have become     theirs : the record as it stands now, None where it was removed
    """

    def __init__(self, mine: Record, theirs: Record | None) -> None:
        what = "removed" if theirs is None else "changed"
        super().__init__(
            f"changed meanwhile: somebody else {what} this entry since it was read; look at it and save again"
        )
        self.mine, self.theirs = mine, theirs


class Damaged(NotebookError):
    """The file cannot be read as a notebook any more; the sentence names its newest backup."""

    def __init__(self, path: Path, newest_backup: Path | None) -> None:
        way_out = (
            f"its newest backup is {newest_backup}: `underglass note restore` brings it back"
            if newest_backup
            else "there is no backup; move the file away to begin a new one"
        )
        super().__init__(f"the notebook {path} is damaged and cannot be read; {way_out}")


def _code(error: sqlite3.Error) -> int:
    """SQLite's primary result code: the low byte of the extended one."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _sentence(error: sqlite3.Error, path: Path) -> str:
    said, code = str(error), _code(error)
    if code == sqlite3.SQLITE_FULL:
        return f"the disk is full: this was not kept in the notebook {path}, all earlier entries are safe; make room and try again"
    if code == sqlite3.SQLITE_READONLY:
        return f"the notebook {path} may not be written to: this was not kept; check who may write in its folder"
    if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return f"the notebook {path} cannot be opened; check that its folder is there and may be written to"
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return f"another program has been writing to the notebook {path} for a while: this was not kept; try again"
    if code == sqlite3.SQLITE_IOERR:
        return f"the disk refused to read or write the notebook {path} ({said}): this was not kept, all earlier entries are safe"
    return f"the notebook {path} could not be used: {said}"


@contextmanager
def plain_faults(path: Path, newest_backup: Path | None = None) -> Iterator[None]:
    """Turns what SQLite and the file system say into a NotebookError of one sentence."""
    try:
        yield
    except sqlite3.DatabaseError as error:
        if _code(error) in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise Damaged(path, newest_backup) from error
        raise NotebookError(_sentence(error, path)) from error
    except OSError as error:
        raise NotebookError(f"{error.filename or path}: {error.strerror or error}; nothing was changed") from error
