"""The sowings that a plan may choose from: each with the bed it holds, from when to when, and its servings in each year and week.

Made out of the fates of all sowings in all years.  A bed is promised until a fixed day, by which four years in five have been picked
empty; what a late year would have given after it is not counted.  What keeps is eaten evenly until it no longer keeps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.crop.outcome import Fate
from underglass.crop.types import Crop
from underglass.plan.outlook import RouteFates
from underglass.plan.outlook_types import DateSpread, Route
from underglass.plan.years import choosing

__all__ = ["SOWING_WEEKS", "WEEKS", "Candidate", "Eaten", "candidates_of", "held_candidates_of", "prune"]

F64 = NDArray[np.float64]

SOWING_WEEKS = 52
WEEKS = 104
"""Weeks of sowing, and of harvest that is looked at: what is sown late in the year is eaten in the next."""

LEAST_CHANCE = 0.75
"""A sowing that fails more often is not offered: three years in four is where a family still calls it worth the seed (judgement)."""

LEAST_BESIDE = 0.5
"""Share of the years in which the dates a week before and after must feed."""

HELD_CUTS = 1.5
"""What a full-grown plant that is picked leaf by leaf through the dark gives, in cuts: what stands, and a little that comes after (estimate)."""

BEFORE_LEAN_D, AFTER_LEAN_D, LEAST_HELD_D = 14, 14, 28
"""What stands for the lean weeks is picked from so long before them until so long after, and for so long at least."""

LEAST_PICKED, LEAST_PICKED_PULSE = 0.4, 0.7
"""What bears fruit and gives less than this share of the tabled harvest where it feeds was sown out of its season.  Pulses bear for a few weeks and
must come nearer to it: they are short of it where flowers fail, others already where their season is shorter than the tabled one (judgement)."""

THROUGH_HEAT_D = 45
"""Days in the bed, before the first picking, in months that are too warm for the crop, beyond which nobody plants it: in the south fall's
cabbages are set out when the heat is nearly over (common practice; the days are an estimate)."""

LEAST_FED = 3
"""Years that must feed before dates can be told from them."""

FRUITING, RIPENS_D = ("fruits", "beans"), 14
"""Dishes that are fruit and seed: under ten hours of day none ripens, and what would begin within so many days before has no time to."""

HOLD_D = 21
"""Days in which a crop taken once is taken out of the bed, if it stands so long."""

CLEARED_SHARE, SOONER_SHARES, FAR_APART_D = 0.8, (0.3, 0.5), 28.0
"""Share of the years that are picked empty when the bed is cleared.  Where those shares of them are empty four weeks sooner or more, as tender
plants that live through some winters, and the first share of the years were picked from by then, the bed is cleared then if that brings more
a day of bed (judgement)."""

BETWEEN_D = 14.0
"""Days between two crops in a bed, for clearing and starting (estimate)."""

RAISED_MUST_GAIN = 1.1
"""Raising ahead is work: it is offered where it brings a tenth more a day of bed than sowing where it stays."""


@dataclass(frozen=True, slots=True, eq=False)
class Eaten:
    """Servings in each year and week, kept for the weeks that have any: a few of two years' weeks, and there are thousands of sowings.

    first : week of the first column of `amount` (years, weeks)
    """

    first: int
    amount: F64

    @classmethod
    def of(cls, servings: F64) -> Eaten:
        """servings (years, WEEKS)"""
        some = np.flatnonzero(servings.any(axis=0))
        first, end = (int(some[0]), int(some[-1]) + 1) if some.size else (0, 0)
        return cls(first, servings[:, first:end].copy())

    def whole(self) -> F64:
        """All weeks, (years, WEEKS)."""
        servings = np.zeros((len(self.amount), WEEKS))
        servings[:, self.first : self.first + self.amount.shape[1]] = self.amount
        return servings


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A sowing of one square metre.

    chance   : share of the years that choose with a harvest while the bed is held, 0-1
    tray_to  : last day in the tray, bed_from, bed_to : first day in the bed and first day it is free again [datetime64[D]]
    set_out, first : dates over the years that choose;  earliest : first harvest of the earliest of all years
    eaten    : in each week after the plan's first day in each year, per m2
    first_day (years,) : first harvest, days after the plan's first day, nan where there is none;  counted (years,) : what counts of them
    held : it stands near full size for the lean weeks, and is eaten through them
    """

    crop_id: str
    route: Route
    sow: np.datetime64
    chance: float
    tray_to: np.datetime64
    bed_from: np.datetime64
    bed_to: np.datetime64
    set_out: DateSpread | None
    first: DateSpread
    earliest: np.datetime64
    eaten: Eaten
    first_day: F64
    counted: NDArray[np.bool_]
    held: bool = False

    @property
    def servings(self) -> F64:
        """What is eaten, (years, WEEKS)."""
        return self.eaten.whole()

    @property
    def bed_days(self) -> int:
        """Days that the bed is held."""
        return int((self.bed_to - self.bed_from).astype(int))

    def worth_a_day(self) -> float:
        """Mean servings a day of bed in the years that choose, with a fortnight for clearing and starting; a day in the tray counts a quarter."""
        years = choosing(len(self.counted))
        in_tray = int((self.tray_to - self.sow).astype(int)) / 4.0
        return float(self.servings[years].sum(axis=1).mean()) / (self.bed_days + BETWEEN_D + in_tray)

    def fed(self, years: NDArray[np.int64]) -> float:
        """Share of some years in which it feeds anybody, 0-1."""
        counted = years[self.counted[years]]
        return float((self.servings[counted].sum(axis=1) > 0.0).mean()) if counted.size else 0.0

    def first_in(self, years: NDArray[np.int64], on: np.datetime64) -> DateSpread:
        """First harvest over some years; of the years that choose where those have none."""
        days = self.first_day[years]
        days = days[np.isfinite(days)]
        return _spread(on, days) if days.size else self.first


def _spread(on: np.datetime64, days: F64) -> DateSpread:
    early, middle, late = (on + round(q) for q in _nearest(days, 0.1, 0.5, 0.9))
    return DateSpread(early, middle, late)


def _nearest(days: F64, *shares: float) -> list[float]:
    """Quantiles, each the nearest of the values; a tenth of the time of numpy's, and there are tens of thousands."""
    ordered = np.sort(days)
    return [float(ordered[round((len(ordered) - 1) * q)]) for q in shares]


def weekly(first: F64, end: F64, amount: F64, weeks: int = WEEKS) -> F64:
    """Amounts eaten evenly from day `first` to day `end`, by week.  first, end [day], amount (n,); shape (n, weeks)."""
    edges = 7.0 * np.arange(weeks + 1)
    inside = np.clip(np.minimum(end[:, None], edges[1:]) - np.maximum(first[:, None], edges[:-1]), 0.0, None)
    return np.asarray(amount[:, None] * inside / (end - first)[:, None])


def candidates_of(
    crop: Crop,
    fates: RouteFates,
    on: np.datetime64,
    *,
    least_chance: float = LEAST_CHANCE,
    alive_on: bool = False,
    bed_to: np.datetime64 | None = None,
    dark: tuple[np.datetime64, np.datetime64] | None = None,
    warm: NDArray[np.bool_] | None = None,
) -> list[Candidate]:
    """What one crop on one route offers, one candidate for each sowing date that is likely enough to feed.

    on : the plan's first day;  alive_on : it stands in the ground and lives on that day, so that only years in which it got so far count
    bed_to : day on which the bed is free, None: as these years say
    dark : first and last of the lean weeks: what bears fruit or is tender is not picked in them
    warm : whether each day after `on` is too warm for it to be worth picking, None: none is
    """
    if crop.harvest.yield_kg_m2 is None:
        return []
    shape = fates.starts.shape
    outcome = fates.found.outcome.reshape(shape)
    marks = {m: getattr(fates.found, m).reshape(shape) for m in ("set_out", "first", "last", "deciding")}
    share = fates.found.share.reshape(shape).astype(float)
    choose = np.zeros(shape[1], bool)
    choose[choosing(shape[1])] = True
    found, until_warm = [], None if warm is None or not warm.any() else _next(warm)
    for i, sow in enumerate(fates.sow_dates):
        offset = int((sow - on).astype(int))
        days = {m: (values[i] - fates.starts[i] + offset).astype(float) for m, values in marks.items()}
        whole = days["last"]
        feeds = outcome[i] == Fate.HARVESTED
        if until_warm is not None:
            assert warm is not None
            feeds &= _before_heat(days, until_warm) & _not_through_heat(days, offset, warm)
        if dark is not None and (crop.tender or crop.kitchen.dish in FRUITING):
            feeds &= _in_light(days, *(float((day - on).astype(int)) for day in dark))
        counted = outcome[i] != Fate.BEYOND_RECORD
        if alive_on:
            counted &= feeds | (days["deciding"] >= 0)
        known = counted & choose
        chance = float(feeds[known].mean()) if known.any() else 0.0
        if chance >= least_chance and (feeds & choose).sum() >= LEAST_FED:
            if least_chance > 0.0 and share[i][feeds & choose].mean() < _least_picked(crop):
                continue
            years = _Years(feeds, counted, choose)
            picked = share[i] if crop.harvest.single else share[i] * _part_picked(days["first"], days["last"], whole)
            found.append(_candidate(crop, fates.route, sow, on, chance, years, days, picked, bed_to))
    harvested = (outcome == Fate.HARVESTED)[:, choose].mean(axis=1)
    return _not_on_the_brink(found, fates, harvested) if least_chance > 0.0 else found


def _not_on_the_brink(found: list[Candidate], fates: RouteFates, share: F64) -> list[Candidate]:
    """Those whose dates a week before and after feed in half of the years too: a family slips by a week.

    share : of the years that feed, by date
    Chosen out of many, a date on the brink (the last on which a tray can still be set out) is the one that weather as yet unseen fails.
    """
    number = {sow: i for i, sow in enumerate(fates.sow_dates.tolist())}

    def firm(c: Candidate) -> bool:
        i = number[c.sow.tolist()]
        return bool(share[max(i - 1, 0)] >= LEAST_BESIDE and share[min(i + 1, len(share) - 1)] >= LEAST_BESIDE)

    return [c for c in found if firm(c)]


def _least_picked(crop: Crop) -> float:
    """Share of the tabled harvest that a sowing must bring where it feeds."""
    if crop.kind == "legume":
        return LEAST_PICKED_PULSE
    return LEAST_PICKED if crop.kitchen.dish in FRUITING else 0.0


def _part_picked(first: F64, last: F64, whole: F64) -> F64:
    """Part of the pickings that come before picking is ended, 0-1, of those that would go on until day `whole`; the days may be nan or -1."""
    return np.asarray(np.clip((last - first + 1.0) / np.maximum(whole - first + 1.0, 1.0), 0.0, 1.0))


def _next(warm: NDArray[np.bool_]) -> F64:
    """The first warm day from each day on; their number where there is none."""
    n = len(warm)
    days = np.where(warm, np.arange(float(n)), float(n))
    return np.asarray(np.minimum.accumulate(days[::-1])[::-1])


def _before_heat(days: dict[str, F64], until_warm: F64) -> NDArray[np.bool_]:
    """Years in which the first picking comes while it is not too warm; picking ends with the day before it is."""
    ends = until_warm[np.clip(days["first"], 0, len(until_warm) - 1).astype(int)]
    days["last"] = np.minimum(days["last"], ends - 1.0)
    return np.asarray(days["first"] < ends)


def _not_through_heat(days: dict[str, F64], sown: int, warm: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Years in which it need not stand for long in months that are too warm before it feeds.  sown : day of sowing, after the plan's first day"""
    before = np.concatenate([[0], np.cumsum(warm)])
    planted = np.where(days["set_out"] > sown, days["set_out"], float(sown))
    first, start = (np.clip(d, 0, len(warm)).astype(int) for d in (days["first"], planted))
    return np.asarray(before[first] - before[start] <= THROUGH_HEAT_D)


def _in_light(days: dict[str, F64], dark_from: float, dark_to: float) -> NDArray[np.bool_]:
    """Years in which the first fruit comes in the light; picking that goes on into the lean weeks ends with their beginning."""
    first, last = days["first"], days["last"]
    days["last"] = np.where((first < dark_from) & (last >= dark_from), dark_from - 1.0, last)
    return (first < dark_from - RIPENS_D) | (first > dark_to)


@dataclass(frozen=True, slots=True, eq=False)
class _Years:
    """Which years feed, which count, and which choose, each (years,)."""

    feeds: NDArray[np.bool_]
    counted: NDArray[np.bool_]
    choose: NDArray[np.bool_]


def _candidate(
    crop: Crop, route: Route, sow: np.datetime64, on: np.datetime64, chance: float, years: _Years, days: dict[str, F64], share: F64,
    promised: np.datetime64 | None,
) -> Candidate:  # fmt: skip
    """Dates of bed and tray come from the years that choose; servings are told of all."""
    harvest, kitchen = crop.harvest, crop.kitchen
    feeds, counted = years.feeds, years.counted
    chosen = years.choose[feeds]
    first, last = days["first"][feeds], days["last"][feeds]
    whole = np.maximum(last + 1.0, first + 7.0)
    end = np.minimum(whole, first + HOLD_D) if harvest.single else whole
    held_from = days["set_out"][feeds] if route.raised_in else np.full(len(first), float((sow - on).astype(int)))
    cleared = _cleared(held_from[chosen], first[chosen], end[chosen])
    bed_to = cleared if promised is None else float((promised - on).astype(int))
    taken = np.clip(np.minimum(end, bed_to) - first, 0.0, None)
    assert harvest.yield_kg_m2 is not None
    amount = harvest.yield_kg_m2[1] * share[feeds] * taken / (end - first) / kitchen.serving_kg
    servings = np.zeros((len(feeds), WEEKS))
    servings[feeds] = weekly(first, first + np.maximum(taken, 1.0) + 7.0 * kitchen.keep_weeks, amount)
    servings[~counted] = servings[counted].mean(axis=0)
    set_out = _spread(on, days["set_out"][feeds][chosen]) if route.raised_in else None
    eaten = float((amount[chosen] > 0.0).sum() / max((counted & years.choose).sum(), 1))
    return Candidate(
        crop.id, route, sow, min(chance, eaten),
        tray_to=sow if set_out is None else set_out.p90,
        bed_from=sow if set_out is None else set_out.p10,
        bed_to=on + int(bed_to),
        set_out=set_out,
        first=_spread(on, first[chosen]),
        earliest=on + int(first.min()),
        eaten=Eaten.of(servings),
        first_day=np.where(feeds, days["first"], np.nan),
        counted=counted,
    )  # fmt: skip


def _cleared(held_from: F64, first: F64, end: F64) -> float:
    """Day on which the bed is cleared, by the years that choose: what each is held from, first picked on and empty on."""
    *sooner, last = _nearest(end, *SOONER_SHARES, CLEARED_SHARE)
    sooner = [day for day in sooner if (first < day).mean() >= CLEARED_SHARE]  # all but late years were picked from
    if not sooner or last - sooner[0] < FAR_APART_D:
        return last

    def a_day(day: float) -> float:
        picked = np.clip((np.minimum(end, day) - first) / (end - first), 0.0, 1.0).mean()
        return float(picked / (day - held_from.mean() + BETWEEN_D))

    return max((last, *sooner), key=a_day)


def held_candidates_of(
    crop: Crop,
    fates: RouteFates,
    on: np.datetime64,
    lean: tuple[np.datetime64, np.datetime64],
    *,
    least_chance: float = LEAST_CHANCE,
    bed_to: np.datetime64 | None = None,
) -> list[Candidate]:
    """What one crop offers that is near full size before the lean weeks and is eaten evenly through them.

    fates : of the crop as lean.near_full makes it;  lean : first and last of the lean weeks
    bed_to : day on which the bed is free, None: as long as three years in four still have something on it
    """
    if crop.harvest.yield_kg_m2 is None:
        return []
    shape, years = fates.starts.shape, choosing(fates.starts.shape[1])
    outcome = fates.found.outcome.reshape(shape)
    marks = {m: getattr(fates.found, m).reshape(shape) for m in ("set_out", "first", "last")}
    lean_from, lean_to = (float((day - on).astype(int)) for day in lean)
    choose = np.isin(np.arange(shape[1]), years)
    found, shares = [], np.zeros(shape[0])
    for i, sow in enumerate(fates.sow_dates):
        offset = int((sow - on).astype(int))
        days = {m: (values[i] - fates.starts[i] + offset).astype(float) for m, values in marks.items()}
        counted = outcome[i] != Fate.BEYOND_RECORD
        start = np.maximum(days["first"], lean_from - BEFORE_LEAN_D)
        end = np.minimum(days["last"] + 1.0, lean_to + AFTER_LEAN_D)
        grown = (outcome[i] == Fate.HARVESTED) & (days["first"] <= lean_from + 7.0)
        feeds = grown & (end - start >= LEAST_HELD_D)
        known = counted[years]
        shares[i] = feeds[years][known].mean() if known.any() else 0.0
        if shares[i] < least_chance or feeds[years].sum() < LEAST_FED:
            continue
        (promised,) = _nearest(end[years][feeds[years]], 1.0 - LEAST_CHANCE)
        if bed_to is not None:
            promised = float((bed_to - on).astype(int))
        which = _Years(feeds, counted, choose)
        found.append(_held(crop, fates.route, sow, on, promised, which, days, start, end))
    return _not_on_the_brink(found, fates, shares) if least_chance > 0.0 else found


def _held(
    crop: Crop, route: Route, sow: np.datetime64, on: np.datetime64, bed_to: float, years: _Years, days: Mapping[str, F64], start: F64,
    end: F64,
) -> Candidate:  # fmt: skip
    harvest, kitchen, feeds, counted = crop.harvest, crop.kitchen, years.feeds, years.counted
    chosen = years.choose & feeds
    whole = np.maximum(bed_to - start[feeds], 1.0)
    taken = np.clip(np.minimum(end[feeds], bed_to) - start[feeds], 0.0, None)
    assert harvest.yield_kg_m2 is not None
    share = 1.0 if harvest.single else min(1.0, HELD_CUTS / harvest.cuts)
    amount = harvest.yield_kg_m2[1] * share * taken / whole / kitchen.serving_kg
    servings = np.zeros((len(feeds), WEEKS))
    servings[feeds] = weekly(start[feeds], start[feeds] + np.maximum(taken, 7.0), amount)
    servings[~counted] = servings[counted].mean(axis=0)
    set_out = _spread(on, days["set_out"][chosen]) if route.raised_in else None
    return Candidate(
        crop.id, route, sow, float(feeds[years.choose & counted].mean()),
        tray_to=sow if set_out is None else set_out.p90,
        bed_from=sow if set_out is None else set_out.p10,
        bed_to=on + int(bed_to),
        set_out=set_out,
        first=_spread(on, start[chosen]),
        earliest=on + int(start[feeds].min()),
        eaten=Eaten.of(servings),
        first_day=np.where(feeds, start, np.nan),
        counted=counted,
        held=True,
    )  # fmt: skip


def prune(found: Sequence[Candidate], on: np.datetime64, most: int) -> list[Candidate]:
    """The candidates worth a variable: for each crop, bed and fortnight of first harvest the one that brings most a day of bed.

    Where more than `most` are left, every crop and bed loses in the same measure those that lie closest to a better neighbour.
    """
    best: dict[tuple[str, str, int, bool], tuple[float, Candidate]] = {}
    for c in found:
        fortnight = int((c.first.p50 - on).astype(int)) // 14
        key = (c.crop_id, c.route.grown_in, fortnight if not c.held else int((c.sow - on).astype(int)) // 14, c.held)
        worth = c.worth_a_day() / (RAISED_MUST_GAIN if c.route.raised_in else 1.0)
        if worth > 0.0 and (key not in best or worth > best[key][0]):
            best[key] = (worth, c)
    by_bed: dict[tuple[str, str], list[tuple[float, Candidate]]] = {}
    for (crop_id, bed, _, _), kept in sorted(best.items()):
        by_bed.setdefault((crop_id, bed), []).append(kept)
    each = max(2, most // max(len(by_bed), 1))
    chosen: list[Candidate] = []
    for rows in by_bed.values():
        chosen += [c for _, c in _thinned(rows, each)]
    return chosen


def _thinned(rows: list[tuple[float, Candidate]], most: int) -> list[tuple[float, Candidate]]:
    """At most so many, spread over the year: of each run of neighbours in time the best."""
    if len(rows) <= most:
        return rows
    return [max((rows[k] for k in part), key=lambda r: r[0]) for part in np.array_split(np.arange(len(rows)), most)]
