"""A plan made better by small steps: one block more, one less, or one in place of another, as long as that brings something.

The worth of given blocks follows without a programme: wants are met up to their caps, the years are summed, the worst fifth weighs more.
The same worth as in optimise.py, computed another way; a test holds the two against each other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue
from underglass.plan.optimise import (
    KEPT_SERVINGS,
    PERIODS,
    TAIL,
    Task,
    amounts,
    block_costs,
    crop_cap,
    later,
    packet_price,
    steps,
    target,
    weeks_of,
)
from underglass.plan.programme import INFINITE, Programme, Step
from underglass.plan.search_kernel import Terms, climbed, fresh_copy, fresh_state, searched
from underglass.plan.work import figures

__all__ = ["Search", "Worth"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

ROUNDS, ROUNDS_A_STEP = 600, 50
"""How often a part of the plan is taken out and filled up again, and how often between two words to who waits."""

MOST_SLACK = 0.001
"""Share of its worth that a plan may lose at first on the way to a better one; it shrinks to nothing."""


def _with(blocks: F64, j: int, change: float) -> F64:
    out = blocks.copy()
    out[j] += change
    return out


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
        self.extras = _Extras(task)

    def _of_want(self, total: F64, want: I64) -> F64:
        """Worth of totals (k, years, periods) of wants (k,), summed over periods; shape (k, years)."""
        half, value = self.half[want][:, None], self.value[want]
        first = np.minimum(total, half)
        second = np.clip(total - half, 0.0, half)
        more = np.clip(total - 2.0 * half, 0.0, self.beyond[want][:, None])
        return np.asarray(
            np.einsum("kyt,kt->ky", first, value[:, 0]) + np.einsum("kyt,kt->ky", second, value[:, 1])
            + np.einsum("kyt,kt->ky", more, value[:, 2])
        )  # fmt: skip

    def served(self, blocks: F64) -> tuple[F64, F64]:
        """Servings of each crop, and what of them counts towards each want; (crops, years, periods), (wants, years, periods)."""
        shape = self.amount.shape[1:]
        crops, wants = np.zeros((len(self.want_of_crop), *shape)), np.zeros((len(self.half), *shape))
        for j in np.flatnonzero(blocks):
            crops[self.crop[j]] += blocks[j] * self.amount[j]
        for c, want in enumerate(self.want_of_crop):
            wants[want] += np.minimum(crops[c], self.caps[want])
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
        return float(self.combine(self.by_year(blocks)) - self.costs @ blocks) + self.extras.of(blocks)

    def with_one_more(self, blocks: F64, options: I64) -> F64:
        """Worth of the plan with one block more of each of these options."""
        crops, wants = self.served(blocks)
        by_want = self._of_want(wants, np.arange(len(wants)))
        crop, want = self.crop[options], self.want_of_crop[self.crop[options]]
        caps = self.caps[want][:, None]
        extra = np.minimum(crops[crop] + self.amount[options], caps) - np.minimum(crops[crop], caps)
        change = self._of_want(wants[want] + extra, want) - by_want[want]
        eaten = self.combine(by_want.sum(axis=0) + change) - self.costs @ blocks - self.costs[options]
        return np.asarray(eaten + self.extras.with_one_more(blocks, options))


class _Extras:
    """What does not depend on weather: kept blocks, new kinds."""

    def __init__(self, task: Task) -> None:
        attention = figures()["attention"]
        self.kept = np.zeros(len(task.options))
        for j, blocks in task.kept:
            self.kept[j] = blocks
        ids = np.array([o.crop.id for o in task.options])
        self.new_worth = float(attention["new_servings"])
        self.most_new = task.wishes.new_a_season
        self.news = [(np.flatnonzero(ids == c), season) for c, season in task.news.items()]

    def of(self, blocks: F64) -> float:
        """Extra worth of blocks."""
        value = KEPT_SERVINGS * float(np.minimum(blocks, self.kept).sum())
        tried = [season for js, season in self.news if (blocks[js] > 0.0).any()]
        return value + self.new_worth * sum(min(self.most_new, tried.count(q)) for q in range(4))

    def with_one_more(self, blocks: F64, options: I64) -> F64:
        """Extra worth with one block more of each of these options."""
        return np.array([self.of(_with(blocks, int(j), 1.0)) for j in options])


class Search:
    """Small steps through plans that keep the programme's limits.  most : blocks of each option at most, less where something is forbidden"""

    def __init__(self, task: Task, p: Programme) -> None:
        self.n = n = len(task.options)
        self.task, self.worth, self.p = task, Worth(task), p
        self.most, self.least = np.array(p.high[:n]), np.array(p.low[:n])
        self._rows(p)
        self._packets(task)

    def _rows(self, p: Programme) -> None:
        """The rows that only blocks stand in: their factors (rows, n) and bounds."""
        own = [k for k, (columns, _) in enumerate(p.rows) if len(columns) and columns.max() < self.n]
        self.factors = np.zeros((len(own), self.n))
        for r, k in enumerate(own):
            self.factors[r, p.rows[k][0]] = p.rows[k][1]
        self.low, self.high = np.array([p.row_low[k] for k in own]), np.array([p.row_high[k] for k in own])

    def _packets(self, task: Task) -> None:
        self.budget = task.wishes.seed_budget if "packets" in self.p.groups else None
        self.bought = list(dict.fromkeys(o.crop.id for o in task.options if not o.standing))
        self.seeds = np.zeros((len(self.bought), self.n))
        crops = {o.crop.id: o.crop for o in task.options}
        for j, o in enumerate(task.options):
            if not o.standing:
                self.seeds[self.bought.index(o.crop.id), j] = o.seeds()
        self.on_hand = np.array([float(task.on_hand.get(c, 0)) for c in self.bought])
        self.full = np.array([float(crops[c].kitchen.packet_seeds) for c in self.bought])

    def packets(self, blocks: F64) -> F64:
        """Packets to buy of each crop."""
        return np.asarray(np.ceil(np.clip(self.seeds @ blocks - self.on_hand, 0.0, None) / self.full - 1e-9))

    def fits(self, blocks: F64) -> bool:
        """Whether a plan keeps all limits."""
        use = self.factors @ blocks
        return bool((use <= self.high + 1e-7).all() and (use >= self.low - 1e-7).all()) and self._affordable(blocks)

    def _affordable(self, blocks: F64) -> bool:
        return self.budget is None or float(self.packets(blocks).sum()) * packet_price() <= self.budget + 1e-9

    def repaired(self, blocks: F64) -> F64:
        """A plan that rounding left beyond a limit: decided sowings put in, then those taken out that are worth least until it keeps all."""
        blocks = self._with_decided(np.minimum(blocks, self.most))
        while not self.fits(blocks):
            use = self.factors @ blocks
            over = use > self.high + 1e-7
            guilty = (self.factors[over] > 0.0).any(axis=0)
            if not self._affordable(blocks):
                guilty |= self.seeds[self.packets(blocks) > 0.0].any(axis=0)
            js = np.flatnonzero((blocks > self.least) & guilty)
            if not js.size:
                return blocks
            out = [_with(blocks, int(j), -1.0) for j in js]
            kept = [b for b in out if (self.factors @ b >= self.low - 1e-7).all()]
            if not kept:
                return blocks
            blocks = max(kept, key=self.worth.of)
        return blocks

    def _with_decided(self, blocks: F64) -> F64:
        """The plan with what its limits ask for at least, of each the sowing that is worth most."""
        blocks = np.maximum(blocks, self.least)
        for row, low in zip(self.factors, self.low, strict=True):
            while row @ blocks < low - 1e-7:
                js = np.flatnonzero((row > 0.0) & (blocks < self.most))
                if not js.size:
                    return blocks
                blocks = _with(blocks, int(js[self.worth.with_one_more(blocks, js).argmax()]), 1.0)
        return blocks

    def better(self, blocks: F64, step: Step = lambda: None, rounds: int = ROUNDS) -> F64:
        """Steps until none helps; then parts are taken out and filled up again, kept where that helps."""
        terms, parts = self.terms(), -(-rounds // ROUNDS_A_STEP)
        state = fresh_state(terms, blocks)
        worth = record = self.worth.of(blocks) + climbed(terms, state)
        best = fresh_copy(state)
        for part in range(parts):
            step()
            slack = MOST_SLACK * abs(record) * (1.0 - (part + 1) / parts)
            worth, record = searched(terms, state, best, worth, record, ROUNDS_A_STEP, slack, 7919 * (part + 1))
        climbed(terms, best)
        return np.asarray(best.blocks.round())

    def terms(self) -> Terms:
        """All that the compiled search is told."""
        worth, task = self.worth, self.task
        some = worth.amount.sum(axis=1) > 0.0
        periods = some.shape[1]
        start = np.where(some.any(axis=1), some.argmax(axis=1), 0)
        end = np.where(some.any(axis=1), periods - some[:, ::-1].argmax(axis=1), 0)
        names = [c for w in task.wants for c in w.crops]
        season = np.full(len(names), -1, np.int64)
        for c, q in task.news.items():
            season[names.index(c)] = q
        bounded = np.isfinite(self.high) | np.isfinite(self.low)
        factors = self.factors[bounded]
        used, rows = np.nonzero(factors.T)
        beds = list(task.area_m2)
        weeks = np.array([task.bed_weeks(o.candidate) for o in task.options], np.int64).reshape(-1, 2)
        return Terms(
            np.ascontiguousarray(worth.amount), start.astype(np.int64), end.astype(np.int64), worth.crop.astype(np.int64),
            worth.want_of_crop.astype(np.int64), worth.caps, worth.half, worth.beyond, np.ascontiguousarray(worth.value),
            worth.risk, TAIL, worth.costs, worth.extras.kept, KEPT_SERVINGS, season, worth.extras.new_worth, worth.extras.most_new,
            np.searchsorted(used, np.arange(self.n + 1)).astype(np.int64), rows.astype(np.int64), factors.T[used, rows],
            self.high[bounded], self.low[bounded], self.most, self.least,
            np.array([0.0 if o.standing else float(o.seeds()) for o in task.options]),
            np.array([float(task.on_hand.get(c, 0)) for c in names]),
            np.array([float(catalogue()[c].kitchen.packet_seeds) for c in names]),
            packet_price(), INFINITE if self.budget is None else self.budget,
            np.array([beds.index(o.candidate.route.grown_in) for o in task.options]), weeks[:, 0].copy(), weeks[:, 1].copy(),
        )  # fmt: skip
