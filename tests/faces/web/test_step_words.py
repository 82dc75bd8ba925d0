"""Every step that a service writes into the notebook's history is said in the language of the phone."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import underglass
from underglass.faces.web.speech import Speech
from underglass.faces.web.step_words import step

SERVICES = Path(underglass.__file__).parent / "services"
SAMPLES = {
    "on": "2027-03-10",
    "plan['date']": "2027-03-10",
    "days[0]": "2027-03-10",
    "f' to {days[-1]}' if len(days) > 1 else ''": " to 2027-03-12",
    "what": "nobody home",
    "_called(record)": "leek packed for 2026",
    "_called(known)": "leek packed for 2026",
    "_called(packet)": "leek packed for 2026",
    "n_up": "7",
    "n_sown": "10",
    "len(readings)": "312",
    "stage": "seedling",
    "kind": "min",
    "where": "in the south box",
    "probe if place else 'air'": "air",
    "told": "min 3.5 °C",
    "setting if gap_m is None else f'propped {_length(notebook, gap_m)}'": "propped 5 cm",
    "_name(row)": "kale in south box, 2027-03-10",
    "_name(other)": "leek in south box, 2027-03-12",
    "_name(gone)": "kale in south box, 2027-03-10",
    "kind.__name__.lower().removesuffix('record')": "harvest",
    "units.upper()": "F",
    "why": "killed by cold",
}
"""What stands for what a service puts in; everything else is taken as a crop's name."""

COMPUTED = {"the plan as it was shown", "undo", "redo"}
"""No steps of the history under these words: the journal names what was undone or redone."""


def _text(node: ast.expr) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if not isinstance(node, ast.JoinedStr):
        return None
    return "".join(
        str(part.value) if isinstance(part, ast.Constant) else SAMPLES.get(ast.unparse(part.value), "kale")  # type: ignore[attr-defined]
        for part in node.values
    )


def written() -> list[str]:
    """The steps in the source of the services, with samples in them."""
    found = []
    for path in sorted(SERVICES.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            asked = node.args[0] if name == "transaction" else node.args[2] if name == "change_wishes" else None
            text = None if asked is None else _text(asked)
            if text is not None and text not in COMPUTED:
                found.append(text)
    return found


def test_there_are_steps_to_look_at() -> None:
    assert len(written()) > 30


@pytest.mark.parametrize(
    "what",
    [
        *written(),
        "what the family likes to eat",
        "south box: trays in",
        "watered: kale",
        "undone: note: slugs",
        "redone: note: slugs",
    ],
)
def test_a_step_is_known(what: str) -> None:
    english, german = step(what, Speech("en", "c")), step(what, Speech("de", "c"))
    assert german != what
    assert german != english
    assert "2027-" not in german


def test_names_days_and_words_are_said_as_on_the_page() -> None:
    german = Speech("de", "c")
    assert step("kale in south box: odd", german) == "kale in south box: odd"
    assert step("Kale sown in the south box on 2027-03-10", german) == "Gesät: Grünkohl, south box, 10.\u00a0März"
    assert step("note: sown in the hurry on Monday", german) == "Notiz: sown in the hurry on Monday"
    assert step("something that nobody knows yet", german) == "something that nobody knows yet"


def test_one_look_at_a_thermometer_is_one_step_with_all_that_it_told() -> None:
    said = step("reading in the south box: air min -3.5 °C, max 21.0 °C", Speech("de", "c"))
    assert said.startswith("south box: Luft -3.5 °C (tiefster")
    assert "21.0 °C (höchster" in said
    assert "max" not in said
