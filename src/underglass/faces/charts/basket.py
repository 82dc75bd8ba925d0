"""The basket: servings in a week over the year; the middle year as a line, eight years of ten as a band, what is wanted dashed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from underglass.faces.charts.svg import INK, QUIET, document, line, rect, text

__all__ = ["basket_chart", "basket_rows"]

LEFT, TOP, WIDE, TALL = 30.0, 14.0, 322.0, 150.0
HEAD = 18.0
LETTER = 0.52
"""Width of a letter, of its size: as much as a title may not run over the edge with."""

MIDDLE, LIKELY = "#1f6357", "#b5d6cc"
SOME = 0.5
"""Servings a week from which a week counts as bringing something."""

STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0)
MOST_STEPS = 5


def basket_rows(basket: Sequence[dict[str, Any]], want: str = "") -> list[dict[str, float]]:
    """The weeks' servings of one want, or of all: each p10, p50, p90."""
    return [week["servings"][want] if want else week["all"] for week in basket]


def _step(top: float) -> float:
    """Servings from one line of the axis to the next: as few lines as can be read."""
    return next((s for s in STEPS if top / s <= MOST_STEPS), STEPS[-1])


def _lean(days: dict[str, str] | None, weeks: Sequence[str], x: Sequence[float], words: str) -> list[str]:
    """A bar under the axis where days have under ten hours of light, once or on both sides of the year's turn."""
    if days is None:
        return []
    dark = [days["from"] <= week <= days["to"] for week in weeks]
    parts, start = [], None
    for i, now in enumerate([*dark, False]):
        if now and start is None:
            start = i
        elif not now and start is not None:
            parts.append(rect(x[start], TOP + TALL + 1.0, max(x[min(i, len(x) - 1)] - x[start], 2.0), 4.0, INK))
            start = None
    if parts:
        parts += [
            rect(LEFT + 160.0, TOP + TALL + 43.0, 16.0, 4.0, INK),
            text(LEFT + 181.0, TOP + TALL + 49.0, words, size=13),
        ]
    return parts


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _months(weeks: Sequence[str], x: Sequence[float], say: Callable[..., str]) -> list[str]:
    parts, month = [], weeks[0][5:7]
    for at, week in zip(x, weeks, strict=True):
        if week[5:7] != month and at < LEFT + WIDE - 6.0:
            parts += [
                line(at, TOP + TALL, at, TOP + TALL + 8.0),
                text(at + 3.0, TOP + TALL + 18.0, say(f"month1.{week[5:7]}"), size=13, colour=QUIET),
            ]
        month = week[5:7]
    return parts


def _legend(say: Callable[..., str], wanted: float | None) -> list[str]:
    first, second = TOP + TALL + 33.0, TOP + TALL + 49.0
    parts = [
        line(LEFT, first - 4.0, LEFT + 16.0, first - 4.0, colour=MIDDLE, width=2.5),
        text(LEFT + 21.0, first, say("basket.middle"), size=13),
        rect(LEFT, second - 10.0, 16.0, 11.0, LIKELY),
        text(LEFT + 21.0, second, say("basket.likely"), size=13),
    ]
    if wanted is not None:
        parts += [
            line(LEFT + 160.0, first - 4.0, LEFT + 176.0, first - 4.0, colour=INK, dash="4 3"),
            text(LEFT + 181.0, first, say("basket.wanted"), size=13),
        ]
    return parts


def _says(
    rows: Sequence[dict[str, float]], weeks: Sequence[str], say: Callable[..., str], day: Callable[[str], str]
) -> str:
    best = max(range(len(rows)), key=lambda i: rows[i]["p50"])
    some = sum(row["p50"] >= SOME for row in rows)
    if not some:
        return say("basket.says_nothing")
    most = rows[best]
    return say(
        "basket.says", some=some, weeks=len(rows), day=day(weeks[best]),
        middle=f"{most['p50']:.0f}", low=f"{most['p10']:.0f}", high=f"{most['p90']:.0f}",
    )  # fmt: skip


def basket_chart(
    basket: Sequence[dict[str, Any]],
    say: Callable[..., str],
    day: Callable[[str], str],
    *,
    title: str,
    want: str = "",
    wanted: float | None = None,
    lean: dict[str, str] | None = None,
    headed: bool = False,
) -> str:
    """The basket as SVG for a phone's width.

    basket : weeks as in docs/json.md;  want : only this one, else all together;  wanted : servings a week, drawn dashed
    lean : the first and last day with under ten hours of light, None where there are none
    headed : with its title above it, for a picture that stands alone
    """
    rows, weeks = basket_rows(basket, want), [week["week_of"] for week in basket]
    n = len(rows)
    x = [LEFT + WIDE * i / max(n - 1, 1) for i in range(n)]
    top = max([row["p90"] for row in rows] + [wanted or 0.0, 1.0]) * 1.04

    def y(servings: float) -> float:
        return TOP + TALL * (1.0 - min(servings / top, 1.0))

    high = [(x[i], y(row["p90"])) for i, row in enumerate(rows)]
    low = [(x[i], y(row["p10"])) for i, row in enumerate(rows)]
    parts = [f'<path d="{_path(high + low[::-1])}Z" fill="{LIKELY}"/>']
    step = _step(top)
    for i in range(int(top / step) + 1):
        at = y(i * step)
        parts += [
            line(LEFT, at, LEFT + WIDE, at, width=0.5 if i else 1.0),
            text(LEFT - 5.0, at + 4.0, f"{i * step:.0f}", size=13, anchor="end", colour=QUIET),
        ]
    if wanted is not None:
        parts.append(line(LEFT, y(wanted), LEFT + WIDE, y(wanted), colour=INK, dash="4 3"))
    middle = _path([(x[i], y(row["p50"])) for i, row in enumerate(rows)])
    parts.append(f'<path d="{middle}" fill="none" stroke="{MIDDLE}" stroke-width="2.5" stroke-linejoin="round"/>')
    parts += _months(weeks, x, say)
    parts += _lean(lean, weeks, x, say("basket.lean"))
    parts += _legend(say, wanted)
    if headed:
        size = min(12.5, 344.0 / (LETTER * max(len(title), 1)))
        parts = [text(8.0, 17.0, title, size=size, bold=True), f'<g transform="translate(0 {HEAD:g})">', *parts, "</g>"]
    return document(360.0, TOP + TALL + 58.0 + (HEAD if headed else 0.0), title, _says(rows, weeks, say, day), parts)
