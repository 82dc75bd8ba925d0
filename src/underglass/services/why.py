"""Why: the story of one sowing for a household, as plain data."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from underglass.crop.catalogue import crop_source, find_crop, source_citation
from underglass.errors import InputError
from underglass.plan.household import Household
from underglass.plan.outlook_types import Route
from underglass.plan.routes import refusal
from underglass.plan.seed_on_hand import needs_fresh, seed_shares
from underglass.plan.story import tell
from underglass.services.days import known_days
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather
from underglass.shelter.model import Shelter

__all__ = ["named_shelter", "why"]


def named_shelter(household: Household, name: str) -> Shelter:
    """One of the household's shelters by name or its beginning.  Raises InputError that lists them."""
    wanted = name.strip().lower()
    exact = [s for s in household.shelters if s.name.lower() == wanted]
    near = exact or [
        s for s in household.shelters if s.name.lower().startswith(wanted) or wanted in s.name.lower().split()
    ]
    if len(near) != 1:
        have = ", ".join(s.name for s in household.shelters)
        raise InputError(f"shelter {name!r} is not one of this household's: {have}")
    return near[0]


def why(
    household: Household,
    crop_name: str,
    grown_in: str,
    on: np.datetime64,
    *,
    raised_in: str | None = None,
    n_years: int = 30,
    seed: int = 1,
    read: ReadWeather | None = None,
    progress: Progress = silent,
) -> dict[str, Any]:
    """The story of sowing a crop on a date: outcomes over the years, what decided them, timeline, temperatures, light, sources."""
    crop = find_crop(crop_name)
    bed = named_shelter(household, grown_in)
    nursery = named_shelter(household, raised_in) if raised_in else None
    route = Route(bed.name, nursery.name if nursery else None)
    if reason := refusal(crop, route, household.shelters):
        raise InputError(reason)
    used = [bed] if nursery is None else [bed, nursery]
    known = known_days(household, on, n_years, seed, read, progress, of=used)
    share = seed_shares(household, on).get(crop.id, 1.0)
    story = tell(
        crop,
        route,
        on,
        known.days,
        n_years=known.years,
        latitude_deg=household.place.latitude_deg,
        seed=seed,
        seed_share=share,
    )
    progress(1.0, "told")
    answer = asdict(story)
    answer["sow_date"] = str(story.sow_date)
    answer["safe_from"] = None if story.safe_from is None else str(story.safe_from)
    for ending in answer["endings"]:
        for key in ("earliest", "middle", "latest"):
            ending[key] = str(ending[key])
    answer["crop"] = crop.name
    answer["seed_age_years"] = household.seed_ages(on).get(crop.id)
    answer["fresh_seed"] = needs_fresh(household, crop.id, on)
    answer["stands_on"] = {
        "layer": known.weather.layer,
        "source": known.weather.source,
        "temp_sd_k": known.weather.temp_sd_k,
    }
    answer["sources"] = {
        "coming up": source_citation(
            crop_source(crop.id, "germination", "source_days") or crop_source(crop.id, "germination", "source_use")
        ),
        "growth": source_citation(crop_source(crop.id, "growth", "source_days")),
        "cold": source_citation(crop_source(crop.id, "hardiness", "source_cold")),
    }
    return answer
