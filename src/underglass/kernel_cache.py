"""Where compiled kernels are kept: one folder for each state of their sources.

Numba's cache notices a change in a kernel's own file, not in the files that it calls into; a folder named by a hash of all of them can't
go stale.  Set before numba is imported; NUMBA_CACHE_DIR of the person's own is left alone.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import platformdirs

__all__ = ["use_kernel_cache"]

SOURCES = ("compiled.py", "shelter/*.py", "crop/*.py", "weather/*.py", "plan/*_kernel.py")


def use_kernel_cache() -> None:
    """Point numba to the folder of these sources, unless the person chose one."""
    if "NUMBA_CACHE_DIR" in os.environ:
        return
    digest = hashlib.sha256()
    for some in SOURCES:
        for path in sorted(Path(__file__).parent.glob(some)):
            digest.update(path.read_bytes())
    base = os.environ.get("UNDERGLASS_CACHE") or str(platformdirs.user_cache_path("underglass"))
    os.environ["NUMBA_CACHE_DIR"] = str(Path(base) / f"kernels-{digest.hexdigest()[:16]}")
