"""When it is too warm for a crop to be worth picking: greens that are bitter or in flower, roots that are woody."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from underglass.plan.candidates import WEEKS

__all__ = ["month_limit_c", "too_warm_days"]

SLACK_K = 2.0
"""How far the mean of a month may pass the table's limit: quality falls over some degrees, not at one (estimate)."""

DAYS = 7 * WEEKS + 400
"""Days after the plan's first day that are told: what is sown last may be picked more than a year on."""


@cache
def _limits() -> Mapping[str, float]:
    """Warmest monthly mean that each crop is grown at [degC]: column knott_max_month_c of crop/data/growth.csv (Knott's Handbook, its source there)."""
    text = (files("underglass.crop") / "data" / "growth.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return {r["crop_id"]: float(r["knott_max_month_c"]) for r in rows if r["knott_max_month_c"]}


def month_limit_c(crop_id: str) -> float | None:
    """Warmest monthly mean in which this crop is still picked, None where no table tells.  [degC]"""
    found = _limits().get(crop_id)
    return None if found is None else found + SLACK_K


def too_warm_days(crop_id: str, month_mean_c: Sequence[float], on: np.datetime64) -> NDArray[np.bool_]:
    """Whether each day after `on` lies in a month that is too warm for this crop, (DAYS,).  month_mean_c : 12 means of the air outside [degC]"""
    limit = month_limit_c(crop_id)
    if limit is None or not len(month_mean_c):
        return np.zeros(DAYS, bool)
    months = (on + np.arange(DAYS)).astype("datetime64[M]").astype(int) % 12
    return np.asarray(np.asarray(month_mean_c)[months] > limit)
