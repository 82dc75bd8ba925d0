"""The hour strip: the next hours outside and inside with their likely range, and the lid's opening as steps below."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from underglass.faces.charts.svg import INK, QUIET, document, line, text

__all__ = ["hour_strip"]

LEFT, TOP, WIDE, TALL, LID = 40.0, 22.0, 312.0, 130.0, 26.0
INSIDE, OUTSIDE = "#c2622d", "#3f6fa8"


def _band(x: Sequence[float], low: Sequence[float], high: Sequence[float], colour: str) -> str:
    points = [*zip(x, high, strict=True), *reversed(list(zip(x, low, strict=True)))]
    path = "L".join(f"{a:.1f} {b:.1f}" for a, b in points)
    return f'<path d="M{path}Z" fill="{colour}" opacity="0.22"/>'


def _curve(x: Sequence[float], y: Sequence[float], colour: str, dash: str) -> str:
    path = "L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x, y, strict=True))
    return f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="2"{dash}/>'


def hour_strip(
    hours: Mapping[str, Any], zone: ZoneInfo, title: str, say: Callable[..., str], degrees: Callable[[float], str]
) -> str:
    """The strip as SVG; hours as in docs/json.md (degC), shown on the clock of the place."""
    n = len(hours["lid_open"])
    x = [LEFT + WIDE * i / max(n - 1, 1) for i in range(n)]
    every = [v for key in ("outside_c", "inside_c") for part in hours[key].values() for v in part]
    low, high = min([*every, 0.0]) - 1.0, max([*every, 0.0]) + 1.0

    def y(values: Sequence[float]) -> list[float]:
        return [TOP + TALL * (1.0 - (v - low) / (high - low)) for v in values]

    parts = []
    for key, colour, dash in (("outside_c", OUTSIDE, ' stroke-dasharray="5 3"'), ("inside_c", INSIDE, "")):
        parts += [
            _band(x, y(hours[key]["p10"]), y(hours[key]["p90"]), colour),
            _curve(x, y(hours[key]["p50"]), colour, dash),
        ]
    (zero,) = y([0.0])
    parts += [
        line(LEFT, zero, LEFT + WIDE, zero, colour=INK),
        text(LEFT - 4, zero + 4, degrees(0.0), size=11, anchor="end", colour=QUIET),
    ]
    for value in (low + 1.0, high - 1.0):
        if abs(value) > 0.12 * (high - low):
            parts.append(text(LEFT - 4, y([value])[0] + 4, degrees(value), size=11, anchor="end", colour=QUIET))
    parts += _clock(hours["start"], n, x, zone)
    base = TOP + TALL + 20 + LID
    steps = f"M{LEFT} {base}" + "".join(
        f"L{x[i]:.1f} {base - LID * o:.1f}L{x[min(i + 1, n - 1)]:.1f} {base - LID * o:.1f}" for i, o in enumerate(hours["lid_open"])
    )  # fmt: skip
    parts += [
        f'<path d="{steps}L{LEFT + WIDE} {base}Z" fill="{QUIET}"/>',
        text(LEFT, base + 14, say("today.lid_open"), size=11, colour=QUIET),
    ]
    parts += [
        text(LEFT, 12, f"━ {say('today.inside')}", size=12, colour=INSIDE),
        text(LEFT + 110, 12, f"╍ {say('today.outside')}", size=12, colour=OUTSIDE),
    ]
    said = say(
        "today.strip_says",
        low=degrees(min(hours["inside_c"]["p10"])), high=degrees(max(hours["inside_c"]["p90"])),
        out_low=degrees(min(hours["outside_c"]["p10"])), out_high=degrees(max(hours["outside_c"]["p90"])),
    )  # fmt: skip
    return document(360, base + 20, title, said, parts)


def _clock(start: str, n: int, x: Sequence[float], zone: ZoneInfo) -> list[str]:
    first = datetime.fromisoformat(f"{start}:00+00:00")
    marks = []
    for i in range(n):
        local = (first + timedelta(hours=i)).astimezone(zone)
        if local.hour % 12 == 0:
            marks += [
                line(x[i], TOP, x[i], TOP + TALL, width=0.5),
                text(x[i], TOP + TALL + 14, f"{local.hour} h", size=11, anchor="middle", colour=QUIET),
            ]
    return marks
