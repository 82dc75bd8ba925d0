"""How a sowing can end, in codes for kernels and in words for people."""

from __future__ import annotations

from enum import IntEnum

__all__ = ["WORDS", "Fate"]


class Fate(IntEnum):
    """The one end that each sowing in each year comes to."""

    HARVESTED = 0
    TOO_COLD_TO_COME_UP = 1
    TOO_HOT_TO_COME_UP = 2
    SEED_TOO_OLD = 3
    SEEDLING_FROZEN = 4
    PLANT_FROZEN = 5
    COOKED = 6
    STARVED_OF_LIGHT = 7
    OUTGREW_CELL = 8
    BOLTED = 9
    NO_FRUIT_SET = 10
    NOT_READY = 11
    DRIED_OUT = 12
    BEYOND_RECORD = 13


WORDS: dict[Fate, str] = {
    Fate.HARVESTED: "harvested",
    Fate.TOO_COLD_TO_COME_UP: "soil too cold to come up",
    Fate.TOO_HOT_TO_COME_UP: "soil too hot to come up",
    Fate.SEED_TOO_OLD: "seed too old",
    Fate.SEEDLING_FROZEN: "killed by cold as a seedling",
    Fate.PLANT_FROZEN: "killed by cold",
    Fate.COOKED: "cooked by heat",
    Fate.STARVED_OF_LIGHT: "starved of light",
    Fate.OUTGREW_CELL: "outgrew its cell before it was safe outside",
    Fate.BOLTED: "ran to seed before it was ready",
    Fate.NO_FRUIT_SET: "flowered but set no fruit",
    Fate.NOT_READY: "not ready in time",
    Fate.DRIED_OUT: "dried out in its cell",
    Fate.BEYOND_RECORD: "past the end of the weather record",
}
"""Plain words for each end; BEYOND_RECORD years are left out of every count."""
