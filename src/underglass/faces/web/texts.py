"""All words of the pages, by language, from one catalogue file each: texts/en.toml is the measure, the others say the same."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from importlib.resources import files

from underglass.crop.cautions import all_cautions

__all__ = ["LANGUAGES", "Say", "catalogue_of", "language_for", "say_in"]

LANGUAGES = {"en": "English", "de": "Deutsch"}

Say = Callable[..., str]
"""say("sow.title") gives the words of a key; say("sow.of_years", n=26, years=30) fills them; say("crop.kale", or_else="Kale") for data."""


@cache
def catalogue_of(language: str) -> dict[str, str]:
    """Every text of a language as {"section.key": text}."""
    table = tomllib.loads((files("underglass.faces.web") / "texts" / f"{language}.toml").read_text(encoding="utf-8"))
    texts = {f"{section}.{key}": text for section, part in table.items() for key, text in part.items()}
    if language == "en":  # the cautions have their English where their sources stand
        texts |= {f"caution.{caution.id}": caution.text for caution in all_cautions()}
    return texts


@cache
def say_in(language: str) -> Say:
    """The words of a language."""
    texts = catalogue_of(language)

    def say(key: str, /, or_else: str | None = None, **values: object) -> str:
        text = texts.get(key)
        if text is None:
            if or_else is None:
                raise KeyError(f"no text {key!r} in the catalogue of {language}")
            return or_else
        return text.format(**values) if values else text

    return say


def language_for(accepted: str) -> str:
    """The best of our languages for an Accept-Language header.

    >>> language_for("fr;q=0.9, de-AT;q=0.8, en;q=0.1"), language_for("")
    ('de', 'en')
    """
    ranked = []
    for part in accepted.split(","):
        name, _, weight = part.strip().partition(";q=")
        try:
            ranked.append((-float(weight or 1.0), name.strip().lower()[:2]))
        except ValueError:
            continue
    return next((name for _, name in sorted(ranked, key=lambda r: r[0]) if name in LANGUAGES), "en")
