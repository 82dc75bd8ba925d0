"""All words of the pages, by language, from one catalogue file each: texts/en.toml is the measure, the others say the same."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files

from underglass.crop.cautions import all_cautions

__all__ = ["LANGUAGES", "LANGUAGE_COOKIE", "Say", "catalogue_of", "chosen_language", "language_for", "say_in"]

LANGUAGES = {"en": "English", "de": "Deutsch"}

LANGUAGE_COOKIE = "underglass_language"
"""Each phone may speak its own language."""

Say = Callable[..., str]
"""say("sow.title") gives the words of a key; say("sow.of_years", n=26, years=30) fills them, from "sow.of_years_one" where n is 1 and such
words are there; say("crop.kale", or_else="Kale") for data."""


@cache
def catalogue_of(language: str) -> dict[str, str]:
    """Every text of a language as {"section.key": text}."""
    table = tomllib.loads((files("underglass.faces.web") / "texts" / f"{language}.toml").read_text(encoding="utf-8"))
    texts = {
        f"{section}.{key}": text.replace(" %", "\u00a0%")
        for section, part in table.items()
        for key, text in part.items()
    }
    if language == "en":  # the cautions have their English where their sources stand
        texts |= {f"caution.{caution.id}": caution.text for caution in all_cautions()}
    return texts


def _is_one(values: Mapping[str, object]) -> bool:
    """Whether the number of a sentence is one, so that its words for one are wanted."""
    return str(values.get("n")) == "1"


@cache
def say_in(language: str) -> Say:
    """The words of a language."""
    texts = catalogue_of(language)

    def say(key: str, /, or_else: str | None = None, **values: object) -> str:
        text = texts.get(f"{key}_one" if _is_one(values) else key) or texts.get(key)
        if text is None:
            if or_else is None:
                raise KeyError(f"no text {key!r} in the catalogue of {language}")
            return or_else
        return text.format(**values) if values else text

    return say


def chosen_language(cookies: Mapping[str, str], accepted: str) -> str:
    """The language that a device chose, else the best for its Accept-Language header."""
    chosen = cookies.get(LANGUAGE_COOKIE, "")
    return chosen if chosen in LANGUAGES else language_for(accepted)


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
