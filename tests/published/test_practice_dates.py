"""Dates of the guide against growers' and extension dates: Vermont (44.3 N), western Oregon, New Zealand's Canterbury and Auckland.

KSU_PEA, UDEL_PEA and GARLIC_NNE stand in crop/data/sources.csv; what has no source there is common practice and marked so.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from underglass.crop.catalogue import find_crop
from underglass.crop.drivers import shelter_days
from underglass.place.place import Place
from underglass.plan.outlook import RouteOutlooks, sowing_outlooks, weekly_dates
from underglass.plan.outlook_types import Route
from underglass.plan.verdict import advise
from underglass.shelter.model import Fleece
from underglass.shelter.presets import preset
from underglass.shelter.simulate import simulate
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid

VERMONT = Place(44.26, -72.575, 278.0, "America/New_York")
OREGON = Place(44.05, -123.09, 130.0, "America/Los_Angeles")
CANTERBURY = Place(-43.53, 172.63, 20.0, "Pacific/Auckland")
AUCKLAND = Place(-36.85, 174.76, 20.0, "Pacific/Auckland")
YEARS = 30


@cache
def days(place: Place):
    outside = generate_weather(from_grid(place), place, 2026, YEARS + 2, seed=1)
    return {name: shelter_days(simulate(preset(name), outside)) for name in ("sill", "open")}


@cache
def outlooks(place: Place, crop: str, raised_in: str | None = None, first: str = "2027-01-04") -> RouteOutlooks:
    found = sowing_outlooks(
        [find_crop(crop)], lambda _: [Route("open", raised_in)], days(place), weekly_dates(np.datetime64(first)),
        n_years=YEARS, latitude_deg=place.latitude_deg,
    )  # fmt: skip
    return next(iter(found))


def at(found: RouteOutlooks, day: str):
    return found.at(int(np.argmin(np.abs((found.sow_dates - np.datetime64(day)).astype(int)))))


@pytest.mark.parametrize(
    ("place", "planted", "lifted"),
    [
        (VERMONT, ("2027-09-20", "2027-10-31"), ("2028-07-05", "2028-08-15")),  # GARLIC_NNE: mid-October; last week of July, formerly August
        (OREGON, ("2027-09-25", "2027-11-15"), ("2028-06-05", "2028-07-25")),  # growers' windows, western Oregon: October, to mid-November
        (CANTERBURY, ("2027-04-01", "2027-07-15"), ("2027-12-01", "2028-01-31")),  # common practice: April to the shortest day, lifted at midsummer
    ],
)  # fmt: skip
def test_garlic_is_planted_in_autumn_and_lifted_in_summer(
    place: Place, planted: tuple[str, str], lifted: tuple[str, str]
) -> None:
    found = outlooks(place, "garlic", first="2027-03-01")
    advice = advise(find_crop("garlic"), found)
    assert advice.best is not None
    assert np.datetime64(planted[0]) <= advice.best.sow_date <= np.datetime64(planted[1])
    assert advice.best.harvest_chance >= 0.8
    assert advice.best.first_harvest is not None
    assert np.datetime64(lifted[0]) <= advice.best.first_harvest.p50 <= np.datetime64(lifted[1])


def test_garlic_is_not_planted_in_warm_soil_or_in_spring() -> None:
    """Growers: into soil that has cooled to about 50 degF; spring-planted cloves disappoint (common practice)."""
    found = outlooks(VERMONT, "garlic")
    for day in ("2027-05-10", "2027-07-05", "2027-08-16"):
        assert at(found, day).harvest_chance <= 0.1, day


def test_tomatoes_ripen_in_august_in_vermont() -> None:
    """Early kinds take 55-60 days from set-out in full summer, others 70-90 (Britannica); set out about Memorial Day they are ripe in August
    there (common practice)."""
    one = at(outlooks(VERMONT, "tomato", "sill"), "2027-04-05")
    assert one.harvest_chance >= 0.8
    assert one.set_out is not None
    assert one.first_harvest is not None
    assert np.datetime64("2027-05-12") <= one.set_out.p50 <= np.datetime64("2027-06-05")
    assert np.datetime64("2027-07-25") <= one.first_harvest.p50 <= np.datetime64("2027-08-31")
    assert (one.first_harvest.p50 - one.set_out.p50).astype(int) >= 55


@pytest.mark.parametrize("crop", ["pea", "broad_bean"])
def test_pulses_that_keep_their_buds_below_stand_spring_frosts(crop: str) -> None:
    """UDEL_PEA: peas stand the low 20s F and come again from below; KSU_PEA: the mid 20s F.  Sown when the soil can be worked."""
    assert at(outlooks(VERMONT, crop), "2027-04-19").harvest_chance >= 0.85


@pytest.mark.parametrize("crop", ["pea", "broad_bean", "carrot", "kale", "spinach"])
def test_the_best_date_of_hardy_kinds_is_an_early_one(crop: str) -> None:
    """Colorado State GardenNotes 720 and common practice: hardy kinds go in well before the frosts end, which is in May here."""
    advice = advise(find_crop(crop), outlooks(VERMONT, crop, first="2027-03-01"))
    assert advice.best is not None
    assert advice.best.sow_date <= np.datetime64("2027-05-17")


@pytest.mark.parametrize(
    ("place", "crop", "raised_in", "early", "late"),
    [
        (
            AUCKLAND,
            "tomato",
            "sill",
            "2027-07-01",
            "2027-11-15",
        ),  # common practice: sown from late winter, set out from October
        (AUCKLAND, "sweet_corn", None, "2027-09-01", "2028-01-15"),  # common practice: spring to midsummer
        (
            VERMONT,
            "bean_snap",
            None,
            "2027-05-07",
            "2027-06-20",
        ),  # Colorado State GardenNotes 720: tender kinds around the last frost and after
        (VERMONT, "cucumber", None, "2027-05-07", "2027-06-20"),
        (VERMONT, "squash_summer", None, "2027-05-07", "2027-06-20"),
    ],
)
def test_tender_kinds_wait_for_warmth_even_without_frost(
    place: Place, crop: str, raised_in: str | None, early: str, late: str
) -> None:
    """Where it never freezes a tender kind still sits through a cool winter: nobody sows it there."""
    advice = advise(find_crop(crop), outlooks(place, crop, raised_in, first="2027-04-05"))
    assert advice.best is not None
    assert np.datetime64(early) <= advice.best.sow_date <= np.datetime64(late)


@pytest.mark.parametrize("crop", ["pea", "kale", "broad_bean", "carrot"])
def test_beds_are_sown_once_they_can_be_worked(crop: str) -> None:
    """Northern New England: the ground thaws and dries from about April (common practice there); before, no date is in season."""
    advice = advise(find_crop(crop), outlooks(VERMONT, crop, first="2027-02-01"))
    assert advice.opens is not None
    assert np.datetime64("2027-03-25") <= advice.opens <= np.datetime64("2027-05-10")


@pytest.mark.parametrize("name", ["tomato", "cucumber", "summer squash", "basil", "pepper"])
def test_nothing_tender_is_carried_through_a_mild_winter_under_film(name: str) -> None:
    """Common practice in Ireland: what is tender leaves an unheated house by November; a tomato sown at midsummer never feeds anybody in May."""
    place = Place(51.9, -8.5, 60.0, "Europe/Dublin")
    outside = generate_weather(from_grid(place), place, 2026, 8, seed=1)
    house = replace(preset("hoop"), fleece=Fleece(night_only=True))
    days = {"hoop": shelter_days(simulate(house, outside))}
    (found,) = sowing_outlooks(
        [find_crop(name)], lambda _: [Route("hoop")], days, weekly_dates(np.datetime64("2027-06-20"), 20),
        n_years=6, latitude_deg=place.latitude_deg,
    )  # fmt: skip
    for i in range(len(found.sow_dates)):
        first = found.at(i).first_harvest
        assert first is None or first.p90 < np.datetime64("2027-12-31"), found.sow_dates[i]
