"""The story of one sowing: what happened to it in each year, which days and hours decided, and the numbers behind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underglass.crop.drivers import ShelterDays, crop_days
from underglass.crop.fate import LEAF_MAX, LEAF_MIN, LIGHT, fate_rule, fates, toughness
from underglass.crop.hardiness import kill_temp_c
from underglass.crop.outcome import WORDS, Fate
from underglass.crop.types import Crop
from underglass.plan.outlook import sow_indices
from underglass.plan.outlook_types import Route
from underglass.plan.setout import safe_days
from underglass.sun.daylength import day_length_h

__all__ = ["Ending", "Story", "tell"]


@dataclass(frozen=True, slots=True)
class Ending:
    """One way in which the sowing ended.

    cause, years; earliest, middle, latest : date (of the sowing's own year) and hour: commonest hour of the local day that decided
    leaf_c : leaf temperature of the deciding day, middle and worst over the years [degC], None where it did not decide
    """

    cause: str
    years: int
    earliest: np.datetime64
    middle: np.datetime64
    latest: np.datetime64
    hour: int
    leaf_c: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Story:
    """All that `why` has to tell.

    soil_c : soil at sowing depth in the first fortnight, p10, p50, p90 [degC];  light : daily light in the first 4 weeks after [mol/m2 d]
    coldest_c : coldest leaf while plants stood in the bed, up to the first harvest or the end, p10, p50, p90 over the years [degC]
    hottest_c : the same for heat;  kill_soft_c, kill_hard_c : what kills it, not hardened and fully hardened [degC]
    emerges_d, set_out_d, first_d, last_d : days after sowing, p10, p50, p90 over the years that got so far, None for under 3
    safe_from : first calendar day after sowing on which setting out is taken as safe, None where it is sown in place
    """

    crop_id: str
    route: Route
    sow_date: np.datetime64
    n_years: int
    harvested: int
    endings: tuple[Ending, ...]
    soil_c: tuple[float, float, float]
    light: tuple[float, float, float]
    light_good: float
    coldest_c: tuple[float, float, float]
    hottest_c: tuple[float, float, float]
    kill_soft_c: float
    kill_hard_c: float
    emerges_d: tuple[float, float, float] | None
    set_out_d: tuple[float, float, float] | None
    first_d: tuple[float, float, float] | None
    last_d: tuple[float, float, float] | None
    safe_from: np.datetime64 | None


def _three(values: NDArray[np.floating]) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, [0.1, 0.5, 0.9])
    return float(low), float(middle), float(high)


def _since(marks: NDArray[np.int32], starts: NDArray[np.int32]) -> tuple[float, float, float] | None:
    there = marks >= 0
    return _three((marks - starts)[there].astype(float)) if there.sum() >= 3 else None


def _endings(
    outcome: NDArray[np.int32],
    deciding: NDArray[np.int32],
    hour: NDArray[np.int32],
    starts: NDArray[np.int32],
    bed: NDArray[np.float32],
    sow_date: np.datetime64,
) -> tuple[Ending, ...]:
    found = []
    for fate in Fate:
        here = np.flatnonzero(outcome == fate)
        if fate in (Fate.HARVESTED, Fate.BEYOND_RECORD) or here.size == 0:
            continue
        after = np.sort(deciding[here] - starts[here])
        days = np.clip(deciding[here], 0, bed.shape[1] - 1)
        row = (
            LEAF_MIN if fate in (Fate.SEEDLING_FROZEN, Fate.PLANT_FROZEN) else LEAF_MAX if fate is Fate.COOKED else None
        )
        leaf = None
        if row is not None:
            temps = np.sort(bed[row, days].astype(float))
            leaf = (float(np.median(temps)), float(temps[0] if row == LEAF_MIN else temps[-1]))
        found.append(
            Ending(
                WORDS[fate], int(here.size), sow_date + int(after[0]), sow_date + int(after[len(after) // 2]), sow_date + int(after[-1]),
                int(np.bincount(np.maximum(hour[here], 0), minlength=24).argmax()), leaf,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda e: -e.years))


def tell(
    crop: Crop,
    route: Route,
    sow_date: np.datetime64,
    shelters: Mapping[str, ShelterDays],
    *,
    n_years: int,
    latitude_deg: float,
    seed: int = 1,
    seed_share: float = 1.0,
) -> Story:
    """The story of sowing `crop` on this route and date, over `n_years` years of the shelters' days."""
    days = shelters[route.grown_in].days
    starts = sow_indices(days.dates, np.array([sow_date]), n_years)[0]
    bed = crop_days(crop, shelters[route.grown_in])
    nursery = crop_days(crop, shelters[route.raised_in]) if route.raised_in else None
    safe = safe_days(crop, bed, days.dates) if nursery is not None else np.ones(days.n_days, np.uint8)
    length = day_length_h(latitude_deg, days.dates).astype(np.float32)
    found = fates(
        fate_rule(crop, seed_share),
        nursery,
        bed,
        length,
        safe,
        np.ascontiguousarray(starts),
        toughness(n_years, seed, crop.id),
    )
    first_place = bed if nursery is None else nursery
    start_shelter = shelters[route.raised_in or route.grown_in]
    windows = _stood(found.emerged if nursery is None else found.set_out, found.first, found.deciding, starts)
    marks = found.emerged
    known = np.flatnonzero(marks >= 0)
    seen = marks[known] if known.size else starts
    safe_year = np.flatnonzero(safe[int(starts[0]) : int(starts[0]) + 365])
    return Story(
        crop_id=crop.id,
        route=route,
        sow_date=sow_date,
        n_years=int((found.outcome != Fate.BEYOND_RECORD).sum()),
        harvested=int((found.outcome == Fate.HARVESTED).sum()),
        endings=_endings(
            found.outcome,
            found.deciding,
            found.hour,
            starts,
            bed if nursery is None else _joined(nursery, bed, found.set_out, found.deciding),
            sow_date,
        ),
        soil_c=_three(np.array([_soil(start_shelter, crop, s) for s in starts])),
        light=_three(np.array([first_place[LIGHT, m : m + 28].mean() for m in seen])),
        light_good=crop.growth.light_good,
        coldest_c=_three(np.array([bed[LEAF_MIN, w].min() for w in windows])),
        hottest_c=_three(np.array([bed[LEAF_MAX, w].max() for w in windows])),
        kill_soft_c=kill_temp_c(crop, 0.0),
        kill_hard_c=kill_temp_c(crop, 1.0),
        emerges_d=_since(found.emerged, starts),
        set_out_d=_since(found.set_out, starts),
        first_d=_since(found.first, starts),
        last_d=_since(found.last, starts),
        safe_from=None if nursery is None or safe_year.size == 0 else sow_date + int(safe_year[0]),
    )


def _stood(
    there: NDArray[np.int32], first: NDArray[np.int32], deciding: NDArray[np.int32], starts: NDArray[np.int32]
) -> list[slice]:
    """Days for which plants stood in the bed in each year that got so far; without any, the 90 days from sowing."""
    known = np.flatnonzero(there >= 0)
    if known.size == 0:
        return [slice(s, s + 90) for s in starts]
    end = np.where(first >= 0, first, np.maximum(deciding, there))
    return [slice(there[k], end[k] + 1) for k in known]


def _joined(
    nursery: NDArray[np.float32], bed: NDArray[np.float32], set_out: NDArray[np.int32], deciding: NDArray[np.int32]
) -> NDArray[np.float32]:
    """Days as the deciding ones were lived: in the nursery where a stand was never set out, else in the bed."""
    out = bed.copy()
    inside = deciding[(set_out < 0) & (deciding >= 0)]
    out[:, inside] = nursery[:, inside]
    return out


def _soil(shelter: ShelterDays, crop: Crop, start: int) -> float:
    """Mean soil temperature at sowing depth over the fortnight from a day on.  [degC]"""
    weight = min(crop.germination.depth_m / 0.05, 1.0)
    hours = slice(shelter.days.first_hour + 24 * start, shelter.days.first_hour + 24 * (start + 14))
    return float((shelter.hourly[1, hours] * (1.0 - weight) + shelter.hourly[2, hours] * weight).mean())
