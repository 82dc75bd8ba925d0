"""numba's `njit`, taken from here by every compiled loop: numba is loaded when the first loop runs, and without what no loop of ours uses.

Who runs none, as the server of the pages, goes without the compiler: 70 MB and a third of a second.  And before its first function numba
loads scipy's linear algebra, another third, to offer matrix products inside compiled code; where that cannot be imported it goes without.
Loops here use none: it is told so, and scipy itself stays as it is for everybody else.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from functools import cache
from typing import Any

__all__ = ["njit"]

BLAS = "scipy.linalg.cython_blas"
_lock = threading.RLock()


class _Loop:
    """A function that becomes numba's at its first use; to numba too, which meets it inside other loops, it is its own from then on."""

    def __init__(self, function: Callable[..., Any], options: dict[str, Any]) -> None:
        self._function, self._options = function, options
        self._made: Any = None

    def _numbas(self) -> Any:
        with _lock:
            if self._made is None:
                self._made = _njit()(**self._options)(self._function)
            return self._made

    def __call__(self, *given: Any) -> Any:
        return self._numbas()(*given)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._numbas(), name)


def njit(**options: Any) -> Callable[[Callable[..., Any]], Any]:
    """numba's decorator of the same name, with its options."""
    return lambda function: _Loop(function, options)


@cache
def _njit() -> Any:
    if BLAS not in sys.modules:
        sys.modules[BLAS] = None  # type: ignore[assignment]  # how Python is told that a module cannot be imported
        try:
            import numba.np.arraymath  # asks for it once, here
        finally:
            del sys.modules[BLAS]
    import numba

    return numba.njit
