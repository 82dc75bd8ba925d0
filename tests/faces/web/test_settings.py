"""Settings: whose data the numbers come from, in the words of DATA-CREDITS.md; the folder; each device its own language."""

from __future__ import annotations

from pathlib import Path

from tests.faces.web.hand import Hand, demo_hand
from underglass.faces.web.credits import CREDITS

ROOT = Path(__file__).parents[3]


def test_the_licence_lines_are_those_of_the_credits() -> None:
    text = " ".join((ROOT / "DATA-CREDITS.md").read_text(encoding="utf-8").split())
    for what, words in CREDITS.items():
        assert words.rstrip(".") in text, what


def test_settings_show_sources_folder_and_phones(tmp_path: Path) -> None:
    text = demo_hand(tmp_path).open("/settings").text
    assert "CC BY 4.0" in text
    assert str(tmp_path) in text
    assert "No phone is paired" in text


def test_each_device_speaks_its_own_language(tmp_path: Path) -> None:
    mia = demo_hand(tmp_path)
    jan = Hand(mia.desk)
    mia.open("/settings")
    mia.send("/settings", language="de", units="f")
    assert "<h1>Einstellungen</h1>" in mia.page.text
    assert "<h1>Settings</h1>" in jan.open("/settings").text
    mia.send("/settings", language="", units="c")
    assert "<h1>Settings</h1>" in mia.page.text
    assert 'value="c" checked' in jan.open("/settings").text, "units belong to the household"
