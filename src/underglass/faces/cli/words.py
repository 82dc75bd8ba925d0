"""Small ways of saying things that every command shares: dates, chances, temperatures, notes on what an answer stands on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["day", "degrees", "difference", "span", "standing", "years_of"]

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(iso: str | None) -> str:
    """'2027-04-02' or '04-02' as '2 Apr'; a dash where there is none."""
    if not iso:
        return "–"
    month, date = iso[-5:].split("-")
    return f"{int(date)} {MONTHS[int(month) - 1]}"


def span(dates: Mapping[str, str] | None) -> str:
    """Middle date with the early and late one behind it."""
    return "–" if dates is None else f"{day(dates['p50'])} ({day(dates['p10'])}–{day(dates['p90'])})"


def years_of(chance: float, years: int) -> str:
    """A chance as the number of years behind it: '26/30'."""
    return f"{round(chance * years)}/{years}"


def degrees(temp_c: float, units: str, digits: int = 0) -> str:
    """A temperature as the person chose to see it, with its unit."""
    value = temp_c * 1.8 + 32.0 if units == "f" else temp_c
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
