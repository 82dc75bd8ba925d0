"""Cautions: the safety list is whole, sourced, and a misspelt topic is refused."""

from __future__ import annotations

import pytest

from underglass.crop.cautions import all_cautions, caution_topics, cautions_for
from underglass.errors import InputError

LIST = [
    ("hot car", "parked car"),
    ("hot car", "26 K (47 °F) in an hour"),
    ("heat in shelters", "no child and no pet"),
    ("heat in shelters", "prop that cannot drop it on hands"),
    ("old glass", "1978"),
    ("old glass", "plastic is safer"),
    ("treated wood", "before 2004"),
    ("heaters", "carbon monoxide"),
    ("heaters", "film"),
    ("preserving", "pressure canner"),
    ("preserving", "oil"),
    ("hygiene", "no manure tea"),
    ("sprouts", "small children"),
    ("flowers", "sweet pea"),
    ("legumes", "toxic"),
    ("favism", "G6PD"),
    ("containers", "never ones that held pesticide"),
    ("seed", "treated"),
    ("water", "drown"),
    ("soil", "Legionella"),
    ("soil", "tetanus"),
    ("snow and wind", "Never go in under a loaded roof"),
    ("manure", "120 days"),
]


@pytest.mark.parametrize(("topic", "words"), LIST)
def test_each_danger_is_told(topic: str, words: str) -> None:
    assert any(words in caution.text for caution in cautions_for([topic]))


def test_every_caution_has_words_source_and_topic() -> None:
    for caution in all_cautions():
        assert caution.text.endswith(".")
        assert caution.source
        assert caution.topics
        assert [caution] == [c for c in cautions_for(caution.topics[:1]) if c == caution]


def test_a_misspelt_topic_is_refused_with_the_list() -> None:
    with pytest.raises(InputError, match=r"no caution is about old glas;.*old glass"):
        cautions_for(["old glas", "manure"])


def test_no_topic_gives_none_and_all_give_all() -> None:
    assert cautions_for([]) == []
    assert cautions_for(caution_topics()) == list(all_cautions())
