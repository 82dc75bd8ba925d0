"""Shelters: sizes as a family writes them, extras, one more, one put away."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk
from underglass.faces.web.shelter_form import as_fields, read_shelter
from underglass.faces.web.speech import Speech
from underglass.shelter.presets import PRESETS, preset

EN, FT = Speech("en", "c"), Speech("en", "f")


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    desk = Desk(tmp_path, today=lambda zone: "2027-03-10", years=4)
    desk.home.show_demo()
    return desk


@pytest.fixture
def client(desk: Desk) -> TestClient:
    return TestClient(create_app(desk), base_url="http://127.0.0.1", client=("127.0.0.1", 5), follow_redirects=False)


def hidden(client: TestClient, path: str) -> dict[str, str]:
    """The hidden fields of the page's first form."""
    text = client.get(path).text
    form = text[text.index('<form method="post"') :]
    return dict(re.findall(r'name="(token|seen)" value="([^"]*)"', form[: form.index("</form>")]))


@pytest.mark.parametrize("name", PRESETS)
@pytest.mark.parametrize("speech", [EN, FT], ids=["metres", "feet"])
def test_a_form_sent_as_it_was_filled_changes_nothing(name: str, speech: Speech) -> None:
    shelter = preset(name)
    assert read_shelter(shelter, as_fields(shelter, speech), speech) == (shelter, {})


def test_sizes_are_read_with_and_without_unit() -> None:
    box = preset("box")
    made, faults = read_shelter(
        box, as_fields(box, FT) | {"length_m": "72", "depth_m": "3 ft", "back_height_m": "0.5 m"}, FT
    )
    assert not faults
    assert made.shape.length_m == pytest.approx(1.8288)  # type: ignore[union-attr]
    assert made.shape.depth_m == pytest.approx(0.9144)  # type: ignore[union-attr]
    assert made.shape.back_height_m == 0.5  # type: ignore[union-attr]


def test_extras_come_and_go() -> None:
    box = preset("box")
    given = as_fields(box, EN) | {
        "double": "on",
        "fleece": "on",
        "arm": "on",
        "foam_m": "2 cm",
        "water_m3": "40 l",
        "facing": "90",
    }
    made, faults = read_shelter(box, given, EN)
    assert not faults
    assert made.cover is not None
    assert made.night_cover is not None
    assert made.water is not None
    assert (len(made.cover.sheets), made.lid.working, made.facing_deg) == (2, "arm", 90.0)
    assert made.night_cover.resistance_m2k_w == pytest.approx(0.6)
    assert made.water.volume_m3 == pytest.approx(0.04)
    bare, faults = read_shelter(made, as_fields(box, EN), EN)
    assert not faults
    assert bare.cover is not None
    assert len(bare.cover.sheets) == 1
    assert (bare.fleece, bare.night_cover, bare.water) == (None, None, None)


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("length_m", "long"),
        ("length_m", "900 m"),
        ("back_height_m", "10 cm"),
        ("foam_m", "2 m"),
        ("water_m3", "1000000 l"),
        ("water_m3", "2 m"),
    ],
)
def test_each_wrong_field_gets_its_sentence(client: TestClient, field: str, typed: str) -> None:
    path = "/shelters/south%20box"
    answer = client.post(path, data=hidden(client, path) | as_fields(preset("box"), FT) | {field: typed})
    assert answer.status_code == 422
    assert f'id="{field}-fault"' in answer.text
    assert f'value="{typed}"' in answer.text, "what was typed is still there"


def test_sizes_are_kept_and_a_slower_phone_is_told(client: TestClient, desk: Desk) -> None:
    path = "/shelters/south%20box"
    old = hidden(client, path)
    fields = as_fields(preset("box"), FT)
    assert client.post(path, data=old | fields | {"length_m": "8 ft"}).status_code == 303
    household = desk.household()
    assert household is not None
    box = next(s for s in household.shelters if s.name == "south box")
    assert box.shape.length_m == pytest.approx(2.4384)  # type: ignore[union-attr]
    late = client.post(path, data=old | fields | {"length_m": "4 ft"})
    assert late.status_code == 409
    assert "8 ft" in late.text
    assert 'value="4 ft"' in late.text


def test_one_more_and_one_put_away(client: TestClient, desk: Desk) -> None:
    token = hidden(client, "/shelters")
    answer = client.post("/shelters", data=token | {"like": "cloche", "name": "by the gate"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/shelters/by%20the%20gate"
    twice = client.post("/shelters", data=token | {"like": "cloche", "name": "By the Gate"})
    assert twice.status_code == 422
    assert "another name" in twice.text
    path = "/shelters/by%20the%20gate"
    assert client.post(f"{path}/away", data=hidden(client, path)).status_code == 303
    household = desk.household()
    assert household is not None
    assert "by the gate" not in [s.name for s in household.shelters]
    assert client.get(path).status_code == 422


def test_the_sketch_follows_what_is_typed(client: TestClient) -> None:
    drawn = client.get("/shelters/south%20box/sketch", params={"depth_m": "30 in", "back_height_m": "nonsense"})
    assert drawn.status_code == 200
    assert "30 in" in drawn.text
    assert "<form" not in drawn.text
