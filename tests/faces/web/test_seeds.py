"""Seeds: every form without script, wrong input on each, two people at one packet, and the same as data."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.faces.web.hand import Hand, demo_hand


@pytest.fixture
def hand(tmp_path: Path) -> Hand:
    return demo_hand(tmp_path)


def leek(hand: Hand, **more: str) -> str:
    """Add a packet, of leek where nothing else is said; its address."""
    hand.open("/seeds")
    page = hand.send("/seeds/add", **{"crop": "leek", "packed": "2026", **more})
    assert page.status_code == 200
    return str(page.url.path)


def test_what_is_on_hand_is_told_in_the_order_of_need(hand: Hand) -> None:
    page = hand.open("/seeds").text
    assert (
        page.index("Try these out") < page.rindex("Spinach") < page.index("Buy these new") < page.rindex("Bulb onion")
    )
    assert re.search(r"\d+ to \d+ in 100 come up", page)
    assert hand.api.get("/seeds", headers={"accept-language": "de"}).text.count("Neu kaufen") == 1


def test_a_packet_is_added_tested_changed_and_removed(hand: Hand) -> None:
    address = leek(hand, crop="onion_bulb", variety="Blue Hill", amount="2", measure="g", storage="40", humidity="35")
    assert "Bulb onion “Blue Hill”, 2026" in hand.page.text
    assert "Ellis &amp; Roberts" in hand.page.text
    before = re.search(r"About (\d+) of 100", hand.page.text)
    page = hand.send(f"{address}/test", sown="20", up="3")
    after = re.search(r"About (\d+) of 100", page.text)
    assert before
    assert after
    assert int(after[1]) < int(before[1]), "a bad test lowers what is expected"
    assert "3 of 20 came up" in page.text
    page = hand.send(f"{address}/change", amount="0", measure="seeds")
    assert page.url.path == "/seeds"
    assert "Used up" in page.text
    hand.open(address)
    page = hand.send(f"{address}/remove")
    assert "Blue Hill" not in page.text
    assert hand.open(address).status_code == 404


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"crop": ""}, "Choose a kind."),
        ({"packed": "next year"}, "from 1950 to 2028"),
        ({"packed": "2040"}, "from 1950 to 2028"),
        ({"amount": "a few"}, "as a whole number"),
        ({"amount": "2.5"}, "as a whole number"),
        ({"amount": "0", "measure": "g"}, "a number above 0, up to 20 kg"),
        ({"storage": "400"}, "from -40 to 50"),
        ({"humidity": "120"}, "above 0, up to 100"),
    ],
)
def test_wrong_input_is_said_and_nothing_typed_is_lost(hand: Hand, typed: dict[str, str], said: str) -> None:
    hand.open("/seeds")
    page = hand.send("/seeds/add", **{"crop": "leek", "packed": "2026", "variety": "Blue Hill", **typed})
    assert page.status_code == 422
    assert said in page.text
    sent = {**dict(hand.forms())["/seeds/add"]}
    assert sent["variety"] == "Blue Hill"
    assert all(sent[k] == v for k, v in typed.items())
    assert len(hand.api.get("/api/seeds").json()["packets"]) == 3


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"sown": "0"}, "from 1 to 1000"),
        ({"up": "11"}, "not more than you laid out"),
        ({"up": ""}, "not more than you laid out"),
        ({"on": "2027-03-11"}, "not later than today"),
        ({"on": "yesterday"}, "not later than today"),
    ],
)
def test_a_test_that_cannot_be_is_refused(hand: Hand, typed: dict[str, str], said: str) -> None:
    address = leek(hand)
    page = hand.send(f"{address}/test", **{"up": "5", **typed})
    assert page.status_code == 422
    assert said in page.text
    assert dict(hand.forms())[f"{address}/test"].items() >= typed.items()


def test_a_wrong_change_is_said_beside_what_is_kept(hand: Hand) -> None:
    address = leek(hand, amount="50")
    page = hand.send(f"{address}/change", packed="1066", amount="40")
    assert page.status_code == 422
    assert dict(hand.forms())[f"{address}/change"]["amount"] == "40"
    assert "packed for 2026 · 50 seeds" in hand.open("/seeds").text


def test_what_is_sent_twice_is_kept_once(hand: Hand) -> None:
    hand.open("/seeds")
    twin = Hand(hand.desk)
    twin.open("/seeds")
    fields = dict(hand.forms())["/seeds/add"] | {"crop": "leek", "packed": "2026"}
    for _ in range(2):
        hand.api.post("/seeds/add", data=fields, headers={"origin": "http://127.0.0.1"})
    assert len(hand.api.get("/api/seeds").json()["packets"]) == 4


def test_two_phones_at_one_packet_see_both_versions(hand: Hand) -> None:
    address = leek(hand, amount="50")
    other = Hand(hand.desk)
    other.open(address)
    hand.send(f"{address}/change", amount="40")
    page = other.send(f"{address}/change", amount="30", variety="Blue Hill")
    assert page.status_code == 409
    assert "Changed meanwhile" in page.text
    assert "Kept now: 40" in page.text
    assert dict(other.forms())[f"{address}/change"]["amount"] == "30"
    assert "50 seeds" not in hand.open("/seeds").text
    page = other.send(f"{address}/change")
    assert page.status_code == 200
    assert "packed for 2026 · 30 seeds" in page.text, "sent again it takes the place, knowingly"
    hand.open(address)
    other.open(address)
    hand.send(f"{address}/remove")
    assert other.send(f"{address}/change", amount="9").status_code in (409, 422)
    assert "off the list" in other.open(address).text


def test_the_same_as_data(hand: Hand) -> None:
    said = {"crop": "leek", "packed": 2026, "count": 50, "storage_c": 5.0, "storage_humidity": 0.4}
    made = hand.api.post("/api/seeds", json=said)
    assert made.status_code == 201
    kept = made.json()
    row = next(r for r in hand.api.get("/api/seeds").json()["packets"] if r["id"] == kept["id"])
    assert (row["seeds"], row["storage_c"]) == (50, 5.0)
    tested = hand.api.post(f"/api/seeds/{kept['id']}/tests", json={"on": "2027-03-01", "n_sown": 10, "n_up": 9})
    assert tested.status_code == 201
    over = hand.api.put(f"/api/seeds/{kept['id']}", json={**said, "count": 40, "version": kept["version"]})
    assert over.json()["version"] == kept["version"] + 1
    late = hand.api.put(f"/api/seeds/{kept['id']}", json={**said, "count": 30, "version": kept["version"]})
    assert late.status_code == 409
    assert late.json()["theirs"]["count"] == 40
    assert hand.api.delete(f"/api/seeds/{kept['id']}", params={"version": kept["version"]}).status_code == 409
    assert hand.api.delete(f"/api/seeds/{kept['id']}", params={"version": kept["version"] + 1}).status_code == 204
    assert hand.api.post("/api/seeds", json={**said, "crop": "moonflour"}).status_code == 404


def test_a_foreign_page_cannot_write_over_the_api(hand: Hand) -> None:
    said = {"crop": "leek", "packed": 2026}
    before = len(hand.api.get("/api/seeds").json()["packets"])
    for headers in ({"origin": "http://elsewhere.example"}, {"sec-fetch-site": "cross-site"}):
        assert hand.api.post("/api/seeds", json=said, headers=headers).status_code == 403
    text = {"content-type": "text/plain"}  # what a foreign page may send without asking first
    assert hand.api.post("/api/seeds", content=json.dumps(said), headers=text).status_code == 422
    assert len(hand.api.get("/api/seeds").json()["packets"]) == before
