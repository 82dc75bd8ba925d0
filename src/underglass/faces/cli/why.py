"""`underglass why`: the story of one sowing in sentences."""

from __future__ import annotations

import json
import sys
from typing import Any

from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date
from underglass.faces.cli.words import day, degrees

__all__ = ["run", "sentences"]


def run(
    asked: Asked,
    crop: str,
    grown_in: str,
    on: str | None,
    raised_in: str | None,
    years: int,
    seed: int,
    *,
    as_json: bool,
) -> None:
    """Ask why and tell."""
    from underglass.services.why import why

    household = household_of(asked)
    date = sowing_date(on)
    with progress_bar() as progress:
        story = why(
            household,
            crop,
            grown_in,
            date,
            raised_in=raised_in,
            n_years=years,
            seed=seed,
            read=read_weather,
            progress=progress,
        )
    if as_json:
        json.dump(story, sys.stdout, indent=1)
        print()
        return
    for line in sentences(story, household.units):
        print(line)


def _after(story: dict[str, Any], key: str) -> str | None:
    """'about 12 Apr (8 Apr to 20 Apr)' for a mark that enough years reached."""
    import numpy as np

    days = story[key]
    if days is None:
        return None
    early, middle, late = (day(str(np.datetime64(story["sow_date"]) + round(d))) for d in days)
    return f"about {middle} ({early} to {late})"


def sentences(story: dict[str, Any], units: str) -> list[str]:
    """The story as plain sentences, each with its numbers."""

    def t(temp_c: float) -> str:
        return degrees(temp_c, units)

    route, years = story["route"], story["n_years"]
    where = (
        f"in the {route['grown_in']}"
        if not route["raised_in"]
        else f"in the {route['raised_in']}, set out to the {route['grown_in']}"
    )
    lines = [
        f"{story['crop']} sown {day(story['sow_date'])} {where}: a harvest in {story['harvested']} of {years} years."
    ]
    soil, light = story["soil_c"], story["light"]
    lines.append(
        f"Soil at sowing depth in the first two weeks: {t(soil[1])} in the middle year ({t(soil[0])} to {t(soil[2])} in eight years of ten)."
    )
    for key, words in (
        ("emerges_d", "It comes up"),
        ("set_out_d", "It is set out"),
        ("first_d", "First harvest"),
        ("last_d", "Last harvest"),
    ):
        when = _after(story, key)
        if when:
            lines.append(f"{words} {when}.")
    lines.append(
        f"Light in its first four weeks: {light[1]:.0f} mol/m² a day ({light[0]:.0f} to {light[2]:.0f}); from {story['light_good']:.0f} on, light does not hold it back."
    )
    cold, hot = story["coldest_c"], story["hottest_c"]
    lines.append(
        f"Coldest leaf on the way: {t(cold[1])} in the middle year, {t(cold[0])} in one year of ten; about half die at {t(story['kill_soft_c'])} soft, at {t(story['kill_hard_c'])} once hardened."
    )
    lines.append(f"Hottest leaf: {t(hot[1])} in the middle year, {t(hot[2])} in one of ten.")
    if route["raised_in"] and story["safe_from"]:
        lines.append(
            f"Setting out counts as safe from {day(story['safe_from'])}: nine years in ten the plants live through the five weeks after."
        )
    lines += [_ending(ending, years, t) for ending in story["endings"]]
    if not story["endings"]:
        lines.append("Nothing goes wrong in any of these years.")
    stands = story["stands_on"]
    lines.append(
        f"Stands on: {stands['source']} (layer: {stands['layer']}; the place's unknown offset of ± {stands['temp_sd_k']:.1f} K is in the years)."
    )
    lines += [f"Source, {what}: {source}." for what, source in story["sources"].items() if source]
    return lines


def _ending(ending: dict[str, Any], years: int, t: Any) -> str:
    when = f"between {day(ending['earliest'])} and {day(ending['latest'])}, mostly about {day(ending['middle'])}"
    if ending["earliest"] == ending["latest"]:
        when = f"on {day(ending['middle'])}"
    leaf = ending["leaf_c"]
    degree = (
        f" about {ending['hour']:02d}:00, leaf {t(leaf[0])} in the middle case, {t(leaf[1])} at worst" if leaf else ""
    )
    return f"In {ending['years']} of {years} years: {ending['cause']}, {when}{degree}."
