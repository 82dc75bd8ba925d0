"""`underglass crops`: the catalogue as a list."""

from __future__ import annotations

from underglass.crop.catalogue import catalogue

__all__ = ["run"]


def run() -> None:
    """Print one line a crop."""
    for crop in catalogue().values():
        print(f"{crop.name:32} {crop.latin:42} {crop.hardiness.name}")
