"""The value types of a sowing outlook: what many years of weather say about one sowing, and about all of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

__all__ = ["DateSpread", "Route", "SowingOutlook"]


@dataclass(frozen=True, slots=True, order=True)
class Route:
    """Where a sowing is raised and where it grows on.

    raised_in : name of the shelter where it is sown and raised in cells, None when sown where it stays
    grown_in  : name of the shelter (or 'open') where it is sown directly or set out to
    """

    grown_in: str
    raised_in: str | None = None

    def __str__(self) -> str:
        return f"direct in {self.grown_in}" if self.raised_in is None else f"{self.raised_in} → {self.grown_in}"


@dataclass(frozen=True, slots=True)
class DateSpread:
    """Early, middle and late date over the years in which the thing happened (10th, 50th, 90th percentile)."""

    p10: np.datetime64
    p50: np.datetime64
    p90: np.datetime64


@dataclass(frozen=True, slots=True)
class SowingOutlook:
    """One crop, one route, one sowing date, over all years.

    n_years        : years of weather behind the numbers
    harvest_chance : share of the years that end in a harvest, 0-1
    causes         : share of all years lost to each cause, keyed by the plain word for it ('killed by cold', 'bolted' …)
    emerged, set_out, first_harvest, last_harvest : over the years that got so far; None where under 3 of them did
    yield_share    : mean harvest as a share of the tabled one, over all years (a lost year counts 0); over 1 in long seasons
    """

    crop_id: str
    route: Route
    sow_date: np.datetime64
    n_years: int
    harvest_chance: float
    causes: dict[str, float] = field(default_factory=dict)
    emerged: DateSpread | None = None
    set_out: DateSpread | None = None
    first_harvest: DateSpread | None = None
    last_harvest: DateSpread | None = None
    yield_share: float = 0.0
