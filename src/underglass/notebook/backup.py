"""Dated copies of a notebook: once a day before the first entry, before every change of the schema, before a restore, and when asked for.

A copy is made with SQLite's backup, so it is whole even while others write, and moved into place when it is finished.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Literal

from underglass.errors import NotebookError
from underglass.notebook.faults import Damaged, plain_faults
from underglass.notebook.migrate import migrate, schema_of
from underglass.notebook.places import backup_folder

__all__ = ["backups", "copy_over", "keep_former", "make_backup", "newest_backup", "restore"]

Occasion = Literal["daily", "schema", "restore", "hand"]

KEEP: dict[str, int] = {"daily": 10, "schema": 5, "restore": 5}
"""How many of each are kept; those asked for by hand stay until somebody deletes them."""


def backups(path: Path) -> list[Path]:
    """The backups of a notebook, newest first."""
    found = backup_folder(path).glob("*-????????T????????????Z.sqlite")
    return sorted(found, key=lambda p: p.stem.rsplit("-", 1)[1], reverse=True)


def newest_backup(path: Path) -> Path | None:
    """The newest backup, None where there is none."""
    return next(iter(backups(path)), None)


def make_backup(db: sqlite3.Connection, path: Path, occasion: Occasion, now: datetime) -> Path:
    """A checked copy of an open notebook.  Raises NotebookError where it cannot be made; a damaged notebook never replaces a good copy."""
    folder = backup_folder(path)
    name = folder / f"{occasion}-{now:%Y%m%dT%H%M%S%fZ}.sqlite"
    beside = folder / f".{name.name}.{os.getpid()}.part"
    with plain_faults(path, newest_backup(path)):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        try:
            with closing(sqlite3.connect(beside)) as copy:
                db.backup(copy)
                (verdict,) = copy.execute("PRAGMA quick_check(1)").fetchone()
                if verdict != "ok":
                    raise Damaged(path, newest_backup(path))
                copy.execute("PRAGMA journal_mode = DELETE")
            os.replace(beside, name)
        finally:
            beside.unlink(missing_ok=True)
        for old in [b for b in backups(path) if b.name.startswith(f"{occasion}-")][KEEP.get(occasion, 10**6) :]:
            old.unlink(missing_ok=True)
    return name


def copy_over(source: sqlite3.Connection, path: Path) -> None:
    """Make the notebook at `path` the same as `source`, in one transaction that other programs with the file open see as a whole."""
    with plain_faults(path), closing(sqlite3.connect(path, timeout=10.0)) as live:
        source.backup(live)
        live.execute("PRAGMA journal_mode = WAL")


def restore(path: Path, backup: Path, now: datetime) -> Path | None:
    """Bring a backup back; what was there before is kept as a backup, or set aside beside the file where it is damaged.

    Returns where the former state is.  Raises NotebookError where the backup cannot be used; then nothing is changed.
    """
    former: Path | None = None
    with plain_faults(backup), closing(sqlite3.connect(":memory:")) as copy:
        if not backup.is_file():
            raise NotebookError(f"{backup}: there is no such backup")
        try:
            with closing(sqlite3.connect(f"{backup.resolve().as_uri()}?mode=ro", uri=True)) as kept:
                kept.backup(copy)
        except sqlite3.DatabaseError as error:
            raise NotebookError(f"{backup}: not a whole copy of a notebook ({error}); nothing was changed") from error
        try:
            if schema_of(copy) == 0:
                raise NotebookError("it is empty")
            migrate(copy)
        except NotebookError as error:
            raise NotebookError(f"{backup}: {error}") from None
        former = keep_former(path, now)
        copy_over(copy, path)
    return former


def keep_former(path: Path, now: datetime) -> Path | None:
    """Keep what a restore or an import replaces."""
    if not path.exists():
        return None
    try:
        with plain_faults(path), closing(sqlite3.connect(path, timeout=10.0)) as live:
            return make_backup(live, path, "restore", now)
    except Damaged:
        pass
    aside = path.with_name(f"damaged-{now:%Y%m%dT%H%M%S%fZ}.sqlite")
    with plain_faults(path):
        for ending in ("-wal", "-shm", ""):
            part = Path(f"{path}{ending}")
            if part.exists():
                os.replace(part, f"{aside}{ending}")
    return aside
