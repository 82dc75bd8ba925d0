"""What a family noted by hand corrects a shelter: by itself, beside a file, and with the lid as it was worked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.notebook.records import LidAction, Reading, ShelterRecord
from underglass.notebook.store import Notebook, open_notebook
from underglass.services import notes
from underglass.services.household_store import household_in, keep_household
from underglass.services.lids import handling_in
from underglass.services.noted_readings import need_readings, noted_readings
from underglass.services.tune import tune_shelter
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import SPIN_UP_H, simulate
from underglass.shelter.tunable import apply_tuning
from underglass.shelter.working import Handling, worked_by_hand
from underglass.sources.household_file import demo_household
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid
from underglass.weather.outside import OutsideWeather

DAYS = 28
TRUTH = {"leak_factor": 2.0, "light_factor": 0.75}


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "notebook.sqlite", create=True) as opened:
        keep_household(opened, demo_household())
        yield opened


@pytest.fixture(scope="module")
def outside() -> OutsideWeather:
    place = demo_household().place
    year = generate_weather(from_grid(place), place, 2026, n_years=1, seed=3)
    return year.part(24 * 40, 24 * 40 + SPIN_UP_H + 24 * (DAYS + 1))


def box(book: Notebook) -> Shelter:
    return next(s for s in household_in(book).shelters if s.name == "south box")


def moment(outside: OutsideWeather, hour: float) -> datetime:
    start = datetime.fromisoformat(f"{outside.start}:00+00:00")
    return start + timedelta(hours=SPIN_UP_H + hour)


def note_days(book: Notebook, outside: OutsideWeather, temp_k: np.ndarray, rng: np.random.Generator) -> None:
    """Each day at seven in the morning: what a lowest-highest thermometer shows, read to half a kelvin, and set back."""
    for day in range(1, DAYS + 1):
        hours = slice(SPIN_UP_H + 24 * (day - 1) + 12, SPIN_UP_H + 24 * day + 12)
        for kind, value in (("min", temp_k[hours].min()), ("max", temp_k[hours].max())):
            read = round(2.0 * (float(value) + rng.normal(0.0, 0.3))) / 2.0
            notes.record_reading(
                book, moment(outside, 24 * day + 12), read, shelter="south box", kind=kind, height_m=0.2, in_sun=False,
            )  # fmt: skip


def test_lowest_and_highest_noted_each_day_correct_a_box(book: Notebook, outside: OutsideWeather) -> None:
    shelter = box(book)
    air = simulate(apply_tuning(shelter, TRUTH), outside).air_temp_k.astype(float)
    note_days(book, outside, air, np.random.default_rng(2))
    readings, said = noted_readings(book, "south box")
    assert {r.kind for r in readings} == {"lowest", "highest"}
    assert len({r.probe for r in readings}) == 1, "one thermometer shows both"
    assert all(r.timed_by_hand and r.sunlit == "shade" and r.height_m == 0.2 for r in readings)
    assert f"{DAYS} lowest" in " ".join(said)
    answer, tuned = tune_shelter(shelter, outside, readings, said)
    light = answer["estimates"]["light_factor"]
    assert light["told"]
    assert light["low"] <= TRUTH["light_factor"] <= light["high"]
    assert (
        answer["estimates"]["leak_factor"]["low"] <= TRUTH["leak_factor"] <= answer["estimates"]["leak_factor"]["high"]
    )
    assert tuned.cover is not None
    assert answer["clock_h"]["words"] == "the times are your own, no logger's clock"
    assert answer["questions"] == []


def test_single_values_count_and_what_was_not_said_is_asked(book: Notebook, outside: OutsideWeather) -> None:
    shelter = box(book)
    air = simulate(apply_tuning(shelter, TRUTH), outside).air_temp_k.astype(float)
    for day in range(DAYS):
        for hour in (12, 18, 22):  # seven, one and five on the wall
            value = float(air[SPIN_UP_H + 24 * day + hour])
            notes.record_reading(book, moment(outside, 24 * day + hour + 0.5), value, shelter="south box")
    readings, _ = noted_readings(book, "south box")
    answer, _ = tune_shelter(shelter, outside, readings)
    light = answer["estimates"]["light_factor"]
    assert light["low"] <= TRUTH["light_factor"] <= light["high"]
    assert answer["questions"] == ["air (noted): it was not said whether the sun reaches it or how high it hangs"]


def test_the_span_of_a_lowest_is_the_time_since_the_one_before(book: Notebook) -> None:
    first = datetime(2027, 3, 1, 12, tzinfo=UTC)
    for days in (0, 2, 30):
        notes.record_reading(book, first + timedelta(days=days), 270.0, shelter="south box", kind="min")
    (r,) = noted_readings(book, "south box")[0]
    assert r.since_s is not None
    assert [int(h) for h in (r.at_s - r.since_s) // 3600] == [24, 48, 7 * 24]


def test_old_readings_and_other_shelters_stay_out(book: Notebook) -> None:
    now = datetime(2027, 3, 1, 12, tzinfo=UTC)
    notes.record_reading(book, now, 270.0, shelter="south box")
    notes.record_reading(book, now - timedelta(days=200), 280.0, shelter="south box")
    notes.record_reading(book, now, 290.0, shelter="hoop house")
    notes.record_reading(book, now, 268.0, shelter=None)
    found = {r.spot: r for r in noted_readings(book, "south box")[0]}
    assert found["air"].temp_k.tolist() == [270.0]
    assert found["outside"].temp_k.tolist() == [268.0]
    assert noted_readings(book, "south box", since=date(2026, 1, 1))[0][0].n_readings == 2


def test_readings_of_a_file_are_left_out_beside_a_file(book: Notebook) -> None:
    now = datetime(2027, 3, 1, 12, tzinfo=UTC)
    home = book.find(ShelterRecord, "name = ?", "south box")[0].id
    notes.record_readings(book, [Reading(at=now, value_k=275.0, shelter_id=home)], "log.csv")
    assert noted_readings(book, "south box")[0][0].probe == "air (log.csv)"
    assert not noted_readings(book, "south box")[0][0].timed_by_hand
    assert noted_readings(book, "south box", by_hand_only=True) == ((), ())


def test_no_readings_are_one_sentence(book: Notebook) -> None:
    with pytest.raises(InputError, match="no readings of the south box: add --readings FILE"):
        need_readings(noted_readings(book, "south box")[0], "south box")


def test_lids_as_they_were_noted_explain_what_was_read(book: Notebook, outside: OutsideWeather) -> None:
    """The box stood open from midnight to noon and was noted so; without the notes nothing fits the readings half as well."""
    shelter = box(book)
    for day in range(1, DAYS):
        notes.record_lid(book, moment(outside, 24 * day), "south box", "gap", 0.2)
        notes.record_lid(book, moment(outside, 24 * day + 12), "south box", "shut")
    handling = handling_in(book, shelter, outside)
    assert handling is not None
    assert handling.gap[SPIN_UP_H + 24 * 3 + 2] == pytest.approx(0.2)
    assert handling.gap[SPIN_UP_H + 24 * 3 + 14] == 0.0
    true = worked_by_hand(apply_tuning(shelter, {"leak_factor": 1.0}))
    air = simulate(true, outside, handling=handling).air_temp_k.astype(float)
    note_days(book, outside, air, np.random.default_rng(2))
    readings, _ = noted_readings(book, "south box")
    told, _ = tune_shelter(shelter, outside, readings, handling=handling)
    leak = told["estimates"]["leak_factor"]
    assert told["lids_noted"]
    assert leak["low"] <= 1.0 <= leak["high"]
    untold, _ = tune_shelter(shelter, outside, readings)
    assert untold["probes"][0]["noise_k"] > 2.0 * told["probes"][0]["noise_k"], (untold["probes"][0], told["probes"][0])


def test_a_note_on_a_lid_holds_for_a_day_at_most(book: Notebook, outside: OutsideWeather) -> None:
    shelter = replace(box(book), lid=replace(box(book).lid, working="shut"))
    assert handling_in(book, shelter, outside) is None
    home = book.find(ShelterRecord, "name = ?", "south box")[0].id
    with book.transaction("the lid"):
        book.add(LidAction(at=moment(outside, 0), shelter_id=home, setting="gap", gap_m=0.05))
    handling = handling_in(book, shelter, outside)
    assert handling is not None
    assert isinstance(handling, Handling)
    assert (handling.gap > 0.0).sum() == 24
