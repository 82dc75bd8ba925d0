"""A careful reader of weather tables: text in, columns of cells with their line numbers out.

Weather files come from spreadsheets, loggers and colleagues.  This reader guesses only the delimiter; everything else it
does not understand it refuses, with file and line.  A `# key: value` line above the header is an option.
"""

from __future__ import annotations

import csv
import difflib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError

__all__ = ["MAX_FILE_BYTES", "Table", "read_table", "read_text"]

F64 = NDArray[np.float64]

MAX_FILE_BYTES = 200_000_000
"""Sixty years of hours with twelve columns are about 40 MB; anything far beyond is not a weather table (judgement)."""

MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", "--", "m"})
"""Cells that mean 'not known', in any case of letters."""

DELIMITERS = (",", ";", "\t")


def read_text(path: Path, *, lenient: bool = False, what: str = "weather file") -> str:
    """The text of a file, UTF-8 with or without mark; with `lenient`, unreadable letters are replaced, not refused; `what` it should be."""
    try:
        if path.is_dir():
            raise InputError(f"{path} is a folder: expected a {what}")
        if path.stat().st_size > MAX_FILE_BYTES:
            raise InputError(
                f"{path}: {path.stat().st_size / 1e6:.0f} MB, expected at most {MAX_FILE_BYTES / 1e6:.0f} MB"
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
        raise InputError(f"{path}: cannot be read ({reason}); check the name of the {what}") from error
    return decode(raw, str(path), lenient=lenient)


def decode(raw: bytes, file: str, *, lenient: bool = False) -> str:
    """Bytes to text; UTF-16 (a spreadsheet's 'Unicode text') is recognised by its mark."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig", errors="replace" if lenient else "strict")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError.at(file, line, "letters that are not UTF-8 text; save the file as CSV in UTF-8") from error


@dataclass(frozen=True, slots=True)
class Table:
    """Cells of a table by column.

    options : the `# key: value` lines, keys in small letters        columns : header name (small letters) → cells
    lines   : line number in the file of each row, shape (n_rows,)   decimal_comma : '3,5' means 3.5 (not with ',' between)
    """

    file: str
    options: Mapping[str, str]
    columns: Mapping[str, Sequence[str]]
    lines: NDArray[np.int64]
    header_line: int
    decimal_comma: bool

    @property
    def n_rows(self) -> int:
        """Number of data rows."""
        return int(self.lines.shape[0])

    def only(self, known: Iterable[str]) -> None:
        """Refuse columns that nobody will read, as a misspelt name would silently lose its data; 'note…' is left alone."""
        allowed = sorted(known)
        strange = [name for name in self.columns if name not in allowed and not name.startswith("note")]
        faults = [f"column '{name}' is not known{did_you_mean(name, allowed)}" for name in strange]
        if faults:
            rest = f"; allowed are {', '.join(allowed)} and names that begin with 'note'"
            raise InputError.of([str(InputError.at(self.file, self.header_line, fault + rest)) for fault in faults])

    def need(self, *names: str) -> None:
        """Refuse a table without one of these columns."""
        missing = [name for name in names if name not in self.columns]
        if missing:
            found = ", ".join(self.columns)
            fault = f"no column {' and no column '.join(missing)}; found {found}"
            raise InputError.at(self.file, self.header_line, fault)

    def numbers(self, name: str) -> F64:
        """A column as float64, shape (n_rows,), nan where a cell says that it is missing."""
        cells = self.columns[name]
        values = np.empty(len(cells))
        for row, cell in enumerate(cells):
            values[row] = self._number(name, row, cell)
        return values

    def _number(self, name: str, row: int, cell: str) -> float:
        text = cell.strip()
        if text.lower() in MISSING:
            return math.nan
        if self.decimal_comma:
            text = text.replace(",", ".")
        try:
            value = float(text)
        except ValueError:
            value = math.inf
        if math.isinf(value) or "_" in text:
            fault = f"{name} is '{shorten(cell)}': expected a number, or an empty cell where it is not known"
            raise InputError.at(self.file, int(self.lines[row]), fault)
        return value

    def option_number(self, name: str) -> float | None:
        """A number from the `# name: value` lines, or None where there is no such line."""
        text = self.options.get(name)
        if text is None:
            return None
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise InputError(f"{self.file}: the line '# {name}: {shorten(text)}' should hold a number")
        return value


def did_you_mean(name: str, allowed: Sequence[str]) -> str:
    """'; did you mean x?' where one of the allowed words is near, else nothing."""
    near = difflib.get_close_matches(name, allowed, n=1)
    return f"; did you mean '{near[0]}'?" if near else ""


def shorten(text: str, length: int = 30) -> str:
    """A cell fit to be quoted in a message."""
    flat = " ".join(text.split())
    return flat if len(flat) <= length else flat[: length - 1] + "…"


def read_table(path: Path) -> Table:
    """Read a delimited table with one header line; `,`, `;` or tab between the cells.

    The delimiter is the one that occurs most in the header line.  With `;` or tab, `3,5` is read as 3.5.
    """
    return parse_table(read_text(path), str(path))


def parse_table(text: str, file: str) -> Table:
    """As `read_table`, from text already read; `file` is only named in messages."""
    rows = text.splitlines()
    options: dict[str, str] = {}
    head = 0
    while head < len(rows) and (not rows[head].strip() or rows[head].lstrip().startswith("#")):
        key, colon, value = rows[head].strip().lstrip("#").partition(":")
        if colon:
            options[key.strip().lower().replace(" ", "_")] = value.strip()
        head += 1
    if head == len(rows):
        raise InputError(f"{file}: no header line with column names; the file is empty")
    delimiter = max(DELIMITERS, key=rows[head].count)
    names = _header(rows[head], delimiter, file, head + 1)
    cells, lines = _body(rows, head + 1, delimiter, names, file)
    columns = {name: [row[k] for row in cells] for k, name in enumerate(names)}
    return Table(file, options, columns, np.array(lines, dtype=np.int64), head + 1, delimiter != ",")


def _header(row: str, delimiter: str, file: str, line: int) -> list[str]:
    """Column names in small letters; refuses numbers, twins and nameless columns."""
    names = [name.strip().strip('"').strip().lower() for name in row.split(delimiter)]
    while names and not names[-1]:
        names.pop()
    if not names or sum(name[:1].isdigit() or name[:1] == "-" for name in names) > len(names) / 2:
        raise InputError.at(file, line, f"expected column names, found '{shorten(row)}'; is the header line missing?")
    twins = {name for name in names if names.count(name) > 1}
    if "" in names or twins:
        fault = f"column name '{sorted(twins)[0]}' occurs twice" if twins - {""} else "a column has no name"
        raise InputError.at(file, line, fault)
    return names


def _body(
    rows: list[str], first: int, delimiter: str, names: list[str], file: str
) -> tuple[list[list[str]], list[int]]:
    """Cells and line numbers of the rows below the header; empty lines and later `#` lines are passed over."""
    cells: list[list[str]] = []
    lines: list[int] = []
    for line, row in enumerate(rows[first:], start=first + 1):
        if not row.strip() or row.startswith("#"):
            continue
        parts = row.split(delimiter) if '"' not in row else _quoted(row, delimiter, file, line)
        if len(parts) > len(names) and not any(part.strip() for part in parts[len(names) :]):
            parts = parts[: len(names)]
        if len(parts) != len(names):
            raise InputError.at(file, line, f"{len(parts)} cells, but the header names {len(names)} columns")
        cells.append(parts)
        lines.append(line)
    if not cells:
        raise InputError(f"{file}: column names but no data below them")
    return cells, lines


def _quoted(row: str, delimiter: str, file: str, line: int) -> list[str]:
    """A row with quotation marks, through the csv reader."""
    try:
        return next(csv.reader([row], delimiter=delimiter, strict=True))
    except (csv.Error, StopIteration) as error:
        raise InputError.at(file, line, f"quotation marks that do not close: '{shorten(row)}'") from error
