"""What the rooms below say of wrong values is said in every language: each sentence that a page can lead to has its words in the catalogue."""

from __future__ import annotations

import ast
import itertools
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import underglass
from tests.faces.web.hand import Hand, demo_hand
from underglass.faces.web.fault_words import PATTERNS, fault
from underglass.faces.web.speech import Speech
from underglass.faces.web.understood_words import understood

ROOT = Path(underglass.__file__).parent
RAISED = ("InputError", "InputError.at", "NotebookError", "SourceError")
WHERE = (
    "notebook", "services", "faces/web", "place/gazetteer.py", "place/place.py", "weather/grid.py", "weather/normals.py", "shelter/sizes.py",
    "shelter/changes.py", "shelter/tune.py", "crop/catalogue.py", "plan/routes.py", "plan/work.py", "plan/task.py", "sources/readings.py",
    "sources/reading_columns.py", "sources/reading_times.py", "sources/table.py", "sources/web.py", "sources/shape.py",
    "sources/open_meteo.py",
)  # fmt: skip
"""The rooms and files whose sentences a page can show."""

NOT_FROM_A_PAGE = (
    r"no .+ stands .+`underglass note list`", r"several sowings of .+ stand on", r"the earlier plan is not an answer of", r"--years is",
    r"--days is", r"--chance is", r"nothing to compare", r"route .+: no shelter called", r"sowing_outlook needs", r".+: cannot be written",
    r"standing: no shelter called", r".+ plants wanted, expected", r"a weather file was named, but nothing was given", r"not kept: ",
    r"horizon: ", r"a daily record of .+ days is too short", r"change .+ is not one of", r".+ is a folder: expected a", r".+ MB, expected at most",
    r".+: cannot be read \(.+\); check the name of", r".+: the line '# .+ should hold a number", r".+ past and .+ forecast days",
    r".+ forecast days: expected", r"from .+ to .+: the last day comes before", r".+: no attempt was allowed", r"time zone is",
    r"no plan can be made of", r"\w+ is .+: expected (\w+|one of .+)$", r"\w+: \w+ is",
)  # fmt: skip
"""The beginnings of those that only the command line, Python or a household's file leads to."""

SAMPLE = {"on": "2027-03-10", "sown_on": "2027-03-01", "min(later)": "2027-03-01", "sowing.sown_on": "2027-03-01", "month": "05",
          "day": "20", "service": "Open-Meteo", "SERVICE": "Open-Meteo", "probe": "air"}  # fmt: skip


def _texts(node: ast.expr) -> Iterator[str]:
    """What an expression may say, with a 7 for each number or name in it."""
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.JoinedStr):
        parts = [list(_part(value)) for value in node.values]
        yield from ("".join(found) for found in itertools.product(*parts))
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)
    elif isinstance(node, ast.BinOp):
        yield from ("".join(found) for found in itertools.product(_texts(node.left), _texts(node.right)))


def _part(node: ast.expr) -> Iterator[str]:
    if not isinstance(node, ast.FormattedValue):
        yield from _texts(node)
    elif isinstance(node.value, ast.IfExp):
        yield from _texts(node.value)
    else:
        sample = SAMPLE.get(ast.unparse(node.value), "7")
        yield repr(sample) if node.conversion == ord("r") else sample


def sentences() -> Iterator[tuple[str, str]]:
    """Every sentence that these rooms raise, with its file."""
    files = [
        p for name in WHERE for p in ([ROOT / name] if name.endswith(".py") else sorted((ROOT / name).glob("*.py")))
    ]
    for path in files:
        if path.name.startswith(("api", "serve")):  # what they say is data, or stands in the shell
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in RAISED and node.args:
                before = "log.csv line 7: " if ast.unparse(node.func) == "InputError.at" else ""
                yield from (
                    (path.name, before + text) for text in _texts(node.args[-1]) if re.search("[a-z]{3} ", text)
                )


def test_every_sentence_that_a_page_can_show_is_said_in_german() -> None:
    found = list(sentences())
    assert len(found) > 100
    german, english = Speech("de", "c"), Speech("en", "c")

    def told(text: str, speech: Speech) -> str:
        return fault(understood(text, speech), speech)

    untold = {
        f"{file}: {text}"
        for file, text in found
        if told(text, german) in (text, told(text, english)) and not any(re.match(p, text) for p in NOT_FROM_A_PAGE)
    }
    assert not untold, "\n".join(sorted(untold))


SAMPLES = (
    "2027-03-01 is before the day of sowing, 2027-03-10",
    "2027-03-10 is after a day on which it had come further: 2027-03-01",
    "152.0 °C is not what a thermometer in a garden says; is the unit right?",
    "a lid that is propped needs its gap, as 5cm; other settings have none",
    "gap is 4.0 m: expected more than 0, up to 3 m",
    "count is -1: expected more than 0",
    "count is 9: 4 were sown, of which 2 were lost before",
    "shelter 'barn' is not one of this household's: box, open",
    "the picture cannot be read: expected a whole JPEG, PNG or WebP file",
    "there is, or was, a shelter called box: give this one another name",
    "the notebook /home/we/notebook.sqlite is damaged and cannot be read; there is no backup; move the file away to begin a new one",
    "the notebook C:\\we\\notebook.sqlite is damaged and cannot be read; its newest backup is daily-9.sqlite: `underglass note restore` brings it back",
    "length_m of box is 9 m; it must lie between 0.3 and 6 m",
    "last frost 07-20 would need the climate map to be 12 °C off at this place: check the date and the elevation",
)


@pytest.mark.parametrize("text", SAMPLES)
def test_a_fault_is_said_in_german(text: str) -> None:
    said = fault(text, Speech("de", "c"))
    assert said not in (text, fault(text, Speech("en", "c")))
    assert "2027-" not in said


def test_lengths_and_degrees_of_a_fault_come_in_the_units_of_the_house() -> None:
    feet = Speech("en", "f")
    assert "between 12 in and 19.7 ft" in fault(SAMPLES[-2], feet)
    assert "21.6\u00a0°F" in fault(SAMPLES[-1], feet)
    assert fault("152.0 °C is not what a thermometer in a garden says; is the unit right?", feet).startswith(
        "306\u00a0°F"
    )


def test_several_faults_are_told_one_by_one() -> None:
    said = fault("the note is empty\nthere is nothing to redo", Speech("de", "c"))
    assert len(said.splitlines()) == 2
    assert "nothing" not in said


def test_every_shape_is_one_that_the_rooms_still_write() -> None:
    """The longest run of plain words of each shape stands in the source of a room below, else nobody would ever see its words."""
    below = [p for p in ROOT.rglob("*.py") if p.name != "fault_words.py"]
    source = " ".join(p.read_text(encoding="utf-8") for p in below)
    for key, pattern in PATTERNS:
        bare = re.sub(r"\(\?(:|P<\w+>)[^()]*(\([^()]*\))?[^()]*\)", "|", pattern)
        plain = max(re.findall(r"[\w ,-]+", re.sub(r"\\[dw]", "|", bare).replace("\\", "|")), key=len).strip(" -")
        assert plain in source, f"{key}: {plain!r}"


def test_the_page_says_it(tmp_path: Path) -> None:
    hand = Hand(demo_hand(tmp_path).desk, "de")
    hand.open("/notebook")
    assert "kein Thermometer in einem Garten" in hand.tap("reading", value="900").text
