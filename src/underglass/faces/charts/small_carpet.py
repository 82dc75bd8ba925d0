"""The year carpet for a phone's width: day of the year across, hour of the day down, coloured by the air inside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from underglass.faces.charts.carpet import HIGH_C, LOW_C, MONTH_START, carpet_table
from underglass.faces.charts.palette import SCALE, hex_of
from underglass.faces.charts.svg import INK, QUIET, document, line, palette_png, rect, text
from underglass.shelter.inside import InsideWeather

__all__ = ["HALF", "WHOLE", "Layout", "small_carpet"]

TOP, TALL = 6.0, 168.0


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the picture stands in its 360 units of width, how large its letters are, and how many of the marks are named."""

    left: float = 34.0
    wide: float = 320.0
    letters: float = 11.0
    hours: int = 6
    months: int = 1
    scale_wide: float = 310.0
    degrees: tuple[float, ...] = (-20.0, 0.0, 20.0, 40.0)


WHOLE = Layout()
HALF = Layout(left=68.0, wide=286.0, letters=25.0, hours=12, months=3, scale_wide=230.0, degrees=(-20.0, 10.0, 40.0))
"""For half of a phone's width: fewer marks, with letters that can still be read."""


def small_carpet(
    inside: InsideWeather, say: Callable[..., str], degrees: Callable[[float], str], layout: Layout = WHOLE
) -> str:
    """The carpet as SVG; strokes lie over hours that freeze (\\) or pass 35 degC (/), so that colour does not stand alone."""
    mean, _ = carpet_table(inside)
    share = np.nan_to_num((mean - LOW_C) / (HIGH_C - LOW_C))
    picture = palette_png(np.clip(share * 255.0, 0, 255).astype(np.uint8), SCALE)
    parts = [
        f'<image x="{layout.left}" y="{TOP}" width="{layout.wide}" height="{TALL}" preserveAspectRatio="none" image-rendering="pixelated" href="{picture}"/>',
        _strokes(mean < 0.0, "#ffffff", layout, falling=True),
        _strokes(mean > 35.0, INK, layout, falling=False),
    ]
    left, size = layout.left, layout.letters
    for hour in range(0, 25, layout.hours):
        y = TOP + TALL * hour / 24.0
        base = max(y + 0.364 * size, 0.8 * size)  # the topmost letter stays in the picture
        parts += [text(left - 5, base, f"{hour} h", size=size, anchor="end", colour=QUIET), line(left - 3, y, left, y)]
    for month in range(0, 12, layout.months):
        middle = left + layout.wide * 0.5 * (MONTH_START[month] + MONTH_START[month + 1]) / 365.0
        letter = say(f"month1.{month + 1:02d}")
        parts.append(text(middle, TOP + TALL + 4 + size, letter, size=size, anchor="middle", colour=QUIET))
    parts += _legend(degrees, layout)
    known = mean[np.isfinite(mean)]
    description = say(
        "inside.carpet_says",
        low=degrees(float(known.min())),
        high=degrees(float(known.max())),
        frost=f"{(known < 0.0).mean():.0%}",
        hot=f"{(known > 35.0).mean():.0%}",
    )
    return document(
        360,
        TOP + TALL + 21 + 3.0 * layout.letters,
        say("inside.carpet", shelter=inside.shelter_name),
        description,
        parts,
    )


def _strokes(where: np.ndarray, colour: str, layout: Layout, *, falling: bool) -> str:
    """One short stroke in each block of ten days by two hours that is mostly so."""
    wide, tall = layout.wide / 36.5, TALL / 12.0
    strokes = []
    for i in range(12):
        for j in range(36):
            if where[2 * i : 2 * i + 2, 10 * j : 10 * j + 10].mean() > 0.5:
                x, y = layout.left + j * wide + 2.0, TOP + i * tall
                first, last = (y + 0.3 * tall, y + 0.7 * tall) if falling else (y + 0.7 * tall, y + 0.3 * tall)
                strokes.append(f"M{x:.1f} {first:.1f}L{x + wide - 4.0:.1f} {last:.1f}")
    return f'<path d="{"".join(strokes)}" stroke="{colour}" stroke-width="1" fill="none"/>' if strokes else ""


def _legend(degrees: Callable[[float], str], layout: Layout) -> list[str]:
    left, wide, size, steps = layout.left, layout.scale_wide, layout.letters, 40
    y = TOP + TALL + 13.0 + size
    parts = [rect(left + wide * i / steps, y, wide / steps + 0.5, 9, hex_of(i / (steps - 1))) for i in range(steps)]
    for temp in layout.degrees:
        x = left + wide * (temp - LOW_C) / (HIGH_C - LOW_C)
        parts += [line(x, y + 9, x, y + 13)]
        parts.append(text(x, y + 14 + size, degrees(temp), size=size, anchor="middle", colour=QUIET))
    return parts
