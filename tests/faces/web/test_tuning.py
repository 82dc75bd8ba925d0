"""A logger's file on the page: what was understood, kept as one step, and a correction that is shown before and after, kept, taken back."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime
from pathlib import Path

import httpx
import numpy as np
import pytest

from tests.faces.web.hand import Hand
from underglass.faces.web.desk import Desk
from underglass.faces.web.tuning import label_of
from underglass.notebook.records import Reading, Tuning
from underglass.plan.household import Household
from underglass.shelter.simulate import SPIN_UP_H, simulate
from underglass.shelter.tunable import apply_tuning
from underglass.sources.household_file import demo_household
from underglass.weather.generator import generate_weather
from underglass.weather.normals import from_grid
from underglass.weather.outside import OutsideWeather

NOW = datetime(2027, 3, 10, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def outside() -> OutsideWeather:
    place = demo_household().place
    whole = generate_weather(from_grid(place), place, 2026, n_years=1, seed=3)
    return whole.part(24 * 280, 24 * 280 + SPIN_UP_H + 24 * 11)


@pytest.fixture(scope="module")
def log(outside: OutsideWeather) -> str:
    """Ten November days in the south box were it twice as leaky, with a column that is no temperature."""
    box = next(s for s in demo_household().shelters if s.name == "south box")
    air_f = (simulate(apply_tuning(box, {"leak_factor": 2.0}), outside).air_temp_k.astype(float) - 273.15) * 1.8 + 32.0
    noise = np.random.default_rng(4).normal(0.0, 0.5, len(air_f))
    hours = range(SPIN_UP_H, SPIN_UP_H + 24 * 10)
    times = (outside.start + np.array(hours) - 5).astype("datetime64[m]").astype(str)
    rows = [f"{t.replace('T', ' ')};{air_f[h] + noise[h]:.1f};55" for t, h in zip(times, hours, strict=True)]
    return "\n".join(["time, GMT-05:00;inside (°F);humidity", *rows]) + "\n"


@pytest.fixture
def hand(tmp_path: Path, outside: OutsideWeather) -> Hand:
    def past(household: Household, first: date, last: date) -> OutsideWeather:
        return outside

    desk = Desk(tmp_path, now=lambda: NOW, years=4, past=past)
    desk.home.keep(demo_household(), 0)
    return Hand(desk)


def send_file(hand: Hand, text: str | bytes, name: str = "box.csv") -> httpx.Response:
    hand.open("/tuning")
    form = next(f for a, f in hand.forms() if a == "/tuning/file") | {"shelter": "south box"}
    hand.page = hand.api.post(
        "/tuning/file", data=form, files={"file": (name, text, "text/csv")}, headers={"origin": "http://127.0.0.1"}
    )
    return hand.page


def count(hand: Hand) -> int:
    with hand.desk.home.open() as book:
        return len(book.find(Reading))


def test_a_file_is_looked_at_kept_once_and_undone(hand: Hand, log: str) -> None:
    shown = send_file(hand, log, "C:\\Users\\mia\\box <1>.csv")
    assert shown.status_code == 200
    assert "inside (°F)" in shown.text
    assert "240 readings" in shown.text
    assert "box 1.csv" in shown.text
    assert count(hand) == 0, "nothing is kept before somebody says so"
    hand.send("/tuning/preview", keep="1")
    assert "240 new readings are kept" in hand.page.text
    assert count(hand) == 240
    send_file(hand, log, "box 1.csv")
    assert "0 new readings" in hand.send("/tuning/preview", keep="1").text
    assert count(hand) == 240
    hand.open("/notebook")
    assert "box 1.csv" in hand.page.text
    hand.send("/notebook/undo")
    assert count(hand) == 0


@pytest.mark.parametrize(
    "text", ["", "no table at all", "a;b\n1;2\n", b"\x00\xff" * 400, "time;T\n" + "2026-99-99;1\n" * 9]
)
def test_what_is_no_table_is_said_in_a_sentence(hand: Hand, text: str | bytes) -> None:
    answer = send_file(hand, text)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert count(hand) == 0


def test_what_the_file_does_not_say_can_be_said(hand: Hand) -> None:
    rows = "\n".join(f"03/0{d}/2027 {h:02d}:00,{30 + h}" for d in (4, 5) for h in range(24))
    answer = send_file(hand, f"when,T\n{rows}\n")
    assert answer.status_code == 422
    answer = hand.send("/tuning/preview", units="f", order="mdy", shelter="hoop house")
    assert answer.status_code == 200
    assert "30\u00a0°F" in answer.text
    assert "4\u00a0Mar" in answer.text
    assert hand.send("/tuning/preview", units="f", order="mdy", zone="Nowhere/Land").status_code == 422
    hand.send("/tuning/preview", units="f", order="mdy", zone="", shelter="hoop house", keep="1")
    assert count(hand) == 48


def test_a_file_that_is_held_no_more_is_asked_for_again(hand: Hand, log: str) -> None:
    send_file(hand, log)
    answer = hand.send("/tuning/preview", held="../../etc/passwd", keep="1")
    assert answer.status_code == 422
    assert "choose it once more" in answer.text


def test_a_correction_is_shown_kept_and_taken_back(hand: Hand, log: str) -> None:
    send_file(hand, log)
    hand.send("/tuning/preview", keep="1")
    before = hand.desk.mark()
    for _ in range(1200):
        text = hand.open("/tuning/result?shelter=south%20box").text
        if 'id="work"' not in text:
            break
        time.sleep(0.05)
    assert "It leaks" in text
    assert "All readings" in text
    hand.send("/tuning/keep")
    with hand.desk.home.open() as book:
        (tuning,) = book.find(Tuning, "active")
        assert tuning.parameters["leak_factor"] > 1.1, "the right way; how near it comes is tried with the fit itself"
        assert (
            tuning.intervals["leak_factor"][0] < tuning.parameters["leak_factor"] < tuning.intervals["leak_factor"][1]
        )
    assert hand.desk.mark() != before, "outlooks follow the corrected shelter"
    assert "corrected since 10\u00a0Mar" in hand.open("/tuning").text
    hand.send("/tuning/undo")
    assert hand.desk.mark() == before
    assert hand.send("/tuning/file").status_code == 422


def test_without_readings_there_is_nothing_to_learn_from(hand: Hand) -> None:
    assert hand.open("/tuning/result?shelter=south%20box").status_code == 422
    assert hand.open("/tuning/result?shelter=castle").status_code == 422


def test_the_invented_family_asks_no_weather_service(tmp_path: Path, log: str) -> None:
    desk = Desk(tmp_path, now=lambda: NOW, years=4, past=lambda *_: pytest.fail("asked"))
    desk.home.show_demo()
    hand = Hand(desk)
    send_file(hand, log)
    hand.send("/tuning/preview", keep="1")
    for _ in range(200):
        text = hand.open("/tuning/result?shelter=south%20box").text
        if 'id="work"' not in text:
            break
        time.sleep(0.05)
    assert "asks no weather service" in text


@pytest.mark.parametrize(
    ("given", "label"),
    [("a/b/c.csv", "c.csv"), ("..", "logger"), (None, "logger"), ("x" * 99, "x" * 60), ("<b>.csv", "b.csv")],
)
def test_a_label_is_a_name_and_no_path(given: str | None, label: str) -> None:
    assert label_of(given) == label
