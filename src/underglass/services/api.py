"""The two questions of the package as plain functions, for use from Python."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.outlook import sowing_outlooks
from underglass.plan.outlook_types import Route, SowingOutlook
from underglass.services.progress import silent
from underglass.services.shelters import days_in
from underglass.shelter.inside import InsideWeather
from underglass.shelter.model import Shelter
from underglass.shelter.simulate import simulate
from underglass.weather.outside import OutsideWeather

__all__ = ["inside_weather", "sowing_outlook"]


def inside_weather(shelter: Shelter, outside: OutsideWeather, *, heat: bool = False) -> InsideWeather:
    """Hours inside a shelter for the hours outside; see InsideWeather for its arrays and units."""
    return simulate(shelter, outside, heat=heat)


def sowing_outlook(
    crop: Crop,
    route: Route,
    shelters: Sequence[Shelter],
    outside: OutsideWeather,
    sow_dates: Sequence[str],
    *,
    seed: int = 1,
) -> list[SowingOutlook]:
    """What the years of `outside` say about sowing a crop on one route, for each date ('2027-03-15').

    outside : at least three whole years; the last one only finishes what was sown before
    Raises InputError for a route through a shelter that is not given, or too few years.
    """
    names = {s.name for s in shelters}
    missing = {n for n in (route.grown_in, route.raised_in) if n and n not in names}
    if missing:
        raise InputError(
            f"route {route}: no shelter called {', '.join(sorted(missing))} among {', '.join(sorted(names))}"
        )
    n_years = int(outside.n_hours // 8766) - 1
    if n_years < 2:
        raise InputError("sowing_outlook needs at least three whole years of weather; generate_weather makes them")
    used = [s for s in shelters if s.name in (route.grown_in, route.raised_in)]
    days = days_in(used, outside, silent)
    dates = np.array(list(sow_dates), dtype="datetime64[D]")
    found = sowing_outlooks(
        [crop], lambda _: [route], days, dates, n_years=n_years, latitude_deg=outside.place.latitude_deg, seed=seed
    )
    outlooks = next(iter(found))
    return [outlooks.at(i) for i in range(len(dates))]
