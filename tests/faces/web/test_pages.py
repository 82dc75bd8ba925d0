"""The pages in a real browser: first visit to first plan, each page's main task, bad input, no script, offline, and for everybody."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.faces.web.conftest import Served
from underglass.notebook.records import Sowing
from underglass.plan.household import Household

PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 800}
BOX = "/inside/south%20box"


def household(served: Served) -> Household:
    """The household as its notebook has it."""
    found = served.desk.household()
    assert found is not None
    return found


def plan(page: Page, address: str) -> None:
    """Open the plan and wait until it is worked out."""
    page.goto(f"{address}/sow")
    page.wait_for_selector(".card")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_from_the_first_visit_to_the_first_plan(browser: Browser, fresh: Served, size: dict[str, int]) -> None:
    context = browser.new_context(viewport=size, locale="en-US")
    page = context.new_page()
    page.set_default_timeout(60_000)
    faults: list[str] = []
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    page.goto(fresh.address)
    page.get_by_label("Town").fill("Montpelier, Vermont")
    expect(page.locator("#height-guess")).to_contain_text("Montpelier, Vermont")
    page.get_by_label("Usual date of the last frost").fill("2027-05-20")
    page.get_by_text("Only what I choose").click()
    page.get_by_text("Choose crops").click() if not page.get_by_label("Kale", exact=True).is_visible() else None
    for crop in ("Kale", "Spinach"):
        page.get_by_label(crop, exact=True).check()
    page.get_by_role("button", name="Show me what to sow").click()
    page.wait_for_selector(".card")
    assert page.locator("h1").inner_text() == "What to sow"
    assert "Montpelier" in page.locator(".lead").first.inner_text()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "nothing hangs over the edge"
    assert all(url.startswith((fresh.address, "data:")) for url in asked), "no request to anybody else"
    assert not faults
    assert household(fresh).climate.last_frost == (5, 20)
    assert household(fresh).units == "f", "as the browser's country measures"
    context.close()


def test_bad_input_is_said_and_nothing_typed_is_lost(phone: BrowserContext, fresh: Served) -> None:
    page = phone.new_page()
    page.goto(f"{fresh.address}/welcome")
    page.get_by_label("Town").fill("Xyzzyville")
    page.get_by_label("On weekdays").fill("25:00")
    page.get_by_label("Height above the sea").fill("very high")
    page.get_by_role("button", name="Show me what to sow").click()
    assert "No town is called “Xyzzyville”" in page.locator("#near-fault").inner_text()
    assert page.locator("#weekday-fault").is_visible()
    assert page.locator("#elevation-fault").is_visible()
    assert page.get_by_label("Town").input_value() == "Xyzzyville"
    assert page.get_by_label("On weekdays").input_value() == "25:00"
    assert fresh.desk.household() is None


def test_two_phones_are_told_of_each_other(browser: Browser, fresh: Served) -> None:
    pages = []
    for _ in range(2):
        page = browser.new_context(viewport=PHONE, locale="en-US").new_page()
        page.goto(f"{fresh.address}/welcome")
        pages.append(page)
    for page, town in zip(pages, ("Oslo, Norway", "Hobart, Australia"), strict=True):
        page.get_by_label("Town").fill(town)
        with page.expect_navigation():
            page.get_by_role("button", name="Show me what to sow").click()
    assert "Changed meanwhile" in pages[1].locator("main").inner_text()
    assert "Oslo, Norway" in pages[1].locator("main").inner_text()
    assert pages[1].get_by_label("Town").input_value() == "Hobart, Australia"
    assert household(fresh).place.name.startswith("Oslo")
    with pages[1].expect_navigation():
        pages[1].get_by_role("button", name="Show me what to sow").click()
    assert household(fresh).place.name.startswith("Hobart")
    for page in pages:
        page.context.close()


def test_a_sowing_date_is_dragged_and_why_is_told(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    plan(page, demo.address)
    page.locator(".card").first.click()
    page.wait_for_selector("#week")
    first = page.locator(".answer").inner_text()
    mark = page.locator(".chart line").last.get_attribute("x1")
    week = page.locator("#week")
    other = "30" if week.input_value() != "30" else "10"
    with page.expect_response(re.compile("/at\\?")):
        week.fill(other)
    expect(page.locator(".answer")).not_to_have_text(first)
    assert page.locator(".chart line").last.get_attribute("x1") != mark
    assert week.get_attribute("aria-valuetext")
    week.press("ArrowRight")
    page.wait_for_timeout(200)
    page.get_by_role("link", name="Why?").click()
    page.wait_for_selector("main h2")
    assert "of 4 years" in page.locator("main .lead").inner_text()


def test_a_slider_changes_the_picture_while_it_moves(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(demo.address + BOX)
    page.wait_for_selector("#cover")
    before = page.locator("#picture .answer").inner_text()
    page.locator("#cover").fill("18")
    assert page.locator("output[for=cover]").inner_text() == "like 2 in of foam"
    expect(page.locator("#picture .answer")).not_to_have_text(before)
    page.locator("#beside").select_option("hoop house")
    expect(page.locator("#picture h2")).to_have_count(2)
    assert page.locator("#picture").bounding_box()["height"] <= 0.53 * 740  # type: ignore[index]
    page.locator("#trees").scroll_into_view_if_needed()
    assert page.locator("#picture").bounding_box()["y"] >= -1, "the picture stays in sight while a slider is moved"  # type: ignore[index]


def test_the_heat_of_another_day_stands_open_below_its_slider(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(demo.address + BOX)
    page.wait_for_selector("#day")
    before = page.locator("#closer .chart").inner_html()
    page.locator("#day").fill("200")
    expect(page.locator("#closer h3")).to_contain_text("19 Jul")
    assert page.locator("#closer .chart").inner_html() != before
    page.locator("#closer summary").click()
    for day in ("40", "41", "42", "300"):  # one after the other, faster than answers come
        page.locator("#day").fill(day)
    expect(page.locator("#closer h3")).to_contain_text("27 Oct")
    expect(page.locator("#closer details")).to_have_attribute("open", "")
    page.locator("#closer .chart").scroll_into_view_if_needed()
    heat, picture = page.locator("#closer .chart").bounding_box(), page.locator("#picture").bounding_box()
    assert heat
    assert picture
    assert picture["y"] + picture["height"] <= heat["y"], "the picture does not lie over the heat"
    page.locator("#beside").select_option("hoop house")
    expect(page.locator("#closer h3")).to_have_count(2)


def test_everything_works_without_script(browser: Browser, fresh: Served) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False, locale="en-US")
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.goto(fresh.address)
    page.get_by_role("button", name="Look at an invented family").click()
    page.wait_for_selector(".card")  # the waiting page asks again by itself
    page.goto(f"{fresh.address}{BOX}?leaks=30")
    page.wait_for_selector(".chart")
    assert page.locator(".chart").count() == 3
    page.get_by_role("button", name="Show").click()
    assert "leaks=30" in page.url
    page.goto(f"{fresh.address}/settings")
    page.get_by_label("°C").check()
    page.get_by_role("button", name="Keep").click()
    assert household(fresh).units == "c"
    context.close()


def test_the_last_plan_is_there_without_the_computer(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    plan(page, demo.address)
    page.evaluate("navigator.serviceWorker.ready")
    page.reload()
    page.wait_for_selector(".card")
    phone.set_offline(True)
    page.reload()
    assert page.locator(".card").count() > 3
    expect(page.locator("#offline")).to_be_visible()
    phone.set_offline(False)
    page.reload()
    page.wait_for_timeout(300)
    expect(page.locator("#offline")).to_be_hidden()


def test_settings_speak_german_and_celsius(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(f"{demo.address}/settings")
    page.get_by_label("Language").select_option("de")
    page.get_by_label("°C").check()
    page.get_by_role("button", name="Keep").click()
    assert page.locator("h1").inner_text() == "Einstellungen"
    plan(page, demo.address)
    assert page.locator("html").get_attribute("lang") == "de"
    page.goto(demo.address + BOX)
    assert "°C" in page.locator("#picture .answer").inner_text()


def test_work_can_be_stopped_and_begun_again(phone: BrowserContext, demo: Served) -> None:
    job = demo.desk.jobs.ask(
        "slow", lambda progress: [progress(0.1, "x") or __import__("time").sleep(0.05) for _ in range(400)]
    )
    page = phone.new_page()
    page.goto(f"{demo.address}/settings")
    token = page.locator("input[name=token]").first.input_value()
    assert phone.request.post(
        f"{demo.address}/task/{job.id}/stop", form={"token": token}, headers={"origin": demo.address}
    ).ok
    for _ in range(100):
        if job.done:
            break
        page.wait_for_timeout(20)
    assert job.fault == "stopped"
    assert demo.desk.jobs.ask("slow", lambda progress: 7) is job, "it stays stopped until somebody asks anew"
    demo.desk.jobs.forget(job)
    assert demo.desk.jobs.ask("slow", lambda progress: 7) is not job


def test_the_notebook_writes_shows_and_undoes(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(f"{demo.address}/notebook")
    page.get_by_label("What happened").fill("First frost on the glass")
    page.locator("form:has(#note) button").click()
    expect(page.locator(".words", has_text="First frost on the glass")).to_have_count(1)
    page.locator("summary", has_text="Thermometer").click()
    page.get_by_label("°F").fill("four")
    page.locator("form:has(#value) button").click()
    expect(page.locator(".fault")).to_contain_text("Write a number")
    assert page.get_by_label("°F").input_value() == "four"
    page.get_by_label("°F").fill("-4,5")
    page.locator("form:has(#value) button").click()
    expect(page.locator(".words", has_text="-4.5 °F")).to_have_count(1)
    page.locator(".stand button", has_text="Watered").first.click()
    expect(page.locator("#steps ~ ul li").first).to_contain_text("Watered:")
    for details in page.locator("main summary").all():
        details.click()
    assert Axe().run(page).violations_count == 0
    page.get_by_role("button", name="Undo: Outside").click()
    expect(page.locator("#steps ~ ul li").first).to_contain_text("Undone: Outside")
    page.get_by_role("button", name="Bring back").click()
    expect(page.locator("#steps ~ ul li").first).to_contain_text("Brought back: Outside")


def test_today_says_what_to_do_and_shows_the_hours(phone: BrowserContext, demo: Served) -> None:
    page = phone.new_page()
    page.goto(demo.address)
    page.wait_for_selector(".do")
    assert page.url.endswith("/today")
    assert page.locator("section.shelter").count() >= 2
    box = page.locator("section.shelter", has=page.get_by_role("heading", name="south box"))
    assert re.match(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) [0-9:]+: ", box.locator(".do").first.inner_text())
    assert "Chance of loss" in box.inner_text()
    assert box.locator(".chart svg").is_visible()
    box.get_by_text("The same as a table").click()
    assert box.locator("tbody tr").count() >= 3
    assert "not a forecast" in page.locator(".lead").inner_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_shuts_anybody_out(browser: Browser, demo: Served, scheme: str) -> None:
    """Every rule of axe-core for WCAG 2.2 A and AA and its best practices, on every page."""
    context = browser.new_context(viewport=PHONE, color_scheme=scheme, locale="en-US")  # type: ignore[arg-type]
    page = context.new_page()
    page.set_default_timeout(60_000)
    plan(page, demo.address)
    crop = page.locator(".card").first.get_attribute("href")
    page.goto(f"{demo.address}/today")
    page.wait_for_selector(".do")
    with demo.desk.home.open() as book:
        sowing = book.find(Sowing)[0]
    for path in (
        "/today",
        "/sow",
        crop,
        "/welcome",
        BOX + "?beside=hoop%20house",
        "/settings",
        "/shelters",
        "/shelters/south%20box",
        "/notebook",
        "/notebook/search?words=kale",
        "/notebook/copies",
        f"/notebook/sowing/{sowing.id}",
        "/tuning",
        "/set-out",
        "/pair",
        "/nowhere",
    ):
        page.goto(f"{demo.address}{path}")
        page.wait_for_selector("h1")
        page.wait_for_selector("#work", state="detached")
        found = Axe().run(page)
        assert found.violations_count == 0, f"{path}: {found.generate_report()[:3000]}"
    context.close()


def test_first_page_is_light(browser: Browser, demo: Served) -> None:
    """At most 150 KB over the wire at first and 30 KB after; without the service worker, behind which sizes are those unpacked."""
    context = browser.new_context(viewport=PHONE, locale="en-US", service_workers="block")
    page = context.new_page()
    plan(page, demo.address)
    sizes = "performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation')).map(e => e.encodedBodySize)"
    assert sum(page.evaluate(sizes)) <= 150_000
    for path in ("/sow", BOX, "/settings", "/today", "/notebook", "/wishes", "/seeds"):
        page.goto(demo.address + path)
        assert page.evaluate("performance.getEntriesByType('navigation')[0].encodedBodySize") <= 30_000, path
    context.close()
