"""Pictures: made small, without what the camera wrote into them, kept once; whatever is no picture is refused."""

from __future__ import annotations

import io
import re
import uuid
from pathlib import Path

import httpx
import pytest
from PIL import Image

from tests.faces.web.hand import Hand, demo_hand
from underglass.notebook.places import photo_folder
from underglass.notebook.records import Photo


@pytest.fixture
def hand(tmp_path: Path) -> Hand:
    return demo_hand(tmp_path)


def picture(size: tuple[int, int] = (2400, 1200)) -> bytes:
    """A photo with a place and a camera in it."""
    made = Image.new("RGB", size, (60, 120, 70))
    exif = Image.Exif()
    exif[0x010F] = "Some Camera"
    exif.get_ifd(0x8825)[1], exif.get_ifd(0x8825)[2] = "N", (44.0, 1.0, 12.0)
    out = io.BytesIO()
    made.save(out, "JPEG", exif=exif)
    return out.getvalue()


def send(hand: Hand, data: bytes, name: str = "IMG.jpg", **fields: str) -> httpx.Response:
    hand.open("/notebook")
    form = next(f for a, f in hand.forms() if a == "/photo")
    return hand.api.post(
        "/photo", data={**form, **fields}, files={"photo": (name, data, "image/jpeg")}, headers={"origin": "http://127.0.0.1"}
    )  # fmt: skip


def kept(hand: Hand) -> list[Photo]:
    with hand.desk.home.open() as book:
        return book.find(Photo)


def test_a_picture_is_made_small_and_tells_no_place(hand: Hand) -> None:
    given = picture()
    assert b"Some Camera" in given
    answer = send(hand, given, name="../../etc/passwd", caption="first leaves", shelter="south box")
    assert answer.status_code == 200
    (photo,) = kept(hand)
    assert re.fullmatch(r"[0-9a-f]{32}\.jpg", photo.file)
    shown = hand.api.get(f"/photo/{photo.file}")
    assert shown.headers["content-type"] == "image/jpeg"
    with Image.open(io.BytesIO(shown.content)) as back:
        assert max(back.size) == 1600
        assert not back.getexif()
    assert b"Some Camera" not in shown.content
    small = hand.api.get(f"/photo/{photo.file}?small=1")
    assert len(small.content) < 20_000
    assert "first leaves" in hand.open("/notebook").text
    files = [
        p
        for p in hand.desk.folder.rglob("*")
        if p.is_file() and p.suffix not in (".sqlite", ".sqlite-wal", ".sqlite-shm")
    ]
    assert files == [photo_folder(hand.desk.home.path()) / photo.file], "nothing else was written"


def test_a_picture_sent_twice_is_kept_once(hand: Hand) -> None:
    same = uuid.uuid4().hex
    for _ in range(2):
        assert send(hand, picture((40, 30)), id=same).status_code == 200
    assert len(kept(hand)) == 1
    assert len(list(photo_folder(hand.desk.home.path()).iterdir())) == 1


@pytest.mark.parametrize(
    "data", [b"", b"GIF89a....", b"<svg xmlns='http://www.w3.org/2000/svg'/>", picture((300, 300))[:400], b"\xff\xd8\xff" + b"x" * 99]
)  # fmt: skip
def test_what_is_no_picture_is_refused(hand: Hand, data: bytes) -> None:
    answer = send(hand, data)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert not kept(hand)


@pytest.mark.parametrize(
    "name", ["x.jpg", "..%2fnotebook.sqlite", "notebook.sqlite", "0" * 32 + ".svg", "0" * 32 + ".jpg"]
)
def test_only_our_own_names_are_served(hand: Hand, name: str) -> None:
    assert hand.api.get(f"/photo/{name}").status_code in (404, 422)
    assert hand.api.get(f"/photo/{name}?small=1").status_code in (404, 422)


def test_a_picture_may_be_of_what_stands(hand: Hand) -> None:
    sowing = re.search(r'<select id="photo-of".*?<option value="([0-9a-f]+)"', hand.open("/notebook").text, re.DOTALL)
    assert sowing
    assert send(hand, picture(), caption="first leaves", sowing=sowing[1]).status_code == 200
    (photo,) = kept(hand)
    assert photo.sowing_id == sowing[1]
    assert "Spinach" in hand.open("/notebook/search?words=first+leaves").text
    assert "not in the notebook" in send(hand, picture((20, 20)), sowing="0" * 32).text
    assert len(kept(hand)) == 1
