"""With the keyboard alone: everything is reached, seen while it has the focus, and worked."""

from __future__ import annotations

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.faces.web.conftest import Served
from underglass.notebook.records import Note

PATHS = (
    "/welcome",
    "/today",
    "/sow",
    "/inside/south%20box",
    "/notebook",
    "/settings",
    "/shelters/south%20box",
    "/set-out",
    "/seeds",
    "/wishes",
)

FOCUSED = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const box = e.getBoundingClientRect(), style = getComputedStyle(e);
  const x = box.left + Math.min(box.width / 2, innerWidth / 2), y = box.top + Math.min(box.height / 2, 20);
  const there = document.elementFromPoint(x, y);
  return {
    what: e.outerHTML.slice(0, 120), outline: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0,
    seen: !!there && (e.contains(there) || there.contains(e) || (e.labels && [...e.labels].some((l) => l.contains(there)))),
    first: e.classList.contains("skip"),
  };
}"""


def opened(page: Page, address: str) -> None:
    page.goto(address)
    page.wait_for_selector("#work", state="detached")


@pytest.mark.parametrize("path", PATHS)
def test_what_has_the_focus_is_seen(phone: BrowserContext, demo: Served, path: str) -> None:
    page = phone.new_page()
    opened(page, demo.address + path)
    reached: list[str] = []
    for _ in range(60):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        if at is None or (at["first"] and reached):
            break
        reached.append(at["what"])
        assert at["outline"], f"no outline on {at['what']}"
        assert at["seen"], f"hidden while it has the focus: {at['what']}"
    assert len(reached) > 6


def test_the_main_tasks_need_no_pointer(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    opened(page, f"{demo.address}/inside/south%20box")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # to the content, past the pages
    before = page.locator("#picture .answer").inner_text()
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "cover":
            break
    for _ in range(6):
        page.keyboard.press("ArrowRight")
    expect(page.locator("output[for=cover]")).to_have_text("like 2 in of foam")
    expect(page.locator("#picture .answer")).not_to_have_text(before)

    opened(page, f"{demo.address}/notebook")
    page.locator("textarea").first.focus()
    page.keyboard.type("the kale is up")
    for _ in range(3):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.tagName") == "BUTTON":
            break
    page.keyboard.press("Enter")
    expect(page.get_by_text("the kale is up").first).to_be_visible()
    with demo.desk.home.open() as book:
        assert [n.text for n in book.find(Note)] == ["the kale is up"]
