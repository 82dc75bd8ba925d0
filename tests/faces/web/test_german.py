"""Nothing on a German page is English: every page of the invented family is read in German and searched for English words.

A published work, a service's licence line and what the family wrote itself keep their language.
"""

from __future__ import annotations

import html
import re

import pytest

from tests.faces.web.hand import Hand, demo_hand, settled
from underglass.faces.web.source_words import cited, layer, note, weather
from underglass.faces.web.speech import Speech
from underglass.notebook.records import Sowing

ENGLISH = frozenset(
    [
        "the",
        "of",
        "and",
        "are",
        "with",
        "from",
        "for",
        "to",
        "by",
        "at",
        "or",
        "not",
        "no",
        "it",
        "its",
        "this",
        "that",
        "which",
        "were",
        "have",
        "has",
        "than",
        "more",
        "less",
        "per",
        "each",
        "year",
        "years",
        "day",
        "days",
        "month",
        "months",
        "sown",
        "sow",
        "seed",
        "seeds",
        "cold",
        "heat",
        "night",
        "nights",
        "frost",
        "about",
        "before",
        "when",
        "where",
        "into",
        "over",
        "under",
        "between",
        "down",
        "up",
        "one",
        "two",
        "three",
        "data",
        "ahead",
        "known",
        "last",
        "corrected",
        "contains",
        "source",
        "extension",
        "advice",
        "common",
        "memory",
        "weather",
        "climate",
        "your",
        "you",
        "what",
        "how",
    ]
)
GERMAN_TOO = frozenset(["in", "an", "so", "war", "hat", "am", "die", "not"])
"""Spelt as German words are."""

PAGES = (
    "/today", "/sow", "/year", "/wishes", "/seeds", "/inside", "/notebook", "/notebook/search?words=kale", "/notebook/copies", "/tuning",
    "/set-out?crop=tomato&bed=open&before=2027-04-01", "/shelters", "/shelters/south%20box", "/settings", "/welcome", "/pair", "/nowhere",
    "/sow/kale?grown_in=open", "/why/kale?grown_in=open&on=2027-03-14", "/task/none", "/sow/kale",
)  # fmt: skip


def english_in(page: str) -> list[str]:
    """The texts of a page's content that hold two English words or more; a citation stands in small brackets, another language says so."""
    content = re.sub(r"(?s)<(script|style|small|code|footer).*?</\1>", " ", page)
    content = re.sub(r'(?s)<(\w+)[^>]*\blang="en".*?</\1>', " ", content)
    content = re.sub(r'\b(aria-label|placeholder|alt|title|data-\w+)="([^"]*)"', r">\2<", content)
    texts = (html.unescape(text).strip() for text in re.split(r"<[^>]*>", content))
    return [t for t in texts if len({w for w in re.findall(r"[a-z]+", t.lower()) if w in ENGLISH - GERMAN_TOO}) >= 2]


@pytest.fixture(scope="module")
def hand(tmp_path_factory: pytest.TempPathFactory) -> Hand:
    return Hand(demo_hand(tmp_path_factory.mktemp("home")).desk, "de")


def own_words(text: str) -> bool:
    """What the family is called, and citations of the story of a sowing."""
    return "the Alder family" in text or text.startswith("Quelle für") or "Copernicus" in text


@pytest.mark.parametrize("path", PAGES)
def test_a_german_page_has_no_english_in_it(hand: Hand, path: str) -> None:
    found = [text for text in english_in(settled(hand, path)) if not own_words(text)]
    assert not found, found


def test_the_search_for_english_finds_some() -> None:
    assert english_in("<p>Sown where it stays</p><p>Gesät</p>") == ["Sown where it stays"]
    assert english_in('<p aria-label="from your place">x</p>') == ["from your place"]
    assert not english_in('<p lang="en">from your place</p><p>so war das am Morgen</p>')


def test_an_entry_and_its_faults_are_german(hand: Hand) -> None:
    with hand.desk.home.open() as book:
        sowing = book.find(Sowing)[0]
    address = f"/notebook/sowing/{sowing.id}"
    assert not english_in(settled(hand, address))
    hand.open(address)
    said = hand.send(address, on="2031-01-01", count="-3")
    assert said.status_code == 422
    assert not english_in(said.text)


@pytest.mark.parametrize(
    "text",
    [
        "32 generated years from a known last frost (05-22) on top of ERA5 monthly means 2000-2025 on a 0.25 degree grid, corrected for elevation",
        "1 generated year from monthly values typed in; spread and the rest from ERA5 monthly means 2000-2025 on a 0.25 degree grid, corrected for elevation",
        "30 generated years from monthly normals of a daily record",
    ],
)
def test_the_weather_is_named_in_german(text: str) -> None:
    said = weather(text, Speech("de", "c"))
    assert not english_in(f"<p>{said}</p>"), said
    assert "berechnete" in said


@pytest.mark.parametrize(
    "text",
    [
        "no forecast could be had (Open-Meteo: offline, and no earlier reply is kept for this place and time; go online once)",
        "Open-Meteo: no answer within 9 s; using the reply of 2027-03-01 07:00 UTC, 3 hours old",
        "weather of Burlington, 41 km from the place",
        "4 days before now are known; the soil's heat before them is the climate's",
    ],
)
def test_a_note_on_the_weather_is_german(text: str) -> None:
    assert not english_in(f"<p>{note(text, Speech('de', 'c'))}</p>")


def test_distances_and_degrees_of_notes_come_in_the_units_of_the_house() -> None:
    assert "25 mi" in note("weather of Burlington, 41 km from the place", Speech("en", "f"))
    shifted = note(
        "nights like those of the last frost were made 2.8 °C (5.0 °F) colder than on the map to fit the known date, others by less",
        Speech("en", "f"),
    )
    assert "5.0\u00a0°F" in shifted
    assert "°C" not in shifted


def test_a_citation_keeps_its_language_and_our_words_do_not() -> None:
    german = Speech("de", "c")
    assert cited("estimate made for this catalogue (estimate)", german) == "eigene Schätzung"
    said = cited("Tamura A. 2002. J. Jpn. Soc. Hort. Sci. 71:74-81, spinach (opened (abstracts)); general horticultural knowledge (from memory)", german)  # fmt: skip
    assert (
        said
        == "Tamura A. 2002. J. Jpn. Soc. Hort. Sci. 71:74-81, spinach (zum Teil nachgeschlagen); aus dem Gedächtnis"
    )
    assert layer("known last frost", german) == "Klimakarte mit eurem letzten Frost"
