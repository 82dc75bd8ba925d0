"""numba's `njit`, taken from here by every compiled loop, so that it loads without what no loop of ours uses.

Before its first function numba loads scipy's linear algebra, a third of a second, to offer matrix products inside compiled code; where that
cannot be imported it goes without.  Loops here use none: it is told so, and scipy itself stays as it is for everybody else.
"""

from __future__ import annotations

import sys

from numba import njit

__all__ = ["njit"]

BLAS = "scipy.linalg.cython_blas"


def _without_matrix_products() -> None:
    if BLAS in sys.modules:
        return
    sys.modules[BLAS] = None  # type: ignore[assignment]  # how Python is told that a module cannot be imported
    try:
        import numba.np.arraymath  # noqa: F401  # asks for it once, here
    finally:
        del sys.modules[BLAS]


_without_matrix_products()
