"""What a germination test tells: the exact interval of a share, and how a test corrects what was expected of a packet."""

from __future__ import annotations

import math
from dataclasses import dataclass

from underglass.errors import InputError

__all__ = ["Expected", "after_test", "exact_interval", "expected_of", "seeds_for"]

PRIOR_SEEDS = 8.0
"""What is expected of a kind and age weighs as much as a test of so many seeds (estimate: packets of one age differ widely)."""

CONFIDENCE = 0.9


@dataclass(frozen=True, slots=True)
class Expected:
    """Germination of a packet as a beta distribution.  a, b : its parameters, together the seeds that it stands for"""

    a: float
    b: float

    @property
    def mean(self) -> float:
        """Expected share that germinates, 0-1."""
        return self.a / (self.a + self.b)

    def interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Central interval of the share, 0-1."""
        from scipy.special import betaincinv

        tail = (1.0 - confidence) / 2.0
        return float(betaincinv(self.a, self.b, tail)), float(betaincinv(self.a, self.b, 1.0 - tail))


def exact_interval(up: int, sown: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact interval of a share after `up` of `sown`, 0-1.  Source: Clopper & Pearson 1934.

    >>> low, high = exact_interval(8, 10)
    >>> round(low, 2), round(high, 2)
    (0.44, 0.97)
    """
    from scipy.special import betaincinv

    _counts(up, sown)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if up == 0 else float(betaincinv(up, sown - up + 1, tail))
    high = 1.0 if up == sown else float(betaincinv(up + 1, sown - up, 1.0 - tail))
    return low, high


def expected_of(share: float) -> Expected:
    """What is expected before any test.  share : 0-1 exclusive, from the kind's age or its storage"""
    share = min(max(share, 0.02), 0.98)
    return Expected(PRIOR_SEEDS * share, PRIOR_SEEDS * (1.0 - share))


def after_test(before: Expected, up: int, sown: int) -> Expected:
    """What is expected after a test: conjugate update of the beta distribution (beta-binomial model).

    >>> round(after_test(Expected(4.0, 4.0), 18, 20).mean, 2)
    0.79
    """
    if sown == 0:
        return before
    _counts(up, sown)
    return Expected(before.a + up, before.b + sown - up)


def _counts(up: int, sown: int) -> None:
    if sown < 1 or not 0 <= up <= sown:
        raise InputError(f"{up} of {sown} seeds came up: expected at least one seed laid out, and no more up than that")


def seeds_for(plants: int, expected: Expected, chance: float = CONFIDENCE) -> int:
    """Fewest seeds that give so many plants with this chance, the packet's germination itself being unsure (beta-binomial)."""
    if plants < 1 or not 0.0 < chance < 1.0:
        raise InputError(
            f"{plants} plants at a chance of {chance:g}: expected at least one plant, and a chance between 0 and 1"
        )
    low, high = plants - 1, 2 * plants
    while _at_least(plants, high, expected) < chance:
        low, high = high, 2 * high
        if high > 1000 * plants:
            raise InputError(
                f"no number of these seeds gives {plants} plants with a chance of {chance:g}: buy fresh seed"
            )
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if _at_least(plants, middle, expected) < chance else (low, middle)
    return high


def _at_least(wanted: int, n: int, e: Expected) -> float:
    """Chance of `wanted` or more out of n by the beta-binomial distribution."""
    whole = (
        math.lgamma(n + 1) + math.lgamma(e.a + e.b) - math.lgamma(e.a) - math.lgamma(e.b) - math.lgamma(n + e.a + e.b)
    )
    fewer = (
        math.exp(whole - math.lgamma(k + 1) - math.lgamma(n - k + 1) + math.lgamma(k + e.a) + math.lgamma(n - k + e.b))
        for k in range(min(wanted, n + 1))
    )
    return 1.0 - math.fsum(fewer)
