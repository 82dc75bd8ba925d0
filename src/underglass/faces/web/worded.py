"""Sentences that the rooms below write in English, found again by their shape and said in the language of a phone."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from underglass.faces.web.speech import Speech

__all__ = ["Patterns", "worded"]

Patterns = Sequence[tuple[str, str]]
"""Key of the words (in the section, or "section.key" of another) and the shape of the sentence, as a regular expression with a name for each
part; the first that fits counts."""


def worded(
    text: str, patterns: Patterns, section: str, show: Speech, told: Callable[[str, str, Speech], str]
) -> str | None:
    """The sentence from the catalogue's section, None where no shape fits.  told : says one part, by its name"""
    for key, pattern in patterns:
        if found := re.fullmatch(pattern, text, re.DOTALL):
            parts = {name: told(name, value, show) for name, value in found.groupdict().items() if value is not None}
            return show.say(key if "." in key else f"{section}.{key}", **parts)
    return None
