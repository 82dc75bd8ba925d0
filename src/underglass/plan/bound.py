"""What no plan of whole blocks can exceed: a relaxation of the year's programme, lowered by cuts until it is near enough to a plan.

The programme itself (optimise.py) bounds what counts of each crop in each period of each sampled year by a row of its own; thousands of rows, of
which few bind.  Here they are left out, and come in as cuts where a plan of broken blocks goes beyond what whole ones can meet.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from underglass.plan.cuts_kernel import Moments, lines
from underglass.plan.optimise import Moment, Task, build, crop_cap, first_packets, steps, weeks_of
from underglass.plan.programme import INFINITE, Programme, Step, loaded, run

__all__ = ["Bound"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

MOST_CUTS = 1500
"""Cuts that come in at once, those that cut deepest first."""

LEAST_BEYOND = 1e-3
"""How far a plan must lie beyond a cut for it to come in."""

SETTLED = 3e-4
"""Share of the bound that a round must take off for another to be worth while."""

BIG = 1e18


class Bound:
    """The relaxation with the cuts found so far.

    programme : what it relaxes, all limits that only blocks stand in included;  solver : holds it with the cuts;  feasible : whether there is any plan
    value : what no plan exceeds;  x : columns, blocks of each option first
    """

    def __init__(self, task: Task) -> None:
        seen: list[tuple[Moment, I64]] = []

        def summed(p: Programme, moment: Moment) -> I64:
            meets = _summed(p, moment)
            seen.append((moment, meets))
            return meets

        self.programme = build(task, meet=summed)
        self._moments = _moments(task, self.programme, seen)
        self.solver = loaded(self.programme)
        self._solve()

    def _solve(self) -> None:
        found = run(self.solver, self.programme)
        self.feasible, self.value, self.x = found.feasible, found.value, found.x

    def settle(self, step: Step) -> None:
        """Rounds of cuts as long as they bring something.  step : called after each"""
        before = INFINITE
        while self.value < before - SETTLED * abs(self.value):
            before = self.value
            if not self.lower():
                return
            step()

    def lower(self) -> bool:
        """One round of cuts; whether there were any."""
        if not self.cut(self.x):
            return False
        self._solve()
        return True

    def cut(self, x: F64) -> int:
        """Cuts that a plan of columns x lies beyond come in; their number.  For whole blocks they say exactly what counts."""
        k = self._moments
        factors, bought = np.zeros((3, len(k.option))), np.zeros((3, len(k.packet)))
        most, beyond = np.zeros((3, len(k.cap))), np.zeros((3, len(k.cap)))
        lines(k, x, factors, bought, most, beyond)
        deepest = np.argsort(-beyond, axis=None, kind="stable")[:MOST_CUTS]
        cuts = [(int(i) // len(k.cap), int(i) % len(k.cap)) for i in deepest if beyond.flat[i] > LEAST_BEYOND]
        for level, m in cuts:
            entries = slice(k.entry_at[k.group_at[m]], k.entry_at[k.group_at[m + 1]])
            used = factors[level, entries] > 0.0
            meets = k.meets[m, : level + 1]
            groups = slice(k.group_at[m], k.group_at[m + 1])
            paid = bought[level, groups] > 0.0
            columns = np.concatenate([meets, k.option[entries][used], k.packet[groups][paid]]).astype(np.int32)
            each = np.concatenate([np.ones(len(meets)), -factors[level, entries][used], -bought[level, groups][paid]])
            self.solver.addRow(-INFINITE, float(most[level, m]), len(columns), columns, each)
        return len(cuts)


def _summed(p: Programme, moment: Moment) -> I64:
    """One want in one period of one year: what counts is at most the sum of what there is, of each block no more than counts of its crop."""
    want, weeks = moment.want, weeks_of(moment.t)
    meets = p.add(len(steps(want)), 0.0, 0.0, weeks * np.array([most for _, most in steps(want)]))
    js, values = (np.concatenate(parts) for parts in zip(*moment.there.values(), strict=True))
    most = np.minimum(values, weeks * crop_cap(want))
    name = ("want", want.label, moment.s, moment.t)
    p.row(name, np.concatenate([meets, js]), np.concatenate([np.ones(len(meets)), -most]), -INFINITE, 0.0)
    return meets


def _moments(task: Task, p: Programme, seen: Sequence[tuple[Moment, I64]]) -> Moments:
    parts: list[tuple[I64, F64]] = [there for moment, _ in seen for there in moment.there.values()]
    packets = first_packets(task, p)
    meets, level = np.full((len(seen), 3), -1, np.int64), np.full((len(seen), 3), BIG)
    for i, (moment, columns) in enumerate(seen):
        each = weeks_of(moment.t) * np.array([most for _, most in steps(moment.want)])
        meets[i, : len(columns)], level[i, : len(columns)] = columns, np.cumsum(each)
    return Moments(
        np.concatenate([[0], np.cumsum([len(m.there) for m, _ in seen])]).astype(np.int64),
        np.concatenate([[0], np.cumsum([len(js) for js, _ in parts])]).astype(np.int64),
        np.concatenate([js for js, _ in parts] or [np.zeros(0, np.int64)]),
        np.concatenate([values for _, values in parts] or [np.zeros(0)]),
        np.array([weeks_of(m.t) * crop_cap(m.want) for m, _ in seen]),
        meets,
        level,
        np.array([packets.get(c, -1) for m, _ in seen for c in m.there], np.int64),
    )
