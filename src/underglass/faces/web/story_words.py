"""The story of one sowing in sentences: what came of it, what decided, when, the numbers behind, what it stands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from underglass.faces.web.source_words import cited, layer, weather
from underglass.faces.web.speech import Speech

__all__ = ["Told", "tell_story"]


@dataclass(frozen=True, slots=True)
class Told:
    """The sentences in the order in which they matter."""

    outcome: str
    endings: list[str]
    dates: list[str]
    numbers: list[str]
    stands_on: list[str]

    def lines(self) -> list[str]:
        """All of them, one after the other."""
        return [self.outcome, *self.endings, *self.dates, *self.numbers, *self.stands_on]


def tell_story(story: dict[str, Any], speech: Speech) -> Told:
    """A story (docs/json.md, `why`) in the words of a language."""
    say, route = speech.say, story["route"]
    outcome = say(
        "why.outcome", crop=speech.crop(story["crop_id"], story["crop"]), day=speech.day(story["sow_date"]),
        route=speech.route(route["grown_in"], route["raised_in"]), n=story["harvested"], years=story["n_years"],
    )  # fmt: skip
    return Told(outcome, _endings(story, speech), _dates(story, speech), _numbers(story, speech), _stands_on(story, speech))  # fmt: skip


def _endings(story: dict[str, Any], speech: Speech) -> list[str]:
    lines = [_ending(ending, story["n_years"], speech) for ending in story["endings"]] or [speech.say("why.all_well")]
    return [*lines, speech.say("why.fresh_seed")] if story["fresh_seed"] else lines


def _ending(ending: dict[str, Any], years: int, speech: Speech) -> str:
    say, leaf = speech.say, ending["leaf_c"]
    early, middle, late = (speech.day(ending[key]) for key in ("earliest", "middle", "latest"))
    when = say("why.on", day=middle) if early == late else say("why.between", early=early, late=late, middle=middle)
    line = say("why.ending", n=ending["years"], years=years, cause=speech.cause(ending["cause"]), when=when)
    if not leaf:
        return line
    decided = say(
        "why.ending_leaf", hour=f"{ending['hour']:02d}:00", leaf=speech.degrees(leaf[0]), worst=speech.degrees(leaf[1])
    )
    return f"{line} {decided}"


def _dates(story: dict[str, Any], speech: Speech) -> list[str]:
    lines, sown, before = [], np.datetime64(story["sow_date"]), None
    for key in ("emerges_d", "set_out_d", "first_d", "last_d"):
        days = story[key]
        if days is None or days == before:  # a crop that is picked once has one date, not two
            continue
        before = days
        early, middle, late = (speech.day(str(sown + round(d))) for d in days)
        name = "once" if early == late else "spread"
        lines.append(speech.say(f"why.{key}_{name}", early=early, middle=middle, late=late))
    if story["route"]["raised_in"] and story["safe_from"]:
        lines.append(speech.say("why.safe_from", day=speech.day(story["safe_from"])))
    return lines


def _numbers(story: dict[str, Any], speech: Speech) -> list[str]:
    say, t = speech.say, speech.degrees
    soil, light, cold, hot = (story[k] for k in ("soil_c", "light", "coldest_c", "hottest_c"))
    return [
        say("why.soil", low=t(soil[0]), middle=t(soil[1]), high=t(soil[2])),
        say("why.light", low=f"{light[0]:.0f}", middle=f"{light[1]:.0f}", high=f"{light[2]:.0f}", good=f"{story['light_good']:.0f}"),
        _cold(t(cold[1]), t(cold[0]), t(story["kill_soft_c"]), t(story["kill_hard_c"]), speech),
        say("why.hot", middle=t(hot[1]), high=t(hot[2])),
    ]  # fmt: skip


def _cold(middle: str, low: str, soft: str, hard: str, speech: Speech) -> str:
    """Coldest leaf and what kills; tender kinds do not harden."""
    key = "why.cold_tender" if soft == hard else "why.cold"
    return speech.say(key, middle=middle, low=low, soft=soft, hard=hard)


def _stands_on(story: dict[str, Any], speech: Speech) -> list[str]:
    say, stands = speech.say, story["stands_on"]
    return [
        say("why.stands_on", source=weather(stands["source"], speech), layer=layer(stands["layer"], speech), offset=speech.difference(stands["temp_sd_k"]).lstrip("+")),
        *(say("why.source", what=say(f"why.of_{what.replace(' ', '_')}"), source=cited(source, speech))
          for what, source in story["sources"].items() if source),
    ]  # fmt: skip
