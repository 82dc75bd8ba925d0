"""The basket: the same drawing for the same figures, and what it says in words is what the figures say."""

from __future__ import annotations

import math
import re
from datetime import date, timedelta
from typing import Any

import pytest

from tests.faces.charts.pictures import kept, lines_of
from underglass.faces.charts.basket import basket_chart, basket_rows
from underglass.faces.web.texts import say_in

LEAN = {"from": "2026-11-08", "to": "2027-02-04"}


def weeks(scale: float = 1.0) -> list[dict[str, Any]]:
    """A year that begins in autumn: nothing till April, most in September, by a formula of our own."""
    out = []
    for i in range(52):
        middle = scale * max(0.0, 40.0 * math.sin(math.pi * (i - 21) / 31.0)) if i > 21 else 0.0
        spread = {"p10": round(0.6 * middle, 1), "p50": round(middle, 1), "p90": round(1.4 * middle, 1)}
        out.append({
            "week_of": (date(2026, 11, 25) + timedelta(days=7 * i)).isoformat(),
            "servings": {"salad": {q: round(v / 2.0, 1) for q, v in spread.items()}},
            "all": spread,
            "minutes": 30,
        })  # fmt: skip
    return out


def drawn(basket: list[dict[str, Any]], language: str = "en", **more: Any) -> str:
    say = say_in(language)
    return basket_chart(basket, say, lambda iso: iso[5:], title="The basket & more", **more)


def test_is_drawn_as_it_was() -> None:
    svg = drawn(weeks(), wanted=30.0, lean=LEAN)
    assert lines_of(svg) == kept("basket", svg)


def test_one_want_and_no_lean_weeks() -> None:
    svg = drawn(weeks(), "de", want="salad")
    assert lines_of(svg) == kept("basket-salad-de", svg)
    assert basket_rows(weeks(), "salad")[36]["p50"] == pytest.approx(basket_rows(weeks())[36]["p50"] / 2.0, abs=0.1)


def test_a_picture_that_stands_alone_has_its_title() -> None:
    svg = drawn(weeks(), headed=True)
    assert "<text" in svg.split("The basket &amp; more")[1], "the first words drawn"
    assert svg.count("The basket &amp; more") == 2
    assert 'viewBox="0 0 360 240"' in svg


def test_says_what_the_figures_say() -> None:
    basket = weeks()
    said = re.search(r"<desc[^>]*>(.*?)</desc>", drawn(basket))
    best = max(basket, key=lambda w: w["all"]["p50"])
    some = sum(w["all"]["p50"] >= 0.5 for w in basket)
    assert said
    assert f"{some} of 52 weeks" in said[1]
    assert best["week_of"][5:] in said[1]
    assert f"about {best['all']['p50']:.0f} servings" in said[1]


def test_an_empty_year_is_drawn_and_said() -> None:
    assert "nothing comes in" in drawn(weeks(0.0), lean=LEAN)


@pytest.mark.parametrize("scale", [0.02, 1.0, 30.0])
def test_nothing_leaves_the_picture(scale: float) -> None:
    svg = drawn(weeks(scale), wanted=3.0)
    path = next(p for p in re.findall(r'<path d="([^"]+)"', svg))
    points = [tuple(map(float, p.split())) for p in re.split("[ML]", path.rstrip("Z")) if p]
    assert all(0.0 <= x <= 360.0 and 0.0 <= y <= 222.0 for x, y in points)
    assert 2 <= len(re.findall(r'text-anchor="end"', svg)) <= 7, "a few figures on the axis"
