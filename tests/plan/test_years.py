"""Years that choose and years that judge: no year does both, and a further year stays below a quantile as often as it says."""

from __future__ import annotations

import numpy as np
import pytest

from underglass.plan.optimise import sample_years
from underglass.plan.years import LEAST_TO_PART, choosing, judging, quantiles


@pytest.mark.parametrize("n", [16, 17, 30, 61])
def test_no_year_chooses_and_judges(n: int) -> None:
    assert not set(choosing(n)) & set(judging(n))
    assert set(choosing(n)) | set(judging(n)) == set(range(n))
    assert set(sample_years(n)) <= set(choosing(n))


def test_few_years_do_both() -> None:
    n = LEAST_TO_PART - 1
    assert choosing(n).tolist() == judging(n).tolist() == list(range(n))


@pytest.mark.parametrize("n", [15, 30])
def test_a_further_year_reaches_what_is_told_as_often_as_said(n: int) -> None:
    """The usual interpolation would be reached by 86 to 88 years in a hundred instead of 90."""
    rng = np.random.default_rng(1)
    values, further = rng.gamma(4.0, size=(n, 20000)), rng.gamma(4.0, size=20000)
    reached = [(further >= q).mean() for q in quantiles(values)]
    assert reached == pytest.approx([0.9, 0.5, 0.1], abs=0.012)
    usual = (further >= np.quantile(values, 0.1, axis=0)).mean()
    assert usual < 0.89
