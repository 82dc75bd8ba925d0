"""Between the fields of a record and the columns of its table: SQL knows text, whole numbers and real numbers only."""

from __future__ import annotations

import json
import math
import types
import typing
from dataclasses import fields
from datetime import UTC, date, datetime
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

from underglass.errors import InputError
from underglass.notebook import records
from underglass.notebook.records import Record

__all__ = ["KINDS", "SqlValue", "columns_of", "decode", "encode", "may_be_none", "quoted", "to_sql"]

SqlValue = str | int | float | None
R = TypeVar("R", bound=Record)

KINDS: dict[str, type[Record]] = {
    cls.TABLE: cls
    for cls in vars(records).values()
    if isinstance(cls, type) and issubclass(cls, Record) and cls is not Record
}
"""The record classes by table, in an order in which each comes after those it refers to."""


_HINTS: dict[str, dict[str, Any]] = {
    table: {f.name: typing.get_type_hints(kind)[f.name] for f in fields(kind)} for table, kind in KINDS.items()
}


def columns_of(kind: type[Record]) -> tuple[str, ...]:
    """Names of the columns of a kind of record, the common ones first."""
    return tuple(_HINTS[kind.TABLE])


def quoted(names: typing.Iterable[str]) -> str:
    """Names of columns for a statement."""
    return ", ".join(f'"{name}"' for name in names)


def may_be_none(kind: type[Record], name: str) -> bool:
    """Whether a field may be None, and its column empty."""
    return _plain_hint(_HINTS[kind.TABLE][name])[1]


def to_sql(value: object) -> SqlValue:
    """A value as SQL keeps it.  Raises InputError for what cannot be kept: a time without zone, a number that is none."""
    if value is None or (isinstance(value, int) and not isinstance(value, bool)):
        return value
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise InputError(f"{value} is not a number that can be kept")
        return value
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, datetime):
        if value.tzinfo is None:
            raise InputError(f"{value} has no time zone")
        return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    return _text(json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True))


def _plain_hint(hint: Any) -> tuple[Any, bool]:
    """A field's type without `None`, and whether None is allowed."""
    if get_origin(hint) in (Union, types.UnionType):
        return get_args(hint)[0], True
    return hint, False


def _text(value: str) -> str:
    if "\0" in value or any("\ud800" <= c <= "\udfff" for c in value):
        raise InputError("the text holds a character that cannot be kept")
    return value


def _problem(hint: Any, value: object) -> str:
    """What is wrong with a value of a field, '' if nothing is."""
    if get_origin(hint) is Literal:
        return "" if value in get_args(hint) else f"expected one of {', '.join(get_args(hint))}"
    wanted = get_origin(hint) or hint
    if wanted is float:
        fine = isinstance(value, int | float) and not isinstance(value, bool)
    elif wanted is int:
        fine = isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**53
    else:
        fine = isinstance(value, wanted) and not (wanted is date and isinstance(value, datetime))
    return "" if fine else f"expected {wanted.__name__}"


def encode(record: Record) -> dict[str, SqlValue]:
    """The columns of a record.  Raises InputError that names the field whose value does not fit."""
    row: dict[str, SqlValue] = {}
    for name, hint in _HINTS[record.TABLE].items():
        value, (plain, optional) = getattr(record, name), _plain_hint(hint)
        if optional and value in (None, ""):  # never '' beside None: an empty cell of an archive has one meaning
            row[name] = None
            continue
        if problem := _problem(plain, value):
            raise InputError(f"{name} is {value!r}: {problem}")
        try:
            row[name] = to_sql(float(value) if plain is float else value)
        except (InputError, TypeError, ValueError) as error:
            raise InputError(f"{name}: {error}") from None
    return row


def decode(kind: type[R], row: typing.Mapping[str, SqlValue]) -> R:
    """The record in a row of its table."""
    return kind(**{name: _value(hint, row[name]) for name, hint in _HINTS[kind.TABLE].items()})


def _value(hint: Any, stored: Any) -> Any:
    plain, _ = _plain_hint(hint)
    if stored is None:
        return None
    if plain is bool:
        return bool(stored)
    if plain in (datetime, date):
        return plain.fromisoformat(stored)
    if get_origin(plain) in (tuple, dict):
        return _shaped(plain, json.loads(stored))
    return stored


def _shaped(hint: Any, value: Any) -> Any:
    """JSON's lists as the tuples they were."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is tuple:
        return tuple(_shaped(inner[0], v) for v in value)
    if origin is dict:
        return {key: _shaped(inner[1], v) for key, v in value.items()}
    return value
