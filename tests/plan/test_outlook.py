"""Outlooks over generated years: counts add up, dates are in order, both hemispheres agree, advice errs on the safe side."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from underglass.crop.catalogue import catalogue, find_crop
from underglass.crop.drivers import crop_days, shelter_days
from underglass.crop.outcome import Fate
from underglass.errors import InputError
from underglass.place.place import Place
from underglass.plan.outlook import sow_indices, sowing_outlooks, weekly_dates
from underglass.plan.outlook_types import Route
from underglass.plan.routes import fits, routes
from underglass.plan.setout import safe_days
from underglass.plan.story import tell
from underglass.plan.verdict import Verdict, advise
from underglass.shelter.presets import preset
from underglass.shelter.simulate import simulate
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid

PLACE = Place(44.02, -72.66, 350.0, "America/New_York")
YEARS = 30


@cache
def days():
    outside = generate_weather(from_grid(PLACE), PLACE, 2026, YEARS + 2, seed=1)
    return {name: shelter_days(simulate(preset(name), outside)) for name in ("sill", "box", "open")}


def outlooks(crop: str, route: Route, first: str = "2027-01-01", weeks: int = 53):
    found = sowing_outlooks(
        [find_crop(crop)],
        lambda _: [route],
        days(),
        weekly_dates(np.datetime64(first), weeks),
        n_years=YEARS,
        latitude_deg=44.0,
    )
    return next(iter(found))


@pytest.mark.parametrize(
    ("crop", "route"), [("spinach", Route("box")), ("tomato", Route("open", "sill")), ("kale", Route("open"))]
)
def test_every_year_comes_to_one_end(crop: str, route: Route) -> None:
    found = outlooks(crop, route)
    assert (found.counts.sum(axis=1) == YEARS).all()
    assert ((found.chance >= 0.0) & (found.chance <= 1.0)).all()
    for i in range(len(found.sow_dates)):
        one = found.at(i)
        assert one.harvest_chance + sum(one.causes.values()) == pytest.approx(1.0)


def test_dates_come_in_order() -> None:
    found = outlooks("leaf lettuce", Route("open", "sill"))
    for i in np.flatnonzero(found.chance > 0.6):
        one = found.at(int(i))
        assert one.emerged is not None
        assert one.set_out is not None
        assert one.first_harvest is not None
        assert one.sow_date <= one.emerged.p50 <= one.set_out.p50 <= one.first_harvest.p50
        assert one.first_harvest.p10 <= one.first_harvest.p50 <= one.first_harvest.p90


def test_no_tender_crop_is_sown_outside_in_winter() -> None:
    """Common practice: nothing tender is sown or set out in the open before frosts are past."""
    for crop in catalogue().values():
        if crop.tender:
            advice = advise(crop, outlooks(crop.id, Route("open"), "2027-01-15"))
            assert advice.verdict is not Verdict.NOW, crop.id
            assert advice.opens is None or advice.opens >= np.datetime64("2027-04-10"), crop.id


def test_setting_tomatoes_out_waits_for_the_safe_date() -> None:
    """Set out when nine years in ten let it live; the last frost's middle date is not that date."""
    crop = find_crop("tomato")
    bed = crop_days(crop, days()["open"])
    dates = days()["open"].days.dates
    safe = safe_days(crop, bed, dates)[:365].astype(bool)
    first = dates[:365][safe][0]
    assert np.datetime64("2026-05-05") <= first <= np.datetime64("2026-07-01")
    assert not safe[:100].any()


def test_hardy_greens_can_go_out_earlier_than_tender_ones() -> None:
    """Colorado State GardenNotes 720: hardy kinds weeks before tender ones."""
    dates = days()["open"].days.dates[:365]
    first = {}
    for name in ("kale", "leaf lettuce", "tomato"):
        crop = find_crop(name)
        safe = safe_days(crop, crop_days(crop, days()["open"]), days()["open"].days.dates)[:365].astype(bool)
        first[name] = dates[safe & (dates < np.datetime64("2026-08-01"))][0]
    assert first["kale"] <= first["leaf lettuce"] <= first["tomato"]


def test_the_same_seed_gives_the_same_outlooks() -> None:
    one, two = outlooks("spinach", Route("box")), outlooks("spinach", Route("box"))
    assert (one.counts == two.counts).all()


def test_leap_days_and_short_records() -> None:
    dates = np.arange(np.datetime64("2026-01-01"), np.datetime64("2031-01-01"))
    found = sow_indices(dates, np.array(["2028-02-29"], dtype="datetime64[D]"), 3)
    assert [str(dates[i])[5:] for i in found[0]] == ["02-28"] * 3
    with pytest.raises(InputError, match="too short"):
        sow_indices(dates, np.array(["2028-02-29"], dtype="datetime64[D]"), 9)


def test_routes_make_sense() -> None:
    shelters = [preset("sill"), preset("box"), preset("hoop"), preset("open")]
    tomato = routes(find_crop("tomato"), shelters)
    assert Route("hoop", "sill") in tomato
    assert not any(r.grown_in == "box" for r in tomato)  # no tomatoes under a low lid
    assert all(r.raised_in is None for r in routes(find_crop("carrot"), shelters))
    assert fits(find_crop("leaf lettuce"), preset("box"))


def test_the_story_counts_what_the_outlook_counts() -> None:
    found = outlooks("spinach", Route("box"), "2027-03-05", 1)
    story = tell(
        find_crop("spinach"), Route("box"), np.datetime64("2027-03-05"), days(), n_years=YEARS, latitude_deg=44.0
    )
    assert story.harvested == found.counts[0, Fate.HARVESTED]
    assert story.harvested + sum(e.years for e in story.endings) == story.n_years


def test_south_of_the_equator_the_seasons_turn_round() -> None:
    """The same climate half a year later: windows open half a year later too."""
    south = Place(-43.5, 172.6, 20.0, "Pacific/Auckland")
    outside = generate_weather(from_grid(south), south, 2026, YEARS + 2, seed=1)
    found = {"open": shelter_days(simulate(preset("open"), outside))}
    bean = next(
        iter(
            sowing_outlooks(
                [find_crop("snap bean")],
                lambda _: [Route("open")],
                found,
                weekly_dates(np.datetime64("2027-01-01")),
                n_years=YEARS,
                latitude_deg=-43.5,
            )
        )
    )
    month = bean.sow_dates.astype("datetime64[M]").astype(int) % 12 + 1
    assert bean.chance[np.isin(month, (11, 12))].mean() > 0.6
    assert bean.chance[np.isin(month, (5, 6, 7))].mean() < 0.1


def test_a_lid_faces_the_equator() -> None:
    box = preset("box")
    outside = generate_weather(from_grid(replace(PLACE)), PLACE, 2026, 1, seed=1)
    toward = simulate(box, outside).par_umol_m2_s.mean()
    away = simulate(replace(box, facing_deg=0.0), outside).par_umol_m2_s.mean()
    assert toward > away


def test_what_is_sown_in_spring_and_again_in_late_summer_has_both_seasons() -> None:
    """Common practice: spinach and radish are sown in spring and again in late summer, not through the heat between."""
    for name in ("spinach", "radish"):
        advice = advise(find_crop(name), outlooks(name, Route("box")))
        assert advice.opens is not None
        assert advice.again, name
        spring, autumn = advice.latest, advice.again[0]
        assert spring <= np.datetime64("2027-06-15"), name
        assert np.datetime64("2027-06-25") <= autumn[0] <= autumn[1] <= np.datetime64("2027-10-15"), name


def test_a_season_that_is_open_now_is_not_told_again_a_year_on() -> None:
    found = outlooks("spinach", Route("box"))
    first = str(advise(find_crop("spinach"), found).opens)
    advice = advise(find_crop("spinach"), outlooks("spinach", Route("box"), first))
    assert advice.verdict is Verdict.NOW
    assert all(latest < np.datetime64(first) + 350 for _, latest in advice.again)


def test_tender_crops_sown_too_late_were_too_slow_and_not_too_soft() -> None:
    """Autumn's frost ends every tomato: one sown in July in the open did not ripen before it."""
    late = outlooks("tomato", Route("open"), "2027-07-10", 1).at(0)
    assert late.harvest_chance == 0.0
    assert late.causes == {"not ready in time": 1.0}
    early = outlooks("tomato", Route("open"), "2027-04-20", 1).at(0)
    assert "not ready in time" not in early.causes or early.causes["not ready in time"] < 1.0
