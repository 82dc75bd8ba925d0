"""The hour strip: the next hours outside and inside with their likely range, what the plants bear, and the lid's settings below."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from underglass.faces.charts.svg import INK, PAPER, QUIET, document, line, rect, text

__all__ = ["LidTime", "hour_strip"]

LEFT, TOP, WIDE, TALL, LID = 44.0, 26.0, 310.0, 150.0, 24.0
INSIDE, OUTSIDE, BEARS = "#b4551f", "#3f6fa8", "#e3efe2"
LETTER = 7.2
"""Width that a letter of size 13 needs [px of the drawing]."""


@dataclass(frozen=True, slots=True)
class LidTime:
    """How the lid stands from one hour to another: first and last counted from the strip's start, `open` from 0 to 1."""

    first: int
    last: int
    words: str
    open: float


def _band(x: Sequence[float], low: Sequence[float], high: Sequence[float], colour: str) -> str:
    points = [*zip(x, high, strict=True), *reversed(list(zip(x, low, strict=True)))]
    path = "L".join(f"{a:.1f} {b:.1f}" for a, b in points)
    return f'<path d="M{path}Z" fill="{colour}" opacity="0.22"/>'


def _curve(x: Sequence[float], y: Sequence[float], colour: str, dash: str) -> str:
    path = "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))
    return f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="2.2"{dash}/>'


def hour_strip(
    hours: Mapping[str, Any], lids: Sequence[LidTime], zone: ZoneInfo, title: str, say: Callable[..., str],
    degrees: Callable[[float], str], *, outdoors: bool = False,
) -> str:  # fmt: skip
    """The strip as SVG; hours as in docs/json.md (degC), shown on the clock of the place.  outdoors : of a bed that has no inside"""
    n = len(hours["lid_open"])
    x = [LEFT + WIDE * i / max(n - 1, 1) for i in range(n)]
    every = [v for key in ("outside_c", "inside_c") for part in hours[key].values() for v in part]
    low, high = float(min([*every, 0.0])) - 1.0, float(max([*every, 0.0])) + 1.0

    def y(value: float) -> float:
        return TOP + TALL * (1.0 - (value - low) / (high - low))

    bears = [min(max(v, low), high) for v in hours["bears_c"]]
    parts = [rect(LEFT, y(bears[1]), WIDE, y(bears[0]) - y(bears[1]), BEARS)] if bears[0] < bears[1] else []
    parts += _degrees_axis(low, high, y, degrees)
    parts += _clock(hours["start"], n, x, zone, say)
    for key, colour, dash in (("outside_c", OUTSIDE, ' stroke-dasharray="5 3"'), ("inside_c", INSIDE, "")):
        likely = {name: [y(v) for v in values] for name, values in hours[key].items()}
        parts += [_band(x, likely["p10"], likely["p90"], colour), _curve(x, likely["p50"], colour, dash)]
    parts += _lid(lids, x, TOP + TALL + 26.0)
    parts += [
        text(LEFT, 15, f"━ {say('today.at_bed' if outdoors else 'today.inside')}", size=14, colour=INSIDE),
        text(LEFT + 80, 15, f"╍ {say('today.outside')}", size=14, colour=OUTSIDE),
        rect(LEFT + 168, 4, 14, 14, BEARS),
        text(LEFT + 187, 15, say("today.bears"), size=14, colour=QUIET),
    ]
    said = say(
        "today.strip_says_bed" if outdoors else "today.strip_says",
        low=degrees(min(hours["inside_c"]["p10"])), high=degrees(max(hours["inside_c"]["p90"])),
        out_low=degrees(min(hours["outside_c"]["p10"])), out_high=degrees(max(hours["outside_c"]["p90"])),
    )  # fmt: skip
    return document(360, TOP + TALL + 32 + (LID if lids else 0), title, said, parts)


def _degrees_axis(low: float, high: float, y: Callable[[float], float], degrees: Callable[[float], str]) -> list[str]:
    """A line every 10 or 20 K; freezing is the strong one."""
    step = 10 if high - low < 45.0 else 20
    first = int(-(-low // step)) * step
    parts = []
    for value in range(first, int(high) + 1, step):
        strong = value == 0
        parts += [
            line(LEFT, y(value), LEFT + WIDE, y(value), colour=INK if strong else QUIET, width=1.2 if strong else 0.3),
            text(LEFT - 4, y(value) + 4.5, degrees(value), size=13, anchor="end", colour=INK if strong else QUIET),
        ]
    return parts


def _clock(start: str, n: int, x: Sequence[float], zone: ZoneInfo, say: Callable[..., str]) -> list[str]:
    """A line at each midnight, a mark at noon, and the weekday beside it."""
    first = datetime.fromisoformat(f"{start}:00+00:00")
    marks = []
    for i in range(n):
        local = (first + timedelta(hours=i)).astimezone(zone)
        if local.hour == 0:
            marks.append(line(x[i], TOP, x[i], TOP + TALL + 6, width=0.8))
        elif local.hour == 12:
            words = say("today.noon", day=say(f"weekday.{local.weekday()}"))
            marks.append(line(x[i], TOP + TALL, x[i], TOP + TALL + 5))
            if x[i] + 0.5 * LETTER * len(words) <= 360.0:  # one that would be cut off at the edge stays away
                marks.append(text(x[i], TOP + TALL + 18, words, size=13, anchor="middle", colour=QUIET))
    return marks


def _lid(lids: Sequence[LidTime], x: Sequence[float], top: float) -> list[str]:
    """One block for each setting, the lighter the wider open, with its words where they fit."""
    parts = []
    for time in lids:
        left, right = x[time.first], x[min(time.last, len(x) - 1)]
        parts += [rect(left, top, right - left, LID, QUIET), rect(left + 1, top + 1, right - left - 2, LID * min(time.open, 1.0) * 0.92, PAPER)]  # fmt: skip
        if len(time.words) * LETTER < right - left:
            colour = INK if time.open > 0.6 else PAPER
            parts.append(text((left + right) / 2, top + LID - 7.5, time.words, size=13, anchor="middle", colour=colour))
    return parts
