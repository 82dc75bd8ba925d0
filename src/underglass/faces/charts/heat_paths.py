"""Heat paths: where a day's heat came from and where it went, as bars that start from the middle."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from underglass.faces.charts.svg import INK, QUIET, document, line, text

__all__ = ["heat_paths"]

MIDDLE, REACH, ROW = 180.0, 165.0, 38.0
IN, OUT = "#c2622d", "#3f6fa8"


def heat_paths(
    flows_wh_m2: Mapping[str, float], title: str, say: Callable[..., str], heat: Callable[[float], str]
) -> str:
    """The day's sums as SVG; flows [Wh per m2 of bed], gain positive; left goes out, right comes in.  heat : says an amount in the units of the house"""
    shown = [(k, v) for k, v in sorted(flows_wh_m2.items(), key=lambda i: -i[1]) if abs(v) >= 1.0]
    largest = max((abs(v) for _, v in shown), default=1.0)
    parts = [
        text(MIDDLE - 8, 16, "← " + say("heat.out"), size=13, anchor="end", colour=QUIET),
        text(MIDDLE + 8, 16, say("heat.in") + " →", size=13, colour=QUIET),
    ]
    for i, (key, value) in enumerate(shown):
        top = 26 + ROW * i
        length = REACH * abs(value) / largest
        left = MIDDLE if value > 0 else MIDDLE - length
        parts.append(
            f'<rect x="{left:.1f}" y="{top + 15:.1f}" width="{length:.1f}" height="14" fill="{IN if value > 0 else OUT}"/>'
        )
        parts.append(
            line(MIDDLE, top + 13, MIDDLE, top + 31, colour=QUIET)
        )  # beside the bar alone: words stand over the middle
        words = f"{say(f'heat.{key}')}: {heat(value)}"
        parts.append(text(MIDDLE, top + 11, words, size=13, anchor="middle", colour=INK))
    said = "; ".join(f"{say(f'heat.{k}')} {heat(v)}" for k, v in shown)
    return document(360, 34 + ROW * len(shown), title, said, parts)
