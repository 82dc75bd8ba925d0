"""The day's plan for a household: the same weather from any service gives the same plan; old, missing and climate forecasts say what they are."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.sources import formats
from tests.sources.standins import StandIn
from tests.sources.test_services import client_of
from tests.sources.truth import PLACE, Truth
from underglass.errors import InputError
from underglass.notebook.records import LidAction
from underglass.place.place import Place
from underglass.plan.household import Household, StandingCrop
from underglass.services.set_out import set_out_question
from underglass.services.today import day_plan
from underglass.shelter.model import Shelter
from underglass.shelter.presets import preset
from underglass.sources.met_norway import met_norway_forecast
from underglass.sources.nws import nws_forecast
from underglass.sources.open_meteo import open_meteo_ensemble, open_meteo_forecast
from underglass.sources.web import WebClient
from underglass.tend.uncertainty import possible_weathers, span
from underglass.weather.outside import OutsideWeather

START = np.datetime64("2001-06-01T00", "h")
NOW = START + 60
FAMILY = Household(
    "test", PLACE, (replace(preset("box"), name="box"),), standing=(StandingCrop("lettuce_leaf", "box"),)
)

READERS: dict[str, Callable[[WebClient, str], OutsideWeather]] = {
    "open-meteo": lambda c, url: open_meteo_forecast(c, PLACE, base_url=url),
    "nws": lambda c, url: nws_forecast(c, PLACE, base_url=url),
    "met-norway": lambda c, url: met_norway_forecast(c, PLACE, base_url=url),
}


@pytest.fixture(scope="module")
def week() -> tuple[Truth, OutsideWeather]:
    truth = Truth(START, 168)
    return truth, truth.outside()


def gaps(answer: dict[str, Any]) -> list[float]:
    return [step["gap_m"] for step in answer["shelters"][0]["steps"]]


@pytest.mark.parametrize("name", READERS)
def test_each_service_gives_the_same_plan_for_the_same_weather(
    name: str, week: tuple[Truth, OutsideWeather], tmp_path: Path
) -> None:
    """Within what a format loses: shut stays shut, open stays open, a prop differs by one notch at most (three-hourly values: two)."""
    truth, seen = week
    want = day_plan(FAMILY, NOW, seen, days=2)
    with formats.serve_all(truth, seen) as service:
        got = day_plan(FAMILY, NOW, READERS[name](client_of(tmp_path), service.url), days=2)
    notches = [0.0, 0.025, 0.05, 0.1, 0.2, 0.6]
    apart = [abs(notches.index(a) - notches.index(b)) for a, b in zip(gaps(got), gaps(want), strict=True)]
    assert max(apart) <= (2 if name == "met-norway" else 1)
    assert got["shelters"][0]["risk"]["heat"] == pytest.approx(want["shelters"][0]["risk"]["heat"], abs=0.03)


def test_a_forecast_that_is_over_is_refused(week: tuple[Truth, OutsideWeather]) -> None:
    with pytest.raises(InputError, match="get a newer one"):
        day_plan(FAMILY, START + 24 * 30, week[1])


def test_without_a_forecast_the_climate_stands_in_and_says_so() -> None:
    answer = day_plan(FAMILY, NOW, None, days=1, n_members=12)
    assert answer["forecast"]["kind"] == "climate"
    assert "not what tomorrow brings" in " ".join(answer["forecast"]["notes"])
    json.dumps(answer)


def test_an_ensemble_is_read_member_by_member(week: tuple[Truth, OutsideWeather], tmp_path: Path) -> None:
    """As the service documents it: control run bare, members by suffix, units for each."""
    _, seen = week
    members = possible_weathers(seen, 12, 1)
    times = [str(t) + ":00" for t in (seen.times + 1).astype("datetime64[h]")]
    fields = {
        "temperature_2m": ("°C", lambda o: o.air_temp_k - 273.15), "dew_point_2m": ("°C", lambda o: o.dew_point_k - 273.15),
        "wind_speed_10m": ("m/s", lambda o: o.wind_m_s), "shortwave_radiation": ("W/m²", lambda o: _ghi(o)),
        "precipitation": ("mm", lambda o: o.precipitation_mm),
    }  # fmt: skip
    hourly: dict[str, Any] = {"time": times}
    units = {"time": "iso8601"}
    for suffix, one in (("", seen), *((f"_member{i:02d}", m) for i, m in enumerate(members, 1))):
        for key, (unit, values) in fields.items():
            hourly[key + suffix] = [round(float(v), 2) for v in values(one)]
            units[key + suffix] = unit
    body = {"latitude": 44.0, "longitude": -72.7, "utc_offset_seconds": 0, "hourly": hourly, "hourly_units": units}
    with StandIn({"/v1/ensemble": lambda _: body}) as service:
        got = open_meteo_ensemble(client_of(tmp_path), PLACE, base_url=service.url)
    assert len(got) == 13
    assert np.abs(got[3].air_temp_k[1:] - _hourly(members[2].air_temp_k)).max() < 0.02
    answer = day_plan(FAMILY, NOW, seen, days=2, ensemble=got)
    assert answer["forecast"]["kind"] == "ensemble"
    assert answer["forecast"]["members"] == 13


def _ghi(o: OutsideWeather) -> np.ndarray:
    return np.asarray(o.dni_w_m2 * np.maximum(np.cos(np.radians(o.sun_zenith_deg)), 0.0) + o.dhi_w_m2)


def _hourly(at_end: np.ndarray) -> np.ndarray:
    return np.asarray(0.5 * (at_end[1:] + at_end[:-1]))


def test_a_forecast_that_begins_a_little_later_is_planned_by_its_own_hours(week: tuple[Truth, OutsideWeather]) -> None:
    """Visits fall on the clock of the forecast's first hour, not of the question's."""
    late = span(week[1], 3, 120)
    early = day_plan(FAMILY, START, late, days=1)["shelters"][0]["steps"]
    exact = day_plan(FAMILY, START + 3, late, days=1)["shelters"][0]["steps"]
    assert [s["from"] for s in early] == [s["from"] for s in exact]


def test_trays_are_carried_in_from_a_frost_and_stay_out_of_mild_nights(week: tuple[Truth, OutsideWeather]) -> None:
    """The tomatoes live and the hardened spinach stays where it is; each crop's own risk is told."""
    both = (StandingCrop("tomato", "open", "seedling", True), StandingCrop("spinach", "open", "hardened"))
    bed = replace(FAMILY, shelters=(preset("open"),), standing=both)
    frost = replace(week[1], air_temp_k=week[1].air_temp_k - 14.0, dew_point_k=week[1].dew_point_k - 14.0)
    part = day_plan(bed, NOW, frost, days=1)["shelters"][0]
    coldest = min(part["steps"], key=lambda s: s["outside_low_c"]["p50"])
    assert coldest["trays_in"]
    assert coldest["reason"] == "cold"
    assert [s["crop"] for s in part["standing"]] == ["tomato", "spinach"]
    assert part["standing"][0]["cold"] < 0.05
    fixed = replace(bed, standing=(replace(both[0], in_tray=False), both[1]))
    left = day_plan(fixed, NOW, frost, days=1)["shelters"][0]
    assert not any(s["trays_in"] for s in left["steps"])
    assert left["standing"][0]["cold"] > 0.2
    warm = replace(week[1], air_temp_k=week[1].air_temp_k + 4.0, dew_point_k=week[1].dew_point_k + 4.0)
    assert not any(s["trays_in"] for s in day_plan(bed, NOW, warm, days=1)["shelters"][0]["steps"])


def test_a_short_record_says_how_sure_the_ground_is() -> None:
    """Two days of weather before now leave the soil's warmth to the climate; a month and a half makes it."""
    truth = Truth(START, 24 * 52)
    mild = truth.outside()
    month = replace(
        mild, air_temp_k=mild.air_temp_k - 28.0, dew_point_k=mild.dew_point_k - 28.0
    )  # nights with the lid shut
    now = START + 24 * 46
    known, short = (
        day_plan(FAMILY, now, o, days=1)["shelters"][0]["ground"] for o in (month, span(month, 24 * 44, 24 * 52))
    )
    assert (known["known_days"], short["known_days"]) == (45, 2)
    assert known["night_k"] < short["night_k"] < 1.0


def test_an_old_forecast_leaves_more_possible(week: tuple[Truth, OutsideWeather]) -> None:
    """Fetched two days before it is asked: the same hours are told less surely."""
    moment = datetime.fromisoformat(f"{NOW}:00+00:00")
    spans = []
    for age in (0, 48):
        told = replace(week[1].provenance, fetched=moment - timedelta(hours=age))
        bands = day_plan(FAMILY, NOW, replace(week[1], provenance=told), days=1)["shelters"][0]["hours"]["outside_c"]
        spans.append(np.mean(np.array(bands["p90"]) - np.array(bands["p10"])))
    assert spans[1] > 1.2 * spans[0]


def test_the_plan_is_the_same_twice(week: tuple[Truth, OutsideWeather]) -> None:
    one, other = (json.dumps(day_plan(FAMILY, NOW, week[1], days=1)) for _ in range(2))
    assert one == other


def test_an_empty_shelter_is_left_alone(week: tuple[Truth, OutsideWeather]) -> None:
    two = replace(FAMILY, shelters=(*FAMILY.shelters, preset("tunnel")))
    answer = day_plan(two, NOW, week[1], days=1)
    assert answer["shelters"][1] == {"shelter": "tunnel", "standing": []}


def test_tomatoes_wait_in_april_and_go_in_late_june() -> None:
    """Common practice in northern New England: tender crops go out from late May to mid June."""
    vermont = replace(FAMILY, place=Place(44.02, -72.66, 350.0, "America/New_York"))
    april = set_out_question(
        vermont, "tomato", preset("open"), np.datetime64("2027-04-20T12", "h"), None, np.datetime64("2027-05-20")
    )
    june = set_out_question(
        vermont, "tomato", preset("open"), np.datetime64("2027-06-25T12", "h"), None, np.datetime64("2027-07-20")
    )
    assert april["word"] == "wait"
    assert april["chance"] > 0.5
    assert june["word"] == "go"
    assert june["climate_years"] == 30


def test_arm_and_hand_are_compared_where_the_other_is_better() -> None:
    """A sunny cold spell over seedlings: an arm lets out what the night wants, and propping by hand is told; where both do, neither is."""
    from tests.tend.test_lidplan import OVERCAST, PLACE, SEVEN_AM, days

    box = replace(preset("box"), name="box")
    armed = replace(box, lid=replace(box.lid, working="arm"))
    seedlings = replace(FAMILY, place=PLACE, standing=(StandingCrop("tomato", "box", "seedling"),))

    def told(shelter: Shelter, outside: OutsideWeather) -> dict[str, Any]:
        return day_plan(replace(seedlings, shelters=(shelter,)), SEVEN_AM, outside, days=2)["shelters"][0]

    cold_sun = days(8.0, 9.0, 0.95, 18.0)
    by_arm, by_hand = told(armed, cold_sun), told(box, cold_sun)
    hand = next(r for r in by_arm["remedies"] if r["what"] == "prop by hand")
    assert hand["harm"] == pytest.approx(by_hand["risk"]["harm"], abs=1e-3)
    assert hand["harm"] < by_arm["risk"]["harm"] - 0.01
    assert "self-opening arm" not in {r["what"] for r in by_hand["remedies"]}
    for shelter in (armed, box):
        assert not {"prop by hand", "self-opening arm"} & {r["what"] for r in told(shelter, OVERCAST)["remedies"]}


def test_an_arm_is_offered_where_a_crack_is_all_the_hand_has() -> None:
    """A tunnel that one walks into, its doors opening 3 cm by hand, on hot days: an arm that follows the air spares some of it, computed."""
    truth = Truth(START, 168, cloudy=False).outside()
    hot = replace(truth, air_temp_k=truth.air_temp_k + 8.0, dew_point_k=truth.dew_point_k + 8.0)
    house = preset("hoop")
    tight = replace(house, name="box", lid=replace(house.lid, full_gap_m=0.03))
    part = day_plan(replace(FAMILY, shelters=(tight,)), NOW, hot, days=1)["shelters"][0]
    arm = next(r for r in part["remedies"] if r["what"] == "self-opening arm")
    assert arm["harm"] < part["risk"]["harm"] - 0.01


def test_the_cheapest_that_takes_the_risk_away_is_found_or_nothing_is() -> None:
    """One cloth or cover where it is enough, both where neither is, and none that leaves almost all of the loss."""
    from tests.tend.test_lidplan import PLACE, SEVEN_AM, SUNNY_FROST, days

    family = replace(FAMILY, place=PLACE)

    def told(outside: OutsideWeather, crop: str, stage: str, what: str = "box") -> dict[str, Any]:
        shelter, standing = replace(preset(what), name="box"), (StandingCrop(crop, "box", stage),)
        asked = replace(family, shelters=(shelter,), standing=standing)
        return day_plan(asked, SEVEN_AM, outside, days=1)["shelters"][0]

    one = told(SUNNY_FROST, "lettuce_leaf", "young", "tunnel")
    assert one["risk"]["cold"] > 0.05
    assert one["remedies"][0]["what"] == "fleece"
    assert one["remedies"][0]["removes"]
    both = told(SUNNY_FROST, "lettuce_leaf", "young")
    assert not any(r["removes"] for r in both["remedies"] if r["what"] in ("fleece", "night cover"))
    assert next(r for r in both["remedies"] if r["what"] == "fleece and night cover")["removes"]
    lost = told(days(-14.0, 6.0, 0.9, 25.0), "tomato", "young")
    assert lost["risk"]["cold"] > 0.95
    assert lost["remedies"] == []


def test_every_field_is_documented(week: tuple[Truth, OutsideWeather]) -> None:
    trays = replace(FAMILY, standing=(StandingCrop("tomato", "box", "seedling", True),))
    cold = replace(week[1], air_temp_k=week[1].air_temp_k - 16.0, dew_point_k=week[1].dew_point_k - 16.0)
    answer = day_plan(trays, NOW, cold, days=2)
    set_out = set_out_question(trays, "tomato", preset("open"), NOW, cold, NOW.astype("datetime64[D]") + 20)
    documented = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")

    def keys(value: Any) -> set[str]:
        if isinstance(value, dict):
            return set(value).union(*map(keys, value.values()))
        return set().union(*map(keys, value)) if isinstance(value, list) else set()

    found = keys(answer) | keys(set_out)
    assert {"remedies", "hardening", "reason", "until", "word"} <= found
    assert [field for field in sorted(found) if f"`{field}`" not in documented] == []


def test_hardening_off_begins_today_goes_on_from_the_notebook_and_is_told_by_the_clock_on_the_wall(
    week: tuple[Truth, OutsideWeather],
) -> None:
    """NOW is eight in the morning of 3 June, summer time, at the place."""
    warm = replace(week[1], air_temp_k=week[1].air_temp_k + 8.0, dew_point_k=week[1].dew_point_k + 8.0)

    def days_of(begun: int) -> list[dict[str, Any]]:
        tray = StandingCrop("tomato", "box", "young", True, begun)
        return day_plan(replace(FAMILY, standing=(tray,)), NOW, warm, days=2)["hardening"][0]["days"]

    fresh, going_on = days_of(0), days_of(5)
    assert fresh[0]["date"] == "2001-06-03"
    assert fresh[0]["hours"] == 2
    assert fresh[0]["from_h"] >= 9, "eight by standard time is nine on the wall"
    assert going_on[0]["hours"] > fresh[0]["hours"] + 5


def test_the_ground_remembers_how_the_lid_was_worked(week: tuple[Truth, OutsideWeather]) -> None:
    """A box noted wide open in cold days goes into the night with colder ground than one noted shut."""
    cold = replace(week[1], air_temp_k=week[1].air_temp_k - 18.0, dew_point_k=week[1].dew_point_k - 18.0)
    begun = datetime.fromisoformat(f"{START}:00+00:00")
    coldest = {}
    for setting in ("shut", "open"):
        noted = [LidAction(shelter_id="x", at=begun + timedelta(hours=h), setting=setting) for h in (1, 20, 40)]
        part = day_plan(FAMILY, NOW, cold, days=1, lids={"box": noted})["shelters"][0]
        coldest[setting] = part["if_nothing"]["coldest_c"]
    own = day_plan(FAMILY, NOW, cold, days=1)["shelters"][0]["if_nothing"]["coldest_c"]
    assert coldest["open"] < coldest["shut"] - 0.2
    assert coldest["open"] - 0.1 <= own <= coldest["shut"] + 0.1
