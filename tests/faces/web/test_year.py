"""Year: the plan is made, kept and shown at once; decisions without script; two people; stopping; and the same as data."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.faces.web.hand import NOON, Hand, settled, small_household
from underglass.faces.web.desk import Desk
from underglass.faces.web.year_work import FILE, difference_of
from underglass.services import notes, year_book
from underglass.services.household_store import keep_household
from underglass.sources.household_file import demo_household


def household_here(folder: Path, years: int = 4) -> Desk:
    """A desk with a small household."""
    desk = Desk(folder, now=lambda: NOON, years=years)
    desk.home.keep(small_household(), 0)
    return desk


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Hand:
    hand = Hand(household_here(tmp_path_factory.mktemp("year")))
    assert "What comes in" in settled(hand, "/year")
    return hand


@pytest.fixture
def hand(planned: Hand) -> Iterator[Hand]:
    """The page of the year with nothing decided; what a test decided is taken back after it."""
    settled(planned, "/year")
    yield planned
    with planned.desk.home.open() as book:
        decided = year_book.decided(book)
        for decision in decided:
            year_book.forget_decision(book, decision["id"])
    if (job := planned.desk.year.making()) is not None:
        planned.desk.jobs.forget(job)
    if decided:
        planned.desk.year.begin(fresh=True)


def plan_of(hand: Hand) -> dict[str, Any]:
    kept = hand.desk.year.kept()
    assert kept is not None
    return kept.plan


def address_of(sowing: dict[str, Any]) -> str:
    return f"/year/sowing?id={sowing['id']}"


def test_the_plan_is_told_by_week_and_by_place_with_its_basket(hand: Hand) -> None:
    page, plan = settled(hand, "/year"), plan_of(hand)
    assert page.count("/year/sowing?id=") == len(plan["sowings"])
    assert "<svg" in page
    assert page.count("<tr>") == 53, "a heading and 52 weeks stand in the table twin"
    by_place = hand.open("/year?by=shelter").text
    assert "Grows here" in by_place
    assert "Raised here" in by_place or all(s["raised_in"] is None for s in plan["sowings"])
    want = plan["wants"][0]["want"]
    assert f'<option value="{want}" selected>' in hand.open(f"/year?want={want}").text
    assert hand.open("/year?want=nonsense&by=nonsense").status_code == 200
    assert "<html" not in hand.open(f"/year/basket?want={want}").text, "the fragment has its own address"


def test_the_kept_plan_is_there_at_once_on_the_next_visit(hand: Hand) -> None:
    again = Hand(Desk(hand.desk.folder, now=lambda: NOON, years=4))
    start = time.perf_counter()
    assert "What comes in" in again.open("/year").text
    assert time.perf_counter() - start < 1.0
    assert not again.desk.year.making()


def test_a_copy_that_is_lost_is_worked_out_again(hand: Hand) -> None:
    before = [s["id"] for s in plan_of(hand)["sowings"]]
    (hand.desk.home.path().parent / FILE).unlink()
    again = Hand(Desk(hand.desk.folder, now=lambda: NOON, years=4))
    assert "What comes in" in settled(again, "/year")
    assert [s["id"] for s in plan_of(again)["sowings"]] == before


def test_a_sowing_is_kept_and_its_cost_told(hand: Hand) -> None:
    sowing = plan_of(hand)["sowings"][0]
    hand.open(address_of(sowing))
    page = hand.send("/year/keep")
    assert page.url.path == "/year"
    page_text = settled(hand, "/year")
    assert "Keep: " in page_text
    assert re.search(r"This costs (nothing|about \d+ servings)", page_text)
    assert next(s for s in plan_of(hand)["sowings"] if s["id"] == sowing["id"])["pinned"]
    hand.send("/year/forget")
    assert "Keep: " not in settled(hand, "/year")


def test_a_sowing_is_left_out_and_does_not_come_back(hand: Hand) -> None:
    sowing = plan_of(hand)["sowings"][0]
    hand.open(address_of(sowing))
    hand.send("/year/drop")
    page = settled(hand, "/year")
    assert "Leave out: " in page, page[page.index("<h1>") :][:1500]
    assert "What the last planning changed" in page
    assert sowing["id"] not in [s["id"] for s in plan_of(hand)["sowings"]]


def test_a_sowing_is_swapped_for_one_that_is_offered(hand: Hand) -> None:
    for sowing in plan_of(hand)["sowings"]:
        page = settled(hand, address_of(sowing))
        if "/year/swap" in page:
            break
    other = next(f for a, f in hand.forms() if a == "/year/swap")
    page = hand.send("/year/swap", other="melon|open||2027-05-01").text
    assert "not among what could stand" in page
    settled(hand, address_of(sowing))
    hand.send("/year/swap")
    settled(hand, "/year")
    ids = {s["id"] for s in plan_of(hand)["sowings"]}
    assert sowing["id"] not in ids
    assert other["other"] in ids


def test_two_people_decide_about_one_plan(hand: Hand) -> None:
    other, sowings = Hand(hand.desk), plan_of(hand)["sowings"]
    hand.open(address_of(sowings[0]))
    other.open(address_of(sowings[-1]))
    hand.send("/year/drop")
    settled(hand, "/year")
    page = other.send("/year/drop")
    assert page.status_code == 409
    assert "somebody else made another plan" in page.text
    with hand.desk.home.open() as book:
        assert len(year_book.decided(book)) == 1


def test_what_the_plan_has_not_is_refused(hand: Hand) -> None:
    assert hand.open("/year/sowing?id=moonflour").status_code == 404
    sowing = plan_of(hand)["sowings"][0]
    for form in ("/year/keep", "/year/drop"):
        hand.open(address_of(sowing))
        assert hand.send(form, id="moonflour").status_code == 422
    hand.open(address_of(sowing))
    assert hand.send("/year/drop", token="forged").status_code == 422


def test_something_newer_than_the_plan_is_said(hand: Hand) -> None:
    with hand.desk.home.open() as book:
        notes.record_sowing(book, "radish", grown_in="south box", on=NOON.date(), area_m2=0.1)
    try:
        page = hand.open("/year").text
        assert "Something is newer than this plan" in page
        assert "What comes in" in page, "the kept plan is shown all the same"
    finally:
        with hand.desk.home.open() as book:
            notes.undo(book)
    assert "Something is newer" not in hand.open("/year").text


def test_what_stands_beyond_the_plan_is_named(hand: Hand, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "the plan cannot follow them" not in hand.open("/year").text
    monkeypatch.setitem(plan_of(hand), "not_followed", [{"crop": "tomato", "name": "Tomato", "grown_in": "south box"}])
    words = hand.open("/year").text
    assert "the plan cannot follow them" in words
    assert "Tomato (south box)" in " ".join(words.split())


def test_making_a_plan_is_stopped_and_the_one_before_stays(hand: Hand, monkeypatch: pytest.MonkeyPatch) -> None:
    before, go = plan_of(hand), threading.Event()

    def slow(*args: Any, progress: Any, **more: Any) -> dict[str, Any]:
        progress(0.5, "choosing the sowings")
        while not go.wait(0.02):
            progress(0.6, "choosing the sowings")
        raise AssertionError("it was not stopped")

    monkeypatch.setattr(year_book, "make_plan", slow)
    hand.open("/year")
    assert "A new plan is being made" in hand.send("/year/plan").text
    for _ in range(200):  # until work that was stopped before has ended
        if "choosing the sowings" in hand.open("/year").text:
            break
        time.sleep(0.05)
    assert "choosing the sowings" in hand.page.text
    assert 'http-equiv="refresh"' in hand.page.text, "without script the page asks again by itself"
    page = hand.send("/task/")
    assert "Stopped." in page.text
    assert "What comes in" in page.text
    assert plan_of(hand) == before
    again = Hand(hand.desk)
    assert "There is no new plan" in again.open("/year").text, "found again on another phone"


def test_no_plan_that_keeps_everything_names_what_is_in_the_way(hand: Hand, monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = {"possible": False, "in_the_way": ["30 minutes of work a week"]}
    monkeypatch.setattr(year_book, "make_plan", lambda *a, **k: blocked)
    hand.open("/year")
    hand.send("/year/plan")
    page = settled(hand, "/year")
    assert "30 minutes of work a week" in page
    assert "What comes in" in page


def test_a_household_without_shelters_is_told_so(tmp_path: Path) -> None:
    desk = Desk(tmp_path, now=lambda: NOON, years=4)
    with desk.home._made(desk.home.own) as book:
        keep_household(book, replace(demo_household(), shelters=(), standing=()))
    hand = Hand(desk)
    assert "no place to grow yet" in settled(hand, "/year")
    assert "no place to grow yet" in hand.open("/year").text, "the fault can be read, it does not begin without end"


def test_the_first_visit_comes_before_the_year(tmp_path: Path) -> None:
    hand = Hand(Desk(tmp_path, now=lambda: NOON))
    assert hand.open("/year").url.path == "/welcome"
    assert hand.api.get("/api/year").status_code == 404


def test_seeds_know_what_the_plan_needs(hand: Hand) -> None:
    page = hand.open("/seeds").text
    assert re.search(r"\d+ packets, about [\d.]+ to [\d.]+ in all", page)
    needs = {n["crop"]: n["plants"] for n in hand.api.get("/api/seeds").json()["needs"]}
    assert needs == hand.desk.year.needed()[0]


def test_the_same_as_data(hand: Hand) -> None:
    plan = hand.api.get("/api/year").json()
    assert plan["sowings"] == plan_of(hand)["sowings"]
    said = {"wish": "drop", "sowing": plan["sowings"][0]["id"], "seen": plan["kept_version"]}
    assert hand.api.post("/api/year/decisions", json={**said, "seen": plan["kept_version"] + 1}).status_code == 409
    assert hand.api.post("/api/year/decisions", json={**said, "wish": "swap"}).status_code == 404
    assert hand.api.post("/api/year/decisions", json=said).status_code == 202
    settled(hand, "/year")
    (decision,) = hand.api.get("/api/year/decisions").json()
    assert decision["wish"] == "drop"
    assert said["sowing"] not in [s["id"] for s in hand.api.get("/api/year").json()["sowings"]]
    assert hand.api.delete("/api/year/decisions", params={"decision": decision["id"]}).status_code == 202
    assert hand.api.post("/api/year", json={}).status_code == 202
    settled(hand, "/year")
    assert hand.api.delete("/api/year/work").status_code == 404
    assert hand.api.get("/api/year/why", params={"sowing": "moonflour"}).status_code == 404


def test_what_one_plan_has_and_the_other_has_not() -> None:
    def plan(*ids: str, servings: float) -> dict[str, Any]:
        sowings = [
            {"id": i, "crop": i, "name": i, "grown_in": "box", "sow": "2027-03-10", "standing": i == "s"} for i in ids
        ]
        return {"sowings": sowings, "basket": [{"all": {"p50": servings}}]}

    found = difference_of(plan("a", "b", "s", servings=10.0), plan("b", "c", servings=8.5))
    assert [s["crop"] for s in found["gone"]] == ["a"]
    assert [s["crop"] for s in found["come"]] == ["c"]
    assert found["servings"] == -1.5
