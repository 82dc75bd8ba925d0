"""A mixed-integer programme as plain arrays, built row by row, and its solution by HiGHS."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import UnderglassError

__all__ = ["Programme", "Solution", "gap_of", "loaded", "run", "solve"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]
Better = Callable[[F64], F64]
Step = Callable[[], None]
INFINITE = float("inf")
GAP = 0.02
MOST_BRANCHED = 300
"""Options up to which branch and bound is tried; beyond it the plan found is kept and its gap told."""

MOST_LOOKS = 500
"""Looks of the solver: each brings less than the one before.  Where they end the gap is told as it is; who asks for less than the usual gap
waits for it."""

FEASIBLE = 1e-6


def _nothing() -> None:
    """Nobody waits."""


@dataclass(slots=True)
class Programme:
    """Maximise gain . x  with  low <= x <= high, some x whole numbers, and rows  row_low <= A x <= row_high.

    rows : (columns, factors) of each row;  row_names : what a row stands for, ('area', 'box', 3)
    follows : whole columns that are the least their rows allow once the others are known;  groups : columns by what they are
    """

    gain: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    follows: list[bool] = field(default_factory=list)
    groups: dict[str, I64] = field(default_factory=dict)
    rows: list[tuple[I64, F64]] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    row_names: list[tuple[object, ...]] = field(default_factory=list)

    def add(
        self,
        n: int,
        gain: float | F64,
        low: float = 0.0,
        high: float | F64 = INFINITE,
        *,
        whole: bool = False,
        follows: bool = False,
    ) -> I64:
        """So many new columns; their numbers."""
        start = len(self.gain)
        self.gain += np.broadcast_to(np.asarray(gain, float), n).tolist()
        self.low += [low] * n
        self.high += np.broadcast_to(np.asarray(high, float), n).tolist()
        self.whole += [whole] * n
        self.follows += [follows] * n
        return np.arange(start, start + n)

    def row(
        self,
        name: tuple[object, ...],
        columns: Sequence[int] | I64,
        factors: Sequence[float] | F64,
        low: float,
        high: float,
    ) -> None:
        """One more row.  Columns may repeat nowhere."""
        self.rows.append((np.asarray(columns, np.int64), np.asarray(factors, float)))
        self.row_low.append(low)
        self.row_high.append(high)
        self.row_names.append(name)


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """x (n,): the best found, empty where there is none;  value : gain . x;  gap : share by which a better one might exceed it, 0-1"""

    x: F64
    value: float
    gap: float

    @property
    def feasible(self) -> bool:
        """Whether there is a solution at all."""
        return self.x.size > 0


def solve(
    p: Programme, *, gap: float = GAP, relaxed: bool = False, better: Better | None = None, step: Step = _nothing
) -> Solution:
    """The best within a relative gap.  One thread and a fixed seed: the same programme gives the same answer.

    relaxed : as if all x were real numbers;  better : a local search of the caller's, from whole numbers to better ones, that also
    settles what follows from them;  step : called now and then, may raise to end it
    First the relaxation, whose value no plan exceeds; from it the caller's search, or a dive to whole numbers.  Where that ends too far
    below the bound, branch and bound goes on for a while.
    """
    solver = loaded(p)
    bound = run(solver, p)
    step()
    if relaxed or not any(p.whole) or not bound.feasible:
        return bound
    known = Solution(np.zeros(0), -INFINITE, INFINITE)
    if better is not None:
        known = _completed(solver, p, better(bound.x))
    if not known.feasible:
        known = _dive(loaded(p), p, bound.x, step)
        if known.feasible:
            known = _completed(solver, p, _rounded_up(p, known.x) if better is None else better(known.x))
    if known.feasible and (found := gap_of(known.value, bound.value)) <= gap:
        return Solution(known.x, known.value, found)
    return _branch(p, gap, known, step, known_bound=bound.value)


def _rounded_up(p: Programme, x: F64) -> F64:
    """What follows from whole numbers, as the least that is enough."""
    return np.where(np.array(p.follows), np.ceil(x - FEASIBLE), x)


def _completed(solver: Any, p: Programme, x: F64) -> Solution:
    """The plan with these whole numbers, its other columns at their best."""
    whole = np.flatnonzero(p.whole)
    for j in whole:
        solver.changeColBounds(int(j), float(x[j]), float(x[j]))
    return run(solver, p)


def gap_of(value: float, bound: float) -> float:
    """Share by which a bound exceeds a plan's worth."""
    return max(bound - value, 0.0) / max(abs(value), 1e-9)


def loaded(p: Programme) -> Any:
    """A solver that holds the relaxation."""
    import highspy

    solver = highspy.Highs()
    for option, value in (("output_flag", False), ("threads", 1), ("random_seed", 1)):
        solver.setOptionValue(option, value)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(p.gain), len(p.rows)
    lp.sense_ = highspy.ObjSense.kMaximize
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = np.array(p.gain), np.array(p.low), np.array(p.high)
    lp.row_lower_, lp.row_upper_ = np.array(p.row_low), np.array(p.row_high)
    lengths = np.array([len(c) for c, _ in p.rows], np.int32)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = lp.num_col_, lp.num_row_
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
    lp.a_matrix_.index_ = np.concatenate([c for c, _ in p.rows] or [np.zeros(0, np.int64)]).astype(np.int32)
    lp.a_matrix_.value_ = np.concatenate([f for _, f in p.rows] or [np.zeros(0)])
    solver.passModel(lp)
    return solver


def run(solver: Any, p: Programme) -> Solution:
    """What a solver finds for the columns of a programme, from where it stands."""
    import highspy

    solver.run()
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kOptimal:
        x = np.array(solver.getSolution().col_value)
        return Solution(x, float(np.dot(p.gain, x)), 0.0)
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return Solution(np.zeros(0), -INFINITE, INFINITE)
    raise UnderglassError(
        f"the planner's programme ended with '{solver.modelStatusToString(status)}'; please report it with the household file"
    )


def _dive(solver: Any, p: Programme, x: F64, step: Step) -> Solution:
    """From the relaxation to whole numbers: the eighth of the broken ones nearest to whole is rounded and held, and it is solved again.

    Rounding that leaves no plan is taken back to rounding down.  What only follows from the others stays real.
    """
    low, high = np.array(p.low), np.array(p.high)
    whole = np.array(p.whole) & ~np.array(p.follows)
    found = Solution(x, 0.0, 0.0)
    while found.feasible:
        step()
        free = np.flatnonzero(whole & (high - low > 0.5))
        off = np.abs(found.x[free] - found.x[free].round())
        if (off < FEASIBLE).all():
            x = np.where(whole, found.x.round(), found.x)
            return Solution(x, found.value, 0.0)
        settled = free[(off < FEASIBLE) & (found.x[free] > 0.5)]
        broken = free[np.argsort(off, kind="stable")][int((off < FEASIBLE).sum()) :]
        held = broken[: max(1, len(broken) // 8)]
        before = found.x
        _hold(solver, [*settled, *held], before.round(), low, high)
        found = run(solver, p)
        if not found.feasible:
            _hold(solver, held, np.floor(before + FEASIBLE), low, high)
            found = run(solver, p)
    return found


def _hold(solver: Any, columns: Iterable[int], values: F64, low: F64, high: F64) -> None:
    for j in columns:
        low[j] = high[j] = values[j]
        solver.changeColBounds(int(j), float(values[j]), float(values[j]))


def _branch(p: Programme, gap: float, start: Solution, step: Step, *, known_bound: float) -> Solution:
    """Branch and bound from the best known plan on."""
    import highspy

    solver = loaded(p)
    kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
    columns = np.arange(len(p.whole), dtype=np.int32)
    solver.changeColsIntegrality(len(columns), columns, np.array([int(kinds[w]) for w in p.whole], np.uint8))
    solver.setOptionValue("mip_rel_gap", gap)
    watch = _Watch(step, MOST_LOOKS if gap >= GAP else None)
    solver.cbMipInterrupt.subscribe(watch)
    if start.feasible:
        first = highspy.HighsSolution()
        first.col_value = start.x.tolist()
        solver.setSolution(first)
    solver.run()
    if watch.error is not None:
        raise watch.error
    status = highspy.HighsModelStatus
    if solver.getModelStatus() in (status.kInfeasible, status.kUnboundedOrInfeasible):
        return start
    bound = min(known_bound, float(solver.getInfo().mip_dual_bound))
    x = np.array(solver.getSolution().col_value)
    found = Solution(x, float(np.dot(p.gain, x)), 0.0) if x.size else start
    if start.value > found.value:
        found = start
    return Solution(found.x, found.value, gap_of(found.value, bound)) if found.feasible else found


class _Watch:
    """Called by the solver now and then: passes it on to who waits, and ends after so many rounds.  What was raised is kept: it can't cross."""

    def __init__(self, step: Step, most: int | None) -> None:
        self.step, self.most, self.calls = step, most, 0
        self.error: BaseException | None = None

    def __call__(self, event: Any) -> None:
        self.calls += 1
        try:
            self.step()
        except BaseException as error:
            self.error = error
        if self.error is not None or (self.most is not None and self.calls > self.most):
            event.interrupt()
