"""Each step of the first visit can be left out, the place too; what was answered is kept, and each page says what it waits for."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, expect

from tests.faces.web.conftest import Served
from tests.faces.web.hand import Hand
from underglass.faces.web.desk import Desk

WAITING = (
    "/today",
    "/sow",
    "/year",
    "/wishes",
    "/seeds",
    "/inside",
    "/notebook",
    "/notebook/search?words=kale",
    "/shelters",
    "/tuning",
    "/set-out",
)


@pytest.fixture
def hand(tmp_path: Path) -> Hand:
    return Hand(Desk(tmp_path, now=lambda: datetime(2027, 3, 10, 12, tzinfo=UTC), years=4))


def test_a_visit_without_a_place_keeps_the_other_answers(hand: Hand) -> None:
    hand.open("/welcome")
    said = hand.send("/welcome", weekday="06:15", last_frost="2027-05-20", name="We two", shelter="tunnel")
    assert str(said.url).endswith("/today")
    assert "Only your place is missing" in said.text
    assert hand.desk.household() is None
    for path in WAITING:
        assert "Only your place is missing" in hand.open(path).text, path
    assert hand.open("/settings").status_code == 200
    again = hand.open("/welcome").text
    assert "06:15" in again
    assert "We two" in again


def test_the_place_can_be_said_afterwards(hand: Hand) -> None:
    hand.open("/welcome")
    hand.send("/welcome", weekday="06:15", last_frost="2027-05-20", shelter="tunnel")
    wrong = hand.send("/welcome/place", near="Xyzzyville")
    assert wrong.status_code == 422
    assert "No town is called “Xyzzyville”" in wrong.text
    assert 'value="Xyzzyville"' in wrong.text, "nothing typed is lost"
    empty = hand.send("/welcome/place", near=" ")
    assert "Say where you live" in empty.text
    hand.send("/welcome/place", near="Oslo, Norway")
    household = hand.desk.household()
    assert household is not None
    assert household.place.name.startswith("Oslo")
    assert household.climate.last_frost == (5, 20)
    assert household.visits.weekday_h == (6.25,)
    assert [s.name for s in household.shelters] == ["tunnel"]
    assert hand.desk.draft.kept() is None
    hand.open("/welcome")
    assert 'value="Oslo' in hand.page.text


def test_a_place_that_is_known_is_not_lost(hand: Hand) -> None:
    """Whoever empties the field of a household's place is asked for one: its plans stand on it."""
    hand.open("/welcome")
    hand.send("/welcome", near="Oslo, Norway")
    hand.open("/welcome")
    said = hand.send("/welcome", near="", latitude="", longitude="")
    assert said.status_code == 422
    assert "Say where you live" in said.text


def test_other_faults_are_said_before_the_place_is_left_out(hand: Hand) -> None:
    hand.open("/welcome")
    said = hand.send("/welcome", weekday="25:00")
    assert said.status_code == 422
    assert "Write times as" in said.text
    assert hand.desk.draft.kept() is None


def test_answers_that_cannot_be_read_lead_to_the_first_visit(hand: Hand) -> None:
    (hand.desk.folder / "first-answers.json").write_text('{"fields": 3}', encoding="utf-8")
    assert str(hand.open("/today").url).endswith("/welcome")


def test_the_invented_family_is_one_tap_away(phone: BrowserContext, fresh: Served) -> None:
    page = phone.new_page()
    page.goto(fresh.address)
    page.get_by_role("button", name="Show me what to sow").click()
    page.wait_for_url("**/today")
    assert Axe().run(page).violations_count == 0
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_label("Town").press_sequentially("Montpelier, V")
    expect(page.locator("#height-guess")).to_contain_text("Montpelier")
    page.get_by_role("button", name="Look at an invented family").click()
    page.wait_for_selector(".card")
