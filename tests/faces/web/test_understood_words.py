"""What is said of a logger's file, in both languages, for files as loggers write them."""

from __future__ import annotations

import pytest

from underglass.faces.web.speech import Speech
from underglass.faces.web.understood_words import probe, understood
from underglass.place.place import Place
from underglass.sources.readings import parse_readings

PLACE = Place(44.0, -72.7, 400.0, "America/New_York")
FILES = {
    "plain": "time,air in shade\n" + "".join(f"2027-03-{d:02d} {h:02d}:00,{h / 2}\n" for d in (1, 2) for h in range(24)),
    "german": "Datum;soil\n" + "".join(f"{d}.03.2027 {h:02d}:00;{h / 2}\n" for d in (13, 14) for h in range(24)),
    "zoned": "time (UTC),air 20 cm,leaf in sun,battery\n"
    + "".join(f"2027-03-01 {h:02d}:00,{h},{h},3.3\n" for h in range(24))
    + "broken\n",
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_every_sentence_about_a_file_is_known(name: str) -> None:
    book = parse_readings(FILES[name], name, place=PLACE, units="c")
    assert len(book.understood) > 2
    for line in book.understood:
        german, english = understood(line, Speech("de", "c")), understood(line, Speech("en", "c"))
        assert german not in (line, english)


def test_what_must_be_said_is_asked_for_in_the_fields_of_the_page() -> None:
    asked = understood(
        "log.csv: column 'T1' does not say whether it is °C or °F; add --units c or --units f", Speech("en", "c")
    )
    assert asked == "The column “T1” does not say whether it is °C or °F: choose it below."
    assert "--date-order" not in understood(
        "log.csv: the dates may be month/day or day/month, and both would do; add --date-order mdy or --date-order dmy", Speech("de", "c")
    )  # fmt: skip


def test_what_the_notebook_knows() -> None:
    line = "from the notebook: air 20 cm high: 12 lowest, 2027-03-01 to 2027-03-12, shaded"
    assert (
        understood(line, Speech("de", "c"))
        == "Aus dem Notizbuch: Luft, 20 cm hoch: 12 tiefste, 1.\u00a0März bis 12.\u00a0März, im Schatten"
    )


def test_depths_come_in_the_units_of_the_house() -> None:
    assert understood("'T1': soil 10 cm deep", Speech("en", "f")) == "“T1”: soil, 4 in deep"
    assert probe("air 20 cm high (noted)", Speech("en", "f")) == "air, 8 in high (read by hand)"
    assert probe("soil 5 cm deep (log.csv)", Speech("de", "c")) == "Erde, 5 cm tief (log.csv)"
    assert probe("something else", Speech("de", "c")) == "something else"
