"""The inner loop that finds cuts, compiled: how much of a want whole blocks can meet at most, seen from a plan of broken ones.

What counts of a crop's servings is the least of their sum and a bound.  Over whole blocks that is below straight lines which the sum
alone does not know: with blocks of 0.6 of the bound it is 0.6, then 1, so that one block and two thirds do not fill it.  The lines are
mixed-integer rounding (Nemhauser & Wolsey 1990): for any step d, with q = bound / d and f its broken part,
    counted <= bound - d f (ceil q - sum over blocks of g(v / d) x),   g(u) = floor u + min(1, (u - floor u) / f)
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from underglass.compiled import njit

__all__ = ["Moments", "lines"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

LEAST_BROKEN, MOST_STEPS = 0.01, 60.0
"""Steps that nearly divide a bound, or divide it finely, give lines that differ from the sum by rounding errors alone."""

DIVISORS = 3


class Moments(NamedTuple):
    """Wants in periods of years; m moments, k crops in them, e entries: a crop's option and what one block of it brings then.

    group_at (m + 1,), entry_at (k + 1,) : where each moment's crops, and each crop's entries begin
    option, amount (e,);  cap (m,) : what counts of one crop;  meets, level (m, 3) : columns of the steps of a want, -1: none, and servings
    up to the end of each;  packet (k,) : column of the packets that have to be bought for a crop before any of it is eaten, -1: none
    """

    group_at: I64
    entry_at: I64
    option: I64
    amount: F64
    cap: F64
    meets: I64
    level: F64
    packet: I64


@njit(cache=True)
def _rounded(u: float, f: float) -> float:
    whole = np.floor(u + 1e-9)
    return float(whole + min(1.0, max(u - whole, 0.0) / f))


@njit(cache=True)
def _lowest(k: Moments, start: int, end: int, bound: float, x: F64, factors: F64) -> tuple[float, float]:
    """The lowest line over what counts of some entries, at x: its factors are written, its constant and its value returned."""
    total, most = 0.0, bound
    for e in range(start, end):
        total += min(k.amount[e], bound) * x[k.option[e]]
    best, step = min(total, bound), 0.0
    for chosen in range(start, end):
        if x[k.option[chosen]] < 1e-6:
            continue
        for divisor in range(1, DIVISORS + 1):
            d = min(k.amount[chosen], bound) / divisor
            if d <= 1e-9:
                continue
            q = bound / d
            f = q - np.floor(q)
            if f < LEAST_BROKEN or f > 1.0 - LEAST_BROKEN or q > MOST_STEPS:
                continue
            value = bound - d * f * np.ceil(q)
            for e in range(start, end):
                if x[k.option[e]] > 0.0:
                    value += d * f * _rounded(min(k.amount[e], bound) / d, f) * x[k.option[e]]
            if value < best - 1e-9:
                best, step = value, d
    if step > 0.0:
        q = bound / step
        f = q - np.floor(q)
        most = bound - step * f * np.ceil(q)
        for e in range(start, end):
            factors[e] = step * f * _rounded(min(k.amount[e], bound) / step, f)
    elif total < bound:
        most = 0.0
        for e in range(start, end):
            factors[e] = min(k.amount[e], bound)
    else:
        factors[start:end] = 0.0
    return most, best


@njit(cache=True, nogil=True)
def lines(k: Moments, x: F64, factors: F64, bought: F64, most: F64, beyond: F64) -> None:
    """For each moment and step: the lowest line over what whole blocks meet, and by how much x lies beyond it.

    x : columns of the programme;  factors (3, e), bought (3, k), most (3, m), beyond (3, m): written; beyond is a distance
    """
    of_all = np.empty(len(k.option))
    for m in range(len(k.cap)):
        start, end = k.entry_at[k.group_at[m]], k.entry_at[k.group_at[m + 1]]
        met = 0.0
        for level in range(3):
            beyond[level, m] = 0.0
            if k.meets[m, level] < 0:
                continue
            met += x[k.meets[m, level]]
            if met <= 1e-9:
                continue
            bound = k.level[m, level]
            most[level, m], value = 0.0, 0.0
            for group in range(k.group_at[m], k.group_at[m + 1]):
                first, last = k.entry_at[group], k.entry_at[group + 1]
                counts = min(bound, k.cap[m])
                part, at_x = _lowest(k, first, last, counts, x, factors[level])
                bought[level, group] = 0.0
                if (
                    k.packet[group] >= 0 and counts * x[k.packet[group]] < at_x - 1e-9
                ):  # a broken packet feeds no more than its share
                    factors[level, first:last] = 0.0
                    part, at_x = 0.0, counts * x[k.packet[group]]
                    bought[level, group] = counts
                most[level, m] += part
                value += at_x
            part, at_x = _lowest(k, start, end, bound, x, of_all)
            if at_x < value - 1e-9:
                most[level, m], value = part, at_x
                factors[level, start:end] = of_all[start:end]
                bought[level, k.group_at[m] : k.group_at[m + 1]] = 0.0
            norm = level + 1.0
            for group in range(k.group_at[m], k.group_at[m + 1]):
                norm += bought[level, group] ** 2
            for e in range(start, end):
                norm += factors[level, e] ** 2
            beyond[level, m] = (met - value) / np.sqrt(norm)
