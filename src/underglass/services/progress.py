"""How slow work tells that it goes on: a callback with the share done and what is being done."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["Progress", "silent"]

Progress = Callable[[float, str], None]
"""Called with a share 0-1 and a few words."""


def silent(share: float, doing: str) -> None:
    """Nobody watches."""
