"""The fates of all sowings of a household's crops, on all routes and weekly dates: the slow part of a year's plan, kept on disk."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.crop.fate import Fates
from underglass.crop.types import Crop
from underglass.plan.household import Household
from underglass.plan.outlook import RouteFates, sowing_fates
from underglass.plan.outlook_types import Route
from underglass.plan.routes import routes
from underglass.plan.seed_on_hand import seed_shares
from underglass.plan.wishes import Wishes
from underglass.services.cache import keep_arrays, key_of, recall_arrays
from underglass.services.days import known_days
from underglass.services.guide import heading
from underglass.services.progress import Progress
from underglass.services.weather import ReadWeather, file_stamp

__all__ = ["YearFates", "fates_of_year"]

THREADS = 2
ROOMS = (
    "units.py", "place/", "sun/", "weather/", "shelter/", "crop/", "sources/", "plan/outlook", "plan/routes.py", "plan/setout.py",
    "plan/thresholds.py", "plan/data/thresholds.toml", "services/days.py", "services/fates.py", "services/guide.py", "services/shelters.py", "services/weather.py",
)  # fmt: skip
"""Code that fates depend on: what chooses among them may change without their being found anew."""


@dataclass(frozen=True, slots=True, eq=False)
class YearFates:
    """heading : what the answer stands on, as in the guide;  years : years of weather;  found : fates by crop and route

    grown : those of hardy crops that are to be near full size before the lean weeks
    """

    heading: dict[str, Any]
    years: int
    found: tuple[RouteFates, ...]
    grown: tuple[RouteFates, ...] = ()


def fates_of_year(
    household: Household,
    crops: Sequence[Crop],
    on: np.datetime64,
    sow_dates: NDArray[np.datetime64],
    *,
    n_years: int,
    seed: int,
    read: ReadWeather | None,
    use_cache: bool,
    progress: Progress,
    goal: str = "harvest",
) -> YearFates:
    """Fates of these crops on all their routes for these sowing dates.  What the family wishes does not enter.

    goal : a word for what the crops were changed to, where they are not those of the catalogue: kept answers go by it
    """
    bare = replace(household, wishes=Wishes(), standing=(), crops=tuple(c.id for c in crops))
    key = key_of(
        "fates", bare, str(on), [str(d) for d in sow_dates], n_years, seed, file_stamp(household), goal, rooms=ROOMS
    )
    if use_cache and (kept := recall_arrays(key)) is not None:
        return _unpacked(kept, sow_dates)
    known = known_days(household, on, n_years, seed, read, progress)
    shares = seed_shares(household, on)

    def one(crop: Crop) -> list[RouteFates]:
        return list(sowing_fates(
            [crop], lambda c: routes(c, household.shelters), known.days, sow_dates, n_years=known.years,
            latitude_deg=household.place.latitude_deg, seed=seed, seed_shares=shares,
        ))  # fmt: skip

    found: list[RouteFates] = []
    with ThreadPoolExecutor(THREADS) as pool:
        for i, part in enumerate(pool.map(one, crops)):
            found += part
            progress(0.5 + 0.3 * (i + 1) / len(crops), f"fate of {crops[i].name}")
    told = heading(household, on, known, seed)
    answer = YearFates(told, known.years, tuple(found))
    if use_cache:
        keep_arrays(key, *_packed(answer))
    return answer


def _packed(answer: YearFates) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    names = [[f.crop_id, f.route.grown_in, f.route.raised_in] for f in answer.found]
    arrays: dict[str, NDArray[Any]] = {"starts": answer.found[0].starts} if answer.found else {}
    for mark in Fates._fields if answer.found else ():
        arrays[mark] = np.stack([getattr(f.found, mark) for f in answer.found])
    return {"heading": answer.heading, "years": answer.years, "routes": names}, arrays


def _unpacked(kept: tuple[dict[str, Any], dict[str, NDArray[Any]]], sow_dates: NDArray[np.datetime64]) -> YearFates:
    plain, arrays = kept
    found = tuple(
        RouteFates(crop, Route(bed, raised), sow_dates, arrays["starts"], Fates(*(arrays[m][i] for m in Fates._fields)))
        for i, (crop, bed, raised) in enumerate(plain["routes"])
    )
    return YearFates(plain["heading"], int(plain["years"]), found)
