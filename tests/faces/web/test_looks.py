"""How pages look for those who see them otherwise: nothing moves where motion is unwanted, forced colours keep words and edges apart, and
at 320 px, which is 400 % zoom of a usual screen (WCAG 2.2, 1.4.10), nothing has to be read sideways."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.faces.web.conftest import Served
from underglass.notebook.records import Sowing

PATHS = (
    "/today", "/sow", "/year", "/wishes", "/seeds", "/inside/south%20box", "/inside/south%20box?beside=hoop%20house", "/notebook",
    "/notebook/copies", "/tuning", "/set-out", "/shelters", "/shelters/south%20box", "/settings", "/welcome", "/pair", "/nowhere",
)  # fmt: skip

MOVING = """() => [...document.querySelectorAll('*')].filter(e => { const s = getComputedStyle(e);
  const longest = t => Math.max(...t.split(',').map(parseFloat));
  return longest(s.transitionDuration) > 0 || (s.animationName !== 'none' && longest(s.animationDuration) > 0) || s.scrollBehavior === 'smooth';
}).map(e => e.tagName + '.' + e.className)"""

SIDEWAYS = """() => { const wide = document.documentElement.clientWidth, bad = [];
  if (document.documentElement.scrollWidth > wide) bad.push('the page itself');
  for (const e of document.querySelectorAll('main *, header *')) { const box = e.getBoundingClientRect();
    if (box.width && box.right > wide + 1 && !e.closest('.scroll, svg, .hidden, .skip')) bad.push(e.tagName + '.' + e.className + ' ' + e.textContent.trim().slice(0, 30)); }
  return bad; }"""


def page_of(browser: Browser, width: int, height: int, **how: Any) -> Page:
    """A page of a screen so wide and high.  how : as of new_context"""
    page = browser.new_context(viewport={"width": width, "height": height}, **how).new_page()
    page.set_default_timeout(60_000)
    return page


def opened(page: Page, served: Served, path: str) -> None:
    page.goto(served.address + path)
    page.wait_for_selector("h1")
    page.wait_for_selector("#work", state="detached")


def test_nothing_moves_where_motion_is_unwanted(browser: Browser, demo: Served) -> None:
    page = page_of(browser, 360, 740, reduced_motion="reduce")
    for path in PATHS:
        opened(page, demo, path)
        assert page.evaluate(MOVING) == [], path
    page.context.close()


def test_the_search_for_motion_finds_some(browser: Browser, demo: Served) -> None:
    page = page_of(browser, 360, 740, reduced_motion="no-preference")
    opened(page, demo, "/settings")
    assert any("BUTTON" in name for name in page.evaluate(MOVING))
    page.context.close()


@pytest.mark.parametrize("language", ["en-US", "de-DE"])
def test_nothing_is_read_sideways_at_320_px(browser: Browser, demo: Served, language: str) -> None:
    page = page_of(browser, 320, 640, locale=language)
    with demo.desk.home.open() as book:
        sowing = book.find(Sowing)[0]
    for path in (*PATHS, f"/notebook/sowing/{sowing.id}"):
        opened(page, demo, path)
        page.evaluate("for (const d of document.querySelectorAll('main details')) d.open = true")
        assert page.evaluate(SIDEWAYS) == [], path
    page.context.close()


def test_forced_colours_keep_words_and_edges(browser: Browser, demo: Served) -> None:
    """What only a background told (the page one is at, a tab, a fault) has an edge or a weight besides."""
    page = page_of(browser, 360, 740, forced_colors="active")
    opened(page, demo, "/wishes")
    style = "e => { const s = getComputedStyle(e); return [parseFloat(s.borderTopWidth), s.borderTopColor, s.color, s.backgroundColor, s.fontWeight]; }"
    here, there = (
        page.locator(css).first.evaluate(style) for css in ("nav a[aria-current]", "nav a:not([aria-current])")
    )
    assert int(here[4]) > int(there[4])
    assert here[:2] != there[:2] or here[2] != there[2]
    here, there = (
        page.locator(css).first.evaluate(style) for css in (".tabs a[aria-current]", ".tabs a:not([aria-current])")
    )
    assert here != there, "the tab one is at differs from the others"
    page.get_by_label("How many of you eat?").fill("no")
    page.get_by_role("button", name="Keep it and plan again").click()
    told = page.locator(".fault").first.evaluate(style)
    assert told[0] > 0, "a fault has an edge"
    assert page.locator("[aria-invalid]").first.evaluate(style)[0] >= 2
    page.context.close()


def test_a_dark_page_is_printed_dark_on_white(browser: Browser, demo: Served) -> None:
    page = page_of(browser, 800, 1100, color_scheme="dark")
    opened(page, demo, "/today")
    page.emulate_media(media="print")
    pale = page.evaluate("""() => [...document.querySelectorAll('main p, main li, main small, main span, main td, main th')].filter(e => {
      const [r, g, b] = getComputedStyle(e).color.match(/\\d+/g).map(Number);
      return e.getBoundingClientRect().width && 0.2126 * r + 0.7152 * g + 0.0722 * b > 110; }).map(e => e.className + e.textContent.slice(0, 20))""")
    assert pale == []
    assert page.locator("header").is_hidden()
    assert page.get_by_text("Did something else").first.is_hidden(), "a heading over a form that is not printed"
    page.context.close()
