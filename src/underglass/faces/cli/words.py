"""Small ways of saying things that every command shares: dates, chances, temperatures, notes on what an answer stands on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["RISKS", "day", "degrees", "difference", "short_name", "span", "standing", "until", "years_of"]

RISKS = {
    "soil too cold to come up": "cold soil",
    "soil too hot to come up": "hot soil",
    "seed too old": "old seed",
    "killed by cold as a seedling": "frost, young",
    "killed by cold": "frost",
    "cooked by heat": "heat",
    "starved of light": "too dark",
    "outgrew its cell before it was safe outside": "outgrows cell",
    "ran to seed before it was ready": "runs to seed",
    "flowered but set no fruit": "no fruit set",
    "not ready in time": "too slow",
    "dried out in its cell": "dries out",
}
"""Causes in a word or two, for narrow tables."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(iso: str | None) -> str:
    """'2027-04-02' or '04-02' as '2 Apr'; a dash where there is none."""
    if not iso:
        return "–"
    month, date = iso[-5:].split("-")
    return f"{int(date)} {MONTHS[int(month) - 1]}"


def short_name(name: str) -> str:
    """A crop's first name: 'Pak choi' of 'Pak choi (bok choy)'."""
    return name.split(" (")[0].split(" / ")[0]


def until(opens: str | None, latest: str | None) -> str:
    """Last sensible date of a season, or 'all year' for one that never closes."""
    if opens and latest:
        import numpy as np

        if (np.datetime64(latest) - np.datetime64(opens)).astype(int) >= 350:
            return "all year"
    return day(latest)


def span(dates: Mapping[str, str] | None) -> str:
    """Middle date with the early and late one behind it."""
    return "–" if dates is None else f"{day(dates['p50'])} ({day(dates['p10'])}–{day(dates['p90'])})"


def years_of(chance: float, years: int) -> str:
    """A chance as the number of years behind it: '26/30'."""
    return f"{round(chance * years)}/{years}"


def degrees(temp_c: float, units: str, digits: int = 0) -> str:
    """A temperature as the person chose to see it, with its unit."""
    value = temp_c * 1.8 + 32.0 if units == "f" else temp_c
    value = round(value, digits) + 0.0  # no minus before a zero
    return f"{value:.{digits}f} °{'F' if units == 'f' else 'C'}".replace("-", "−")


def difference(diff_k: float, units: str, digits: int = 1) -> str:
    """A temperature difference, without the offset and always with its sign."""
    value = diff_k * 1.8 if units == "f" else diff_k
    return f"{value:+.{digits}f}".replace("-", "−")


def standing(stands: Mapping[str, Any], frost: Mapping[str, Any]) -> list[str]:
    """What the answer stands on and how sure its frost dates are, in sentences."""
    lines = [f"Weather: {stands['source']} (layer: {stands['layer']})."]
    last, first = frost["last"], frost["first"]
    if last["p50"] is None:
        lines.append("Frost: most years have none here.")
    else:
        unsure = f", itself unsure by about ± {stands['frost_sd_days']:.0f} days" if stands["frost_sd_days"] else ""
        lines.append(
            f"Last frost: middle date {day(last['p50'])}{unsure}. That is a coin flip: one year in ten still freezes after {day(last['p90'])}."
        )
        lines.append(f"First frost: middle date {day(first['p50'])}, one year in ten already by {day(first['p10'])}.")
    return lines
