"""The year's plan as the pages have it: the kept one, and the work that makes it anew."""

from __future__ import annotations

from underglass.faces.web.desk import Desk

__all__ = ["plants_wanted"]


def plants_wanted(desk: Desk) -> dict[str, int]:
    """Plants by crop of the kept plan, none where there is no plan."""
    return {}
