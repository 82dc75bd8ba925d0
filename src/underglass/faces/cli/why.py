"""`underglass why`: the story of one sowing in sentences."""

from __future__ import annotations

import json
import sys

from underglass.faces.cli.options import Asked, household_of, progress_bar, read_weather, sowing_date
from underglass.faces.web.speech import Speech
from underglass.faces.web.story_words import tell_story

__all__ = ["run"]


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
    date = sowing_date(on, "--on")
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
    for line in tell_story(story, Speech("en", household.units)).lines():
        print(line)
