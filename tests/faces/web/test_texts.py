"""No string is missing: both languages have the same keys and blanks, and everything that the pages say is in the catalogue."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest

from underglass.crop.catalogue import catalogue
from underglass.crop.outcome import WORDS, Fate
from underglass.faces.cli.today import KINDS, REMEDIES
from underglass.faces.web.texts import LANGUAGES, catalogue_of, say_in
from underglass.plan.wishes import USUAL_SERVINGS
from underglass.services.seeds import ORDER
from underglass.services.year import POLLINATION
from underglass.services.year_help import EFFORT
from underglass.shelter.inside import HEAT_PATHS
from underglass.shelter.presets import PRESETS

WEB = Path(str(files("underglass.faces.web")))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_says_everything(language: str) -> None:
    english, other = catalogue_of("en"), catalogue_of(language)
    assert set(other) == set(english)
    for key, text in other.items():
        assert text.strip(), key
        assert set(re.findall(r"\{(\w+)\}", text)) == set(re.findall(r"\{(\w+)\}", english[key])), key


def test_words_for_one_belong_to_words_for_many() -> None:
    known = catalogue_of("en")
    for key in known:
        if key.endswith("_one"):
            assert key.removesuffix("_one") in known
    assert say_in("en")("seeds.years_left", n=1).endswith("1 year left.")
    assert say_in("en")("seeds.years_left", n=2).endswith("2 years left.")
    assert say_in("de")("seeds.years_left", n="1").endswith("1 Jahr.")


def test_every_text_that_is_asked_for_is_there() -> None:
    known = catalogue_of("en")
    sources = [*WEB.rglob("*.html"), *WEB.rglob("*.py"), *(WEB.parent / "charts").glob("*.py")]
    asked = {
        key
        for path in sources
        for key in re.findall(
            r"""\b(?:t|say|show\.say)\(\s*["']([a-z0-9_]+\.[\w ]+)["'][,)]""", path.read_text("utf-8")
        )
    }
    assert len(asked) > 80
    assert not asked - set(known)


def test_what_the_data_names_has_words() -> None:
    german = catalogue_of("de")
    wanted = {f"crop.{c}" for c in catalogue()} | {f"shelter.{p}" for p in PRESETS} | {f"heat.{p}" for p in HEAT_PATHS}
    wanted |= {f"cause.{w}" for f, w in WORDS.items() if f not in (Fate.HARVESTED, Fate.BEYOND_RECORD)}
    wanted |= {f"warning.{kind}" for kind in KINDS} | {f"remedy.{what}" for what in REMEDIES}
    wanted |= {f"pollination.{words}" for words in POLLINATION.values()} | {f"want.{dish}" for dish in USUAL_SERVINGS}
    wanted |= {f"help.{kind}" for kind in EFFORT} | {f"{part}.{a}" for a in ORDER for part in ("advice", "advise")}
    assert not wanted - set(german)


def test_an_unknown_text_is_refused() -> None:
    with pytest.raises(KeyError, match="no text"):
        say_in("en")("sow.nonsense")
