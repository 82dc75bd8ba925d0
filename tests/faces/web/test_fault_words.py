"""What the rooms below say of wrong values is said in German too, where a form of the page can lead to it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import underglass
from tests.faces.web.hand import Hand, demo_hand
from underglass.faces.web.fault_words import PATTERNS, fault
from underglass.faces.web.speech import Speech

SAMPLES = (
    "2027-03-01 is before the day of sowing, 2027-03-10",
    "2027-03-10 is after a day on which it had come further: 2027-03-01",
    "152.0 °C is not what a thermometer in a garden says; is the unit right?",
    "a lid that is propped needs its gap, as 5cm; other settings have none",
    "gap is 4.0 m: expected more than 0, up to 3 m",
    "count is -1: expected more than 0",
    "count is 9: 4 were sown, of which 2 were lost before",
    "shelter 'barn' is not one of this household's: box, open",
    "the picture cannot be read: expected a whole JPEG, PNG or WebP file",
    "there is, or was, a shelter called box: give this one another name",
)


@pytest.mark.parametrize("text", SAMPLES)
def test_a_fault_is_said_in_german(text: str) -> None:
    said = fault(text, Speech("de", "c"))
    assert said not in (text, fault(text, Speech("en", "c")))
    assert "2027-" not in said


def test_every_shape_is_one_that_the_rooms_still_write() -> None:
    """The longest run of plain words of each shape stands in the source of a room below, else nobody would ever see its words."""
    below = [p for p in Path(underglass.__file__).parent.rglob("*.py") if p.name != "fault_words.py"]
    source = " ".join(p.read_text(encoding="utf-8") for p in below)
    for key, pattern in PATTERNS:
        bare = re.sub(r"\(\?(:|P<\w+>)[^()]*(\([^()]*\))?[^()]*\)", "|", pattern)
        plain = max(re.findall(r"[\w ,;-]+", bare.replace("\\", "|")), key=len).strip()
        assert plain in source, f"{key}: {plain!r}"


def test_the_page_says_it(tmp_path: Path) -> None:
    hand = Hand(demo_hand(tmp_path).desk, "de")
    hand.open("/notebook")
    assert "kein Thermometer in einem Garten" in hand.tap("reading", value="900").text
