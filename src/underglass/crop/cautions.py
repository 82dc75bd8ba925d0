"""What can hurt somebody, shown at the place where it matters."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["Caution", "all_cautions", "cautions_for"]


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: its words, where they come from, and the topics at which it is shown."""

    text: str
    source: str
    topics: tuple[str, ...]


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Every caution, in the order of the file."""
    table = tomllib.loads((files("underglass.crop") / "data" / "cautions.toml").read_text(encoding="utf-8"))
    return tuple(Caution(c["text"], c["source"], tuple(c["topics"])) for c in table["caution"])


def cautions_for(topics: Iterable[str]) -> list[Caution]:
    """The cautions of these topics.

    >>> [c.source for c in cautions_for(["heaters"])]
    ['US Consumer Product Safety Commission']
    """
    wanted = set(topics)
    return [c for c in all_cautions() if wanted & set(c.topics)]
