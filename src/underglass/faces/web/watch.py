"""Whether a notebook was changed since one looked last, by whomever, asked without reading it."""

from __future__ import annotations

import os
import sqlite3
import threading
from pathlib import Path

__all__ = ["Watch"]


class Watch:
    """One connection that stays open and only counts: SQLite tells it when another connection has written."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._db: sqlite3.Connection | None = None
        self._of: tuple[str, int] = ("", 0)

    def state(self, path: Path) -> tuple[str, int, int] | None:
        """Another value after every change; None where there is no such file, or it cannot be watched."""
        with self._lock:
            try:
                of = str(path), os.stat(path).st_ino
                if self._db is None or of != self._of:
                    self._let_go()
                    self._db, self._of = sqlite3.connect(path, check_same_thread=False, isolation_level=None), of
                (count,) = self._db.execute("PRAGMA data_version").fetchone()
            except (OSError, sqlite3.Error):
                self._let_go()
                return None
            return *of, int(count)

    def _let_go(self) -> None:
        if self._db is not None:
            self._db.close()
        self._db = None

    def close(self) -> None:
        """Let the file go, as before it is replaced."""
        with self._lock:
            self._let_go()
