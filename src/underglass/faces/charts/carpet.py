"""The year carpet: day of the year across, hour of the day down, coloured by the air inside."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.faces.charts.palette import SCALE
from underglass.faces.charts.svg import INK, QUIET, document, line, palette_png, rect, text
from underglass.shelter.inside import InsideWeather
from underglass.sun.daylength import day_length_h
from underglass.weather.days import local_days, standard_offset_h

__all__ = ["carpet_table", "year_carpet"]

LOW_C, HIGH_C = -20.0, 45.0
LEFT, TOP, WIDE, TALL = 52.0, 64.0, 730.0, 288.0
MONTHS = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")
MONTH_START = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365])


def carpet_table(inside: InsideWeather) -> tuple[NDArray[np.float64], int]:
    """Mean air inside by hour of day (24 rows) and day of year (365 columns) [degC], and the number of years in it."""
    days = local_days(inside.place, inside.start, inside.n_hours)
    year_start = days.dates.astype("datetime64[Y]").astype("datetime64[D]")
    day = np.minimum((days.dates - year_start).astype(int), 364)
    total, count = np.zeros((365, 24)), np.zeros((365, 1))
    np.add.at(total, day, days.by_day(inside.air_temp_k).astype(float) - 273.15)
    np.add.at(count, day, 1.0)
    mean = np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0)
    return mean.T, max(1, round(days.n_days / 365.25))


def year_carpet(inside: InsideWeather, *, units: str = "c") -> str:
    """The carpet as SVG; hours below freezing and above 35 degC are ruled over, so that colour does not stand alone."""
    mean, years = carpet_table(inside)
    share = np.nan_to_num((mean - LOW_C) / (HIGH_C - LOW_C))
    picture = palette_png(np.clip(share * 255.0, 0, 255).astype(np.uint8), SCALE)
    known = mean[np.isfinite(mean)]
    frost, hot = 100.0 * float((known < 0.0).mean()), 100.0 * float((known > 35.0).mean())
    title = f"Inside the {inside.shelter_name}, {inside.place.name or 'this place'}"
    means = "one year" if years == 1 else f"mean of {years} years"
    parts = [
        text(LEFT, 26, title, size=18, bold=True),
        text(
            LEFT,
            46,
            f"air by hour and day, {means}; ruled: below freezing (\\) and above {_degrees(35.0, units)} (/)",
            colour=QUIET,
        ),
        f'<image x="{LEFT}" y="{TOP}" width="{WIDE}" height="{TALL}" preserveAspectRatio="none" image-rendering="pixelated" href="{picture}"/>',
        *_ruled(mean < 0.0, rising=False),
        *_ruled(mean > 35.0, rising=True),
        *_sun_lines(inside),
        *_axes(),
        *_legend(units),
    ]
    description = (
        f"Coldest mean hour {known.min():.0f} and hottest {known.max():.0f} degrees Celsius; {frost:.0f} percent of the hours below "
        f"freezing, {hot:.0f} percent above 35. The months in figures: underglass inside."
    )
    return document(LEFT + WIDE + 24.0, TOP + TALL + 92.0, title, description, parts)


def _degrees(temp_c: float, units: str) -> str:
    return f"{temp_c * 1.8 + 32.0:.0f} °F" if units == "f" else f"{temp_c:.0f} °C"


def _ruled(where: NDArray[np.bool_], *, rising: bool) -> list[str]:
    """Short strokes over cells, one in each block of 5 days by 2 hours that is mostly so."""
    strokes = []
    x_step, y_step = WIDE / 73.0, TALL / 12.0
    for i in range(12):
        for j in range(73):
            if where[2 * i : 2 * i + 2, 5 * j : 5 * j + 5].mean() > 0.5:
                x, y = LEFT + j * x_step, TOP + i * y_step
                top, bottom = (y + 0.7 * y_step, y + 0.3 * y_step) if rising else (y + 0.3 * y_step, y + 0.7 * y_step)
                strokes.append(f"M{x + 2:.1f} {top:.1f}L{x + x_step - 2:.1f} {bottom:.1f}")
    colour = INK if rising else "#ffffff"
    return [f'<path d="{"".join(strokes)}" stroke="{colour}" stroke-width="1" opacity="0.75"/>'] if strokes else []


def _sun_lines(inside: InsideWeather) -> list[str]:
    """Sunrise and sunset on the standard clock."""
    dates = np.datetime64("2025-01-01") + np.arange(0, 365, 5)
    noon = 12.0 + standard_offset_h(inside.place) - inside.place.longitude_deg / 15.0
    half = 0.5 * day_length_h(inside.place.latitude_deg, dates)
    lines = []
    for sign in (-1.0, 1.0):
        hours = np.clip(noon + sign * half, 0.0, 24.0)
        points = " ".join(
            f"{LEFT + WIDE * d / 365.0:.1f},{TOP + TALL * h / 24.0:.1f}"
            for d, h in zip(range(0, 365, 5), hours, strict=True)
        )
        lines.append(
            f'<polyline points="{points}" fill="none" stroke="#ffffff" stroke-width="1.6" stroke-dasharray="5 3"/>'
        )
    return lines


def _axes() -> list[str]:
    parts = []
    for hour in range(0, 25, 6):
        y = TOP + TALL * hour / 24.0
        parts += [text(LEFT - 8, y + 4, f"{hour} h", anchor="end", colour=QUIET), line(LEFT - 4, y, LEFT, y)]
    for m, letter in enumerate(MONTHS):
        x = LEFT + WIDE * MONTH_START[m] / 365.0
        middle = LEFT + WIDE * 0.5 * (MONTH_START[m] + MONTH_START[m + 1]) / 365.0
        parts += [text(middle, TOP + TALL + 18, letter, anchor="middle"), line(x, TOP + TALL, x, TOP + TALL + 5)]
    return parts


def _legend(units: str) -> list[str]:
    y, wide = TOP + TALL + 42.0, 360.0
    steps = 60
    parts = []
    for i in range(steps):
        r, g, b = (int(v) for v in SCALE[int(255 * i / (steps - 1))])
        parts.append(rect(LEFT + wide * i / steps, y, wide / steps + 0.6, 12, f"#{r:02x}{g:02x}{b:02x}"))
    for temp in (-20, -10, 0, 10, 20, 30, 40):
        x = LEFT + wide * (temp - LOW_C) / (HIGH_C - LOW_C)
        parts += [line(x, y + 12, x, y + 16), text(x, y + 30, _degrees(float(temp), units), anchor="middle", size=12)]
    parts.append(text(LEFT + wide + 40, y + 10, "dashed: sunrise and sunset, standard clock", size=12, colour=QUIET))
    return parts
