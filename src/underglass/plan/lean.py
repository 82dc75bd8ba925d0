"""Autumn reckoned backwards: until when a hardy crop must be sown to be near full size before the lean weeks.

Under ten hours of day most crops hardly grow (common practice; Coleman, Winter Harvest Handbook): what is near full size by then can be picked
from the garden through the dark as from a larder, what is not stays small until the days are longer.  Where no day is so short there is
nothing to reckon with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from underglass.crop.outcome import Fate
from underglass.crop.types import Crop
from underglass.plan.outlook import RouteFates
from underglass.plan.outlook_types import Route
from underglass.sun.daylength import short_days

__all__ = ["LatestSowing", "dates_before", "latest_sowings", "stands_winter", "lean_weeks", "near_full"]

NEAR_FULL = 0.75
"""Share of full growth that is near full size (common practice: three quarters grown when the days fall under ten hours)."""

LEAST_SHARE = 0.8
"""Share of years that must get so far: the last sowings of hardy crops are reckoned on the early side."""

WEEKS_BEFORE = 30
STORED_WEEKS = 20.0
ANY_NUMBER, NO_WAIT = 100_000, -1.0
"""Pickings without end, and degree-days between two: the plant need not have grown at all."""

STANDING_KINDS = ("leaf", "herb", "root", "allium", "head")
"""Kinds of plants that are picked through the dark: what bears fruit is not."""


@dataclass(frozen=True, slots=True)
class LatestSowing:
    """Latest date of sowing a crop on a route with which it is near full size before the lean weeks in so many of the years, 0-1."""

    crop_id: str
    route: Route
    sow: np.datetime64
    share: float


def lean_weeks(latitude_deg: float, on: np.datetime64) -> tuple[np.datetime64, np.datetime64] | None:
    """First and last day under ten hours of the first winter that begins after a day, None where no day is so short."""
    year = int(str(on)[:4])
    for y in (year - 1, year, year + 1):
        found = short_days(latitude_deg, y)
        if found is not None and found[0] > on:
            return found
    return None


def stands_winter(crop: Crop) -> bool:
    """Whether it makes sense to have this crop stand for the lean weeks: what keeps half a year is lifted and stored."""
    stored = crop.kitchen.keep_weeks >= STORED_WEEKS
    return not crop.tender and not stored and crop.kind in STANDING_KINDS and crop.harvest.yield_kg_m2 is not None


def dates_before(lean_from: np.datetime64, on: np.datetime64) -> np.ndarray[tuple[int], np.dtype[np.datetime64]]:
    """Weekly sowing dates before the lean weeks, none before the plan's first day."""
    dates = lean_from - 7 * np.arange(WEEKS_BEFORE, 0, -1)
    return np.asarray(dates[dates >= on])


def near_full(crop: Crop) -> Crop:
    """The crop as something that is ready once it is near full size and then stands, day after day, until cold takes it or it runs to seed.

    Leaves are picked as they are wanted: a first cut at near full size, and each further day counts.  What is taken whole stands until it is
    a little past its best.
    """
    growth, planted = crop.growth, crop.growth.set_out_to_full_cday
    if crop.kind in ("leaf", "herb") and not crop.harvest.single:
        return replace(
            crop,
            growth=replace(growth, to_baby_cday=NEAR_FULL * growth.to_full_cday),
            harvest=replace(crop.harvest, cuts=ANY_NUMBER, most_cuts=ANY_NUMBER, regrow_cday=NO_WAIT),
        )
    return replace(
        crop,
        growth=replace(
            growth, to_baby_cday=None, to_full_cday=NEAR_FULL * growth.to_full_cday,
            set_out_to_full_cday=None if planted is None else NEAR_FULL * planted,
        ),
        harvest=replace(crop.harvest, mode="single", cuts=1, most_cuts=1),
    )  # fmt: skip


def latest_sowings(
    fates: Sequence[RouteFates], crops: Mapping[str, Crop], lean_from: np.datetime64
) -> list[LatestSowing]:
    """Of each crop on each route the latest date that is early enough in four years of five; without those that never are.

    fates : of near_full crops, sown before the lean weeks
    """
    found = []
    for one in fates:
        if one.crop_id not in crops or not len(one.sow_dates):
            continue
        shape = one.starts.shape
        outcome, first = one.found.outcome.reshape(shape), one.found.first.reshape(shape)
        left = (lean_from - one.sow_dates).astype(int)[:, None]
        counted = outcome != Fate.BEYOND_RECORD
        grown = (outcome == Fate.HARVESTED) & (first - one.starts <= left)
        share = (grown & counted).sum(axis=1) / np.maximum(counted.sum(axis=1), 1)
        early = np.flatnonzero(share >= LEAST_SHARE)
        if early.size:
            found.append(LatestSowing(one.crop_id, one.route, one.sow_dates[early[-1]], float(share[early[-1]])))
    return sorted(found, key=lambda s: (s.crop_id, s.route.grown_in, s.route.raised_in or ""))
