"""Which years of weather choose a plan and which only judge it, so that what is promised was not picked for being lucky.

A plan is chosen for how well it did in some years, so that in those it looks better than it is; what is told of it comes from
the others.  Too few years can't be parted: then all do both, and the answer says so.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["choosing", "judging", "quantiles"]

LEAST_TO_PART = 16
"""Below so many years each half would hold too few for one year in ten."""


def choosing(n_years: int) -> NDArray[np.int64]:
    """Numbers of the years that a plan is chosen on: every other one, or all where they are few."""
    return np.arange(0, n_years, 1 if n_years < LEAST_TO_PART else 2)


def judging(n_years: int) -> NDArray[np.int64]:
    """Numbers of the years that a plan is judged on."""
    return np.arange(n_years) if n_years < LEAST_TO_PART else np.arange(1, n_years, 2)


def quantiles(values: NDArray[np.float64], shares: tuple[float, ...] = (0.1, 0.5, 0.9)) -> NDArray[np.float64]:
    """Values that a further year stays below with these chances, over the first axis.

    Of n years of equal right a further one falls below the k-th smallest with chance k / (n + 1) (Weibull's plotting position); the
    usual interpolation between the least and the greatest promises too much at both ends.
    """
    return np.asarray(np.quantile(values, shares, axis=0, method="weibull"))
