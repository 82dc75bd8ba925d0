"""The guide's thresholds, from data/thresholds.toml."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["Thresholds", "thresholds"]


@dataclass(frozen=True, slots=True)
class Thresholds:
    """See data/thresholds.toml for what each one means and why it is so."""

    good: float
    careful: float
    worth: float
    as_good: float
    slow: float
    brisk: float
    soon_days: int
    survive: float
    ahead_days: int
    night_slack_k: float
    hardened: float


@cache
def thresholds() -> Thresholds:
    """All thresholds, loaded once."""
    table = tomllib.loads((files("underglass.plan") / "data" / "thresholds.toml").read_text(encoding="utf-8"))
    return Thresholds(**table["chance"], **table["window"], **table["set_out"])
