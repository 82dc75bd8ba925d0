"""Visits, hardening off, water, warnings and the spread of a forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.tend.test_lidplan import CLEAR_NIGHT, DAYS_BEFORE, OVERCAST, SUNNY_FROST, box, damp_days, days, plan
from underglass.crop.catalogue import find_crop
from underglass.errors import InputError
from underglass.place.place import Place
from underglass.shelter.carry import LEAF
from underglass.shelter.model import Shelter, Visits
from underglass.shelter.presets import preset
from underglass.tend.hardening import harden_days
from underglass.tend.numbers import numbers
from underglass.tend.standing import stage_named
from underglass.tend.uncertainty import dressed, possible_weathers, span
from underglass.tend.visits import visits_ahead
from underglass.tend.warnings import Caution, warnings_for
from underglass.tend.water import water_need
from underglass.weather.outside import OutsideWeather

PLACE = Place(44.02, -72.66, 350.0, "America/New_York")
AHEAD = span(SUNNY_FROST, 24 * DAYS_BEFORE, 24 * DAYS_BEFORE + 72)


def test_visits_fall_on_the_familys_clock_and_exceptions_win() -> None:
    """Wednesday 10 March 2027, 12 UTC is seven in the morning there; Saturday has its own times."""
    start = np.datetime64("2027-03-10T12", "h")
    usual = visits_ahead(Visits((7.5, 17.5), (9.0,)), PLACE, start, 96)
    assert usual == [0, 10, 24, 34, 48, 58, 74]
    away = {np.datetime64("2027-03-11"): ()}
    assert visits_ahead(Visits((7.5, 17.5), (9.0,)), PLACE, start, 96, away) == [0, 10, 48, 58, 74]


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**31), st.integers(2, 6))
def test_possible_weathers_stay_weather(seed: int, n: int) -> None:
    """No negative light or wind, dew never above the air, spread that grows with the lead; the same seed gives the same."""
    members = possible_weathers(AHEAD, n, seed)
    for m in members:
        for values in (m.dni_w_m2, m.dhi_w_m2, m.wind_m_s):
            assert (values >= 0.0).all()
        assert (m.dew_point_k <= m.air_temp_k + 1e-9).all()
        assert (m.dni_w_m2[AHEAD.dni_w_m2 == 0.0] == 0.0).all()
    again = possible_weathers(AHEAD, n, seed)
    assert all((a.air_temp_k == b.air_temp_k).all() for a, b in zip(members, again, strict=True))


def test_the_spread_of_a_forecast_is_the_stated_one() -> None:
    """1.5 K and a third of a kelvin more each day, about the forecast itself."""
    air = np.stack([m.air_temp_k for m in possible_weathers(AHEAD, 400, 3)])
    sd = air.std(axis=0)
    assert sd[24] == pytest.approx(1.82, abs=0.25)
    assert sd[71] == pytest.approx(2.45, abs=0.3)
    assert np.abs(air.mean(axis=0) - AHEAD.air_temp_k).max() < 0.4


MAE_BY_DAY_K = (1.03, 1.15, 1.36, 1.82, 2.32)
"""Schmittenhoehe, Austria, winter 2011/12, days 1-5 (metgis.com)."""

RMSE_FIRST_DAY_K = 3.80 / 1.8
"""Highs of Oklahoma City 12-24 h ahead by the weather service (Brooks, Witt & Eilts, nssl.noaa.gov, table 1: 3.80 degF)."""


def test_stated_errors_lie_between_verified_ones() -> None:
    """No surer than the good forecasts of an alpine summit, no less sure on the first day than old ones for the plains."""
    e = numbers("forecast_error")
    stated = [e["air_first_k"] + e["air_per_day_k"] * (day + 0.5) for day in range(5)]
    verified = [mae * np.sqrt(np.pi / 2.0) for mae in MAE_BY_DAY_K]
    assert all(v - 0.05 <= s <= 1.5 * v for s, v in zip(stated, verified, strict=True))
    assert stated[0] <= RMSE_FIRST_DAY_K


def test_an_old_forecast_is_less_sure() -> None:
    fresh, old = (np.stack([m.air_temp_k for m in possible_weathers(AHEAD, 300, 3, lead)]) for lead in (0.0, 48.0))
    assert old.std(axis=0)[:12].mean() > 1.5 * fresh.std(axis=0)[:12].mean()


def test_dressed_members_hold_the_truth_as_often_as_they_say() -> None:
    """A service whose members carry the growth of the error but not its start: bare their middle eighty hundredths hold too few truths."""
    e, hour = numbers("forecast_error"), 60
    total = e["air_first_k"] + e["air_per_day_k"] * hour / 24.0
    growth = float(np.sqrt(total**2 - e["air_first_k"] ** 2))
    rng = np.random.default_rng(8)
    members = [replace(AHEAD, air_temp_k=AHEAD.air_temp_k + growth * z) for z in rng.standard_normal(300)]
    truths = AHEAD.air_temp_k[hour] + total * rng.standard_normal(2000)
    held = []
    for told in (members, dressed(members, 4)):
        low, high = np.quantile([m.air_temp_k[hour] for m in told], (0.1, 0.9))
        held.append(float(np.mean((truths > low) & (truths < high))))
    assert held[0] < 0.72
    assert held[1] == pytest.approx(0.80, abs=0.06)


def test_members_of_a_service_are_dressed_with_what_none_of_them_knows() -> None:
    """Members that agree get the error of a forecast's start; where they disagree by more, they keep it."""
    alike = dressed([AHEAD] * 300, 4)
    sd = np.stack([m.air_temp_k for m in alike]).std(axis=0)
    assert sd[12:].mean() == pytest.approx(1.5, abs=0.1)
    assert sd[71] < np.stack([m.air_temp_k for m in possible_weathers(AHEAD, 300, 4)]).std(axis=0)[71]
    apart = [replace(AHEAD, air_temp_k=AHEAD.air_temp_k + (4.0 if i % 2 else -4.0)) for i in range(300)]
    wide = np.stack([m.air_temp_k for m in dressed(apart, 4)]).std(axis=0)
    assert wide[12:].mean() == pytest.approx(np.hypot(4.0, 1.5), abs=0.15)
    again = dressed([AHEAD] * 300, 4)
    assert all((a.wind_m_s == b.wind_m_s).all() for a, b in zip(alike, again, strict=True))


def test_visits_follow_the_wall_clock_into_summer_time() -> None:
    """In April half past seven is half past eleven UTC."""
    assert visits_ahead(Visits((7.5,), ()), PLACE, np.datetime64("2027-04-20T06", "h"), 24) == [0, 5]


def test_hardening_off_lengthens_and_waits_for_warmth() -> None:
    """Common practice: an hour or two first, more each day, overnight only late and in mild nights; cold days in."""
    dates = np.datetime64("2027-05-10") + np.arange(9)
    warm = np.full((9, 24), 22.0)
    found = harden_days(find_crop("tomato"), dates, warm, np.full((9, 24), 2.0))
    hours = [d.hours for d in found]
    assert hours[0] == 2
    assert hours == sorted(hours)
    assert not found[0].overnight
    assert found[-1].overnight
    cold = harden_days(find_crop("tomato"), dates, np.full((9, 24), 2.0), np.full((9, 24), 2.0))
    assert all(d.hours == 0 and d.why == "cold" for d in cold)
    later = harden_days(find_crop("tomato"), dates, warm, np.full((9, 24), 2.0), already=4)
    assert later[0].hours == hours[4], "a tray that has been out goes on, and does not begin anew each day"
    evening, afternoon = (
        harden_days(find_crop("tomato"), dates, warm, np.full((9, 24), 2.0), now_h=h)[0] for h in (19, 15)
    )
    assert (evening.hours, evening.why) == (0, "late")
    assert (afternoon.hours, afternoon.first_hour) == (2, 15)
    windy = harden_days(find_crop("tomato"), dates, warm, np.full((9, 24), 12.0))
    assert all(d.why == "wind" for d in windy)


def test_frozen_leaves_are_warned_of() -> None:
    found = plan(box(), SUNNY_FROST)
    air = np.stack([AHEAD.air_temp_k] * found.out.shape[0])
    by_kind = {w.kind: w for w in warnings_for(box(), found, AHEAD, air)}
    assert "gusts" not in by_kind
    frozen = by_kind["frozen leaves"]
    leaf = np.median(found.out[:, :, LEAF], axis=0) - 273.15
    assert leaf[frozen.hour] < 0.0
    assert frozen.until is not None
    assert (leaf[frozen.until - 1 : frozen.until + 1] > 1.0).all(), "thawed for two hours: handle and pick"
    assert frozen.until > frozen.hour


def warned(shelter: Shelter, outside: OutsideWeather, ahead: OutsideWeather | None = None) -> dict[str, Caution]:
    """What is warned of under the plan for `outside`; `ahead`: what else its days bring."""
    found = plan(shelter, outside)
    days_ahead = span(outside, 24 * DAYS_BEFORE, 24 * DAYS_BEFORE + 72) if ahead is None else ahead
    air = np.stack([days_ahead.air_temp_k] * found.out.shape[0])
    return {w.kind: w for w in warnings_for(shelter, found, days_ahead, air)}


def test_film_is_not_oversold_on_clear_nights_and_not_blamed_on_others() -> None:
    """Measured: 2 K below to 3 K above outside under single film; glass keeps the ground's heat, and so do clouds."""
    tunnel = preset("tunnel")
    said = warned(tunnel, CLEAR_NIGHT)["film on a clear night"]
    assert AHEAD.sun_zenith_deg[said.hour] > 90.0
    assert said.value < 1.5
    assert "film on a clear night" not in warned(tunnel, OVERCAST)
    assert "film on a clear night" not in warned(box(), CLEAR_NIGHT)


def test_wind_snow_and_rain_on_snow_are_warned_of_at_their_hour() -> None:
    """Thresholds stand in data/tending.toml; a dusting, a breeze and a drizzle are none."""
    n = np.arange(72)
    calm = span(OVERCAST, 24 * DAYS_BEFORE, 24 * DAYS_BEFORE + 72)
    assert not {"gusts", "snow", "rain on snow"} & set(warned(box(), OVERCAST, calm))
    storm = warned(box(), OVERCAST, replace(calm, wind_m_s=np.where(n == 30, 13.0, 2.0)))
    assert (storm["gusts"].hour, storm["gusts"].value) == (30, 13.0)
    snowing = warned(box(), OVERCAST, replace(calm, snow_depth_m=0.03 + np.minimum(n * 0.01, 0.25)))
    assert snowing["snow"].value == pytest.approx(0.25), "what falls, not what lay there"
    assert "snow" not in warned(box(), OVERCAST, replace(calm, snow_depth_m=np.full(72, 0.3)))
    rain = np.where(n >= 40, 1.0, 0.0)
    thaw = replace(calm, snow_depth_m=np.full(72, 0.2), precipitation_mm=rain, air_temp_k=np.full(72, 276.0))
    assert warned(box(), OVERCAST, thaw)["rain on snow"].hour >= 40
    assert "rain on snow" not in warned(box(), OVERCAST, replace(thaw, snow_depth_m=np.zeros(72)))


def test_damp_and_still_air_is_warned_of() -> None:
    """A house in mild fog for days; a sunny frost is none, and cold damp breeds no mould."""
    house = preset("hoop")
    assert warned(house, damp_days())["damp"].value > 14.0
    assert "damp" not in warned(house, SUNNY_FROST)
    assert "damp" not in warned(house, days(-3.0, 1.0, 0.0, 0.0))


def test_what_cannot_be_carried_through_is_warned_of_by_its_chance() -> None:
    """Lettuce in a bitter night under one sheet; hardy spinach in a mild one is not at risk."""
    assert warned(box(), days(-14.0, 6.0, 0.9, 25.0))["cold"].value > 0.5
    assert "cold" not in warned(box(), OVERCAST)


def test_frozen_soil_is_not_watered() -> None:
    assert water_need(plan(box(), days(-14.0, 6.0, 0.3, 10.0)).out, 97000.0).frozen
    assert not water_need(plan(box(), OVERCAST).out, 97000.0).frozen


def test_water_use_in_a_cool_box_is_small_and_drying_cells_are_quicker() -> None:
    """Common practice: hoop houses in winter are watered every 2-4 weeks; cells dry first."""
    need = water_need(plan(box(), SUNNY_FROST).out, 97000.0)
    assert 0.0 < need.mm_per_day < 4.0
    assert need.cell_days < need.bed_days


def test_a_misspelt_stage_gets_a_sentence() -> None:
    with pytest.raises(InputError, match="seedling"):
        stage_named("sprout")
