"""A bed in the open has no inside: the lid plan says of it what is at the bed."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from tests.faces.web.hand import Hand, small_household
from underglass.faces.web.desk import Desk
from underglass.plan.household import StandingCrop


def test_a_bed_in_the_open_is_told_of_in_words_of_its_own(tmp_path: Path) -> None:
    desk = Desk(tmp_path, now=lambda: datetime(2027, 5, 10, 12, tzinfo=UTC), years=4)
    stands = (StandingCrop("kale", "open", "young"), StandingCrop("kale", "south box", "young"))
    desk.home.keep(replace(small_household(), standing=stands), 0)
    for language, inside, bed in (("en", "inside", "at the bed"), ("de", "drinnen", "am Beet")):
        hand = Hand(desk, language)
        page = hand.open("/today").text
        for _ in range(600):
            if 'id="work"' not in page:
                break
            time.sleep(0.1)
            page = hand.open("/today").text
        parts = {p.split("</h2>")[0].rsplit(">", 1)[-1]: p for p in page.split('<section class="shelter"')[1:]}
        assert len(parts) == 2
        open_bed = next(p for name, p in parts.items() if name != "south box").split("</section>")[0]
        assert bed in open_bed
        assert inside not in open_bed.lower()
        assert inside in parts["south box"].lower()
