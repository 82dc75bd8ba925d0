"""A plan made better by small steps: one block more, one less, or one in place of another, as long as that brings something.

The worth of given blocks follows without a programme: wants are met up to their caps, the years are summed, the worst fifth weighs more.
The same worth as in optimise.py, computed another way; a test holds the two against each other.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from underglass.plan.optimise import PERIODS, TAIL, Task, amounts, block_costs, crop_cap, later, steps, target, weeks_of
from underglass.plan.programme import Programme

__all__ = ["Worth", "polisher"]

F64 = NDArray[np.float64]

LEAST_GAIN = 1e-6
MOST_SWEEPS = 4


class Worth:
    """What blocks are worth.  amount (options, years, periods): servings of one block"""

    def __init__(self, task: Task) -> None:
        self.amount = amounts(task)
        self.risk, self.costs = task.wishes.risk, block_costs(task)
        names = [c for w in task.wants for c in w.crops]
        self.crop = np.array([names.index(o.crop.id) for o in task.options])
        self.want_of_crop = np.array([k for k, w in enumerate(task.wants) for _ in w.crops])
        lengths = np.array([weeks_of(t) for t in range(len(PERIODS) - 1)])
        self.caps = np.array([crop_cap(w) if len(w.crops) >= 3 else 1e9 for w in task.wants])[:, None] * lengths
        self.half = np.array([target(w) / 2.0 for w in task.wants])[:, None] * lengths
        worth = np.array([[value for value, _ in steps(w)] + [0.0] * (3 - len(steps(w))) for w in task.wants])
        most = np.array([(steps(w)[2][1] if len(steps(w)) > 2 else 0.0) for w in task.wants])
        self.beyond = most[:, None] * lengths
        self.value = worth[:, :, None] * np.array([later(t) for t in range(len(lengths))])

    def _of_want(self, total: F64, want: NDArray[np.int64]) -> F64:
        """Worth of totals (k, years, periods) of wants (k,), summed over periods; shape (k, years)."""
        half, value = self.half[want][:, None], self.value[want]
        first = np.minimum(total, half)
        second = np.clip(total - half, 0.0, half)
        more = np.clip(total - 2.0 * half, 0.0, self.beyond[want][:, None])
        return np.asarray(
            (first * value[:, None, 0] + second * value[:, None, 1] + more * value[:, None, 2]).sum(axis=2)
        )

    def served(self, blocks: F64) -> tuple[F64, F64]:
        """Servings of each crop, and what of them counts towards each want; (crops, years, periods), (wants, years, periods)."""
        shape = self.amount.shape[1:]
        crops, wants = np.zeros((len(self.want_of_crop), *shape)), np.zeros((len(self.half), *shape))
        active = np.flatnonzero(blocks)
        np.add.at(crops, self.crop[active], blocks[active, None, None] * self.amount[active])
        np.add.at(wants, self.want_of_crop, np.minimum(crops, self.caps[self.want_of_crop][:, None]))
        return crops, wants

    def combine(self, by_year: F64) -> F64:
        """Mean and mean of the worst fifth over the last axis, weighed by the risk."""
        n = by_year.shape[-1]
        weights = np.clip(TAIL * n - np.arange(n), 0.0, 1.0) / (TAIL * n)
        return np.asarray(
            (1.0 - self.risk) * by_year.mean(axis=-1) + self.risk * (np.sort(by_year, axis=-1) * weights).sum(axis=-1)
        )

    def by_year(self, blocks: F64) -> F64:
        """Worth of what is eaten in each year, costs aside."""
        wants = self.served(blocks)[1]
        return np.asarray(self._of_want(wants, np.arange(len(wants))).sum(axis=0))

    def of(self, blocks: F64) -> float:
        """Worth of a plan."""
        return float(self.combine(self.by_year(blocks)) - self.costs @ blocks)

    def with_one_more(self, blocks: F64, options: NDArray[np.int64]) -> F64:
        """Worth of the plan with one block more of each of these options."""
        crops, wants = self.served(blocks)
        by_want = self._of_want(wants, np.arange(len(wants)))
        crop, want = self.crop[options], self.want_of_crop[self.crop[options]]
        caps = self.caps[want][:, None]
        extra = np.minimum(crops[crop] + self.amount[options], caps) - np.minimum(crops[crop], caps)
        change = self._of_want(wants[want] + extra, want) - by_want[want]
        return self.combine(by_want.sum(axis=0) + change) - self.costs @ blocks - self.costs[options]


def _limits(p: Programme, n: int) -> tuple[F64, F64, F64]:
    """The rows that only blocks stand in: their factors (rows, n) and bounds."""
    own = [k for k, (columns, _) in enumerate(p.rows) if len(columns) and columns.max() < n]
    factors = np.zeros((len(own), n))
    for r, k in enumerate(own):
        factors[r, p.rows[k][0]] = p.rows[k][1]
    return factors, np.array([p.row_low[k] for k in own]), np.array([p.row_high[k] for k in own])


def polisher(task: Task, p: Programme) -> Callable[[F64], F64]:
    """A search that takes columns of the programme and gives better ones.  With a seed budget or an earlier plan it changes nothing."""
    n = len(task.options)
    if task.wishes.seed_budget is not None or task.kept:
        return lambda x: x
    worth, (factors, low, high) = Worth(task), _limits(p, n)
    most, least = np.array(p.high[:n]), np.array(p.low[:n])

    def fitting(blocks: F64) -> NDArray[np.int64]:
        """Options of which one block more fits."""
        after = (factors @ blocks)[:, None] + factors
        return np.flatnonzero((after <= high[:, None] + 1e-7).all(axis=0) & (blocks < most))

    def swapped(blocks: F64, i: int | None) -> F64:
        """The best plan with a block of i taken out (None: of nothing) and perhaps one other put in."""
        base = blocks.copy()
        if i is not None:
            base[i] -= 1.0
            if base[i] < least[i] or (factors @ base < low - 1e-7).any():
                return blocks
        known, alone = worth.of(blocks), worth.of(base)
        options = fitting(base)
        gains = worth.with_one_more(base, options) if options.size else np.zeros(0)
        if gains.size and gains.max() > max(known, alone) + LEAST_GAIN:
            base[options[int(np.argmax(gains))]] += 1.0
            return base
        return base if alone > known + LEAST_GAIN else blocks

    def better(x: F64) -> F64:
        blocks = x[:n].round()
        for _ in range(MOST_SWEEPS):
            before = worth.of(blocks)
            while (more := swapped(blocks, None)) is not blocks:
                blocks = more
            for i in np.flatnonzero(blocks):
                if blocks[i] > 0.0:
                    blocks = swapped(blocks, int(i))
            if worth.of(blocks) < before + 1e-4 * abs(before):
                break
        return np.concatenate([blocks, x[n:]])

    return better
