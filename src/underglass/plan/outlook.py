"""All sowing dates of a year over all years of weather, for many crops and routes, in one sweep."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.crop.drivers import ShelterDays, crop_days
from underglass.crop.fate import FateRule, Fates, fate_rule, fates, toughness
from underglass.crop.outcome import WORDS, Fate
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.outlook_types import DateSpread, Route, SowingOutlook
from underglass.plan.setout import safe_days
from underglass.sun.daylength import day_length_h

__all__ = ["RouteFates", "RouteOutlooks", "sow_indices", "sowing_fates", "sowing_outlooks", "weekly_dates"]

MARKS = ("emerged", "set_out", "first", "last")
LEAST_YEARS_FOR_DATES = 3


@dataclass(frozen=True, slots=True, eq=False)
class RouteOutlooks:
    """One crop on one route: what became of each sowing date, over all years.

    sow_dates (d,) datetime64[D];  counts (d, 14): years by outcome.Fate;  share (d,): mean harvest, lost years as 0
    spread[mark] (d, 3): days from sowing at p10, p50, p90; nan where under 3 years got so far
    """

    crop_id: str
    route: Route
    sow_dates: NDArray[np.datetime64]
    counts: NDArray[np.int64]
    share: NDArray[np.float64]
    spread: dict[str, NDArray[np.float64]]

    @property
    def n_years(self) -> NDArray[np.int64]:
        """Years behind each date (those that the record covers to the end)."""
        return np.asarray(self.counts[:, : Fate.BEYOND_RECORD].sum(axis=1))

    @property
    def chance(self) -> NDArray[np.float64]:
        """Share of years that end in a harvest, by date, 0-1."""
        return np.asarray(self.counts[:, Fate.HARVESTED] / np.maximum(self.n_years, 1))

    def at(self, i: int) -> SowingOutlook:
        """The outlook of the i-th sowing date as a value of its own."""
        n = int(max(self.n_years[i], 1))
        causes = {
            WORDS[f]: float(self.counts[i, f] / n)
            for f in Fate
            if f not in (Fate.HARVESTED, Fate.BEYOND_RECORD) and self.counts[i, f]
        }
        return SowingOutlook(
            crop_id=self.crop_id,
            route=self.route,
            sow_date=self.sow_dates[i],
            n_years=int(self.n_years[i]),
            harvest_chance=float(self.chance[i]),
            causes=dict(sorted(causes.items(), key=lambda item: -item[1])),
            emerged=self._dates("emerged", i),
            set_out=self._dates("set_out", i),
            first_harvest=self._dates("first", i),
            last_harvest=self._dates("last", i),
            yield_share=float(self.share[i]),
        )

    def _dates(self, mark: str, i: int) -> DateSpread | None:
        days = self.spread[mark][i]
        if not np.isfinite(days).all():
            return None
        early, middle, late = (self.sow_dates[i] + round(float(d)) for d in days)
        return DateSpread(early, middle, late)


def weekly_dates(first: np.datetime64, weeks: int = 53) -> NDArray[np.datetime64]:
    """Sowing dates a week apart from `first` on."""
    return np.asarray(first.astype("datetime64[D]") + 7 * np.arange(weeks))


def sow_indices(dates: NDArray[np.datetime64], sow_dates: NDArray[np.datetime64], n_years: int) -> NDArray[np.int32]:
    """Day index in the series of each sowing date in each year, shape (n_dates, n_years); 29 February becomes the 28th.

    dates (n_days,): the days of the series.  The k-th year of a date is that day of the (k+1)-th calendar year of the series.
    """
    first_year = int(dates[0].astype("datetime64[Y]").astype(int)) + (0 if str(dates[0])[5:] == "01-01" else 1)
    years = first_year + np.arange(n_years)
    out = np.empty((len(sow_dates), n_years), np.int32)
    for i, date in enumerate(sow_dates):
        month_day = str(date)[5:].replace("02-29", "02-28")
        year_days = np.array([f"{1970 + y:04d}-{month_day}" for y in years], dtype="datetime64[D]")
        out[i] = (year_days - dates[0]).astype(np.int32)
    if out.min() < 0 or out.max() >= len(dates):
        raise InputError(
            f"the weather covers {len(dates)} days: too short for {n_years} years of sowings; ask for fewer years"
        )
    return out


def _quantiles(days: NDArray[np.float64]) -> NDArray[np.float64]:
    """p10, p50, p90 over the years (columns) of each date, of those that are there; nan where too few are.  Shape (d, 3)"""
    ordered = np.sort(np.where(days < 0, np.inf, days), axis=1)
    there = np.isfinite(ordered).sum(axis=1)
    out = np.full((len(days), 3), np.nan)
    enough = there >= LEAST_YEARS_FOR_DATES
    for column, q in enumerate((0.1, 0.5, 0.9)):
        at = np.round(q * (np.maximum(there, 1) - 1)).astype(int)
        out[enough, column] = np.take_along_axis(ordered, at[:, None], axis=1)[enough, 0]
    return out


def _gather(
    crop_id: str, route: Route, sow_dates: NDArray[np.datetime64], starts: NDArray[np.int32], found: Fates
) -> RouteOutlooks:
    shape = starts.shape
    outcome = found.outcome.reshape(shape)
    counts = np.stack([(outcome == f).sum(axis=1) for f in Fate], axis=1)
    known = outcome != Fate.BEYOND_RECORD
    share = np.where(known, found.share.reshape(shape), 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    spread = {}
    for mark, days in zip(MARKS, (found.emerged, found.set_out, found.first, found.last), strict=True):
        since = np.where(days.reshape(shape) >= 0, days.reshape(shape) - starts, -1)
        spread[mark] = _quantiles(np.where(known, since, -1).astype(float))
    return RouteOutlooks(crop_id, route, sow_dates, counts, share, spread)


@dataclass(frozen=True, slots=True, eq=False)
class RouteFates:
    """One crop on one route: the fate of each sowing date in each year.

    sow_dates (d,) datetime64[D];  starts (d, y): day index in the series of each sowing;  found : fates, flat over (d, y)
    """

    crop_id: str
    route: Route
    sow_dates: NDArray[np.datetime64]
    starts: NDArray[np.int32]
    found: Fates


def sowing_outlooks(
    crops: Sequence[Crop],
    routes_of: Callable[[Crop], Sequence[Route]],
    shelters: Mapping[str, ShelterDays],
    sow_dates: NDArray[np.datetime64],
    *,
    n_years: int,
    latitude_deg: float,
    seed: int = 1,
    seed_shares: Mapping[str, float] | None = None,
) -> Iterator[RouteOutlooks]:
    """Outlooks of every crop on each of its routes for all sowing dates, as they are found; arguments as in sowing_fates."""
    for one in sowing_fates(
        crops, routes_of, shelters, sow_dates,
        n_years=n_years, latitude_deg=latitude_deg, seed=seed, seed_shares=seed_shares,
    ):  # fmt: skip
        yield _gather(one.crop_id, one.route, one.sow_dates, one.starts, one.found)


def sowing_fates(
    crops: Sequence[Crop],
    routes_of: Callable[[Crop], Sequence[Route]],
    shelters: Mapping[str, ShelterDays],
    sow_dates: NDArray[np.datetime64],
    *,
    n_years: int,
    latitude_deg: float,
    seed: int = 1,
    seed_shares: Mapping[str, float] | None = None,
) -> Iterator[RouteFates]:
    """Fates of every crop on each of its routes for all sowing dates in every year, as they are found.


    shelters : shelter_days of each place by name, all over the same days;  n_years : years of weather to sow in; the series should be
    longer by the longest crop (14 months)
    seed_shares : of fresh seed's germination that is left in the seed sown, 0-1, by crop id; kinds left out are sown fresh
    """
    days = next(iter(shelters.values())).days
    starts = sow_indices(days.dates, sow_dates, n_years)
    day_length = day_length_h(latitude_deg, days.dates).astype(np.float32)
    shares = seed_shares or {}
    for crop in crops:
        rule = fate_rule(crop, shares.get(crop.id, 1.0))
        tough = np.tile(toughness(n_years, seed, crop.id), len(sow_dates))
        ways = list(routes_of(crop))
        used = {name for way in ways for name in (way.grown_in, way.raised_in) if name}
        daily = {name: crop_days(crop, shelters[name]) for name in used}
        safe = {way.grown_in: safe_days(crop, daily[way.grown_in], days.dates) for way in ways if way.raised_in}
        for way in ways:
            yield _one_route(crop, rule, way, daily, safe, day_length, sow_dates, starts, tough)


def _one_route(
    crop: Crop,
    rule: FateRule,
    way: Route,
    daily: Mapping[str, NDArray[np.float32]],
    safe: Mapping[str, NDArray[np.uint8]],
    day_length: NDArray[np.float32],
    sow_dates: NDArray[np.datetime64],
    starts: NDArray[np.int32],
    tough: NDArray[np.float64],
) -> RouteFates:
    nursery = daily[way.raised_in] if way.raised_in else None
    allowed = safe[way.grown_in] if way.raised_in else np.ones(len(day_length), np.uint8)
    found = fates(rule, nursery, daily[way.grown_in], day_length, allowed, np.ascontiguousarray(starts.ravel()), tough)
    return RouteFates(crop.id, way, sow_dates, starts, found)
