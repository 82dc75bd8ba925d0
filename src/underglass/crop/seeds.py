"""Seed in a packet and seed in a cell: how long it lives where it is kept, and how many to sow for one plant.

The guide ages seed by the household tables (germination.aged_share).  Here stand the physics of storage (Ellis & Roberts 1980: probit of
viability falls straight with time, the slower the drier and cooler) and the arithmetic of sowing.  Storage at 20 degC and 50 % humidity
gives 1 to 9 years from 95 to 50 % by kind; drawers that get damp give less, which is why the tables are shorter for beans and peas.
"""

from __future__ import annotations

import math
from functools import cache
from statistics import NormalDist

from underglass.crop.types import SeedFacts
from underglass.errors import InputError

__all__ = [
    "dry_enough",
    "probit_days",
    "seed_moisture",
    "seeds_for_plants",
    "seeds_per_cell",
    "viability_after",
]

GAUSS = NormalDist()


def seed_moisture(rh: float, temp_c: float, oil_share: float) -> float:
    """Moisture of seed in balance with the air around it, share of its wet weight, 0-1.

    rh 0.1-0.7 (outside it is refused);  temp_c [degC];  oil_share of dry weight, 0-0.6
    Source: Cromarty, Ellis & Roberts 1982: 1 - rh = exp(-(Me (1.1 + T/90) / (1 - Do))^2 / 440), Me % of dry weight.

    >>> round(seed_moisture(0.5, 20.0, 0.02), 3), round(seed_moisture(0.5, 20.0, 0.36), 3)
    (0.115, 0.078)
    """
    if not 0.1 <= rh <= 0.7:
        raise InputError(f"humidity is {rh:g}: the balance of seed with air was measured from 0.1 to 0.7")
    dry_percent = (1.0 - oil_share) * math.sqrt(-440.0 * math.log(1.0 - rh)) / (1.1 + temp_c / 90.0)
    return dry_percent / (100.0 + dry_percent)


def probit_days(seed: SeedFacts, moisture: float, temp_c: float) -> float:
    """Days in which viability falls by one standard deviation (probit).  [day]

    seed : with its constants KE, CW, CH, CQ;  moisture : share of wet weight, 0.02-0.25;  temp_c -20 to 90 [degC]
    Source: Ellis & Roberts 1980: log10 sigma = KE - CW log10 m - CH t - CQ t^2, m in % wet weight.
    """
    if seed.viability is None:
        raise InputError("no viability constants are known for this kind of seed: use its household seed life")
    if not 0.02 <= moisture <= 0.25:
        raise InputError(
            f"moisture is {moisture:g}: the viability equation was measured from 0.02 to 0.25 of wet weight"
        )
    ke, cw, ch, cq = seed.viability
    return float(10.0 ** (ke - cw * math.log10(100.0 * moisture) - ch * temp_c - cq * temp_c**2))


def viability_after(seed: SeedFacts, start: float, days: float, moisture: float, temp_c: float) -> float:
    """Share of seed still alive after so many days of storage, 0-1.

    start : share alive at the beginning, 0-1 exclusive.  Source: Ellis & Roberts 1980, v = Ki - p / sigma (probits).
    """
    if not 0.0 < start < 1.0:
        raise InputError(f"viability at the start is {start:g}: expected between 0 and 1, as 0.95")
    return GAUSS.cdf(GAUSS.inv_cdf(start) - days / probit_days(seed, moisture, temp_c))


def dry_enough(temp_f: float, rh: float) -> bool:
    """The storage rule of thumb: degF plus percent humidity at most 100.  Source: West Virginia Univ. Extension 2014.

    >>> dry_enough(50.0, 0.40), dry_enough(70.0, 0.50)
    (True, False)
    """
    return temp_f + 100.0 * rh <= 100.0


def seeds_per_cell(germination: float, chance: float = 0.97) -> int:
    """Fewest seeds in a cell for at least one plant with this chance.

    germination, chance : 0-1 exclusive.  Source: 1 - (1 - p)^n, independent seeds.

    >>> [seeds_per_cell(p) for p in (0.9, 0.8, 0.7, 0.5)]
    [2, 3, 3, 6]
    """
    _share(germination, "germination")
    _share(chance, "chance")
    return max(1, math.ceil(math.log(1.0 - chance) / math.log(1.0 - germination) - 1e-9))


@cache
def seeds_for_plants(plants: int, germination: float, chance: float = 0.9) -> int:
    """Fewest seeds for at least so many plants with this chance (binomial, independent seeds).

    >>> [seeds_for_plants(12, p) for p in (0.9, 0.7, 0.5)]
    [15, 21, 31]
    """
    _share(germination, "germination")
    _share(chance, "chance")
    if plants < 1:
        raise InputError(f"plants wanted is {plants}: expected at least 1")
    low, high = plants - 1, 2 * plants
    while _at_least(plants, high, germination) < chance:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if _at_least(plants, middle, germination) < chance:
            low = middle
        else:
            high = middle
    return high


def _at_least(wanted: int, n: int, p: float) -> float:
    """Chance of `wanted` or more out of n."""
    if n < wanted:
        return 0.0
    log_p, log_q, whole = math.log(p), math.log(1.0 - p), math.lgamma(n + 1)
    fewer = (
        math.exp(whole - math.lgamma(k + 1) - math.lgamma(n - k + 1) + k * log_p + (n - k) * log_q)
        for k in range(wanted)
    )
    return 1.0 - math.fsum(fewer)


def _share(value: float, name: str) -> None:
    if not 0.0 < value < 1.0:
        raise InputError(f"{name} is {value:g}: expected a share between 0 and 1, as 0.8")
