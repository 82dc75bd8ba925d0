"""Who works the lid and the covers, and when: schedules by the hour for whatever does not answer to the air inside.

By hand (`visits`): somebody comes at the family's times and sets the lid for the hours until the next visit, knowing about
what those hours will bring (the day's forecast, here the true weather).  The rule is common practice in numbers: by day a crack
of 3-5 cm once the outside air is above about 4 degC in sun, a hand's breadth from 5-10 degC, wide open above about 15 degC in sun,
less when it freezes; shut for the night and under cloud (practice facts: openings of 1-2 in below freezing, 4-6 in at 5-10 degC,
fully open above 15 degC in sun; crack above 40 degF, wide above 50 degF).  That airs greens, from 15-21 degC inside.  A house that grows
fruit in the warm half of the year is aired from 24-29 degC inside (practice facts, the same section), so it is opened later.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.model import Box, Drum, Fleece, Hoop, Lid, NightCover, Shelter, Visits
from underglass.sun.daylength import day_length_h
from underglass.weather.days import standard_offset_h
from underglass.weather.outside import OutsideWeather

__all__ = [
    "BY_HAND",
    "Handling",
    "can_be_bared",
    "fleece_hours",
    "gap_hours",
    "night_cover_hours",
    "own_handling",
    "swept_hours",
    "visit_hours",
    "worked_by_hand",
]

F64 = NDArray[np.float64]


BY_HAND = ("shut", "open", "gap", "visits")
"""Ways of working a lid that are a person's; an arm, a rule, or somebody always there are not."""


def worked_by_hand(shelter: Shelter) -> Shelter:
    """The shelter set by a schedule, whatever its file says of hands; an arm or a rule stays."""
    by_hand = shelter.lid.working in BY_HAND
    return replace(shelter, lid=replace(shelter.lid, working="visits")) if by_hand else shelter


LIFTED_M = 1.2
"""A tunnel no higher than this can be bared by one person between two visits; a house that one walks into cannot (judgement)."""


def can_be_bared(shelter: Shelter) -> bool:
    """Whether somebody can take the lid or the film right away and bring it back: a box under a lid, a jug, a low tunnel."""
    if shelter.room is not None or shelter.cover is None or shelter.lid.working not in BY_HAND:
        return False
    match shelter.shape:
        case Box(glazed=glazed):
            return "lid" in glazed
        case Hoop(height_m=height_m):
            return height_m <= LIFTED_M
        case Drum():
            return True
        case _:
            return False


@dataclass(frozen=True, slots=True, eq=False)
class Handling:
    """What is done to a shelter hour by hour, each array (n_hours,).

    gap : of the lid [m] (for 'rule' 1 while the fixed flow runs);  night_cover, fleece, swept : 1 while laid, or in the hour of sweeping
    """

    gap: F64
    night_cover: F64
    fleece: F64
    swept: F64

    def part(self, hours: slice) -> Handling:
        """The same for some of the hours."""
        return Handling(self.gap[hours], self.night_cover[hours], self.fleece[hours], self.swept[hours])


SUNNY_W_M2 = 150.0
"""Mean global radiation until the next visit from which a shut lid is a danger on a cool day (estimate)."""

GAP_BY_OUTSIDE_K = np.array([263.15, 271.15, 275.15, 281.15, 288.15])
GAP_M = np.array([0.0, 0.03, 0.05, 0.12, 10.0])
"""Prop by the warmest outside hour before the next visit, in sun (common practice, practice facts section 4)."""

WARM_GAP_BY_OUTSIDE_K = np.array([279.15, 282.15, 288.15, 292.15, 296.15, 299.15])
WARM_GAP_M = np.array([0.0, 0.03, 0.05, 0.12, 0.25, 10.0])
"""The same for fruit in the warm half of the year: sunny days then reach 23-28 degC in the hoop house (our own physics for the preset; the
house of greens 15-22)."""

CLOUDY_GAP_M = 0.12
"""Prop on days without sun that are mild outside."""

WARM_MEAN_K, WARM_DAYS, WARM_DAY_H = 283.15, 10, 11.5
"""The warm half of the year: days of so many hours, and the mean of the last days outside warm enough for tomatoes (their base, 10 degC)."""


def _clock(outside: OutsideWeather) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Local standard hour of day and day of week (0 Monday) of each hour."""
    local = (
        outside.start.astype("datetime64[h]").astype(np.int64)
        + standard_offset_h(outside.place)
        + np.arange(outside.n_hours)
    )
    day, hour = np.divmod(local, 24)
    return hour, (day + 3) % 7  # day 0 of the epoch was a Thursday


def visit_hours(visits: Visits, outside: OutsideWeather) -> NDArray[np.bool_]:
    """True in the hours in which somebody comes by."""
    hour, weekday = _clock(outside)
    weekend = weekday >= 5
    return np.where(
        weekend, np.isin(hour, [int(t) for t in visits.weekend_h]), np.isin(hour, [int(t) for t in visits.weekday_h])
    )


def _by_hand(lid: Lid, visits: Visits, outside: OutsideWeather) -> F64:
    """Gap in each hour when the family works the lid at its visits."""
    come = np.flatnonzero(visit_hours(visits, outside))
    gap = np.zeros(outside.n_hours)
    if come.size == 0:
        return gap
    ghi = outside.dni_w_m2 * np.maximum(np.cos(np.radians(outside.sun_zenith_deg)), 0.0) + outside.dhi_w_m2
    until = np.append(come[1:], outside.n_hours)
    spans = np.add.reduceat(ghi, come) / (until - come)
    warmest = np.maximum.reduceat(outside.air_temp_k, come)
    lit = np.add.reduceat((ghi > 20.0).astype(float), come)
    bright = np.where(lit > 0, spans * (until - come) / np.maximum(lit, 1.0), 0.0)
    night = lit < 0.4 * (until - come)
    warm = _warm_season(outside, come) if lid.warm_season else np.zeros(come.size, bool)
    sunny = np.where(
        warm, np.interp(warmest, WARM_GAP_BY_OUTSIDE_K, WARM_GAP_M), np.interp(warmest, GAP_BY_OUTSIDE_K, GAP_M)
    )
    wish = np.where(bright >= SUNNY_W_M2, sunny, np.where(warmest > np.where(warm, 293.15, 288.15), CLOUDY_GAP_M, 0.0))
    wish = np.where(night & (warmest < 291.15), 0.0, wish)
    for start, stop, width in zip(come, until, wish, strict=True):
        gap[start:stop] = width
    return np.minimum(gap, lid.full_gap_m)


def _warm_season(outside: OutsideWeather, hours: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether each of these hours lies in the warm half of the year."""
    total = np.concatenate([np.zeros(1), np.cumsum(outside.air_temp_k)])
    first = np.maximum(hours + 1 - 24 * WARM_DAYS, 0)
    last_days = (total[hours + 1] - total[first]) / (hours + 1 - first)
    days = (outside.start.astype("datetime64[h]") + hours).astype("datetime64[D]")
    long_days = day_length_h(outside.place.latitude_deg, days) >= WARM_DAY_H
    return np.asarray((last_days >= WARM_MEAN_K) & long_days)


def gap_hours(shelter: Shelter, outside: OutsideWeather) -> F64:
    """Gap of the lid in each hour [m]; for 'rule' 1 while the fixed flow runs, else 0.  Shape (n_hours,)"""
    lid, n = shelter.lid, outside.n_hours
    match lid.working:
        case "open":
            return np.full(n, lid.full_gap_m)
        case "gap":
            return np.full(n, lid.gap_m)
        case "visits":
            return _by_hand(lid, shelter.visits, outside)
        case "rule":
            hour, _ = _clock(outside)
            on, off = lid.rule_on_h, lid.rule_off_h
            inside = (hour >= on) & (hour < off) if on <= off else (hour >= on) | (hour < off)
            return inside.astype(float)
        case _:
            return np.zeros(n)


def _sun_up(outside: OutsideWeather, margin_h: int) -> NDArray[np.bool_]:
    """True from `margin_h` after sunrise to `margin_h` before sunset."""
    up = outside.sun_zenith_deg < 90.0
    for _ in range(margin_h):
        up = up & np.roll(up, 1) & np.roll(up, -1)
    return up


def night_cover_hours(cover: NightCover | None, outside: OutsideWeather) -> F64:
    """1 while the insulating cover lies on the glazing, else 0.  Shape (n_hours,)"""
    if cover is None:
        return np.zeros(outside.n_hours)
    if cover.on_h is not None and cover.off_h is not None:
        hour, _ = _clock(outside)
        on, off = cover.on_h, cover.off_h
        laid = (hour >= on) | (hour < off) if on > off else (hour >= on) & (hour < off)
    else:
        laid = ~_sun_up(outside, 1)
    starts = np.flatnonzero(laid & ~np.roll(laid, 1))
    if starts.size and cover.below_k < 399.0:
        coldest = np.minimum.reduceat(outside.air_temp_k, starts)
        worth = np.repeat(coldest < cover.below_k, np.diff(np.append(starts, outside.n_hours)))
        laid = laid & np.concatenate([np.full(starts[0], bool(worth[0])), worth])
    return laid.astype(float)


def fleece_hours(fleece: Fleece | None, outside: OutsideWeather) -> F64:
    """1 while the fleece lies over the plants, else 0.  Shape (n_hours,)"""
    if fleece is None:
        return np.zeros(outside.n_hours)
    if not fleece.night_only:
        return np.ones(outside.n_hours)
    return (~_sun_up(outside, 1)).astype(float)


def swept_hours(shelter: Shelter, outside: OutsideWeather) -> F64:
    """1 in the lit hours in which somebody comes by and sweeps snow off the lid; nobody does where it is never opened.  (n_hours,)"""
    if shelter.lid.working == "shut":
        return np.zeros(outside.n_hours)
    return (visit_hours(shelter.visits, outside) & (outside.sun_zenith_deg < 95.0)).astype(float)


def own_handling(shelter: Shelter, outside: OutsideWeather) -> Handling:
    """The shelter worked the way its file says."""
    return Handling(
        gap_hours(shelter, outside), night_cover_hours(shelter.night_cover, outside), fleece_hours(shelter.fleece, outside),
        swept_hours(shelter, outside),
    )  # fmt: skip
