"""What is recorded on the page, without script: each form, bad input on each, sent twice, undone, and what Today makes of it."""

from __future__ import annotations

import time
import uuid
from datetime import UTC, datetime, timedelta

import pytest

from tests.faces.web.hand import Hand, demo_hand
from underglass.notebook.journal import changes
from underglass.notebook.records import HarvestRecord, LidAction, Loss, Note, Reading, Sowing, Watering
from underglass.services.household_store import household_in
from underglass.services.lids import settings_in

NOW = [datetime(2027, 3, 10, 12, 20, tzinfo=UTC)]


@pytest.fixture(scope="module")
def hand(tmp_path_factory: pytest.TempPathFactory) -> Hand:
    return demo_hand(tmp_path_factory.mktemp("home"), now=lambda: NOW[0])


@pytest.fixture(autouse=True)
def noon() -> None:
    NOW[0] = datetime(2027, 3, 10, 12, 20, tzinfo=UTC)


def today(hand: Hand) -> str:
    for _ in range(600):
        text = hand.open("/today").text
        if 'id="work"' not in text:
            return text
        time.sleep(0.1)
    raise AssertionError("no plan")


GOOD = {
    "note": ({"note": "The lid sticks", "shelter": "south box"}, Note),
    "lid": ({"shelter": "south box", "setting": "gap", "gap": "2"}, LidAction),
    "reading": ({"shelter": "south box", "value": "38,5", "kind": "min", "height": "8", "sun": "shade"}, Reading),
    "sowing": ({"crop": "radish", "grown_in": "south box", "raised_in": "", "count": "60", "area": "4"}, Sowing),
    "water": ({"shelter": "hoop house", "gallons": "2,5"}, Watering),
}
BAD = {
    "note": [{"note": "  "}, {"note": "x", "shelter": "castle"}, {"note": "x", "sowing": "nobody's"}],
    "lid": [{"setting": "gap", "gap": ""}, {"setting": "gap", "gap": "wide"}, {"setting": "gap", "gap": "999"}, {"setting": "burnt"}],
    "reading": [{"value": ""}, {"value": "four"}, {"value": "999"}, {"value": "40", "height": "9999"}, {"value": "40", "shelter": "castle"}],
    "sowing": [
        {"crop": "moonflower"}, {"count": "many"}, {"count": "-3"}, {"area": "0"}, {"on": "yesterday"}, {"grown_in": "castle"}, {"count": "1.5"},
    ],
    "water": [{"gallons": "much"}, {"gallons": "-1"}, {"gallons": "1e9"}],
    "harvest": [{"amount": ""}, {"amount": "much"}, {"amount": "-200g"}, {"amount": "1e9"}],
    "loss": [{"cause": "", "words": ""}, {"words": "slugs", "count": "none"}, {"words": "slugs", "count": "-2"}],
    "visits": [{"on": "soon"}, {"until": "2027-03-01"}, {"until": "2029-03-01"}, {"times": "early"}, {"times": "25:00"}],
    "move": [{"stage": "flying"}, {"sowing": "nobody's"}],
}  # fmt: skip


@pytest.mark.parametrize("what", GOOD)
def test_each_record_is_kept_once_however_often_it_is_sent(hand: Hand, what: str) -> None:
    fields, kind = GOOD[what]
    hand.open("/notebook")
    form = next(f for _, f in hand.forms() if f.get("what") == what and "sowing" not in f)
    with hand.desk.home.open() as book:
        before = len(book.find(kind))
    for _ in range(2):
        sent = hand.api.post("/record", data={**form, **fields}, headers={"origin": "http://127.0.0.1"})
        assert sent.status_code == 200, sent.text
    with hand.desk.home.open() as book:
        assert len(book.find(kind)) == before + 1
        step = changes(book, 1)[0]
    hand.open("/notebook")
    hand.send("/notebook/undo", change=str(step.id))
    hand.api.post("/record", data={**form, **fields}, headers={"origin": "http://127.0.0.1"})
    with hand.desk.home.open() as book:
        assert len(book.find(kind)) == before, "what was undone does not come back when a phone sends it again"


@pytest.mark.parametrize(("what", "fields"), [(w, f) for w, rows in BAD.items() for f in rows])
def test_bad_input_is_said_keeps_what_was_typed_and_writes_nothing(
    hand: Hand, what: str, fields: dict[str, str]
) -> None:
    hand.open("/notebook")
    with hand.desk.home.open() as book:
        last = changes(book, 1)[0].id
    answer = hand.tap(what, **fields)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert "Traceback" not in answer.text
    typed = next(iter(fields.values()))
    if (
        typed.strip()
        and what in ("note", "reading", "water", "harvest")
        and "shelter" not in fields
        and "sowing" not in fields
    ):
        assert typed in answer.text
    with hand.desk.home.open() as book:
        assert changes(book, 1)[0].id == last


def test_two_things_written_in_a_form_that_was_shown_again_are_both_kept(hand: Hand) -> None:
    """As with the browser's way back, or a page read before the net went away: the form's id is the same."""
    hand.open("/notebook")
    form = next(f for _, f in hand.forms() if f.get("what") == "note")
    for words in ("first words", "other words", "first words"):
        hand.api.post("/record", data=form | {"note": words}, headers={"origin": "http://127.0.0.1"})
    with hand.desk.home.open() as book:
        assert [n.text for n in book.find(Note, "text IN ('first words', 'other words')")] == [
            "first words",
            "other words",
        ]


def test_a_form_without_an_id_or_a_kind_is_refused(hand: Hand) -> None:
    hand.open("/notebook")
    assert hand.tap("note", note="x", id="../../etc").status_code == 422
    form = next(f for _, f in hand.forms() if f.get("what") == "note")
    unknown = form | {"what": "everything", "note": "x"}
    assert hand.api.post("/record", data=unknown, headers={"origin": "http://127.0.0.1"}).status_code == 422


def test_a_standing_crop_is_watered_moved_on_harvested_and_lost_with_a_tap(hand: Hand) -> None:
    hand.open("/notebook")
    hand.tap("sowing", crop="spinach", grown_in="south box", on="2027-02-20")
    with hand.desk.home.open() as book:
        sowing = book.find(Sowing, "crop_id = 'spinach' AND sown_known")[0]
    for what, fields in (
        ("water", {}),
        ("move", {}),
        ("harvest", {"amount": "7oz"}),
        ("loss", {"words": "slugs", "count": "3"}),
        ("harvest", {"amount": "3", "last": "1"}),
    ):
        hand.open("/notebook")
        assert hand.tap(what, sowing.id, **fields).status_code == 200, what
    with hand.desk.home.open() as book:
        now = book.get(Sowing, sowing.id)
        assert (now.stage, now.came_up_on.isoformat()) == ("done", "2027-03-10")  # type: ignore[union-attr]
        assert len(book.find(HarvestRecord, "sowing_id = ?", sowing.id)) == 2
        assert book.find(Loss, "sowing_id = ?", sowing.id)[0].count == 3
        assert book.find(Watering, "sowing_id = ?", sowing.id)
    assert sowing.id not in hand.open("/notebook").text.split('id="written"')[0]


def test_days_without_anybody_change_the_plan(hand: Hand) -> None:
    today(hand)
    key = hand.desk.day_plan().key
    hand.open("/notebook")
    assert "10\u00a0Mar: nobody home" in hand.tap("visits", on="2027-03-10", until="2027-03-11").text
    assert hand.desk.day_plan().key != key
    assert "11\u00a0Mar: 09:15, 16:00" in hand.tap("visits", on="2027-03-11", times="9:15, 16:00").text
    assert "Mar: nobody home" not in hand.tap("visits", on="2027-03-10", until="2027-03-11", who="usual").text
    assert hand.desk.day_plan().key == key


def test_words_are_found_again(hand: Hand) -> None:
    hand.open("/notebook")
    hand.tap("note", note="Mice under the <b>hoop</b> house")
    found = hand.open("/notebook/search?words=mice%20UNDER").text
    assert "Mice under the &lt;b&gt;hoop&lt;/b&gt; house" in found
    assert (
        "Mice"
        not in hand.open("/notebook/search?words=mice%20elephants").text.split("<main")[1].split('role="status"')[1]
    )


def test_done_is_one_step_and_the_plan_starts_from_it(hand: Hand) -> None:
    today(hand)
    name = "south box"
    form = next(f for _, f in hand.forms() if f.get("what") == "done" and f["shelter"] == name)
    assert hand.tap("done", name).status_code == 200
    with hand.desk.home.open() as book:
        household = household_in(book)
        setting = settings_in(book, household.shelters, NOW[0])[name]
        assert setting.gap_m == pytest.approx(float(form["gap_m"]))
    text = today(hand)
    part = text.split(f">{name}</h2>")[1].split("</section>")[0]
    assert "Now: " in part
    again = [f for _, f in hand.forms() if f.get("what") == "done" and f["shelter"] == name]
    assert not again or again[0]["gap_m"] != form["gap_m"] or again[0]["night_cover"] != form["night_cover"]
    with hand.desk.home.open() as book:
        step = changes(book, 1)[0]
    hand.open("/notebook")
    hand.send("/notebook/undo", change=str(step.id))
    with hand.desk.home.open() as book:
        assert name not in settings_in(book, household.shelters, NOW[0])


def test_something_else_is_one_tap_and_changes_the_plan(hand: Hand) -> None:
    today(hand)
    mark = hand.desk.day_plan().key
    assert hand.tap("lid", "hoop house", setting="open").status_code == 200
    assert "wide" in today(hand)
    assert hand.desk.day_plan().key != mark
    assert hand.tap("lid", "hoop house", setting="0.1").status_code == 200
    assert hand.tap("lid", "hoop house", setting="9 m").status_code == 422
    assert hand.tap("done", gap_m="-1").status_code == 422


def test_the_plan_is_kept_and_stands_beside_what_was_read(hand: Hand) -> None:
    today(hand)
    NOW[0] += timedelta(hours=18)
    today(hand)
    hand.tap("reading", "south box", value="5C", kind="min")
    hand.tap("reading", "south box", value="45C")
    text = today(hand).split(">south box</h2>")[1].split("</section>")[0]
    assert "Read, and what the plan said" in text
    assert "warmer" in text, "45 °C before sunrise is not what was planned"


def test_a_bad_thermometer_on_today_keeps_what_was_typed(hand: Hand) -> None:
    today(hand)
    answer = hand.tap("reading", "south box", value="four")
    assert answer.status_code == 422
    assert 'value="four"' in answer.text
    assert "Write a number" in answer.text


def test_what_a_phone_queued_keeps_its_own_time_and_is_answered_in_json(hand: Hand) -> None:
    token = hand.api.get("/record/token").json()["token"]
    written = NOW[0] - timedelta(hours=3)
    form = {
        "token": token,
        "id": uuid.uuid4().hex,
        "what": "note",
        "note": "from the far bed",
        "at": written.isoformat(),
    }
    head = {"origin": "http://127.0.0.1", "accept": "application/json"}
    assert hand.api.post("/record", data=form, headers=head).json() == {"kept": True}
    assert hand.api.post("/record", data=form, headers=head).json() == {"kept": True}
    with hand.desk.home.open() as book:
        (note,) = book.find(Note, "text = 'from the far bed'")
        assert note.at == written
    for wrong in (
        "tomorrow",
        (NOW[0] + timedelta(days=2)).isoformat(),
        "2001-01-01T00:00:00+00:00",
        "2027-03-10T09:00:00",
    ):
        fresh = form | {"id": uuid.uuid4().hex, "note": f"at {wrong}", "at": wrong}
        assert hand.api.post("/record", data=fresh, headers=head).json() == {"kept": True}
        with hand.desk.home.open() as book:
            assert book.find(Note, "text = ?", f"at {wrong}")[0].at == NOW[0]
    bad = form | {"id": uuid.uuid4().hex, "note": ""}
    refused = hand.api.post("/record", data=bad, headers=head)
    assert (refused.status_code, set(refused.json())) == (422, {"fault"})
    assert hand.api.post("/record", data=form | {"token": "0" * 64}, headers=head).status_code == 422
