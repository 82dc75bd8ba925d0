"""What the family likes to eat: said on the page, kept in the notebook, and what the plan of the year is then made from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.faces.web.hand import Hand, demo_hand, small_household
from underglass.faces.web.jobs import Job
from underglass.faces.web.texts import say_in
from underglass.faces.web.wishes_form import as_form, read_form
from underglass.plan.wishes import Ground, Pin, Want, Wishes
from underglass.services.household_store import change_wishes


@pytest.fixture
def hand(tmp_path: Path) -> Hand:
    return demo_hand(tmp_path)


def wishes(hand: Hand) -> Wishes:
    household = hand.desk.household()
    assert household is not None
    return household.wishes


def test_what_is_said_is_kept_and_asks_for_a_new_plan(hand: Hand, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[Any] = []

    def begin(**asked: Any) -> Job:
        begun.append(asked)
        return Job("a plan")

    monkeypatch.setattr(hand.desk.year, "begin", begin)
    assert "How many of you eat?" in hand.open("/wishes").text
    hand.send("/wishes", **{
        "people": "5", "amount-salad": "12", "amount-roots": "", "fits-fruits": "yes", "like-salad": "loved", "like-herbs": "little", "crop-0": "tomato",
        "amount-new0": "7,5", "never": "radish", "minutes": "120", "new": "2", "from-0": "2027-07-10", "to-0": "2027-07-24",
        "care": "safe", "rotation": "3", "area-south box": "10",
    })  # fmt: skip
    said = wishes(hand)
    wants = {w.label: w for w in said.wants}
    assert said.people == 5
    assert (wants["salad"].servings, wants["salad"].weight) == (12.0, 2.0)
    assert wants["herbs"].weight == 0.5
    assert wants["fruits"].servings is None
    assert "roots" not in wants
    assert (wants["Tomato"].crops, wants["Tomato"].servings) == (("tomato",), 7.5)
    assert said.never == ("radish",)
    assert (said.minutes_a_week, said.seed_budget, said.new_a_season) == (120.0, None, 2)
    assert said.away == ((np.datetime64("2027-07-10"), np.datetime64("2027-07-24")),)
    assert (said.risk, said.rotation_years) == (0.7, 3)
    assert {g.shelter: g.area_m2 for g in said.ground} == {"south box": pytest.approx(10 * 0.3048**2)}
    assert begun[0] == {}
    page = hand.open("/wishes").text
    assert 'name="amount-own0" value="7.5"' in page, "what is the family's own is a row of its own"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"people": "0"}, "how many of you eat"),
        ({"people": "many"}, "how many of you eat"),
        ({"amount-salad": "lots"}, "servings a week as a number"),
        ({"amount-salad": "-3"}, "servings a week as a number"),
        ({"minutes": "-1"}, "Write minutes"),
        ({"budget": "cheap"}, "Write the money"),
        ({"new": "1.5"}, "whole number, 0 to 5"),
        ({"amount-new1": "4"}, "Choose which crop"),
        ({"from-0": "2027-07-10", "to-0": "2027-07-01"}, "The last day must come after"),
        ({"manure-south box": "yesterday"}, "Choose a date"),
        ({"area-south box": "900"}, "Write the area"),
        ({"area-south box": "half"}, "Write the area"),
        ({"rotation": "11"}, "whole number of years"),
    ],
)
def test_a_wrong_field_gets_its_sentence_and_nothing_typed_is_lost(
    hand: Hand, typed: dict[str, str], said: str
) -> None:
    hand.open("/wishes")
    page = hand.send("/wishes", **typed, **({"people": "7"} if "people" not in typed else {}))
    assert page.status_code == 422
    assert said in page.text
    assert f'value="{typed.get("people", "7")}"' in page.text
    assert wishes(hand) == replace(Wishes(), standing=wishes(hand).standing)


def test_two_people_at_one_form_see_both_versions(hand: Hand, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hand.desk.year, "begin", lambda **asked: Job("a plan"))
    twin = Hand(hand.desk)
    hand.open("/wishes")
    twin.open("/wishes")
    twin.send("/wishes", people="6")
    page = hand.send("/wishes", people="3")
    assert page.status_code == 409
    assert "Kept now: 6" in page.text
    assert 'value="3"' in page.text
    assert wishes(hand).people == 6
    hand.send("/wishes")
    assert wishes(hand).people == 3, "sent again, it is put in its place"


def test_what_the_form_does_not_show_stays() -> None:
    told = Wishes(
        people=3,
        wants=(Want("what the children choose", ("pea", "tomato"), 4.0, 1.5, each=True),),
        ground=(Ground("south box", 1.2),),
        pins=(Pin("garlic", "south box"),),
        rotation_years=2,
        risk=0.55,
    )
    household = replace(small_household(), wishes=told)
    form = as_form(household)
    assert read_form(form.fields, (), household, say_in("en")) == (told, {})
    bed = form.beds[0]
    said, faults = read_form(
        {**form.fields, "people": "4", f"manure-{bed}": "2027-02-01"}, ("radish",), household, say_in("en")
    )
    assert not faults
    assert said is not None
    assert said.wants == told.wants
    assert said.pins == told.pins
    assert (said.rotation_years, said.risk) == (2, 0.55)
    assert {g.shelter: g.manure for g in said.ground}[bed] == np.datetime64("2027-02-01")
    assert {g.shelter: g.area_m2 for g in said.ground}["south box"] == 1.2


def test_usual_wishes_stay_usual_so_that_they_grow_with_the_family() -> None:
    household = small_household()
    said, _ = read_form({**as_form(household).fields, "people": "6"}, (), household, say_in("en"))
    assert said is not None
    assert (said.people, said.wants) == (6, ())
    assert as_form(replace(household, wishes=said)).fields["amount-salad"] == "15"


def test_nothing_wanted_is_refused() -> None:
    household = small_household()
    empty = {k: "" if k.startswith(("amount-", "fits-")) else v for k, v in as_form(household).fields.items()}
    said, faults = read_form(empty, (), household, say_in("en"))
    assert said is None
    assert "at least one kind" in faults["form"]


def test_the_wishes_as_data(hand: Hand) -> None:
    with hand.desk.home.open() as notebook:
        change_wishes(notebook, replace(wishes(hand), pins=(Pin("garlic", "south box"),)))
    kept = hand.api.get("/api/wishes").json()
    assert (kept["people"], kept["wants"]) == (4, [])
    said = {
        **kept,
        "people": 3,
        "wants": [{"label": "tomatoes", "crops": ["Tomato"], "servings": 6, "weight": 2}],
        "never": ["radish"],
        "ground": [{"shelter": "south box", "area_m2": 1, "manure": "2027-02-01"}],
        "away": [{"first": "2027-07-10", "last": "2027-07-24"}],
        "rotation_years": 2,
        "risk": 0.7,
    }
    done = hand.api.put("/api/wishes", json=said)
    assert done.status_code == 200, done.text
    now = wishes(hand)
    assert (now.people, now.never, now.rotation_years, now.risk) == (3, ("radish",), 2, 0.7)
    assert (now.wants[0].crops, now.wants[0].servings, now.wants[0].weight) == (("tomato",), 6.0, 2.0)
    assert now.ground == (Ground("south box", 1.0, np.datetime64("2027-02-01")),)
    assert now.pins == (Pin("garlic", "south box"),), "what was decided stays"
    late = hand.api.put("/api/wishes", json={**said, "people": 9})
    assert late.status_code == 409
    assert late.json()["theirs"]["people"] == 3
    assert late.json()["theirs"]["version"] == done.json()["version"]
    again = hand.api.get("/api/wishes").json()
    assert hand.api.put("/api/wishes", json=again).status_code == 200, "what was read can be sent back"
    assert wishes(hand) == now


@pytest.mark.parametrize(
    ("typed", "status", "word"),
    [
        ({"never": ["moonflour"]}, 404, "moonflour"),
        ({"ground": [{"shelter": "barn"}]}, 404, "barn"),
        ({"ground": [{"shelter": "south box", "area_m2": 900}]}, 404, "south box"),
        ({"ground": [{"shelter": "south box"}, {"shelter": "south box"}]}, 404, "twice"),
        ({"away": [{"first": "2027-07-10", "last": "2027-07-01"}]}, 404, "first day"),
        ({"people": 0}, 422, "people"),
        ({"risk": 2}, 422, "risk"),
        ({"wants": [{"label": "x", "crops": []}]}, 422, "crops"),
        ({"secrets": 1}, 422, "secrets"),
    ],
)
def test_wishes_that_do_not_fit_are_refused_as_data(hand: Hand, typed: dict[str, Any], status: int, word: str) -> None:
    before = wishes(hand)
    said = hand.api.put("/api/wishes", json={**hand.api.get("/api/wishes").json(), **typed})
    assert said.status_code == status
    assert word in said.text
    assert wishes(hand) == before
