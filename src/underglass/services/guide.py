"""The guide: what to sow, where and when, for a household on a date.  The answer is plain data, documented in docs/json.md."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from underglass.crop.catalogue import catalogue
from underglass.crop.cautions import caution_rows
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.place.frost import FrostDates
from underglass.plan.household import Household
from underglass.plan.outlook import RouteOutlooks, sowing_outlooks, weekly_dates
from underglass.plan.outlook_types import DateSpread, SowingOutlook
from underglass.plan.routes import routes
from underglass.plan.seed_on_hand import seed_shares
from underglass.plan.thresholds import thresholds
from underglass.plan.verdict import Advice, Verdict, advise
from underglass.services.cache import keep, key_of, recall
from underglass.services.days import KnownDays, known_days
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather, check_years, file_stamp
from underglass.sun.daylength import short_days

__all__ = ["best_routes", "by_verdict", "heading", "outlook_data", "sowing_guide", "topics_of"]

VERSION = 1
THREADS = 2


def sowing_guide(
    household: Household,
    on: np.datetime64,
    *,
    n_years: int = 30,
    seed: int = 1,
    read: ReadWeather | None = None,
    use_cache: bool = True,
    progress: Progress = silent,
) -> dict[str, Any]:
    """The guide for the coming year from `on` (datetime64[D]); see docs/json.md for every field.

    Raises InputError where the household has no shelters, or the number of years makes no sense.
    """
    if not household.shelters:
        raise InputError(
            "no shelters: name at least one, as --shelter box,tunnel or [[shelters]] in the household file"
        )
    check_years(n_years)
    key = key_of("guide", household, str(on), n_years, seed, file_stamp(household))
    if use_cache and (kept := recall(key)) is not None:
        return kept
    known = known_days(household, on, n_years, seed, read, progress)
    wanted = [catalogue()[c] for c in household.crops or tuple(catalogue())]
    answer = heading(household, on, known, seed)
    answer["cautions"] = caution_rows(topics_of(household, wanted))
    ages, shares = household.seed_ages(on), seed_shares(household, on)

    def one(crop: Crop) -> list[dict[str, Any]]:
        found = sowing_outlooks(
            [crop], lambda c: routes(c, household.shelters), known.days, weekly_dates(on), n_years=known.years,
            latitude_deg=household.place.latitude_deg, seed=seed, seed_shares=shares,
        )  # fmt: skip
        buy = crop.id in ages and crop.id not in shares
        return [_row(crop, outlooks, ages.get(crop.id), buy=buy) for outlooks in found]

    rows: list[dict[str, Any]] = []
    with ThreadPoolExecutor(THREADS) as pool:
        for i, part in enumerate(pool.map(one, wanted)):
            rows += part
            progress(0.5 + 0.5 * (i + 1) / len(wanted), f"fate of {wanted[i].name}")
    answer["rows"] = rows
    if use_cache:
        keep(key, answer)
    return answer


def heading(household: Household, on: np.datetime64, days: KnownDays, seed: int) -> dict[str, Any]:
    """What an answer about a household stands on: place, weather, frost dates, shelters, as plain data."""
    place, known = household.place, days.weather
    year = int(str(on)[:4])
    dark = short_days(place.latitude_deg, year)
    return {
        "version": VERSION,
        "date": str(on),
        "household": household.name,
        "place": {
            "name": place.name,
            "latitude": place.latitude_deg,
            "longitude": place.longitude_deg,
            "elevation_m": place.elevation_m,
            "time_zone": place.time_zone,
        },
        "stands_on": {
            "layer": known.layer,
            "source": known.source,
            "licence": known.licence,
            "longwave": known.longwave,
            "years": days.years,
            "seed": seed,
            "frost_sd_days": None if np.isnan(known.frost_sd_days) else known.frost_sd_days,
            "temp_sd_k": known.temp_sd_k,
            "notes": list(known.notes),
            "filled_hours": known.filled_hours,
        },
        "frost": _frost(days.frost),
        "under_ten_hours": None if dark is None else {"from": str(dark[0]), "to": str(dark[1])},
        "thresholds": {"good": thresholds().good, "careful": thresholds().careful},
        "shelters": [{"name": s.name, "note": s.note, "use": s.kind} for s in household.shelters],
    }


def topics_of(household: Household, crops: Sequence[Crop]) -> set[str]:
    """What in this household's advice can hurt somebody: its shelters, its soil, its crops, its seed."""
    topics = {"hygiene", "soil", "manure"}
    for shelter in household.shelters:
        base = shelter.name + " " + shelter.note
        topics |= {"heat in shelters"} if shelter.cover is not None else set()
        topics |= {"treated wood"} if shelter.walls is not None and shelter.room is None else set()
        topics |= {"old glass"} if "window" in base or "glass" in base else set()
        topics |= {"snow and wind"} if "film" in base or "hoop" in base else set()
        topics |= {"heaters"} if "house" in base else set()
        topics |= {"containers"} if "jug" in base else set()
    kinds = {crop.kind for crop in crops}
    topics |= {"legumes"} if "legume" in kinds else set()
    topics |= {"flowers"} if "flower" in kinds else set()
    topics |= {"seed"} if household.seeds else set()
    return topics


def _frost(frost: FrostDates) -> dict[str, Any]:
    """Middle and one-in-ten dates of the last and first frost, month-day; None where it hardly freezes."""
    return {
        "last": {"p10": frost.last_on(0.1), "p50": frost.last_on(0.5), "p90": frost.last_on(0.9)},
        "first": {"p10": frost.first_on(0.1), "p50": frost.first_on(0.5), "p90": frost.first_on(0.9)},
        "note": "the middle date of the last frost is a coin flip: half of the years freeze after it",
    }


def _spread(dates: DateSpread | None) -> dict[str, str] | None:
    return None if dates is None else {"p10": str(dates.p10), "p50": str(dates.p50), "p90": str(dates.p90)}


def outlook_data(outlook: SowingOutlook | None) -> dict[str, Any] | None:
    """An outlook as plain data, None for none."""
    if outlook is None:
        return None
    return {
        "sow": str(outlook.sow_date),
        "chance": round(outlook.harvest_chance, 3),
        "years": outlook.n_years,
        "causes": {cause: round(share, 3) for cause, share in outlook.causes.items()},
        "emerges": _spread(outlook.emerged),
        "set_out": _spread(outlook.set_out),
        "first_harvest": _spread(outlook.first_harvest),
        "last_harvest": _spread(outlook.last_harvest),
        "harvest_share": round(outlook.yield_share, 3),
    }


def best_routes(rows: Sequence[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """The best route of each crop, by verdict and in order of date: by what it promises (in tenths), then by how soon it opens."""
    verdicts = [str(verdict) for verdict in Verdict]
    best: dict[str, tuple[tuple[Any, ...], dict[str, Any]]] = {}
    for row in rows:
        rank = (verdicts.index(row["verdict"]), -round(10.0 * row["score"]), row["opens"] or "9999", -row["score"])
        if row["crop"] not in best or rank < best[row["crop"]][0]:
            best[row["crop"]] = rank, row
    return by_verdict([row for _, row in best.values()])


def by_verdict(rows: Sequence[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """Rows under each verdict, by when their season opens, then by what they promise."""
    ordered = sorted(rows, key=lambda row: (row["opens"] or "", -row["score"], row["name"]))
    return {str(verdict): [row for row in ordered if row["verdict"] == verdict] for verdict in Verdict}


def _row(crop: Crop, outlooks: RouteOutlooks, seed_age: float | None, *, buy: bool) -> dict[str, Any]:
    advice: Advice = advise(crop, outlooks)
    return {
        "crop": crop.id,
        "name": crop.name,
        "latin": crop.latin,
        "kind": crop.kind,
        "grown_in": outlooks.route.grown_in,
        "raised_in": outlooks.route.raised_in,
        "verdict": str(advice.verdict),
        "opens": None if advice.opens is None else str(advice.opens),
        "latest": None if advice.latest is None else str(advice.latest),
        "again": [{"opens": str(opens), "latest": str(latest)} for opens, latest in advice.again],
        "score": round(advice.score, 4),
        "today": outlook_data(advice.today),
        "best": outlook_data(advice.best),
        "seed_age_years": seed_age,
        "fresh_seed": buy,
        "by_date": {
            "sow": [str(d) for d in outlooks.sow_dates],
            "chance": [round(float(c), 3) for c in outlooks.chance],
            "harvest_share": [round(float(s), 3) for s in outlooks.share],
        },
    }
