"""Taking a service's JSON apart without trusting it: every surprise is one sentence, never a KeyError."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from underglass.errors import InputError, SourceError

__all__ = ["dig", "floats", "from_service", "hour_of", "real", "scale_of"]

F64 = NDArray[np.float64]
T = TypeVar("T")

UTC_STAMP = re.compile(r"(\d{4}-\d{2}-\d{2})T(\d{2}):(\d{2})(?::\d{2}(?:\.\d+)?)?(Z|[+-]\d{2}:?\d{2})?")


def dig(service: str, data: Any, *path: str | int, kind: type = object) -> Any:
    """The value at a path of keys and indexes; refused where the reply has another shape.

    >>> dig("s", {"a": [{"b": 3}]}, "a", 0, "b")
    3
    """
    here = data
    for step in path:
        try:
            here = here[step]
        except (KeyError, IndexError, TypeError) as error:
            where = ".".join(str(part) for part in path)
            raise SourceError(f"{service}: the reply has no '{where}'; has the service changed its format?") from error
    if not isinstance(here, kind):
        where = ".".join(str(part) for part in path)
        raise SourceError(f"{service}: '{where}' is {str(here)[:40]!r}: expected {kind.__name__}")
    return here


def real(service: str, value: Any, name: str) -> float:
    """A finite number; None and 'nan' are not."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not np.isfinite(value):
        raise SourceError(f"{service}: {name} is {str(value)[:40]!r}: expected a number")
    return float(value)


def floats(service: str, values: Any, name: str, n: int | None = None) -> F64:
    """A list of numbers as float64, None as nan; `n` is the length it must have."""
    if not isinstance(values, list) or (n is not None and len(values) != n):
        length = len(values) if isinstance(values, list) else "no list"
        raise SourceError(f"{service}: {name} has {length} values, expected {n}; the reply may be cut off")
    return np.array([np.nan if value is None else real(service, value, name) for value in values], dtype=np.float64)


def scale_of(service: str, unit: Any, known: dict[str, float], name: str) -> float:
    """The factor that belongs to the unit a service names; an unknown unit is refused, never guessed."""
    if unit not in known:
        raise SourceError(f"{service}: {name} comes in {str(unit)[:20]!r}: expected {' or '.join(known)}")
    return known[unit]


def hour_of(service: str, text: Any, *, utc_if_bare: bool = False) -> int:
    """Minutes since 1970 UTC of a service's time stamp; one without offset only where the service defines it as UTC."""
    match = UTC_STAMP.fullmatch(text) if isinstance(text, str) else None
    if match is None or (match[4] is None and not utc_if_bare):
        raise SourceError(f"{service}: a time is {str(text)[:40]!r}: expected e.g. 2024-05-01T07:00Z")
    try:
        minutes = int(np.datetime64(f"{match[1]}T{match[2]}:{match[3]}", "m").astype(np.int64))
    except ValueError as error:
        raise SourceError(f"{service}: a time is {text[:40]!r}: no such moment") from error
    offset = match[4]
    if offset in (None, "Z"):
        return minutes
    sign = -1 if offset[0] == "-" else 1
    return minutes - sign * (60 * int(offset[1:3]) + int(offset[-2:]))


def from_service(service: str, make: Callable[[], T]) -> T:
    """What `make` gives; where it finds rows at fault, the fault is the service's, not the user's."""
    try:
        return make()
    except InputError as error:
        raise SourceError(f"{service}: {error}") from error
