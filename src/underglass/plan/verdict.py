"""What to do about one crop on one route this week: sow, wait, or leave it, with the best and the latest sensible date ahead.

Nothing is called good below a stated threshold.  Tender crops must clear a higher bar at the start of their season and hardy ones at
its end, so that advice errs late in spring and early in autumn.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from underglass.crop.outcome import Fate
from underglass.crop.types import Crop
from underglass.plan.outlook import RouteOutlooks
from underglass.plan.outlook_types import SowingOutlook
from underglass.plan.thresholds import thresholds

__all__ = ["Advice", "Verdict", "advise"]


class Verdict(StrEnum):
    """This week's word on a sowing."""

    NOW = "sow now"
    SOON = "sow soon"
    WAIT = "wait"
    NOT_HERE = "not worth it here"


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """The word for this week with what stands behind it.

    today  : outlook of sowing this week             best : outlook of the best date of the next season ahead, which may still not be good
    opens, latest : first and last sensible sowing date of that season
    again  : first and last sensible sowing dates of the seasons after it; a single good week among bad ones is luck and left out
    score  : how good the best date is, 0-1, to put routes in order
    """

    verdict: Verdict
    today: SowingOutlook
    best: SowingOutlook | None
    opens: np.datetime64 | None
    latest: np.datetime64 | None
    score: float
    again: tuple[tuple[np.datetime64, np.datetime64], ...] = ()


def scores(outlooks: RouteOutlooks) -> NDArray[np.float64]:
    """Chance of a harvest, weighed by how much comes in: a full crop counts once, a first picking alone half.  0-1"""
    chance = outlooks.chance
    fullness = np.where(chance > 0.0, outlooks.share / np.maximum(chance, 1e-9), 0.0)
    return np.asarray(chance * (0.5 + 0.5 * np.clip(fullness, 0.0, 1.0)))


def _seasons(open_dates: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Runs of open dates (first, last index); a single closed week inside a run does not end it."""
    runs: list[tuple[int, int]] = []
    for i in np.flatnonzero(open_dates):
        if runs and i - runs[-1][1] <= 2:
            runs[-1] = (runs[-1][0], int(i))
        else:
            runs.append((int(i), int(i)))
    return runs


def advise(crop: Crop, outlooks: RouteOutlooks) -> Advice:
    """The word for the first sowing date of `outlooks`, which should be today, looking ahead over the others."""
    t = thresholds()
    chance, score = outlooks.chance, scores(outlooks)
    top = float(score.max())
    open_dates = (chance >= t.good) & (score >= t.worth * top)
    wait = _waiting(crop, outlooks, open_dates)
    open_dates &= wait <= t.slow
    edge = open_dates & (chance >= t.careful)
    found = [season for run in _seasons(open_dates) if (season := _narrowed(crop, run, edge)) is not None]
    if found:
        opens, latest = found[0]
        best = opens + _best(score[opens : latest + 1], wait[opens : latest + 1])
        ahead = int((outlooks.sow_dates[opens] - outlooks.sow_dates[0]).astype(int))
        verdict = Verdict.NOW if opens == 0 else Verdict.SOON if ahead <= t.soon_days else Verdict.WAIT
        dates = outlooks.sow_dates
        if opens == 0 and len(found) > 1 and found[-1][1] == len(dates) - 1:
            found.pop()  # open in a year: the season that is open today
        again = tuple((dates[a], dates[b]) for a, b in found[1:] if a < b)
        return Advice(
            verdict, outlooks.at(0), outlooks.at(best), dates[opens], dates[latest], float(score[best]), again
        )
    likeliest = int(np.argmax(score)) if top > 0.0 else int(np.argmax(_got_far(outlooks)))
    return Advice(Verdict.NOT_HERE, outlooks.at(0), outlooks.at(likeliest), None, None, top)


def _narrowed(crop: Crop, season: tuple[int, int], edge: NDArray[np.bool_]) -> tuple[int, int] | None:
    """A season within the dates that clear the higher bar: at its start for tender crops, at its end for hardy ones; None where none does."""
    first, last = season
    strict = np.flatnonzero(edge[first : last + 1]) + first
    if strict.size == 0:
        return None
    return (int(strict[0]), last) if crop.tender else (first, int(strict[-1]))


def _waiting(crop: Crop, outlooks: RouteOutlooks, among: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Days from sowing to the first picking over the fewest of the dates `among`; 1 for kinds that stand the cold, which may wait.  Shape (d,)

    Tender kinds sown early into cold sit there, and what is sown later comes in almost as soon.
    """
    days = outlooks.spread["first"][:, 1]
    if not crop.tender or not np.isfinite(days[among]).any():
        return np.ones(len(days))
    return np.asarray(np.nan_to_num(days / np.nanmin(days[among]), nan=1.0))


def _best(score: NDArray[np.float64], wait: NDArray[np.float64]) -> int:
    """Index of a season's best date: the earliest that is as good as the highest score within the luck of the years, and does not wait long."""
    t = thresholds()
    brisk = np.where(wait <= t.brisk * wait.min(), score, 0.0)
    return int(np.argmax(brisk >= brisk.max() - t.as_good))


def _got_far(outlooks: RouteOutlooks) -> NDArray[np.float64]:
    """How near to a harvest each date came where none ends in one: plants well grown, then at least ground warm enough for the seed."""
    grown = (Fate.PLANT_FROZEN, Fate.COOKED, Fate.BOLTED, Fate.NO_FRUIT_SET, Fate.NOT_READY)
    return np.asarray(outlooks.counts[:, grown].sum(axis=1) + 0.01 * outlooks.counts[:, Fate.SEED_TOO_OLD], dtype=float)
