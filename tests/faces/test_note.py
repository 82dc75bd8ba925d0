"""The notebook from the shell: short commands, one sentence for what is wrong, and every other command uses its household."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.faces.test_cli import ask
from underglass.notebook.places import notebook_path
from underglass.notebook.records import Reading
from underglass.notebook.store import open_notebook


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("UNDERGLASS_CACHE", str(tmp_path / "cache"))
    monkeypatch.setenv("UNDERGLASS_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")
    return tmp_path / "home"


@pytest.fixture
def begun(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = ask(capsys, "note", "start", "--demo")
    assert (code, err) == (0, "")
    assert "the Alder family, 5 shelters" in out


SAID = {
    (
        "sow",
        "radish",
        "--in",
        "south box",
        "--on",
        "2026-03-10",
        "--count",
        "60",
    ): "Radish sown in the south box on 2026-03-10",
    ("read", "south box", "-3C"): "reading in the south box: air now 26.6 °F",
    ("read", "south", "28"): "air now 28.0 °F",
    ("read", "box", "--min", "-3.5C", "--max", "71F", "--shade"): "air min 25.7 °F, max 71.0 °F",
    ("read", "box", "5C", "--probe", "soil", "--depth", "2in"): "soil now 41.0 °F",
    ("read", "outside", "20F", "--at", "2026-03-10 07:30"): "reading outside: air now 20.0 °F",
    ("lid", "south box", "5cm"): "south box: propped 2 in",
    ("lid", "south box", "Shut"): "south box: shut",
    ("lid", "hoop", "cover on"): "hoop house: cover on",
    ("water", "south box", "5l"): "watered: south box",
    ("water", "radish"): "watered: radish",
    ("move", "radish", "up"): "radish: seedling",
    ("harvest", "radish", "7oz", "--on", "2026-05-01"): "harvest of radish on 2026-05-01",
    ("loss", "radish", "slugs", "--count", "3"): "loss of radish: slugs",
    ("write", "the lid sticks", "--tag", "lid", "--about", "radish"): "note: the lid sticks",
    ("visits", "2026-12-20", "nobody", "--until", "2026-12-27"): "nobody home",
}


def test_each_command_says_what_it_kept(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    for args, words in SAID.items():
        code, out, err = ask(capsys, "note", *args)
        assert (code, err) == (0, ""), args
        assert words in out
        assert out.startswith("kept: ")
    _, out, _ = ask(capsys, "note", "list")
    assert "Radish in the south box: seedling, sown 10 Mar, 60 sown" in out
    assert "Kale in the hoop house: standing, there already on" in out
    assert "the lid sticks #lid" in out
    _, out, _ = ask(capsys, "note", "list", "--json")
    listed = json.loads(out)
    assert listed["standing"][0]["crop"] == "radish", "the one that was sown first"
    documented = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")
    for key in {*listed, *listed["standing"][0], *listed["notes"][0], *listed["changes"][0]}:
        assert f"`{key}`" in documented, key


def test_undo_and_redo(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    ask(capsys, "note", "write", "one")
    ask(capsys, "note", "write", "two")
    assert ask(capsys, "note", "undo")[1] == "taken back: note: two\n"
    assert ask(capsys, "note", "undo", "2")[1] == "taken back: note: one\n"
    assert "one" not in ask(capsys, "note", "list", "--find", "o")[1]
    assert ask(capsys, "note", "redo")[1] == "holds again: note: one\n"
    code, _, err = ask(capsys, "note", "undo", "99")
    assert (code, err) == (2, "the history has no entry 99\n")


def test_other_commands_use_its_household(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = ask(capsys, "inside", "--shelter", "open", "--years", "1", "--json")
    assert code == 0, err
    assert err == "from the notebook of the Alder family\n"
    assert json.loads(out)["shelters"][0]["shelter"] == "open"
    assert ask(capsys, "inside", "--demo", "--shelter", "open", "--years", "1")[2] == "", "what was asked goes before"


def test_a_household_file_goes_in_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    mine = tmp_path / "household.toml"
    mine.write_text('name = "ours"\n[place]\nnear = "Montpelier, Vermont"\n[[shelters]]\nlike = "box"\n')
    assert "ours, 1 shelters" in ask(capsys, "note", "start", "--household", str(mine))[1]
    code, _, err = ask(capsys, "note", "start", "--household", str(mine))
    assert code == 2
    assert "--update" in err
    mine.write_text(mine.read_text().replace('"ours"', '"still ours"'))
    assert "still ours" in ask(capsys, "note", "start", "--household", str(mine), "--update")[1]
    assert "still ours" in ask(capsys, "note", "list")[1]


def test_archive_and_backups(begun: None, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    ask(capsys, "note", "write", "kept")
    assert "rows written" in ask(capsys, "note", "export", str(tmp_path / "all.zip"))[1]
    ask(capsys, "note", "backup")
    ask(capsys, "note", "write", "later")
    code, _, err = ask(capsys, "note", "import", str(tmp_path / "all.zip"))
    assert code == 2
    assert "--replace" in err
    assert "the former one is kept" in ask(capsys, "note", "import", str(tmp_path / "all.zip"), "--replace")[1]
    assert "later" not in ask(capsys, "note", "list")[1]
    assert "restore-" in ask(capsys, "note", "restore")[1]
    assert "later" in ask(capsys, "note", "list")[1], "the newest backup is what the import had replaced"


def test_a_damaged_notebook_says_how_to_go_on(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    ask(capsys, "note", "backup")
    notebook_path().write_bytes(b"not a notebook" * 1000)
    for args in (("note", "list"), ("note", "write", "x"), ("sow", "--years", "5")):
        code, _, err = ask(capsys, *args)
        assert code == 4, err
        assert "is damaged" in err
        assert "hand-" in err
        assert len(err.splitlines()) == 1
    assert ask(capsys, "note", "restore")[0] == 0
    assert "Alder" in ask(capsys, "note", "list")[1]


BAD = {
    "no crop": (("sow", "spinich", "--in", "box"), 2, "did you mean Spinach"),
    "no shelter": (("sow", "spinach", "--in", "castle"), 2, "not one of this household's"),
    "no day": (("sow", "spinach", "--in", "box", "--on", "March"), 2, "is not a day"),
    "no value": (("read", "box"), 2, "say what it reads"),
    "a strange unit": (("read", "box", "5X"), 2, "unit that is not known"),
    "a length for a temperature": (("read", "box", "5cm"), 2, "a temperature is expected"),
    "too hot": (("read", "box", "300F"), 2, "is the unit right"),
    "lowest above highest": (("read", "box", "--min", "50F", "--max", "40F"), 2, "lowest is above"),
    "no probe": (("read", "box", "5C", "--probe", "roof"), 2, "air, soil, leaf"),
    "no setting": (("lid", "box", "ajar"), 2, "or a gap as 5cm"),
    "gap without unit": (("lid", "box", "5"), 2, "needs its unit"),
    "neither shelter nor crop": (("water", "castle"), 2, "not in the catalogue"),
    "not standing": (("harvest", "carrot", "200g"), 2, "no carrot stands"),
    "no stage": (("move", "kale", "flying"), 2, "seedling, hardening"),
    "no time": (("write", "x", "--at", "25:99"), 2, "is not a time"),
    "in the future": (("write", "x", "--at", "2149-01-01 00:00"), 2, "has happened"),
    "no picture": (("photo", "nowhere.jpg"), 2, "cannot be read"),
    "until before": (("visits", "2027-03-10", "nobody", "--until", "2027-03-01"), 2, "from 2027-03-10 on"),
    "no archive": (("import", "nowhere.zip", "--replace"), 2, "no such file"),
    "no such backup": (("restore", "nowhere.sqlite"), 4, "no such backup"),
    "no copy of a notebook": (("restore", __file__), 4, "not a whole copy of a notebook"),
    "no folder": (("export", "/nowhere/at/all.zip"), 4, "/nowhere/at/all.zip: No such file or directory"),
    "a depth in the air": (("read", "box", "3C", "--depth", "5cm"), 2, "a depth belongs to a thermometer in the soil"),
    "a height in the soil": (("read", "box", "3C", "--probe", "soil", "--height", "5cm"), 2, "has a depth"),
}


@pytest.mark.parametrize("case", list(BAD))
def test_a_slip_gets_a_sentence(case: str, begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    args, expected, words = BAD[case]
    code, out, err = ask(capsys, "note", *args)
    assert code == expected, err
    assert words in err
    assert "Traceback" not in err + out
    assert "kept" not in out


def test_what_stands_so_already_is_said(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = ask(capsys, "note", "visits", "2027-03-10", "usual")
    assert (code, out) == (0, "it stands so already: nothing was written\n")


def test_a_cover_that_is_not_described_is_kept_and_said_not_to_count(
    begun: None, capsys: pytest.CaptureFixture[str]
) -> None:
    """The demo family's box has no night cover, its hoop house a fleece."""
    assert "described without a night cover" in ask(capsys, "note", "lid", "south box", "cover on")[1]
    assert "described without" not in ask(capsys, "note", "lid", "south box", "cover off")[1]
    assert "described without" not in ask(capsys, "note", "lid", "hoop house", "fleece on")[1]


def test_an_undone_entry_is_not_undone_again(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    ask(capsys, "note", "write", "one")
    assert "taken back: note: one" in ask(capsys, "note", "undo", "2")[1]
    assert ask(capsys, "note", "undo", "2")[2] == "entry 2 does not hold any more\n"
    assert "is itself a step back or forth" in ask(capsys, "note", "undo", "3")[2]


def test_before_it_is_begun(capsys: pytest.CaptureFixture[str]) -> None:
    for args in (("list",), ("write", "x"), ("undo",), ("export", "x.zip")):
        code, _, err = ask(capsys, "note", *args)
        assert code == 4
        assert "note start" in err
    assert ask(capsys, "note", "start")[0] == 2
    assert not notebook_path().exists()


def test_today_starts_from_how_the_lid_was_left(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    def left() -> float:
        code, out, err = ask(
            capsys, "today", "--forecast", "climate", "--days", "1", "--shelter", "south box", "--json"
        )
        assert code == 0, err
        (box,) = json.loads(out)["shelters"]
        assert {s["crop"] for s in box["standing"]} == {"spinach", "lettuce_leaf"}
        return float(box["if_nothing"]["setting"]["gap_m"])

    assert left() == 0.0
    ask(capsys, "note", "lid", "south box", "10cm")
    assert left() == 0.1


def test_lowest_and_highest_of_one_look_are_undone_at_once(begun: None, capsys: pytest.CaptureFixture[str]) -> None:
    def readings() -> int:
        with open_notebook(notebook_path()) as notebook:
            return len(notebook.find(Reading))

    before = readings()
    ask(capsys, "note", "read", "box", "--min", "28F", "--max", "71F")
    assert readings() == before + 2
    ask(capsys, "note", "undo")
    assert readings() == before
