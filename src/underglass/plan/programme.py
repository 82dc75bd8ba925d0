"""A mixed-integer programme as plain arrays, built row by row, and its relaxation by HiGHS."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.errors import UnderglassError

__all__ = ["Programme", "Solution", "gap_of", "loaded", "relaxed", "run"]

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]
Step = Callable[[], None]
INFINITE = float("inf")
GAP = 0.02
"""Share by which a better plan might exceed the one that is found: it is looked for until it is so near."""


@dataclass(slots=True)
class Programme:
    """Maximise gain . x  with  low <= x <= high, some x whole numbers, and rows  row_low <= A x <= row_high.

    rows : (columns, factors) of each row;  row_names : what a row stands for, ('area', 'box', 3);  groups : columns by what they are
    """

    gain: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
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
    ) -> I64:
        """So many new columns; their numbers."""
        start = len(self.gain)
        self.gain += np.broadcast_to(np.asarray(gain, float), n).tolist()
        self.low += [low] * n
        self.high += np.broadcast_to(np.asarray(high, float), n).tolist()
        self.whole += [whole] * n
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


def relaxed(p: Programme) -> Solution:
    """The best as if all x were real numbers, which nothing exceeds."""
    return run(loaded(p), p)


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
