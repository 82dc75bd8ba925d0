"""Whole blocks: branch and bound over the relaxation with its cuts, by HiGHS, until the plan known is near enough to what no plan exceeds.

The relaxation counts too much for whole blocks here and there, as not every row of the programme is in it.  So each whole plan found on the way is
handed over to be counted rightly and made better, and one that was counted too much brings its cuts in before the solver goes on.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.plan.bound import Bound
from underglass.plan.programme import Programme, Step, loaded

__all__ = ["branch", "possible"]

F64 = NDArray[np.float64]
Found = Callable[[F64], float]

MOST_WORK = 60_000
"""Looks of the solver times options: each look brings less than the one before, and takes as long as there are options.  Where they end the gap is
told as it is; who asks for less than the usual gap waits for it."""

MOST_CUTTINGS = 40
"""How often a whole plan that counts too much brings in its cuts."""

OWN_GAP = 0.1
"""The solver's own gap as a share of ours: its plans count too much, so that it must not stop by them."""


def branch(bound: Bound, found: Found, known: float, gap: float, step: Step, looks: int | None) -> None:
    """Lowers the bound until the best plan known is within the gap, or for so many looks (None: however many).

    found : takes the columns of a whole plan, gives back the worth of the best plan known;  known : that worth to begin with
    step : called at each look, may raise to end it
    """
    solver, watch = bound.solver, _Watch(bound, found, known, gap, step, looks)
    _whole(solver, bound.programme)
    solver.setOptionValue("mip_rel_gap", OWN_GAP * gap)
    solver.cbMipInterrupt.subscribe(watch.look)
    solver.cbMipImprovingSolution.subscribe(watch.take)
    for _ in range(MOST_CUTTINGS):
        solver.clearSolver()  # else it first completes the relaxed x, and tells bounds of that as if they were of all plans
        solver.run()
        if watch.error is not None:
            raise watch.error
        x = np.array(solver.getSolution().col_value)
        bound.value = min(bound.value, float(solver.getInfo().mip_dual_bound))
        if watch.enough() or watch.tired() or x.size == 0 or not bound.cut(x):
            return


def possible(p: Programme) -> bool:
    """Whether any whole numbers keep all rows."""
    import highspy

    solver = loaded(p)
    _whole(solver, p)
    solver.setOptionValue("mip_max_improving_sols", 1)
    solver.run()
    return bool(solver.getInfo().primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible)


def _whole(solver: Any, p: Programme) -> None:
    import highspy

    columns = np.flatnonzero(p.whole).astype(np.int32)
    solver.changeColsIntegrality(
        len(columns), columns, np.full(len(columns), int(highspy.HighsVarType.kInteger), np.uint8)
    )


class _Watch:
    """Called by the solver now and then.  What is raised meanwhile is kept: it cannot cross the solver."""

    def __init__(self, bound: Bound, found: Found, known: float, gap: float, step: Step, looks: int | None) -> None:
        self.bound, self.found, self.known, self.gap = bound, found, known, gap
        self.step, self.looks, self.seen = step, looks, 0
        self.error: BaseException | None = None

    def enough(self) -> bool:
        return self.bound.value <= self.known + self.gap * abs(self.known)

    def tired(self) -> bool:
        return self.looks is not None and self.seen > self.looks

    def look(self, event: Any) -> None:
        self.seen += 1
        self._guarded(self.step)
        self.bound.value = min(self.bound.value, float(event.data_out.mip_dual_bound))
        if self.error is not None or self.enough() or self.tired():
            event.interrupt()

    def take(self, event: Any) -> None:
        x = np.array(event.data_out.mip_solution)
        self._guarded(lambda: self._take(x))

    def _take(self, x: F64) -> None:
        self.known = max(self.known, self.found(x))

    def _guarded(self, work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as error:
            self.error = error
