"""A house that measures in °F and inches reads no °C and no metre on any page, and one in °C no °F: in texts, tables, drawings and hints."""

from __future__ import annotations

import html
import re

import pytest

from tests.faces.web.hand import Hand, demo_hand
from tests.faces.web.test_german import PAGES, settled
from underglass.services.household_store import change_units

METRIC = r"°C|\d\s?(cm|mm|m|km|m²|l|kg|g|kB/m²|Wh/m²|l/m²)(?![\w/²])|\b(litres?|metres?|kilometres?|grams)\b"
US = r"°F|\d\s?in(?=$|[.,;)])|\d\s?(ft|ft²|mi|gal|oz|gal/ft²|Btu/ft²)(?![\w/²])|\b(gallons?|inch|inches|feet|ounces)\b"
CHOICES = ("°C", "°F", "°C, m", "°F, ft", "grams", "ounces", "Litres (if measured)", "sq ft")
"""What is there to be chosen from."""


def foreign(page: str, own: str, other: str) -> list[str]:
    """Texts with a unit of the other kind and none of the own: a hint that says both is for everybody."""
    content = re.sub(r"(?s)<(script|style|code|small).*?</\1>", " ", page[page.find("<main") :])
    content = re.sub(r'(?s)<(\w+)[^>]*\blang="en".*?</\1>', " ", content)
    content = re.sub(r'\b(aria-label|aria-valuetext|placeholder|alt|data-words)="([^"]*)"', r">\2<", content)
    texts = {html.unescape(text).strip() for text in re.split(r"<[^>]*>", content)}
    return sorted(t for t in texts if re.search(other, t) and not re.search(own, t) and t not in CHOICES)


@pytest.fixture(scope="module")
def hands(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Hand]:
    found = {}
    for units in ("c", "f"):
        hand = Hand(demo_hand(tmp_path_factory.mktemp(units)).desk)
        with hand.desk.home.open() as notebook:
            change_units(notebook, units)  # type: ignore[arg-type]
        found[units] = hand
    return found


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("units", ["c", "f"])
def test_a_page_speaks_the_units_of_the_house(hands: dict[str, Hand], units: str, path: str) -> None:
    own, other = (METRIC, US) if units == "c" else (US, METRIC)
    found = foreign(settled(hands[units], path), own, other)
    assert not found, found


def test_the_search_for_units_finds_some() -> None:
    page = "<main><p>It is 3 cm</p><p aria-label='x'>35 °C (95 °F)</p><p>21\u00a0°C</p></main>"
    assert foreign(page, US, METRIC) == ["21\u00a0°C", "It is 3 cm"]
