"""Autumn backwards: the latest sowing that is near full size before the lean weeks, and what then stands through them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from tests.plan.test_outlook import PLACE, YEARS, days

from underglass.crop.catalogue import find_crop
from underglass.crop.outcome import Fate
from underglass.plan.candidates import candidates_of, held_candidates_of
from underglass.plan.lean import LEAST_SHARE, dates_before, latest_sowings, lean_weeks, near_full, stands_winter
from underglass.plan.outlook import RouteFates, sowing_fates
from underglass.plan.outlook_types import Route

ON = np.datetime64("2027-03-01")
LEAN = lean_weeks(PLACE.latitude_deg, ON)
assert LEAN is not None


@cache
def grown(name: str, bed: str = "box", whole: bool = False) -> RouteFates:
    """Fates of a crop sown before the lean weeks, as near full size or (whole) as the catalogue has it."""
    crop = find_crop(name)
    found = sowing_fates(
        [crop if whole else near_full(crop)], lambda _: [Route(bed)], days(), dates_before(LEAN[0], ON), n_years=YEARS,
        latitude_deg=PLACE.latitude_deg,
    )  # fmt: skip
    return next(iter(found))


def test_there_are_lean_weeks_only_where_days_are_short() -> None:
    """Under ten hours: in the hills of Vermont from about 8 November, in Hobart from May, on the Gulf coast never."""
    assert (np.datetime64("2027-11-08"), np.datetime64("2028-02-04")) == LEAN
    south = lean_weeks(-42.9, ON)
    assert south is not None
    assert np.datetime64("2027-05-01") < south[0] < np.datetime64("2027-06-10")
    assert lean_weeks(29.8, ON) is None
    assert lean_weeks(44.0, np.datetime64("2027-12-24"))[0] > np.datetime64("2028-10-31")  # type: ignore[index]


@pytest.mark.parametrize("name", ["spinach", "kale", "carrot"])
def test_the_latest_sowing_is_early_enough_and_a_later_one_is_not(name: str) -> None:
    one = grown(name)
    (latest,) = latest_sowings([one], {one.crop_id: find_crop(name)}, LEAN[0])
    shape = one.starts.shape
    ready = one.found.first.reshape(shape) - one.starts
    fed = one.found.outcome.reshape(shape) == Fate.HARVESTED
    share = (fed & (one.sow_dates[:, None] + ready <= LEAN[0])).mean(axis=1)
    assert latest.sow < LEAN[0] - 28
    assert latest.share == pytest.approx(share[list(one.sow_dates).index(latest.sow)])
    assert (share[one.sow_dates > latest.sow] < LEAST_SHARE).all()


def test_near_full_size_comes_after_the_first_cut() -> None:
    shape = grown("spinach").starts.shape
    both = [grown("spinach", whole=w).found for w in (False, True)]
    fed = (both[0].outcome == Fate.HARVESTED) & (both[1].outcome == Fate.HARVESTED)
    assert fed.reshape(shape)[:10].any()
    assert (both[0].first[fed] >= both[1].first[fed]).all()


def test_what_stands_is_eaten_in_the_lean_weeks() -> None:
    held = held_candidates_of(find_crop("spinach"), grown("spinach"), ON, LEAN)
    assert held
    from_week, to_week = (int((day - ON).astype(int)) // 7 for day in LEAN)
    for c in held:
        assert c.held
        eaten = c.servings.sum(axis=0)
        assert eaten[: from_week - 2].sum() == 0.0
        assert eaten[to_week + 3 :].sum() == 0.0
        assert c.bed_to <= LEAN[1] + 15
        assert 0.75 <= c.chance <= 1.0


def test_what_bears_fruit_does_not_stand_and_what_is_stored_does_not() -> None:
    assert [stands_winter(find_crop(n)) for n in ("spinach", "leek", "tomato", "pea", "garlic", "bulb onion")] == [
        True, True, False, False, False, False,
    ]  # fmt: skip


def test_no_fruit_ripens_in_the_dark() -> None:
    """With weeks called dark in which peas would bear: none comes in them, and none begins within a fortnight before."""
    dates, pea = np.arange(np.datetime64("2027-03-29"), np.datetime64("2027-07-20"), 7), find_crop("pea")
    found = next(iter(sowing_fates([pea], lambda _: [Route("open")], days(), dates, n_years=YEARS, latitude_deg=PLACE.latitude_deg)))  # fmt: skip
    dark = (np.datetime64("2027-07-20"), np.datetime64("2027-09-10"))
    start, end = (int((day - ON).astype(int)) for day in dark)
    free, offered = (candidates_of(pea, found, ON, least_chance=0.1, dark=d) for d in (None, dark))
    within = slice(start // 7 + 2, end // 7 - 1)  # what was picked before is eaten for a week more
    assert max(c.servings[:, within].sum() for c in free) > 1.0
    for c in offered:
        assert c.servings[:, within].sum() == 0.0
        first = c.first_day[np.isfinite(c.first_day)]
        assert ((first < start - 14) | (first > end)).all()
