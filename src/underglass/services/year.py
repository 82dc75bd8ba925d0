"""The whole year: which sowings, where and when, and what comes in by week.  Plain data, documented in docs/json.md."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue
from underglass.crop.cautions import caution_rows
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.basket import Chosen, chosen_of, met_share, servings_by_want, work_by_week
from underglass.plan.candidates import SOWING_WEEKS, Candidate
from underglass.plan.decide import Decision, counted, decide, each_that_fits, pin_costs
from underglass.plan.household import Household
from underglass.plan.lean import dates_before, latest_sowings, lean_weeks, near_full, stands_winter
from underglass.plan.optimise import Task, build, each_crops, sample_years, sowings_cap, target
from underglass.plan.outlook import RouteFates, weekly_dates
from underglass.plan.outlook_types import DateSpread, Route
from underglass.plan.programme import relaxed
from underglass.plan.seed_on_hand import needs_fresh, seed_shares, with_sowable_seed
from underglass.plan.task import (
    PIN_SLACK_D,
    Earlier,
    as_planned,
    check_places,
    manure_free,
    new_kinds,
    task_of,
    wished_crops,
)
from underglass.plan.wishes import Standing
from underglass.plan.work import figures
from underglass.plan.years import judging, quantiles
from underglass.services.cache import keep, key_of, recall
from underglass.services.fates import YearFates, fates_of_year
from underglass.services.guide import topics_of
from underglass.services.progress import Progress, silent
from underglass.services.weather import ReadWeather, check_years, climate_of, file_stamp
from underglass.units import k_to_c

__all__ = ["sowing_id", "sowing_row", "stepper", "year_plan", "year_task"]

VERSION = 1

POLLINATION = {
    "shake": "shake the flowers at noon where no wind reaches them",
    "insects": "open the cover while it flowers, or pollinate by hand",
    "wind": "sow in a square block, not in one row",
}


def year_plan(
    household: Household,
    on: np.datetime64,
    *,
    n_years: int = 30,
    seed: int = 1,
    earlier: Mapping[str, Any] | None = None,
    exactly: Mapping[str, Any] | None = None,
    read: ReadWeather | None = None,
    use_cache: bool = True,
    progress: Progress = silent,
) -> dict[str, Any]:
    """The plan of the year that begins on `on` (datetime64[D]); see docs/json.md for every field.

    earlier : an earlier answer of this function, that should change as little as possible
    exactly : an earlier answer whose sowings are taken as they are: nothing is chosen, all is counted again
    progress : called with a share and a few words, about once a second or oftener; what it raises ends the work
    Raises InputError where the household has no shelters, names one that is not there, or the number of years makes no sense.
    Who keeps a notebook asks services/year_book.py instead.
    """
    given = ("exactly", _sown(exactly)) if exactly is not None else ("earlier", _sown(earlier))
    key = key_of("year", household, str(on), n_years, seed, file_stamp(household), str(given))
    if use_cache and (kept := recall(key)) is not None:
        return kept
    asked: dict[str, Any] = {
        "n_years": n_years,
        "seed": seed,
        "read": read,
        "use_cache": use_cache,
        "progress": progress,
    }
    task, found = year_task(household, on, earlier=earlier if exactly is None else exactly, **asked)
    if exactly is not None:
        decision = counted(task)
    else:
        progress(0.82, "choosing the sowings")
        decision = decide(task, stepper(progress, 0.82, 0.97, "choosing the sowings"))
    answer = _answer(household, task, found, decision)
    answer["autumn"] = _autumn(household, task, on, found)
    answer["changes"] = _changes(answer, exactly or earlier)
    if use_cache:
        keep(key, answer)
    progress(1.0, "done")
    return answer


def stepper(progress: Progress, start: float, end: float, doing: str) -> Callable[[], None]:
    """Tells of steps whose number nobody knows: each goes a tenth of the way that is left."""
    share = start

    def step() -> None:
        nonlocal share
        share += 0.1 * (end - share)
        progress(share, doing)

    return step


def year_task(
    household: Household, on: np.datetime64, *, n_years: int, seed: int, earlier: Mapping[str, Any] | None = None,
    read: ReadWeather | None = None, use_cache: bool = True, progress: Progress = silent,
) -> tuple[Task, YearFates]:  # fmt: skip
    """The planner's task for a household, and the fates behind it."""
    check_years(n_years)
    household = with_sowable_seed(household, on)
    if not household.shelters:
        raise InputError(
            "no shelters: name at least one, as --shelter box,tunnel or [[shelters]] in the household file"
        )
    before = _sown(earlier)
    wishes = replace(household.wishes, standing=as_planned(household.wishes.standing, before))
    check_places(wishes, household.shelters)
    offered = {c: catalogue()[c] for c in household.crops or tuple(catalogue())}
    named = (
        {c for w in wishes.wants for c in w.crops}
        | {p.crop_id for p in wishes.pins}
        | {s.crop_id for s in wishes.standing}
    )
    crops = wished_crops({**offered, **{c: catalogue()[c] for c in sorted(named)}}, wishes)
    listed = set(household.crops) if len(household.crops) < len(catalogue()) else set()  # 'all' names none
    only_named = set(figures()["usual"]["only_named"]) - listed
    crops = {
        c.id: c for c in crops.values() if c.id in named or (c.kitchen.dish != "flowers" and c.id not in only_named)
    }
    if wishes.new_a_season and not wishes.new_from and not listed | named:
        raise InputError(
            "new_a_season: say which kinds you know, under [crops] or [[wants]], or from which to try, as new_from"
        )
    fresh = new_kinds(catalogue(), wishes, known=listed | named)
    crops |= {c.id: c for c in fresh}
    if not crops:
        raise InputError("nothing to plan: every crop wanted is on the never-list")
    asked: dict[str, Any] = {"n_years": n_years, "seed": seed, "read": read, "use_cache": use_cache}
    found = fates_of_year(
        household, list(crops.values()), on, weekly_dates(on, SOWING_WEEKS), progress=progress, **asked
    )
    lean = lean_weeks(household.place.latitude_deg, on)
    hardy = [near_full(c) for c in crops.values() if stands_winter(c)]
    grown: tuple[RouteFates, ...] = ()
    if lean is not None and hardy and len(dates := dates_before(lean[0], on)):
        grown = fates_of_year(household, hardy, on, dates, goal="near full", progress=progress, **asked).found
    past = {i: _past(household, crops[s.crop_id], on, s, asked, progress) for i, s in enumerate(wishes.standing)}
    task = task_of(
        crops, found.found, past, household.shelters, wishes, on,
        seed_shares=seed_shares(household, on), on_hand=_on_hand(household), earlier=before, news=[c.id for c in fresh],
        grown=grown, lean=lean, month_mean_c=_month_mean_c(household),
    )  # fmt: skip
    if not task.options:
        raise InputError(
            "nothing that is wanted feeds anybody here in three years of four: add a warmer shelter, or other crops"
        )
    return each_that_fits(task), replace(found, grown=grown)


def _month_mean_c(household: Household) -> list[float]:
    """Monthly means of the air outside, by the best layer that needs no weather file."""
    known = climate_of(household)
    return [float(k_to_c(k)) for k in (known.tmin_k + known.tmax_k) / 2.0]


def _past(
    household: Household, crop: Crop, on: np.datetime64, stands: Standing, asked: Mapping[str, Any], progress: Progress
) -> RouteFates:
    """Fates of what stands in the ground, over all years."""
    if not on - 400 <= stands.sow <= on:
        raise InputError(
            f"{crop.name} in {stands.grown_in}: sown on {stands.sow}, expected within the 400 days before {on}"
        )
    goal = "near full" if stands.held else "harvest"
    crop = near_full(crop) if stands.held else crop
    found = fates_of_year(household, [crop], on, np.array([stands.sow]), goal=goal, progress=progress, **asked)
    for one in found.found:
        if (one.route.grown_in, one.route.raised_in) == (stands.grown_in, stands.raised_in):
            return one
    raised = f", raised in {stands.raised_in}" if stands.raised_in else ""
    raise InputError(f"{crop.name} in {stands.grown_in}{raised}: it does not fit there")


def _on_hand(household: Household) -> dict[str, int]:
    """Seeds on hand by crop; an uncounted packet is taken as a full one."""
    out: dict[str, int] = {}
    for packet in household.seeds:
        full = catalogue()[packet.crop_id].kitchen.packet_seeds
        out[packet.crop_id] = out.get(packet.crop_id, 0) + (full if packet.count is None else packet.count)
    return out


def _sown(earlier: Mapping[str, Any] | None) -> list[Earlier]:
    """The sowings of an earlier answer.  Raises InputError where it is not one."""
    if earlier is None:
        return []
    try:
        return [
            Earlier(
                str(s["crop"]), Route(str(s["grown_in"]), s["raised_in"]), np.datetime64(s["sow"], "D"), float(s["area_m2"]),
                held=bool(s.get("held")), standing=bool(s["standing"]),
            )
            for s in earlier["sowings"]
        ]  # fmt: skip
    except (KeyError, TypeError, ValueError, AttributeError):
        raise InputError("the earlier plan is not an answer of `underglass year --json`") from None


def _answer(household: Household, task: Task, found: YearFates, decision: Decision) -> dict[str, Any]:
    crops = sorted({o.crop for o in task.options}, key=lambda c: c.id)
    chosen = chosen_of(task, decision.solution.x) if decision.solution.feasible else []
    servings = servings_by_want(task, chosen)
    answer = dict(found.heading)
    answer |= {
        "version": VERSION,
        "cautions": caution_rows(topics_of(household, crops)),
        "possible": decision.solution.feasible,
        "in_the_way": [_in_the_way(task, kind) for kind in decision.broken],
        "worth": round(decision.solution.value, 2) if decision.solution.feasible else None,
        "gap": round(decision.solution.gap, 4) if decision.solution.feasible else None,
        "planned_on_years": len(sample_years(found.years)),
        "judged_on_years": len(judging(found.years)),
        "held_out": len(judging(found.years)) < found.years,
        "sowings": [sowing_row(task, c) for c in chosen],
        "wants": _wants(task, chosen, servings),
        "basket": _basket(task, servings, work_by_week(task, chosen)),
        "ground": _ground(task, chosen),
        "pins": _pins(task),
    }
    sown = sorted({c.option.crop.id for c in chosen if not c.option.standing})
    answer["fresh_seed"] = [crop for crop in sown if needs_fresh(household, crop, task.on)]
    answer["not_followed"] = _not_followed(task)
    return answer


def _not_followed(task: Task) -> list[dict[str, str]]:
    """What stands, as the family says, but lives on in none of the years computed."""
    there = [(o.crop.id, o.candidate.route, o.candidate.sow) for o in task.options if o.standing]
    return [
        {"crop": s.crop_id, "name": catalogue()[s.crop_id].name, "grown_in": s.grown_in}
        for s in task.wishes.standing
        if (s.crop_id, Route(s.grown_in, s.raised_in), s.sow) not in there
    ]


def _autumn(household: Household, task: Task, on: np.datetime64, found: YearFates) -> dict[str, Any]:
    """Latest sowings before the lean weeks, of the wanted crops that stand frost."""
    lean = lean_weeks(household.place.latitude_deg, on)
    if lean is None:
        return {"lean_from": None, "lean_to": None, "latest": []}
    wanted = {o.crop.id: o.crop for o in task.options if stands_winter(o.crop)}
    rows = latest_sowings(found.grown, wanted, lean[0])
    return {
        "lean_from": str(lean[0]),
        "lean_to": str(lean[1]),
        "latest": [
            {
                "crop": r.crop_id, "name": wanted[r.crop_id].name, "grown_in": r.route.grown_in, "raised_in": r.route.raised_in,
                "sow_by": str(r.sow), "chance": round(r.share, 3),
            }
            for r in rows
        ],
    }  # fmt: skip


def _changes(answer: Mapping[str, Any], earlier: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """What differs from an earlier plan, as far as its sowings are still to come; None where there was none.

    A sowing that moved by a few days, as the weeks are counted from another day, is the same.  What lies beyond the earlier plan's year is
    no change of it.
    """
    if earlier is None:
        return None
    left = [
        s for s in earlier["sowings"] if not s["standing"] and np.datetime64(s["sow"]) >= np.datetime64(answer["date"])
    ]
    ended = np.datetime64(earlier["date"]) + 7 * SOWING_WEEKS if "date" in earlier else None
    kept = 0
    new: list[str] = []
    later: list[str] = []
    for now in (s for s in answer["sowings"] if not s["standing"]):
        same = [s for s in left if _same(s, now)]
        if same:
            kept += 1
            left.remove(min(same, key=lambda s: _days_apart(s, now)))
        else:
            (new if ended is None or np.datetime64(now["sow"]) < ended else later).append(now["id"])
    names = ("crop", "grown_in", "raised_in", "sow", "area_m2")
    return {
        "kept": kept,
        "new": new,
        "later": later,
        "gone": [{n: s[n] for n in names} | {"id": sowing_key(s)} for s in left],
    }


def _same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    names = ("crop", "grown_in", "raised_in")
    alike = all(one[n] == other[n] for n in names) and bool(one.get("held")) == bool(other.get("held"))
    return alike and _days_apart(one, other) <= PIN_SLACK_D


def _days_apart(one: Mapping[str, Any], other: Mapping[str, Any]) -> int:
    return abs(date.fromisoformat(str(one["sow"])) - date.fromisoformat(str(other["sow"]))).days


def _in_the_way(task: Task, kind: str) -> str:
    wishes = task.wishes
    if kind.startswith("pin "):
        i = int(kind[4:])
        pin = wishes.pins[i]
        name = catalogue()[pin.crop_id].name
        when = f" sown on {pin.sow}" if pin.sow is not None else ""
        why = (
            ""
            if task.pinned[i]
            else ": in hardly any year does it feed anybody there, or manure, a holiday or room forbids it"
        )
        return f"the decided sowing of {name} in {pin.grown_in}{when}{why}"
    return {
        "area": "the area of the beds",
        "trays": "the room for trays",
        "minutes": f"{wishes.minutes_a_week or 0:g} minutes of work a week",
        "rotation": f"{wishes.rotation_years} years of rotation",
        "budget": f"{wishes.seed_budget or 0:g} for seed",
        "sowings": f"{sowings_cap(task)} sowings a week",
    }[kind]


def _spread(dates: DateSpread | None) -> dict[str, str] | None:
    return None if dates is None else {"p10": str(dates.p10), "p50": str(dates.p50), "p90": str(dates.p90)}


def _range(values: NDArray[np.float64], digits: int = 1) -> dict[str, float]:
    low, middle, high = quantiles(values)
    return {"p10": round(float(low), digits), "p50": round(float(middle), digits), "p90": round(float(high), digits)}


def sowing_key(row: Mapping[str, Any]) -> str:
    """What a sowing is called from one plan to the next."""
    held = "|held" if row.get("held") else ""
    return f"{row['crop']}|{row['grown_in']}|{row['raised_in'] or ''}|{row['sow']}{held}"


def sowing_id(c: Candidate) -> str:
    """The same of a candidate."""
    row = {
        "crop": c.crop_id,
        "grown_in": c.route.grown_in,
        "raised_in": c.route.raised_in,
        "sow": c.sow,
        "held": c.held,
    }
    return sowing_key(row)


def sowing_row(task: Task, c: Chosen) -> dict[str, Any]:
    """A sowing as plain data."""
    o, k = c.option, c.option.candidate
    ready = manure_free(o.crop, k.route.grown_in, task.wishes)
    years = judging(len(k.counted))
    return {
        "id": sowing_id(k),
        "crop": o.crop.id,
        "name": o.crop.name,
        "want": next(w.label for w in task.wants if o.crop.id in w.crops),
        "sow": str(k.sow),
        "raised_in": k.route.raised_in,
        "grown_in": k.route.grown_in,
        "area_m2": round(c.area_m2, 2),
        "plants": max(1, round(o.crop.spacing.per_m2 * c.area_m2)),
        "seeds": 0 if o.standing else o.seeds(c.blocks),
        "set_out": _spread(k.set_out),
        "bed_from": str(k.bed_from),
        "bed_to": str(k.bed_to),
        "first_harvest": _spread(k.first_in(years, task.on)),
        "chance": round(k.fed(years), 3),
        "servings": _range(c.servings.sum(axis=1)),
        "not_before": None if ready is None else str(ready),
        "pollination": POLLINATION.get(o.crop.kitchen.pollination)
        if k.route.grown_in in task.covered or o.crop.kitchen.pollination == "wind"
        else None,
        "held": k.held,
        "standing": o.standing,
        "pinned": any(c.number in numbers for numbers in task.pinned),
    }


def _wants(task: Task, chosen: Sequence[Chosen], servings: Mapping[str, NDArray[np.float64]]) -> list[dict[str, Any]]:
    met = met_share(task, dict(servings), SOWING_WEEKS)
    out, asked_for = [], each_crops(task)
    for want in task.wants:
        middle = np.median(servings[want.label][:, :SOWING_WEEKS], axis=0)
        growing = [o for o in task.options if o.crop.id in want.crops]
        could = (
            np.any([np.median(o.candidate.servings, axis=0)[:SOWING_WEEKS] > 0.0 for o in growing], axis=0)
            if growing
            else np.zeros(SOWING_WEEKS, bool)
        )
        out.append({
            "want": want.label,
            "servings_a_week": round(target(want), 2),
            "as_much_as_fits": want.servings is None,
            "met": round(met[want.label], 3),
            "weeks_with_some": int((middle > 0.25 * target(want)).sum()),
            "weeks_possible": int(could.sum()),
            "crops": sorted({c.option.crop.id for c in chosen if c.option.crop.id in want.crops}),
            "each_left_out": [c for c in want.crops if c in asked_for and c not in task.each],
            "never_feeds_here": sorted(c for c in want.crops if all(o.crop.id != c for o in growing)),
        })  # fmt: skip
    return out


def _basket(task: Task, servings: Mapping[str, NDArray[np.float64]], work: NDArray[np.float64]) -> list[dict[str, Any]]:
    return [
        {
            "week_of": str(task.on + 7 * w),
            "servings": {label: _range(values[:, w]) for label, values in servings.items()},
            "all": _range(np.sum([values[:, w] for values in servings.values()], axis=0)),
            "minutes": round(float(work[w])),
        }
        for w in range(SOWING_WEEKS)
    ]


def _ground(task: Task, chosen: Sequence[Chosen]) -> list[dict[str, Any]]:
    out = []
    for bed, area in task.area_m2.items():
        used = np.zeros(SOWING_WEEKS)
        for c in chosen:
            if c.option.candidate.route.grown_in == bed:
                start, end = task.bed_weeks(c.option.candidate)
                used[start:end] += c.area_m2
        out.append({"shelter": bed, "area_m2": round(area, 2), "used_share": [round(float(u / area), 2) for u in used]})
    return out


def _pins(task: Task) -> list[dict[str, Any]]:
    """Each pin and what it costs, as far as the relaxed programme tells."""
    if not task.pinned or not all(task.pinned):
        return []
    with_all = relaxed(build(task))
    if not with_all.feasible:
        return []
    costs = pin_costs(task, with_all.value)
    return [
        {
            "crop": p.crop_id,
            "grown_in": p.grown_in,
            "sow": None if p.sow is None else str(p.sow),
            "costs_servings": round(cost, 1),
        }
        for p, cost in zip(task.wishes.pins, costs, strict=True)
    ]
