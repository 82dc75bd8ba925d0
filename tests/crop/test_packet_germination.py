"""Germination tests: exact intervals against scipy and a published table, the beta-binomial against scipy."""

from __future__ import annotations

import pytest
from scipy import stats

from underglass.crop.packet_germination import Expected, after_test, exact_interval, expected_of, seeds_for
from underglass.errors import InputError

EXACT = [(10, 10, 69, 100), (8, 10, 44, 97), (7, 10, 35, 93), (5, 10, 19, 81), (0, 10, 0, 31), (18, 20, 68, 99), (14, 20, 46, 88), (40, 50, 66, 90), (70, 100, 60, 79)]  # fmt: skip
"""up, sown, lower and upper bound in percent: tables of exact binomial limits (Clopper & Pearson 1934), rounded."""


@pytest.mark.parametrize(("up", "sown", "low", "high"), EXACT)
def test_exact_interval_as_tabled(up: int, sown: int, low: int, high: int) -> None:
    found = exact_interval(up, sown)
    assert [round(100 * v) for v in found] == [low, high]


@pytest.mark.parametrize("sown", [1, 7, 25, 400])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_exact_interval_is_scipy_s(sown: int, confidence: float) -> None:
    for up in {0, 1, sown // 2, sown}:
        theirs = stats.binomtest(up, sown).proportion_ci(confidence, method="exact")
        assert exact_interval(up, sown, confidence) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.parametrize(("plants", "a", "b"), [(1, 4.0, 4.0), (12, 30.0, 5.0), (30, 8.0, 2.0)])
def test_fewest_seeds_by_scipy_s_distribution(plants: int, a: float, b: float) -> None:
    n = seeds_for(plants, Expected(a, b), 0.9)
    assert stats.betabinom.sf(plants - 1, n, a, b) >= 0.9
    assert stats.betabinom.sf(plants - 1, n - 1, a, b) < 0.9


def test_a_sure_packet_takes_what_the_binomial_says() -> None:
    """12 plants at 90 %: 15, 21 and 31 seeds for 0.9, 0.7 and 0.5 (binomial)."""
    assert [seeds_for(12, Expected(1e7 * p, 1e7 * (1 - p))) for p in (0.9, 0.7, 0.5)] == [15, 21, 31]


def test_a_test_moves_and_narrows_what_is_expected() -> None:
    before = expected_of(0.8)
    after = after_test(before, 4, 20)
    assert after.mean < before.mean
    widths = [high - low for low, high in (before.interval(), after.interval())]
    assert widths[1] < widths[0]
    assert after_test(before, 0, 0) == before


@pytest.mark.parametrize(("up", "sown"), [(3, 2), (-1, 5), (0, 0)])
def test_impossible_counts_are_refused(up: int, sown: int) -> None:
    with pytest.raises(InputError):
        exact_interval(up, sown)
