"""Away and back: what is written where the computer cannot be reached is sent when it can be, once; what is refused is shown, not lost."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from tests.faces.web.conftest import Served
from tests.faces.web.test_pictures import picture
from underglass.notebook.records import Note, Photo, Watering


@pytest.fixture
def plain(browser: Browser) -> Iterator[BrowserContext]:
    """A phone without service worker, as over plain HTTP in the house's network."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, locale="en-US", service_workers="block")
    context.set_default_timeout(60_000)
    yield context
    context.close()


def texts(served: Served) -> list[str]:
    with served.desk.home.open() as book:
        return [n.text for n in book.find(Note)]


def write(page: Page, words: str) -> None:
    page.get_by_label("What happened").fill(words)
    page.locator("form:has(#note) button").click()


def test_what_is_written_while_away_is_sent_once_when_back(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(f"{demo.address}/notebook")
    page.evaluate("navigator.serviceWorker.ready")
    page.reload()
    phone.set_offline(True)
    page.reload()
    expect(page.locator("#offline")).to_be_visible()
    write(page, "away, one")
    expect(page.locator("#queued")).to_contain_text("1")
    page.reload()  # the page that was kept: its forms carry the same ids again
    write(page, "away, two")
    expect(page.locator("#queued")).to_contain_text("2")
    page.reload()
    for n in (3, 4):
        page.get_by_role("button", name="Watered: Kale").click()
        expect(page.locator("#queued")).to_contain_text(str(n))
        page.reload()
    page.locator("summary", has_text="Add a picture").click()
    page.get_by_label("Picture").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture((60, 40))}
    )
    page.locator("form:has(#photo) button").click()
    expect(page.locator("#waiting li")).to_have_count(5)
    assert Axe().run(page).violations_count == 0
    assert texts(demo) == []
    phone.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("#queued")).to_be_hidden()
    expect(page.locator(".words", has_text="away, two")).to_be_visible()
    assert texts(demo) == ["away, one", "away, two"]
    with demo.desk.home.open() as book:
        assert len(book.find(Watering)) == 2, "two taps are two waterings"
        assert len(book.find(Photo)) == 1


def test_an_answer_that_was_lost_on_the_way_doubles_nothing(plain: BrowserContext, demo: Served) -> None:
    page = plain.new_page()
    page.goto(f"{demo.address}/notebook")

    def lost(route: Route) -> None:
        route.fetch()  # it reaches the computer
        route.abort()

    plain.route("**/record", lost)
    write(page, "was it kept?")
    expect(page.locator("#queued")).to_contain_text("1")
    assert texts(demo) == ["was it kept?"]
    plain.unroute("**/record")
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("#queued")).to_be_hidden()
    assert texts(demo) == ["was it kept?"]


def test_what_the_computer_refuses_stays_on_the_phone_with_its_reason(plain: BrowserContext, demo: Served) -> None:
    page = plain.new_page()
    page.goto(f"{demo.address}/notebook")
    page.locator("summary", has_text="Thermometer").click()
    plain.route("**/record", lambda route: route.abort())
    page.get_by_label("°F").fill("999")
    page.locator("form:has(#value) button").click()
    expect(page.locator("#queued")).to_contain_text("1")
    write(page, "after it")
    expect(page.locator("#queued")).to_contain_text("2")
    plain.unroute("**/record")
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("#waiting .fault")).to_contain_text("not what a thermometer")
    expect(page.locator("#queued")).to_contain_text("1")
    assert texts(demo) == ["after it"], "the others are sent all the same"
    page.get_by_role("button", name="Throw away").click()
    expect(page.locator("#queued")).to_be_hidden()


def test_a_page_that_only_waits_is_not_what_stays_to_be_read(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(f"{demo.address}/today")
    page.wait_for_selector(".do")
    page.evaluate("navigator.serviceWorker.ready")
    page.reload()
    page.wait_for_selector(".do")
    page.wait_for_function("caches.match('/notebook').then(Boolean)")
    phone.set_offline(True)
    page.goto(f"{demo.address}/")
    expect(page.locator(".do").first).to_be_visible()
    page.get_by_role("link", name="Notebook").click()
    assert page.get_by_label("What happened").is_visible()
