"""A family whose notebook names its own weather file has every page computed from it; a file that only an archive names is never read."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.faces.web.hand import Hand, settled, small_household
from underglass.faces.cli.options import read_weather
from underglass.faces.web.desk import Desk
from underglass.notebook.archive import export_archive


def weather_file() -> str:
    """A typical year that comes with a library (pvlib's test data: TMY3 of Greensboro, North Carolina)."""
    pvlib = pytest.importorskip("pvlib")
    return str(Path(os.path.dirname(pvlib.__file__)) / "data" / "723170TYA.CSV")


def desk_of(folder: Path, file: str) -> Desk:
    desk = Desk(folder, now=lambda: datetime(2027, 3, 10, 12, tzinfo=UTC), years=4, read=read_weather)
    desk.home.keep(replace(small_household(), weather_file=file, crops=("kale", "spinach")), 0)
    return desk


def test_the_pages_are_computed_from_the_familys_own_file(tmp_path: Path) -> None:
    hand = Hand(desk_of(tmp_path, weather_file()))
    for path in ("/sow", "/sow/kale?grown_in=open", "/why/kale?grown_in=open&on=2027-03-14"):
        page = settled(hand, path)
        assert 'class="fault"' not in page, path
    guide = hand.desk.guide().answer
    assert "TMY3" in guide["stands_on"]["source"] or "723170" in guide["stands_on"]["source"]
    assert 'class="fault"' not in settled(hand, "/inside")
    household = hand.desk.household()
    assert household is not None
    looked = hand.desk.look(household.shelters[0])
    assert "TMY3" in looked.weather or "723170" in looked.weather


def test_a_file_that_only_an_archive_names_is_not_read(tmp_path: Path) -> None:
    other = desk_of(tmp_path / "other", "/etc/hostname")
    target = tmp_path / "all.zip"
    with other.home.open() as notebook:
        export_archive(notebook, target)
    hand = Hand(Desk(tmp_path / "own", now=lambda: datetime(2027, 3, 10, 12, tzinfo=UTC), years=4, read=read_weather))
    hand.open("/notebook/copies")
    token = hand.forms()[0][1]["token"]
    said = hand.api.post(
        "/notebook/archive",
        data={"token": token, "sure": "1"},
        files={"archive": ("all.zip", target.read_bytes(), "application/zip")},
        headers={"origin": "http://127.0.0.1"},
    )
    assert said.status_code == 200
    household = hand.desk.household()
    assert household is not None
    assert household.weather_file is None
    assert household.crops == ("kale", "spinach"), "all else is there"
