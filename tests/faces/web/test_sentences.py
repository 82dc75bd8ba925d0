"""What the pages say when an address or our own work fails, and the story of a sowing in words."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk
from underglass.faces.web.speech import Speech
from underglass.faces.web.story_words import tell_story

STORY: dict[str, Any] = {
    "crop_id": "spinach", "crop": "Spinach", "route": {"grown_in": "box", "raised_in": None}, "sow_date": "2027-02-15", "n_years": 30,
    "harvested": 24, "fresh_seed": False, "soil_c": (-1.0, 0.0, 1.0), "light": (16.0, 17.0, 21.0), "light_good": 12.0, "coldest_c": (-10.0, -8.0, -6.0),
    "hottest_c": (28.0, 30.0, 32.0), "kill_soft_c": -6.5, "kill_hard_c": -13.0, "emerges_d": (38.0, 44.0, 52.0), "set_out_d": None,
    "first_d": (86.0, 91.0, 97.0), "last_d": (86.0, 91.0, 97.0), "safe_from": None,
    "endings": [{"cause": "killed by cold as a seedling", "years": 6, "earliest": "2027-03-26", "middle": "2027-03-31",
                 "latest": "2027-04-05", "hour": 5, "leaf_c": (-7.8, -10.0)}],
    "stands_on": {"source": "a record", "layer": "hourly data", "temp_sd_k": 0.5}, "sources": {"cold": "a paper", "growth": ""},
}  # fmt: skip


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    desk = Desk(tmp_path, today=lambda zone: "2027-03-10", years=4)
    desk.home.show_demo()
    app = create_app(desk)
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5), raise_server_exceptions=False)


def test_an_address_that_lacks_something_gets_a_page(client: TestClient) -> None:
    answer = client.get("/sow/lettuce")
    assert answer.status_code == 422
    assert "text/html" in answer.headers["content-type"]
    assert "grown_in" in answer.text


def test_our_own_fault_gets_a_sentence(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Desk, "guide", lambda self: 1 / 0)
    answer = client.get("/sow")
    assert answer.status_code == 500
    assert "our fault" in answer.text
    assert "ZeroDivision" not in answer.text


def test_the_icons_of_the_manifest_are_as_large_as_it_says(client: TestClient) -> None:
    icons = client.get("/manifest.webmanifest").json()["icons"]
    assert {icon["sizes"] for icon in icons} == {"any", "192x192", "512x512"}
    for icon in icons:
        answer = client.get(icon["src"])
        assert answer.headers["content-type"] == icon["type"]
        if icon["type"] == "image/png":
            assert "{}x{}".format(*Image.open(BytesIO(answer.content)).size) == icon["sizes"]


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_story_is_told_in_each_language(language: str) -> None:
    told = tell_story(STORY, Speech(language, "c"))
    assert "24" in told.outcome
    assert "30" in told.outcome
    assert len(told.dates) == 2, "a crop picked once has one date of picking"
    assert "6" in told.endings[0]
    assert "05:00" in told.endings[0]
    fresh = tell_story({**STORY, "fresh_seed": True}, Speech(language, "c"))
    assert len(fresh.endings) == len(told.endings) + 1, "seed that nothing counts on is told"
    assert len(told.stands_on) == 2
    sure = tell_story({**STORY, "emerges_d": (44.0, 44.0, 44.0)}, Speech(language, "c"))
    assert "(" in told.dates[0]
    assert "(" not in sure.dates[0], "a day that is the same in all years needs no range"
    assert ("Keim" in told.endings[0] or "Sämling" in told.endings[0]) == (language == "de")
