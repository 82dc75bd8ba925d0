"""A household goes into its notebook and comes out the same; what is changed there is what every command sees."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.notebook import tunings
from underglass.notebook.faults import Changed
from underglass.notebook.records import PacketRecord, ShelterRecord, Sowing
from underglass.notebook.store import Notebook, open_notebook
from underglass.place.place import Place
from underglass.plan.household import Household, StandingCrop
from underglass.plan.wishes import Drop, Ground, Pin, Want, Wishes
from underglass.plan.work import areas
from underglass.services.household_store import (
    change_wishes,
    household_in,
    household_record,
    keep_household,
    shelter_named,
    today,
)
from underglass.services.notes import record_sowing
from underglass.shelter.model import Airtightness, Shelter
from underglass.shelter.presets import preset
from underglass.sources.household_file import demo_household
from underglass.tend.standing import STAGES


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "notebook.sqlite", create=True) as opened:
        yield opened


def test_the_demo_family_comes_out_as_it_went_in(book: Notebook) -> None:
    """What stands is in its wishes besides, for the year's planner."""
    keep_household(book, demo_household())
    found = household_in(book)
    assert [(x.crop_id, x.grown_in) for x in found.wishes.standing] == [
        ("spinach", "south box"),
        ("lettuce_leaf", "south box"),
        ("kale", "hoop house"),
    ]
    assert replace(found, wishes=replace(found.wishes, standing=())) == demo_household()


def test_words_of_all_kinds_come_out_as_they_went_in(book: Notebook) -> None:
    box = replace(preset("box"), name='the "old" box\\2', note="first line\nsecond line\t\x7f, été")
    household = Household("café\n\U0001f331", Place(-43.5, 172.6, 20.0, "Pacific/Auckland", "südlich"), (box,))
    keep_household(book, household)
    assert household_in(book) == household


def test_a_second_time_brings_up_to_date_and_keeps_the_rest(book: Notebook) -> None:
    keep_household(book, demo_household())
    fewer = replace(demo_household(), name="the Alders", shelters=demo_household().shelters[:2], seeds=())
    keep_household(book, fewer)
    assert household_record(book).name == "the Alders"
    assert household_record(book).version == 2
    assert len(household_in(book).shelters) == 5
    assert len(book.find(PacketRecord)) == 3


def test_changed_visits_hold_for_shelters_without_times_of_their_own(book: Notebook) -> None:
    keep_household(book, demo_household())
    with book.transaction("visits"):
        book.update(replace(household_record(book), weekday_h=(6.0,)))
    assert all(s.visits.weekday_h == (6.0,) for s in household_in(book).shelters)


def test_tuned_values_are_applied(book: Notebook) -> None:
    def tune(shelter: Shelter, parameters: Mapping[str, float]) -> Shelter:
        return replace(shelter, airtightness=Airtightness(parameters["leak_area_m2"]))

    keep_household(book, demo_household())
    box = shelter_named(book, "south")
    with book.transaction("tuned"):
        tunings.add(book, box.id, {"leak_area_m2": 0.0123}, {"leak_area_m2": (0.01, 0.02)})
    shelters = {s.name: s for s in household_in(book, tune=tune).shelters}
    assert shelters["south box"].airtightness.leak_area_m2 == 0.0123
    assert shelters["hoop house"] == {s.name: s for s in demo_household().shelters}["hoop house"]
    with pytest.raises(InputError, match="leak_area_m2 is not one of"):
        household_in(book)


def test_names_are_matched_kindly(book: Notebook) -> None:
    keep_household(book, demo_household())
    assert shelter_named(book, "South").name == shelter_named(book, "box").name == "south box"
    with pytest.raises(InputError, match="sill, jug, south box, hoop house, open"):
        shelter_named(book, "castle")
    with book.transaction("put away"):
        book.update(replace(shelter_named(book, "jug"), active=False))
    assert "jug" not in [s.name for s in household_in(book).shelters]
    assert len(book.find(ShelterRecord)) == 5


def test_an_empty_notebook_says_how_to_begin(book: Notebook) -> None:
    with pytest.raises(InputError, match="note start --household"):
        household_in(book)


def test_what_stood_already_has_no_day_of_sowing(book: Notebook) -> None:
    keep_household(book, demo_household())
    assert {s.sown_known for s in book.find(Sowing)} == {False}
    keep_household(book, demo_household())
    assert len(book.find(Sowing)) == len(demo_household().standing), "a second time adds nothing"


def test_every_word_of_a_household_file_comes_out_again(book: Notebook) -> None:
    words = [StandingCrop("kale", "south box", stage) for stage in STAGES]
    trays = [StandingCrop("tomato", "sill", stage, True) for stage in ("seed", "seedling", "young")]
    household = replace(demo_household(), standing=(*words, *trays))
    keep_household(book, household)
    assert household_in(book).standing == household.standing


def test_a_plant_that_was_never_hardened_off_settles_in(book: Notebook) -> None:
    keep_household(book, replace(demo_household(), standing=(StandingCrop("kale", "south box", "young"),)))
    begun = today(book)
    assert household_in(book, begun + timedelta(days=13)).standing[0].stage == "young"
    assert household_in(book, begun + timedelta(days=14)).standing[0].stage == "hardened"


def test_wishes_come_out_as_they_went_in(book: Notebook) -> None:
    wishes = Wishes(
        people=3,
        wants=(Want("greens", ("kale", "chard"), 5.0, 2.0), Want("roots", ("carrot",))),
        never=("radish",),
        ground=(Ground("south box", 1.2, np.datetime64("2026-10-01")), Ground("open")),
        minutes_a_week=90.0,
        away=((np.datetime64("2027-07-10"), np.datetime64("2027-07-24")),),
        seed_budget=30.0,
        rotation_years=3,
        risk=0.5,
        new_a_season=1,
        new_from=("kohlrabi",),
        sowings_a_week=2,
        pins=(Pin("garlic", "open", np.datetime64("2027-10-05"), 0.5), Pin("kale", "south box", direct=True)),
        drops=(Drop("radish", "south box", np.datetime64("2027-04-05")), Drop("leek")),
    )
    bare = replace(demo_household(), standing=())
    keep_household(book, replace(bare, wishes=wishes))
    assert household_in(book).wishes == wishes
    keep_household(book, bare)
    assert household_in(book).wishes == wishes, "a household that wishes nothing leaves what was wished"
    change_wishes(book, Wishes())
    assert household_in(book).wishes == Wishes()
    with pytest.raises(Changed):
        change_wishes(book, wishes, seen=1)


def test_a_shelter_that_is_put_away_takes_its_pins_out_of_the_plan(book: Notebook) -> None:
    pins = (Pin("kale", "south box"), Pin("garlic", "open"))
    bare = replace(demo_household(), standing=())
    keep_household(book, replace(bare, wishes=Wishes(pins=pins, ground=(Ground("south box", 1.0),))))
    fewer = tuple(s for s in demo_household().shelters if s.name != "south box")
    keep_household(book, replace(bare, shelters=fewer), put_away=True)
    assert household_in(book).wishes == Wishes(pins=pins[1:])


def test_a_sowing_stands_in_the_ground_of_the_year(book: Notebook) -> None:
    """As measured, else by its cells, else a tenth of the bed; what is too old is left out."""
    keep_household(book, replace(demo_household(), standing=()))
    on = today(book)
    record_sowing(book, "spinach", grown_in="south box", on=on - timedelta(days=20), area_m2=0.4)
    record_sowing(book, "spinach", grown_in="south box", on=on - timedelta(days=20), count=50)
    record_sowing(book, "spinach", grown_in="south box", on=on - timedelta(days=500), area_m2=0.4)
    stands = household_in(book).wishes.standing
    bed = areas(demo_household().shelters, ())["south box"]
    assert [(s.crop_id, s.grown_in) for s in stands] == [("spinach", "south box")] * 2
    assert [s.area_m2 for s in stands] == pytest.approx([0.4, 0.1 * bed], abs=1e-3)


def test_what_is_kept_unchanged_is_not_written_again(book: Notebook) -> None:
    keep_household(book, demo_household())
    keep_household(book, replace(demo_household(), name="other"))
    assert {s.version for s in book.find(ShelterRecord)} == {1}
