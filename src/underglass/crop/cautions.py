"""What can hurt somebody, shown at the place where it matters."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from underglass.errors import InputError

__all__ = ["Caution", "all_cautions", "caution_rows", "caution_topics", "cautions_for"]


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: its name, its words, where they come from, and the topics at which it is shown."""

    id: str
    text: str
    source: str
    topics: tuple[str, ...]


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Every caution, in the order of the file.  Raises InputError with every entry that lacks words, source or topics."""
    table = tomllib.loads((files("underglass.crop") / "data" / "cautions.toml").read_text(encoding="utf-8"))
    faults = [
        f"cautions.toml: caution {number} has no {key}"
        for number, entry in enumerate(table["caution"], 1)
        for key in ("id", "text", "source", "topics")
        if not entry.get(key)
    ]
    if faults:
        raise InputError.of(faults)
    return tuple(Caution(c["id"], c["text"], c["source"], tuple(c["topics"])) for c in table["caution"])


def caution_topics() -> tuple[str, ...]:
    """Every topic, in the order of the file."""
    return tuple(dict.fromkeys(topic for caution in all_cautions() for topic in caution.topics))


def cautions_for(topics: Iterable[str]) -> list[Caution]:
    """The cautions of these topics, in the order of the file.  An unknown topic is refused: a misspelt one would warn of nothing.

    >>> [c.source for c in cautions_for(["heaters"])]
    ['US Consumer Product Safety Commission']
    """
    wanted = set(topics)
    unknown = wanted.difference(caution_topics())
    if unknown:
        raise InputError(f"no caution is about {', '.join(sorted(unknown))}; topics: {', '.join(caution_topics())}")
    return [c for c in all_cautions() if wanted & set(c.topics)]


def caution_rows(topics: Iterable[str]) -> list[dict[str, str]]:
    """The cautions of these topics as plain data: id, text, source."""
    return [{"id": c.id, "text": c.text, "source": c.source} for c in cautions_for(topics)]
