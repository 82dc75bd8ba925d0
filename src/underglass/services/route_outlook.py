"""One crop on one route, for every week of the coming year: what the outlook curve shows.  Plain data, kept like the guide."""

from __future__ import annotations

from typing import Any

import numpy as np

from underglass.crop.catalogue import find_crop
from underglass.errors import InputError
from underglass.plan.household import Household
from underglass.plan.outlook import sowing_outlooks, weekly_dates
from underglass.plan.outlook_types import Route
from underglass.plan.seed_on_hand import needs_fresh, seed_shares
from underglass.services.cache import keep, key_of, recall
from underglass.services.days import known_days
from underglass.services.guide import outlook_data
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather
from underglass.services.why import named_shelter

__all__ = ["route_outlook"]


def route_outlook(
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
    """Outlooks of 53 weekly sowing dates from `on`; see docs/json.md.  Raises InputError for an unknown crop, shelter or route."""
    crop = find_crop(crop_name)
    bed = named_shelter(household, grown_in)
    nursery = named_shelter(household, raised_in) if raised_in else None
    if nursery is not None and crop.growth.raise_weeks is None:
        raise InputError(f"{crop.name} is sown where it stays, not raised and set out")
    key = key_of("route", household, crop.id, bed.name, nursery.name if nursery else "", str(on), n_years, seed)
    if household.weather_file is None and (kept := recall(key)) is not None:
        return kept
    used = [bed] if nursery is None else [bed, nursery]
    known = known_days(household, on, n_years, seed, read, progress, of=used)
    route = Route(bed.name, nursery.name if nursery else None)

    (outlooks,) = sowing_outlooks(
        [crop], lambda _: [route], known.days, weekly_dates(on), n_years=known.years, latitude_deg=household.place.latitude_deg,
        seed=seed, seed_shares=seed_shares(household, on),
    )  # fmt: skip
    dates = [outlook_data(outlooks.at(i)) for i in range(len(outlooks.sow_dates))]
    answer = {"version": 1, "crop": crop.id, "name": crop.name, "grown_in": bed.name,
              "raised_in": nursery.name if nursery else None, "fresh_seed": needs_fresh(household, crop.id, on), "dates": dates}  # fmt: skip
    if household.weather_file is None:
        keep(key, answer)
    progress(1.0, "done")
    return answer
