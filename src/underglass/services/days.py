"""Days inside a household's shelters over many years of weather: what the guide, the year and each outlook are worked out from.

Those asked for last are kept, as the next question is mostly about the same place; the hours that they come from are not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from underglass.crop.drivers import ShelterDays
from underglass.place.frost import FrostDates
from underglass.plan.household import Household
from underglass.plan.wishes import Wishes
from underglass.services.cache import key_of
from underglass.services.progress import Progress
from underglass.services.shelters import days_in
from underglass.services.weather import ReadWeather, file_stamp, frost_of, years_for
from underglass.shelter.model import Shelter
from underglass.weather.outside import Provenance

__all__ = ["KnownDays", "known_days"]


@dataclass(frozen=True, slots=True, eq=False)
class KnownDays:
    """days : by shelter;  years : for how many of them sowings can be followed to the end;  weather, frost : what they stand on"""

    days: dict[str, ShelterDays]
    years: int
    weather: Provenance
    frost: FrostDates


_last: list[tuple[str, KnownDays]] = []


def known_days(
    household: Household, on: np.datetime64, n_years: int, seed: int, read: ReadWeather | None, progress: Progress, *,
    of: Sequence[Shelter] = (),
) -> KnownDays:  # fmt: skip
    """Days of weather that begins with the year of `on`, in all shelters of the household.

    of : the only shelters that the question is about
    """
    bare = replace(household, wishes=Wishes(), standing=(), crops=(), seeds=())
    key = key_of("days", bare, str(on)[:4], n_years, seed, file_stamp(household))
    for kept, known in _last:
        if kept == key:
            return known
    progress(0.02, "weather of the place")
    outside, years = years_for(household, int(str(on)[:4]), n_years, seed, read)
    days = days_in(of or household.shelters, outside, progress)
    found = KnownDays(days, years, outside.provenance, frost_of(outside))
    if not of:
        _last[:] = [(key, found)]
    return found
