"""The outlook curve: sowing date across, share of the years up; harvested below, the causes of loss stacked on top."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from underglass.faces.charts.svg import INK, QUIET, document, line, text

__all__ = ["CAUSE_COLOURS", "outlook_curve"]

LEFT, TOP, WIDE, TALL = 34.0, 12.0, 316.0, 150.0
HARVEST = "#2f7f6f"
CAUSE_COLOURS = ("#8fb4d9", "#d9a05b", "#b58bb5", "#c9c27a", "#9a9a9a")
"""For the four commonest causes and all others; never alone: each band is named in the legend and in the table beside the picture."""


def _area(points_low: list[tuple[float, float]], points_high: list[tuple[float, float]], colour: str) -> str:
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points_high + points_low[::-1]) + "Z"
    return f'<path d="{path}" fill="{colour}" stroke="#ffffff" stroke-width="0.6"/>'


def outlook_curve(
    dates: Sequence[dict[str, Any]], chosen: int, say: Callable[..., str], day: Callable[[str], str]
) -> str:
    """The curve as SVG for a phone's width; `chosen` is marked.  dates: outlooks as in docs/json.md, a week apart."""
    n = len(dates)
    x = [LEFT + WIDE * i / max(n - 1, 1) for i in range(n)]

    def y(share: float) -> float:
        return TOP + TALL * (1.0 - share)

    total: dict[str, float] = {}
    for d in dates:
        for cause, share in d["causes"].items():
            total[cause] = total.get(cause, 0.0) + share
    ranked = sorted(total, key=lambda c: -total[c])
    bands = [[d["chance"] for d in dates]]
    bands += [[d["causes"].get(c, 0.0) for d in dates] for c in ranked[:4]]
    bands.append([sum(s for c, s in d["causes"].items() if c in ranked[4:]) for d in dates])
    names = [say("sow.harvested"), *(say(f"cause.{c}", or_else=c) for c in ranked[:4]), say("sow.other_causes")]
    parts, base = [], [0.0] * n
    for values, colour in zip(bands, (HARVEST, *CAUSE_COLOURS), strict=False):
        top = [min(b + v, 1.0) for b, v in zip(base, values, strict=True)]
        if max(values) > 0.0:
            parts.append(_area(list(zip(x, map(y, base), strict=True)), list(zip(x, map(y, top), strict=True)), colour))
        base = top
    for share in (0.0, 0.5, 1.0):
        parts += [
            text(LEFT - 5, y(share) + 4, f"{share:.0%}", size=12, anchor="end", colour=QUIET),
            line(LEFT, y(share), LEFT + WIDE, y(share)),
        ]
    month = ""
    for i, d in enumerate(dates):
        if d["sow"][5:7] != month and 0 < i < n - 1:
            parts += [
                line(x[i], TOP + TALL, x[i], TOP + TALL + 4),
                text(x[i] + 1, TOP + TALL + 15, say(f"month1.{d['sow'][5:7]}"), size=13, colour=QUIET),
            ]
        month = d["sow"][5:7]
    parts.append(line(x[chosen], TOP - 4, x[chosen], TOP + TALL + 2, colour=INK, width=2.5))
    row = TOP + TALL + 32
    for name, values, colour in zip(names, bands, (HARVEST, *CAUSE_COLOURS), strict=False):
        if max(values) > 0.0:
            parts += [
                f'<rect x="{LEFT}" y="{row - 10}" width="12" height="12" fill="{colour}"/>',
                text(LEFT + 18, row, name, size=13),
            ]
            row += 17
    at = dates[chosen]
    description = say("sow.curve_says", day=day(at["sow"]), n=round(at["chance"] * at["years"]), years=at["years"])
    return document(360, row - 4, say("sow.curve"), description, parts)
