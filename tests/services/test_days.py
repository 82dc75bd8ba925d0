"""Days inside every shelter over many years: kept for the next question, and made without all their hours at once."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np

from underglass.services.days import known_days
from underglass.services.progress import silent
from underglass.sources.household_file import demo_household

ON = np.datetime64("2027-03-10")
MOST_BYTES = 110e6
"""What making them may take besides what stays: 93 MB measured, 186 where hours are held whole."""


def test_the_next_question_finds_them_and_another_place_does_not() -> None:
    household = demo_household()
    known = known_days(household, ON, 3, 1, None, silent)
    other_wishes = replace(household, crops=("spinach",), seeds=())
    assert known_days(other_wishes, ON, 3, 1, None, silent) is known
    assert known_days(household, ON, 3, 2, None, silent) is not known, "another seed is other weather"
    south = replace(household, place=replace(household.place, latitude_deg=household.place.latitude_deg - 2.0))
    assert known_days(south, ON, 3, 1, None, silent) is not known


def test_what_is_asked_of_one_shelter_is_not_made_for_all() -> None:
    household = replace(demo_household(), name="of one")
    bed = household.shelters[2]
    of_one = known_days(household, ON, 3, 1, None, silent, of=[bed])
    assert list(of_one.days) == [bed.name]
    whole = known_days(household, ON, 3, 1, None, silent)
    assert list(whole.days) == [s.name for s in household.shelters]
    assert (of_one.days[bed.name].shared == whole.days[bed.name].shared).all()


def test_thirty_years_are_never_held_as_hours_of_everything() -> None:
    household = replace(demo_household(), name="thirty years")
    known_days(household, ON, 3, 2, None, silent)  # loops and rays are there
    tracemalloc.start()
    known = known_days(household, ON, 30, 1, None, silent)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    stays = sum(d.hourly.nbytes + d.shared.nbytes for d in known.days.values())
    assert most - stays < MOST_BYTES
