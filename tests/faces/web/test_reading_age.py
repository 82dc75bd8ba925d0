"""The words of the pages can be read by a child of about eleven: measured on the catalogue with two published formulas.

English: Flesch-Kincaid grade = 0.39 words per sentence + 11.8 syllables per word - 15.59 (Kincaid, Fishburne, Rogers & Chissom 1975, Research
Branch Report 8-75, Naval Technical Training Command); a child in grade 6 is eleven or twelve years old.
German: fourth Wiener Sachtextformel = 0.2656 words per sentence + 0.2744 percent of words of three syllables or more - 1.693, in school years
(Bamberger & Vanecek 1984, Lesen - Verstehen - Lernen - Schreiben).
Syllables are counted by groups of vowels, which is right for nine words in ten; the formulas are made for passages, so that the whole
catalogue and each section of it are measured, and single sentences are only kept from being long.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

import pytest

from underglass.faces.web.texts import catalogue_of

NAMES = (
    "crop.",
    "shelter.",
    "month",
    "weekday.",
    "date.",
    "size.",
    "point.",
    "cited.",
    "status.",
    "layer.",
    "entry.",
    "probe.",
    "measure.",
)
"""What names a thing and is no sentence."""

LONGEST = 29
"""Words in one sentence at most; the plain-language guides of several governments ask for 15 to 25 (common practice), cautions need more."""


def words_in(sentence: str) -> list[str]:
    return re.findall(r"[^\W\d_]+(?:['’][^\W\d_]+)?|\d+", sentence)


def sentences_of(text: str) -> list[str]:
    """The sentences of a text: only a full stop, an exclamation or a question mark ends one, which is the stricter way to count."""
    filled = re.sub(r"\{\w+\}", "7", text)
    return [s for s in re.split(r"(?<=[.!?])\s+", filled) if words_in(s)]


def syllables(word: str, language: str) -> int:
    lower = word.lower()
    if lower.isdigit():
        return 1
    if language == "de":
        return max(1, len(re.findall(r"[aeiouyäöü]+", re.sub(r"(ei|ie|eu|äu|au|ai)", "e", lower))))
    found = len(re.findall(r"[aeiouy]+", lower))
    if lower.endswith("e") and not lower.endswith(("le", "ee")) and found > 1:
        found -= 1
    if re.search(r"[^aeiouytd]ed$", lower) and found > 1:
        found -= 1
    return max(1, found)


def grade(texts: Iterable[str], language: str) -> float:
    """The school year by the language's formula."""
    sentences = [s for text in texts for s in sentences_of(text) if len(words_in(s)) >= 4]
    words = [w for s in sentences for w in words_in(s)]
    length = len(words) / max(len(sentences), 1)
    counts = [syllables(w, language) for w in words]
    if language == "de":
        return 0.2656 * length + 0.2744 * 100.0 * sum(c >= 3 for c in counts) / len(words) - 1.693
    return 0.39 * length + 11.8 * sum(counts) / len(words) - 15.59


def told(language: str) -> dict[str, str]:
    return {key: text for key, text in catalogue_of(language).items() if not key.startswith(NAMES)}


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_catalogue_is_for_readers_of_about_eleven(language: str) -> None:
    assert grade(told(language).values(), language) <= 6.0


@pytest.mark.parametrize("language", ["en", "de"])
def test_each_part_of_it_is_too(language: str) -> None:
    parts: dict[str, list[str]] = {}
    for key, text in told(language).items():
        parts.setdefault(key.partition(".")[0], []).append(text)
    hard = {}
    for name, texts in parts.items():
        if sum(len(words_in(t)) for t in texts) >= 100 and (found := grade(texts, language)) > 8.0:
            hard[name] = round(found, 1)
    assert not hard, hard


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_sentence_is_long(language: str) -> None:
    long = {key: s for key, text in told(language).items() for s in sentences_of(text) if len(words_in(s)) > LONGEST}
    assert not long, long


def test_the_formulas_tell_hard_from_easy() -> None:
    easy = ["The cat sat on the mat. It was warm there. Then it went out to play."]
    hard = [
        "Notwithstanding considerable meteorological uncertainty, horticultural productivity necessitates comprehensive evaluation of alternatives."
    ]
    assert grade(easy, "en") < 2.0 < 15.0 < grade(hard, "en")
    assert [syllables(w, "en") for w in ("garden", "frost", "temperature", "like", "little", "picked")] == [
        2,
        1,
        4,
        1,
        2,
        1,
    ]
    assert [syllables(w, "de") for w in ("Garten", "Frost", "Temperatur", "Fensterbank", "heute")] == [2, 1, 4, 3, 2]
