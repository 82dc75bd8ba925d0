"""The year carpet for a phone's width: day of the year across, hour of the day down, coloured by the air inside."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from underglass.faces.charts.carpet import HIGH_C, LOW_C, MONTH_START, carpet_table
from underglass.faces.charts.palette import SCALE, hex_of
from underglass.faces.charts.svg import INK, QUIET, document, line, palette_png, rect, text
from underglass.shelter.inside import InsideWeather

__all__ = ["small_carpet"]

LEFT, TOP, WIDE, TALL = 34.0, 6.0, 320.0, 168.0


def small_carpet(inside: InsideWeather, say: Callable[..., str], degrees: Callable[[float], str]) -> str:
    """The carpet as SVG; strokes lie over hours that freeze (\\) or pass 35 degC (/), so that colour does not stand alone."""
    mean, _ = carpet_table(inside)
    share = np.nan_to_num((mean - LOW_C) / (HIGH_C - LOW_C))
    picture = palette_png(np.clip(share * 255.0, 0, 255).astype(np.uint8), SCALE)
    parts = [
        f'<image x="{LEFT}" y="{TOP}" width="{WIDE}" height="{TALL}" preserveAspectRatio="none" image-rendering="pixelated" href="{picture}"/>',
        _strokes(mean < 0.0, "#ffffff", falling=True),
        _strokes(mean > 35.0, INK, falling=False),
    ]
    for hour in range(0, 25, 6):
        y = TOP + TALL * hour / 24.0
        parts += [text(LEFT - 5, y + 4, f"{hour} h", size=11, anchor="end", colour=QUIET), line(LEFT - 3, y, LEFT, y)]
    for month in range(12):
        middle = LEFT + WIDE * 0.5 * (MONTH_START[month] + MONTH_START[month + 1]) / 365.0
        parts.append(
            text(middle, TOP + TALL + 15, say(f"month1.{month + 1:02d}"), size=11, anchor="middle", colour=QUIET)
        )
    parts += _legend(degrees)
    known = mean[np.isfinite(mean)]
    description = say(
        "inside.carpet_says",
        low=degrees(float(known.min())),
        high=degrees(float(known.max())),
        frost=f"{(known < 0.0).mean():.0%}",
        hot=f"{(known > 35.0).mean():.0%}",
    )
    return document(360, TOP + TALL + 54, say("inside.carpet", shelter=inside.shelter_name), description, parts)


def _strokes(where: np.ndarray, colour: str, *, falling: bool) -> str:
    """One short stroke in each block of ten days by two hours that is mostly so."""
    wide, tall = WIDE / 36.5, TALL / 12.0
    strokes = []
    for i in range(12):
        for j in range(36):
            if where[2 * i : 2 * i + 2, 10 * j : 10 * j + 10].mean() > 0.5:
                x, y = LEFT + j * wide + 2.0, TOP + i * tall
                first, last = (y + 0.3 * tall, y + 0.7 * tall) if falling else (y + 0.7 * tall, y + 0.3 * tall)
                strokes.append(f"M{x:.1f} {first:.1f}L{x + wide - 4.0:.1f} {last:.1f}")
    return f'<path d="{"".join(strokes)}" stroke="{colour}" stroke-width="1" fill="none"/>' if strokes else ""


def _legend(degrees: Callable[[float], str]) -> list[str]:
    y, wide, steps = TOP + TALL + 24.0, 310.0, 40
    parts = [rect(LEFT + wide * i / steps, y, wide / steps + 0.5, 9, hex_of(i / (steps - 1))) for i in range(steps)]
    for temp in (-20.0, 0.0, 20.0, 40.0):
        x = LEFT + wide * (temp - LOW_C) / (HIGH_C - LOW_C)
        parts += [line(x, y + 9, x, y + 13), text(x, y + 25, degrees(temp), size=11, anchor="middle", colour=QUIET)]
    return parts
