"""Which column of a logger's file is which: by the words in its name, or as the person says."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast

from underglass.errors import InputError
from underglass.sources.table import did_you_mean, shorten

__all__ = ["Column", "columns_of", "unit_in"]

Spot = Literal["air", "leaf", "soil", "outside"]

OTHERS = re.compile(
    r"humid|\brh\b|%|dew|batt|lux|\blight|\bpar\b|volt|signal|rssi|^#|^no\.?$|^id$|index|wind|pressure|rain|co2|vpd|"
    r"feels|record|event|serial|status|moist"
)
TEMPERATURE = re.compile(
    r"temp|celsius|fahrenheit|[°º\ufffd]|\bair\b|soil|ground|probe|sensor|in_?side|out_?side|in_?door|out_?door|leaf|\bmin|\bmax"
)
SPOTS: tuple[tuple[Spot, re.Pattern[str]], ...] = (
    ("soil", re.compile(r"soil|ground|earth")),
    ("leaf", re.compile(r"leaf|canopy")),
    ("outside", re.compile(r"out_?side|out_?door|ambient|exterior")),
    ("air", re.compile(r"\bair\b|in_?side|in_?door|\bbox\b|frame|tunnel|shelter")),
)
DEPTH = re.compile(r"(\d+(?:[.,]\d+)?)\s*(cm|mm|inch|inches|in|\")(?![a-z])")
SCALE = {
    "cm": 0.01,
    "mm": 0.001,
    "inch": 0.0254,
    "inches": 0.0254,
    "in": 0.0254,
    '"': 0.0254,
    "ft": 0.3048,
    "feet": 0.3048,
    "foot": 0.3048,
    "m": 1.0,
}
HEIGHT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(cm|mm|inch|inches|in|\"|ft|feet|foot|m)(?![a-z])")
LOWEST, HIGHEST = re.compile(r"\bmin|lowest|\blow\b"), re.compile(r"\bmax|highest|\bhigh\b")
SHADE, SUN = re.compile(r"shad|shield|screen"), re.compile(r"\bsun\b|sunny|\blid\b|\btop\b")
UNIT = re.compile(r"(?:[°º\ufffd]|deg\.?)\s*([cf])\b|[(\[_ ,/]([cf])[)\]]?\s*$|\b(celsius|fahrenheit)\b")
DEFAULT_DEPTH_M, DEEPEST_M, HIGHEST_M = 0.10, 1.0, 6.0


@dataclass(frozen=True, slots=True)
class Column:
    """A column of temperatures: its place in the row, name, unit if the name says one, and where its probe is."""

    at: int
    name: str
    unit: str | None
    spot: Spot
    depth_m: float
    sunlit: Literal["shade", "sun", "unknown"]
    kind: Literal["moment", "lowest", "highest"]
    assumed: str = ""
    height_m: float | None = None

    @property
    def probe(self) -> str:
        """The thermometer's name: lowest and highest columns of one name are one thermometer."""
        plain = LOWEST.sub("", HIGHEST.sub("", UNIT.sub("", self.name.lower())))
        words = " ".join(re.sub(r"imum|[()\[\],_]", " ", plain).split())
        return words or self.spot


def unit_in(text: str) -> str | None:
    """'c' or 'f' where a text names one.

    >>> unit_in("Temp, °F"), unit_in("soil_c"), unit_in("air")
    ('f', 'c', None)
    """
    found = UNIT.search(text.lower())
    return None if found is None else next(g for g in found.groups() if g)[0]


def _described(words: str) -> tuple[Spot | None, float, str, str]:
    """Spot, depth, sunlit and kind from words."""
    text = words.lower().replace("_", " ")
    spot = next((name for name, pattern in SPOTS if pattern.search(text)), None)
    depth = DEFAULT_DEPTH_M if spot == "soil" else 0.0
    if spot == "soil" and (found := DEPTH.search(text)):
        depth = float(found[1].replace(",", ".")) * SCALE[found[2]]
    sunlit = "shade" if SHADE.search(text) else "sun" if SUN.search(text) else "unknown"
    kind = "lowest" if LOWEST.search(text) else "highest" if HIGHEST.search(text) else "moment"
    return spot, depth, sunlit, kind


def _height_m(words: str) -> float | None:
    """How high over the soil a probe hangs, where the words say so."""
    found = HEIGHT.search(words.lower().replace("_", " "))
    return None if found is None else float(found[1].replace(",", ".")) * SCALE[found[2]]


def _column(at: int, name: str, words: str, file: str, assumed: str = "") -> Column:
    spot, depth, sunlit, kind = _described(words)
    if depth > DEEPEST_M:
        raise InputError(
            f"{file}: column '{shorten(name)}' would lie {depth:g} m deep: expected at most {DEEPEST_M:g} m"
        )
    where = spot or "air"
    height = _height_m(words) if where == "air" else None
    if height is not None and height > HIGHEST_M:
        raise InputError(
            f"{file}: column '{shorten(name)}' would hang {height:g} m high: expected at most {HIGHEST_M:g} m"
        )
    if where == "soil" and not DEPTH.search(words.lower().replace("_", " ")):
        assumed = f"taken to be {DEFAULT_DEPTH_M * 100:.0f} cm deep"
    return Column(
        at, name, unit_in(name), where, depth, cast("Literal['shade', 'sun', 'unknown']", sunlit),
        cast("Literal['moment', 'lowest', 'highest']", kind), assumed, height,
    )  # fmt: skip


def columns_of(names: Sequence[str], numeric: Sequence[int], asked: Sequence[str], file: str) -> tuple[Column, ...]:
    """The columns to read.

    numeric : places of columns that hold numbers;  asked : 'NAME=WHAT' or 'NAME' as typed, empty: by the names' own words
    Raises InputError where it is not clear which columns are temperatures or where their probes are.
    """
    if asked:
        return tuple(_asked(text, names, numeric, file) for text in asked)
    maybe = [i for i in numeric if not OTHERS.search(names[i].lower())]
    likely = [i for i in maybe if TEMPERATURE.search(names[i].lower().replace("_", " ")) or unit_in(names[i])]
    chosen = likely or (maybe if len(maybe) == 1 else [])
    have = ", ".join(f"'{shorten(names[i])}'" for i in numeric) or "none with numbers"
    if not chosen:
        raise InputError(
            f'{file}: no column is clearly a temperature; columns are {have}; say which, as --column "NAME=air"'
        )
    nameless = [i for i in chosen if _described(names[i])[0] is None]
    thermometers = {_column(i, names[i], names[i], file).probe for i in nameless}
    if len(thermometers) > 1:
        unclear = ", ".join(f"'{shorten(names[i])}'" for i in nameless)
        raise InputError(
            f"{file}: columns {unclear} do not say where their probes are; say it, as "
            f'--column "{shorten(names[nameless[0]])}=air" --column "{shorten(names[nameless[-1]])}=soil 10 cm"'
        )
    return tuple(
        _column(i, names[i], names[i], file, "taken to be the air inside" if i in nameless else "") for i in chosen
    )


def _asked(text: str, names: Sequence[str], numeric: Sequence[int], file: str) -> Column:
    name, equals, what = text.rpartition("=") if "=" in text else (text, "", "")
    wanted = name.strip().lower()
    exact = [i for i in numeric if names[i].strip().lower() == wanted]
    found = exact or [i for i in numeric if wanted and wanted in names[i].lower()]
    if len(found) != 1:
        have = [names[i] for i in numeric]
        shown = ", ".join(f"'{shorten(n)}'" for n in have)
        raise InputError(
            f"--column {shorten(text)!r} fits {'several' if found else 'none'} of the columns of {file}: "
            f"{shown}{did_you_mean(name.strip(), have)}"
        )
    if equals and _described(what)[0] is None:
        raise InputError(
            f"--column {shorten(text)!r}: after = say where the probe is: air, leaf, soil 10 cm or outside; "
            "where it matters add sun, shade, lowest or highest"
        )
    assumed = "" if equals or _described(names[found[0]])[0] else "taken to be the air inside"
    return _column(found[0], names[found[0]], f"{names[found[0]]} {what}" if not equals else what, file, assumed)
