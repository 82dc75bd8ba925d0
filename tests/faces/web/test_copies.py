"""Copies: the notebook goes out as a file and comes back, backups are made and brought back, also where the notebook is damaged."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest

from tests.faces.web.hand import Hand
from underglass.faces.web.desk import Desk
from underglass.notebook.backup import backups
from underglass.notebook.records import Note
from underglass.services import notes
from underglass.sources.household_file import demo_household

NOW = [datetime(2027, 3, 10, 12, tzinfo=UTC)]


@pytest.fixture
def hand(tmp_path: Path) -> Hand:
    NOW[0] = datetime(2027, 3, 10, 12, tzinfo=UTC)
    desk = Desk(tmp_path, now=lambda: NOW[0], years=4)
    desk.home.keep(demo_household(), 0)
    with desk.home.open() as book:
        notes.add_note(book, NOW[0], "one")
    return Hand(desk)


def texts(hand: Hand) -> list[str]:
    with hand.desk.home.open() as book:
        return [n.text for n in book.find(Note)]


def write(hand: Hand, text: str) -> None:
    NOW[0] += timedelta(minutes=5)
    with hand.desk.home.open() as book:
        notes.add_note(book, NOW[0], text)


def send_archive(hand: Hand, data: bytes, **fields: str) -> httpx.Response:
    hand.open("/notebook/copies")
    form = next(f for a, f in hand.forms() if a == "/notebook/archive")
    hand.page = hand.api.post(
        "/notebook/archive", data={**form, **fields}, files={"archive": ("my garden.zip", data, "application/zip")},
        headers={"origin": "http://127.0.0.1"},
    )  # fmt: skip
    return hand.page


def test_everything_goes_out_and_comes_back(hand: Hand) -> None:
    answer = hand.api.get("/notebook/archive.zip")
    assert 'filename="underglass-2027-03-10.zip"' in answer.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert "notes.csv" in archive.namelist()
    write(hand, "two")
    assert "Tick" in send_archive(hand, answer.content).text, "not without being asked"
    assert texts(hand) == ["one", "two"]
    assert send_archive(hand, answer.content, sure="1").status_code == 200
    assert texts(hand) == ["one"]
    assert hand.desk.household() is not None
    restored = [b for b in backups(hand.desk.home.path()) if b.name.startswith("restore")]
    hand.open("/notebook/copies")
    hand.send("/notebook/restore", name=restored[0].name)
    assert texts(hand) == ["one", "two"], "and what it replaced was kept"


def test_an_archive_begins_a_notebook_where_there_is_none(hand: Hand, tmp_path: Path) -> None:
    data = hand.api.get("/notebook/archive.zip").content
    empty = Hand(Desk(tmp_path / "new", years=4))
    assert send_archive(empty, data).status_code == 200
    assert texts(empty) == ["one"]


@pytest.mark.parametrize("data", [b"", b"no zip at all", b"PK\x05\x06" + b"\0" * 18])
def test_a_bad_archive_changes_nothing_and_shows_no_path(hand: Hand, data: bytes) -> None:
    answer = send_archive(hand, data, sure="1")
    assert answer.status_code == 422
    alert = answer.text.split('role="alert">')[1].split("<")[0]
    assert "/tmp" not in alert
    assert texts(hand) == ["one"]


def test_a_backup_is_made_and_brought_back(hand: Hand) -> None:
    hand.open("/notebook/copies")
    assert "The backup is made" in hand.send("/notebook/backup").text
    (made,) = [b for b in backups(hand.desk.home.path()) if b.name.startswith("hand")]
    assert "made by you" in hand.page.text
    write(hand, "two")
    hand.open("/notebook/copies")
    assert "back in place" in hand.send("/notebook/restore", name=made.name).text
    assert texts(hand) == ["one"]
    assert "two" not in hand.open("/notebook").text


@pytest.mark.parametrize("name", ["", "../notebook.sqlite", "/etc/passwd", "hand-20260310T120000000000Z.sqlite"])
def test_only_a_backup_that_is_there_is_brought_back(hand: Hand, name: str) -> None:
    hand.open("/notebook/copies")
    hand.send("/notebook/backup")
    assert hand.send("/notebook/restore", name=name).status_code == 422
    assert texts(hand) == ["one"]


def test_a_damaged_notebook_says_so_on_every_page_and_is_brought_back(hand: Hand) -> None:
    hand.open("/notebook/copies")
    hand.send("/notebook/backup")
    path = hand.desk.home.path()
    hand.desk.home.let_go()
    path.write_bytes(b"not a notebook" * 1000)
    for page in ("/", "/today", "/notebook", "/settings", "/welcome", "/tuning"):
        answer = hand.open(page)
        assert answer.status_code == 503, page
        assert "is damaged" in answer.text
        assert "/notebook/copies" in answer.text
    assert hand.open("/notebook/copies").status_code == 200
    hand.send("/notebook/restore")
    assert texts(hand) == ["one"]
    assert hand.open("/notebook").status_code == 200


def test_only_an_archive_may_be_large(hand: Hand) -> None:
    big = {"content-length": "13000000"}
    assert hand.api.post("/record", content=b"x", headers=big).status_code == 413
    assert hand.api.post("/notebook/archive", content=b"x", headers={"content-length": "300000001"}).status_code == 413
    assert hand.api.post("/notebook/archive", content=b"x", headers={"content-length": "1"}).status_code != 413
