"""The whole notebook as one plain archive, and back: a zip of one CSV for each table, a manifest in JSON, and the photos.

An empty cell means that there is no value, except in a column that always holds a text, where it is the empty text; the schema leaves no column
that could hold both.  The archive of an older schema is read into that schema and then brought up to date like any notebook.
"""

from __future__ import annotations

import csv
import io
import json
import os
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from underglass.errors import InputError
from underglass.notebook.backup import copy_over, keep_former
from underglass.notebook.columns import KINDS, SqlValue, columns_of, decode, encode, quoted
from underglass.notebook.faults import plain_faults
from underglass.notebook.migrate import migrate, newest_schema, schema_of
from underglass.notebook.photos import PHOTO_NAME
from underglass.notebook.places import photo_folder
from underglass.notebook.store import Notebook

__all__ = ["FORMAT", "export_archive", "import_archive"]

FORMAT = "underglass notebook"
LEFT_OUT = ("devices", "migrations")
"""Tables that belong to this machine, not to what happened; `devices` is one of older schemas."""

MOST_BYTES = 4_000_000_000
"""Unpacked size beyond which an archive is refused."""


def _tables(db: sqlite3.Connection) -> list[str]:
    """The tables that an archive holds, those that others refer to first."""
    rows = db.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY rowid")
    return [name for (name,) in rows if name not in LEFT_OUT]


def _columns(db: sqlite3.Connection, table: str) -> list[tuple[str, str, bool]]:
    """Name, kind and 'may be empty' of each column."""
    return [(c[1], c[2], not c[3] and not c[5]) for c in db.execute(f'PRAGMA table_info("{table}")')]


def export_archive(notebook: Notebook, target: Path) -> int:
    """Write the archive; the file is there whole or not at all.  Returns the number of rows.  Raises NotebookError where it cannot be written."""
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    with plain_faults(target):
        try:
            with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as archive:
                counts = _write(notebook, archive)
            os.replace(beside, target)
        except OSError as error:  # named by the file that was asked for, not the one beside it
            raise OSError(error.errno, error.strerror or str(error), str(target)) from error
        finally:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
    return sum(counts.values())


def _write(notebook: Notebook, archive: zipfile.ZipFile) -> dict[str, int]:
    db, counts = notebook.db, dict[str, int]()
    db.execute("BEGIN")  # one state of the notebook, whatever others write meanwhile
    try:
        tables = _tables(db)
        for table in tables:
            names = [name for name, _, _ in _columns(db, table)]
            text = io.StringIO(newline="")
            writer = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL)
            writer.writerow(names)
            counts[table] = 0
            for row in db.execute(f'SELECT * FROM "{table}" ORDER BY rowid'):
                writer.writerow(["" if v is None else repr(v) if isinstance(v, float) else v for v in row])
                counts[table] += 1
            archive.writestr(f"{table}.csv", text.getvalue().encode("utf-8"))
        photos = [name for (name,) in db.execute("SELECT DISTINCT file FROM photos ORDER BY file")]
        schema = schema_of(db)
    finally:
        db.execute("ROLLBACK")
    there = [name for name in photos if (photo_folder(notebook.path) / name).is_file()]
    for name in there:
        archive.write(photo_folder(notebook.path) / name, f"photos/{name}", zipfile.ZIP_STORED)
    manifest = {
        "format": FORMAT,
        "schema": schema,
        "exported": notebook.clock().isoformat(),
        "rows": counts,
        "photos": there,
    }
    archive.writestr("manifest.json", json.dumps(manifest, indent=1))
    return counts


def import_archive(source: Path, path: Path, now: datetime, *, replace: bool = False) -> Path | None:
    """Make the notebook at `path` what the archive says.  Returns where the former notebook is kept, None where there was none.

    replace : go on where a notebook is there already
    Raises InputError for an archive that is not one of ours, damaged or newer; then nothing is changed.
    """
    if path.exists() and not replace:
        raise InputError(
            f"there is a notebook at {path} already; add --replace to put the archive in its place (the former is kept as a backup)"
        )
    with plain_faults(path), closing(sqlite3.connect(":memory:", isolation_level=None)) as copy:
        try:
            with zipfile.ZipFile(source) as archive:
                manifest = _manifest(archive, source)
                migrate(copy, to=manifest["schema"])
                _load(copy, archive, manifest)
                migrate(copy)
                _check_records(copy)
                path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
                _photos(archive, manifest, photo_folder(path))
        except FileNotFoundError:
            raise InputError(f"{source}: there is no such file") from None
        except (
            zipfile.BadZipFile,
            KeyError,
            ValueError,
            TypeError,
            EOFError,
            NotImplementedError,
            csv.Error,
            sqlite3.IntegrityError,
        ) as error:
            raise InputError(f"{source}: not a whole archive of a notebook ({error}); nothing was changed") from None
        former = keep_former(path, now)
        copy_over(copy, path)
    return former


def _manifest(archive: zipfile.ZipFile, source: Path) -> dict[str, Any]:
    manifest = json.loads(archive.read("manifest.json"))
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise ValueError("its manifest is of something else")
    if not isinstance(manifest.get("schema"), int) or manifest["schema"] < 1:
        raise ValueError("its manifest names no schema")
    if manifest["schema"] > newest_schema():
        raise InputError(
            f"{source}: written by a newer Underglass (schema {manifest['schema']}, this one knows {newest_schema()}); update this program to read it"
        )
    if sum(entry.file_size for entry in archive.infolist()) > MOST_BYTES:
        raise ValueError("larger than 4 GB")
    return manifest


def _load(db: sqlite3.Connection, archive: zipfile.ZipFile, manifest: dict[str, Any]) -> None:
    """Fill the empty tables of a fresh file, and see that everything that is referred to is there."""
    db.execute("BEGIN")
    for table in _tables(db):
        columns = _columns(db, table)
        names = quoted([name for name, _, _ in columns])
        insert = f'INSERT INTO "{table}" ({names}) VALUES ({", ".join("?" * len(columns))})'
        with archive.open(f"{table}.csv") as raw:
            before = db.total_changes
            db.executemany(insert, _rows(raw, columns, table))
            if db.total_changes - before != manifest["rows"][table]:
                raise ValueError(f"{table}.csv does not hold the rows that the manifest counts")
    broken = db.execute("PRAGMA foreign_key_check").fetchone()
    if broken is not None:
        raise ValueError(f"{broken[0]}.csv refers to entries of {broken[2]}.csv that are not there")
    db.execute("COMMIT")


def _rows(raw: IO[bytes], columns: list[tuple[str, str, bool]], table: str) -> Iterator[list[SqlValue]]:
    csv.field_size_limit(2**31 - 1)
    reader = csv.reader(io.TextIOWrapper(raw, encoding="utf-8", newline=""), strict=True)
    if next(reader, None) != [name for name, _, _ in columns]:
        raise ValueError(f"{table}.csv does not have the columns of its schema")
    readers: dict[str, type[int] | type[float] | type[str]] = {"INTEGER": int, "REAL": float, "TEXT": str}
    for cells in reader:
        yield [
            None if cell == "" and optional else readers[kind](cell)
            for cell, (_, kind, optional) in zip(cells, columns, strict=True)
        ]


def _check_records(db: sqlite3.Connection) -> None:
    """Every row must be a record that we could have written."""
    for table, kind in KINDS.items():
        names = columns_of(kind)
        for values in db.execute(f'SELECT {quoted(names)} FROM "{table}"'):
            row = dict(zip(names, values, strict=True))
            if encode(decode(kind, row)) != row:
                raise ValueError(f"{table}.csv holds an entry that does not read back the same: {row['id']}")


def _photos(archive: zipfile.ZipFile, manifest: dict[str, Any], folder: Path) -> None:
    """Unpack the photos by names of our own making; a name that we would not make is refused."""
    for name in manifest["photos"]:
        if not PHOTO_NAME.fullmatch(str(name)):
            raise ValueError(f"photo {name!r} does not have a name of ours")
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not (folder / name).exists():
            beside = folder / f".{name}.{os.getpid()}.part"
            beside.write_bytes(archive.read(f"photos/{name}"))
            os.replace(beside, folder / name)
