"""The year and the seeds in a real browser on a phone: each page's main task, and that no page shuts anybody out."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.faces.web.conftest import Served
from tests.faces.web.hand import small_household


@pytest.fixture
def family(fresh: Served) -> Served:
    """A small household of one's own."""
    fresh.desk.home.keep(small_household(), 0)
    return fresh


def year(page: Page, address: str) -> None:
    page.goto(f"{address}/year")
    page.wait_for_selector("#h-basket", timeout=150_000)  # where loops are compiled first


def check(page: Page) -> None:
    """Everything unfolded: no rule broken, nothing beyond the edge."""
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()[:3000]}"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (
        f"{page.url}: something hangs over the edge"
    )


def test_a_sowing_is_kept_while_the_page_shows_how_far_the_plan_is(phone: BrowserContext, family: Served) -> None:
    page, faults = phone.new_page(), []
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
    year(page, family.address)
    before = page.locator("#basket svg title").text_content()
    with page.expect_response(re.compile("/year/basket")):
        page.locator("#want").select_option(index=1)
    expect(page.locator("#basket svg title")).not_to_have_text(before or "")
    page.locator(".line").first.click()
    page.wait_for_selector("#work", state="detached")
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_selector("#h-decided")
    page.wait_for_selector("#work", state="detached")
    # the page is loaded again when the work is done: what is looked for may come a moment later
    expect(page.locator("main")).to_contain_text("Keep: ")
    expect(page.locator(".mark", has_text="kept")).to_have_count(1)
    page.get_by_role("button", name="Take back").click()
    page.wait_for_selector("#h-decided", state="detached")
    assert not faults


def test_a_packet_goes_onto_the_shelf(phone: BrowserContext, family: Served) -> None:
    page = phone.new_page()
    page.goto(f"{family.address}/seeds")
    page.get_by_label("Kind").select_option(label="Leek")
    page.get_by_label("Year on the packet").fill("1066")
    page.get_by_role("button", name="Keep this packet").click()
    assert page.locator("#packed-fault").is_visible()
    assert page.get_by_label("Kind").input_value() == "leek"
    page.get_by_label("Year on the packet").fill("2026")
    page.get_by_role("button", name="Keep this packet").click()
    page.get_by_label("How many came up").fill("9")
    page.get_by_role("button", name="Keep this test").click()
    assert "9 of 10 came up" in page.locator("main").inner_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_these_pages_shut_nobody_out(browser: Browser, family: Served, scheme: str) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, color_scheme=scheme, locale="de-DE")  # type: ignore[arg-type]
    page = context.new_page()
    page.set_default_timeout(60_000)
    year(page, family.address)
    for path in ("/year", "/year?by=shelter", "/seeds", "/wishes"):
        page.goto(family.address + path)
        check(page)
    page.goto(f"{family.address}/year")
    page.goto(family.address + str(page.locator(".line").first.get_attribute("href")))
    page.wait_for_selector("#work", state="detached")
    check(page)
    page.goto(f"{family.address}/seeds")
    page.locator("#crop").select_option(index=3)
    page.get_by_role("button", name="Diese Tüte behalten").click()
    check(page)
    context.close()


def test_a_printed_year_has_every_month(phone: BrowserContext, family: Served) -> None:
    page = phone.new_page()
    year(page, family.address)
    shown = "[...document.querySelectorAll('.line')].filter((e) => e.checkVisibility({ contentVisibilityAuto: true })).length"
    on_screen = page.evaluate(shown)
    page.emulate_media(media="print")
    assert on_screen < page.evaluate(shown) == page.locator(".line").count()
    assert not page.get_by_role("button", name="Plan again").is_visible()
