"""What to do with lids, covers and water over the next days, for a household and a forecast.  Plain data, documented in docs/json.md."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underglass.crop.catalogue import catalogue, find_crop
from underglass.crop.cautions import caution_rows
from underglass.errors import InputError
from underglass.notebook.records import LidAction
from underglass.plan.household import Household
from underglass.services.forecast import Forecast, forecast_from, on_annual_wave
from underglass.services.hardening import hardening_plan
from underglass.services.lids import handling_of
from underglass.services.progress import Progress, silent
from underglass.shelter.carry import AIR, AIR_MAX, AIR_MIN, LID_OPEN, Futures, futures_of
from underglass.shelter.changes import changed
from underglass.shelter.model import OpenGround, Shelter
from underglass.shelter.working import BY_HAND, can_be_bared, worked_by_hand
from underglass.tend.lidplan import LidPlan, Reason, Step, each_risk, follow, plan_lid, reasons, settings_of, spans_of
from underglass.tend.numbers import numbers
from underglass.tend.setting import Setting
from underglass.tend.standing import Limits, Standing, bears_c, limits_of, stage_named
from underglass.tend.uncertainty import span
from underglass.tend.visits import visits_ahead
from underglass.tend.warnings import Caution, warnings_for
from underglass.tend.water import water_need
from underglass.weather.outside import OutsideWeather

__all__ = ["day_plan"]

VERSION = 1
THREADS = 2
MEMBERS = 50
WORTH_CHANGING = 0.01
WORTH_SHARE = 0.1
"""Another way is offered where it spares a hundredth of what stands there in the hours ahead (estimate: a day's full growth), and a tenth of the losses."""

TRAYS_COLD_K = 283.15
"""Trays carried in while it is colder outside than this are carried in for the cold."""

GROUND_K = 2.0
"""How far the ground may lie from the climate's where no weather tells it (estimate, as shelter/tune_model.py has it)."""

ASSUMED = (("leaf lettuce", "young"), ("spinach", "hardened"))
"""What is taken to stand in a shelter that nothing is known of."""


def day_plan(
    household: Household,
    now: np.datetime64,
    outside: OutsideWeather | None,
    *,
    days: int = 3,
    ensemble: Sequence[OutsideWeather] = (),
    exceptions: Mapping[np.datetime64, tuple[float, ...]] | None = None,
    settings_now: Mapping[str, Setting] | None = None,
    lids: Mapping[str, Sequence[LidAction]] | None = None,
    n_members: int = MEMBERS,
    seed: int = 1,
    progress: Progress = silent,
) -> dict[str, Any]:
    """The plan from `now` (datetime64[h], UTC) on; see docs/json.md for every field.

    outside : forecast with what went before it, None where there is none (the climate stands in, and is called so)
    ensemble : members of the service's own, where it has one
    exceptions : other visiting hours by date;  settings_now : how shelters are set, by name
    lids : what was done to lids and covers in the days before, by the shelter's name; its own ways where nothing was noted
    Raises InputError for a forecast that is too old, a household without shelters, or standings it does not know.
    """
    if not household.shelters:
        raise InputError(
            "no shelters: name at least one, as --shelter box,tunnel or [[shelters]] in the household file"
        )
    if not 1 <= days <= 10:
        raise InputError(f"--days is {days}: expected 1 to 10")
    progress(0.05, "weather ahead")
    forecast = forecast_from(outside, household, now, 24 * days, n_members, seed, ensemble)
    standings = _standings(household)
    known = forecast.middle.provenance
    answer: dict[str, Any] = {
        "version": VERSION,
        "now": str(now),
        "household": household.name,
        "forecast": {
            "kind": forecast.kind,
            "source": known.source,
            "licence": known.licence,
            "fetched": None if known.fetched is None else known.fetched.isoformat(),
            "members": len(forecast.members),
            "hours": forecast.middle.n_hours,
            "notes": [*forecast.notes, *known.notes],
        },
        "cautions": caution_rows({"heat in shelters", "snow and wind", "heaters"}),
    }

    def one(shelter: Shelter) -> dict[str, Any]:
        there = [s for s in standings if s.shelter == shelter.name]
        if standings and not there:
            return {"shelter": shelter.name, "standing": []}
        visits = visits_ahead(
            shelter.visits, household.place, forecast.middle.start, forecast.middle.n_hours, exceptions
        )
        noted, setting = (lids or {}).get(shelter.name, ()), (settings_now or {}).get(shelter.name)
        return _shelter_plan(shelter, household, forecast, there, visits, setting, noted)

    answer["shelters"] = []
    with ThreadPoolExecutor(THREADS) as pool:
        for i, part in enumerate(pool.map(one, household.shelters)):
            answer["shelters"].append(part)
            progress(0.1 + 0.9 * (i + 1) / len(household.shelters), f"plan for {part['shelter']}")
    answer["hardening"] = hardening_plan(standings, forecast)
    return answer


def _standings(household: Household) -> list[Standing]:
    names = {s.name for s in household.shelters}
    lost = sorted({s.shelter for s in household.standing} - names)
    if lost:
        raise InputError(f"standing: no shelter called {', '.join(lost)} among {', '.join(sorted(names))}")
    return [
        Standing(catalogue()[s.crop_id], s.shelter, stage_named(s.stage), s.in_tray, s.hardened_days)
        for s in household.standing
    ]


def _futures(shelter: Shelter, household: Household, forecast: Forecast, noted: Sequence[LidAction]) -> Futures:
    known = worked_by_hand(on_annual_wave(shelter, household))
    return futures_of(known, forecast.past, forecast.members, handling_of(noted, known, forecast.past))


def _shelter_plan(
    shelter: Shelter,
    household: Household,
    forecast: Forecast,
    there: Sequence[Standing],
    visits: Sequence[int],
    now: Setting | None,
    noted: Sequence[LidAction],
) -> dict[str, Any]:
    assumed = not there
    if assumed:
        there = [Standing(find_crop(name), shelter.name, stage_named(stage)) for name, stage in ASSUMED]
    limits = [limits_of(s) for s in there]
    futures = _futures(shelter, household, forecast, noted)
    plan = plan_lid(futures, limits, settings_of(shelter), visits, now)
    left = _possible(now or Setting(), shelter, there)
    spans = spans_of(visits, futures.ready.n_hours)
    nothing = follow(futures, limits, [(a, b, left) for a, b in spans])
    air = np.stack([m.air_temp_k for m in forecast.members])
    return {
        "shelter": shelter.name,
        "lid": None if isinstance(shelter.shape, OpenGround) or shelter.room is not None else shelter.lid.working,
        "full_gap_m": shelter.lid.full_gap_m,
        "outdoors": isinstance(shelter.shape, OpenGround),
        "standing": _standing_rows(there, each_risk(futures, plan, limits)),
        "assumed": assumed,
        "steps": [
            _step(step, _reason(step, why, shelter, forecast), plan, nothing, forecast)
            for step, why in zip(plan.steps, reasons(futures, plan, limits), strict=True)
        ],
        "risk": _risk(plan),
        "if_nothing": {**_risk(nothing), "setting": _setting(left), "hottest_c": _hot(nothing.out), "coldest_c": _cold(nothing.out)},
        "remedies": _remedies(_Asked(shelter, household, forecast, limits, plan, visits, noted)),
        "warnings": [
            _caution(w, forecast)
            for w in warnings_for(shelter, plan, forecast.middle, air)
            if w.kind != "frozen leaves" or any(limit.leafy for limit in limits)
        ],
        "ground": _ground(shelter, household, forecast, plan, noted),
        "water": _water(plan, forecast),
        "hours": {**_hours(plan, nothing, air, forecast), "bears_c": [round(v, 1) for v in bears_c(limits)]},
    }  # fmt: skip


def _standing_rows(there: Sequence[Standing], risks: Sequence[tuple[float, float]]) -> list[dict[str, Any]]:
    return [
        {
            "crop": s.crop.id, "name": s.crop.name, "stage": s.stage, "in_tray": s.in_tray, "cold": round(cold, 3), "heat": round(heat, 3),
        }
        for s, (cold, heat) in zip(there, risks, strict=True)
    ]  # fmt: skip


def _caution(w: Caution, forecast: Forecast) -> dict[str, Any]:
    start = forecast.middle.start
    until = None if w.until is None else str(start + w.until)
    return {"kind": w.kind, "time": str(start + w.hour), "value": round(w.value, 3), "until": until}


def _ground(
    shelter: Shelter, household: Household, forecast: Forecast, plan: LidPlan, noted: Sequence[LidAction]
) -> dict[str, float]:
    """How sure the ground's warmth is: days of weather known before now, and how far the coldest night moves with GROUND_K at their beginning."""
    hours = min(max(forecast.known_h, 24), forecast.past.n_hours)
    past = span(forecast.past, forecast.past.n_hours - hours, forecast.past.n_hours)
    known = worked_by_hand(on_annual_wave(shelter, household))
    steps = [(s.first, s.last, s.setting) for s in plan.steps]
    handled, coldest = handling_of(noted, known, past), []
    for warmer in (0.0, GROUND_K):
        futures = futures_of(known, past, [forecast.middle], handled, ground_warmer_k=warmer)
        coldest.append(float(follow(futures, (), steps).out[0, :, AIR_MIN].min()))
    return {"known_days": forecast.known_h // 24, "night_k": round(abs(coldest[1] - coldest[0]), 2)}


def _possible(setting: Setting, shelter: Shelter, there: Sequence[Standing]) -> Setting:
    """The setting without covers that this shelter does not have, and no wider than its lid goes."""
    return Setting(
        min(setting.gap_m, shelter.lid.full_gap_m),
        setting.night_cover and shelter.night_cover is not None,
        setting.fleece and shelter.fleece is not None,
        setting.off and can_be_bared(shelter),
        setting.trays_in and any(s.in_tray for s in there),
    )


def _setting(setting: Setting) -> dict[str, Any]:
    return {
        "gap_m": setting.gap_m, "night_cover": setting.night_cover, "fleece": setting.fleece, "off": setting.off, "trays_in": setting.trays_in,
    }  # fmt: skip


def _risk(plan: LidPlan) -> dict[str, float]:
    return {"cold": round(plan.cold, 3), "heat": round(plan.heat, 3), "harm": round(plan.cost, 4)}


def _hot(out: NDArray[np.float32]) -> float:
    """Hottest air that one member in ten goes beyond in these hours inside [degC]."""
    return round(float(np.quantile(out[:, :, AIR_MAX].max(axis=1), 0.9)) - 273.15, 1)


def _cold(out: NDArray[np.float32]) -> float:
    """Coldest air that one member in ten falls below in these hours inside [degC]."""
    return round(float(np.quantile(out[:, :, AIR_MIN].min(axis=1), 0.1)) - 273.15, 1)


def _range(values: NDArray[np.floating]) -> dict[str, float]:
    p10, p50, p90 = (round(float(v) - 273.15, 1) for v in np.quantile(values, (0.1, 0.5, 0.9)))
    return {"p10": p10, "p50": p50, "p90": p90}


def _reason(step: Step, why: Reason, shelter: Shelter, forecast: Forecast) -> Reason | None:
    """Why it is set so; None where there is nothing to set.  Trays carried in from a warm day are carried in from heat."""
    setting = step.setting
    if setting.trays_in:
        low_k = np.median([m.air_temp_k[step.first : step.last].min() for m in forecast.members])
        return "cold" if low_k < TRAYS_COLD_K else "heat"
    by_hand = shelter.cover is not None and shelter.room is None and shelter.lid.working in BY_HAND
    return why if by_hand or setting.night_cover or setting.fleece else None


def _step(step: Step, why: Reason | None, plan: LidPlan, nothing: LidPlan, forecast: Forecast) -> dict[str, Any]:
    hours = slice(step.first, step.last)
    inside, idle = plan.out[:, hours], nothing.out[:, hours]
    outside = np.stack([m.air_temp_k[hours] for m in forecast.members])
    return {
        "from": str(forecast.middle.start + step.first),
        "until": str(forecast.middle.start + step.last),
        **_setting(step.setting),
        "reason": why,
        "if_left_low_c": _cold(idle),
        "if_left_high_c": _hot(idle),
        "inside_low_c": _range(inside[:, :, AIR_MIN].min(axis=1)),
        "inside_high_c": _range(inside[:, :, AIR_MAX].max(axis=1)),
        "outside_low_c": _range(outside.min(axis=1)),
        "outside_high_c": _range(outside.max(axis=1)),
    }


@dataclass(frozen=True, slots=True)
class _Asked:
    """A shelter with its plan, as whatever might be better is computed for it."""

    shelter: Shelter
    household: Household
    forecast: Forecast
    limits: Sequence[Limits]
    plan: LidPlan
    visits: Sequence[int]
    noted: Sequence[LidAction]

    def worked(self, shelter: Shelter, visits: Sequence[int]) -> LidPlan:
        """The best plan of a changed shelter, or for other visits."""
        futures = _futures(shelter, self.household, self.forecast, self.noted)
        return plan_lid(futures, self.limits, settings_of(shelter), visits, None)

    def with_(self, *changes: str) -> LidPlan:
        """The same plan in a changed shelter."""
        shelter = self.shelter
        for change in changes:
            shelter = changed(shelter, change)
        futures = _futures(shelter, self.household, self.forecast, self.noted)
        return follow(futures, self.limits, _as_planned(shelter, self.forecast, self.plan))


def _safe(plan: LidPlan) -> bool:
    """Whether no chance of loss is left that we would warn of."""
    warn = numbers("warnings")
    return plan.cold <= warn["cold_chance"] and plan.heat <= warn["heat_chance"]


def _remedies(asked: _Asked) -> list[dict[str, Any]]:
    """What else would lower the risk or the harm, cheapest first, each computed; nothing where the plan is as good."""
    warn, plan = numbers("warnings"), asked.plan
    cold, heat = plan.cold > warn["cold_chance"], plan.heat > warn["heat_chance"]
    found: list[tuple[str, LidPlan]] = []
    if heat and (extra := _noons(asked.visits, asked.forecast)):
        found.append(("visit at noon", asked.worked(asked.shelter, [*asked.visits, *extra])))
    if cold:
        found += _against_cold(asked)
    found += _arm_or_hand(asked)
    return [
        {"what": name, **_risk(way), "removes": _safe(way)}
        for name, way in found
        if way.cost < plan.cost - max(WORTH_CHANGING, WORTH_SHARE * (plan.cold + plan.heat))
    ]


def _against_cold(asked: _Asked) -> list[tuple[str, LidPlan]]:
    """A fleece, a cover for the night, and both where neither is enough."""
    shelter = asked.shelter
    found = [] if shelter.fleece is not None else [("fleece", asked.with_("fleece"))]
    covered = shelter.cover is not None and shelter.room is None and not isinstance(shelter.shape, OpenGround)
    if shelter.night_cover is None and covered:
        found.append(("night cover", asked.with_("night-cover")))
    if len(found) == 2 and not any(_safe(way) for _, way in found):
        found.append(("fleece and night cover", asked.with_("fleece", "night-cover")))
    return found


def _arm_or_hand(asked: _Asked) -> list[tuple[str, LidPlan]]:
    """A self-opening arm beside a lid worked by hand, where that is opened at all; the hand's work beside an arm."""
    shelter = asked.shelter
    if shelter.cover is None or shelter.room is not None or isinstance(shelter.shape, OpenGround):
        return []
    if shelter.lid.working == "arm":
        by_hand = replace(shelter, lid=replace(shelter.lid, working="visits"))
        return [("prop by hand", asked.worked(by_hand, asked.visits))]
    if shelter.lid.working in BY_HAND and any(step.setting.gap_m > 0.0 for step in asked.plan.steps):
        return [("self-opening arm", asked.with_("arm"))]
    return []


def _noons(visits: Sequence[int], forecast: Forecast) -> list[int]:
    """Middle of the day of each day ahead at which nobody comes yet."""
    zenith = forecast.middle.sun_zenith_deg
    lows = [
        h
        for h in range(1, len(zenith) - 1)
        if zenith[h] < zenith[h - 1] and zenith[h] <= zenith[h + 1] and zenith[h] < 89.0
    ]
    return [h for h in lows if h not in visits]


def _as_planned(shelter: Shelter, forecast: Forecast, plan: LidPlan) -> list[tuple[int, int, Setting]]:
    """The same visits and gaps in a changed shelter, its new covers used in the dark."""
    dark = forecast.middle.sun_zenith_deg > 90.0
    return [
        (s.first, s.last, Setting(
            s.setting.gap_m, shelter.night_cover is not None and s.setting.gap_m == 0.0 and bool(dark[s.first : s.last].mean() > 0.5),
            shelter.fleece is not None, s.setting.off and can_be_bared(shelter), s.setting.trays_in,
        ))
        for s in plan.steps
    ]  # fmt: skip


def _water(plan: LidPlan, forecast: Forecast) -> dict[str, Any]:
    middle = forecast.middle
    rain = sum(float(middle.precipitation_mm[s.first : s.last].sum()) for s in plan.steps if s.setting.off)
    need = water_need(plan.out, float(middle.pressure_pa.mean()), rain)
    return {
        "mm_per_day": round(need.mm_per_day, 2), "bed_days": round(need.bed_days, 1), "cell_days": round(need.cell_days, 1),
        "frozen": need.frozen,
    }  # fmt: skip


def _hours(plan: LidPlan, nothing: LidPlan, air: NDArray[np.float64], forecast: Forecast) -> dict[str, Any]:
    """The hour strip: outside and inside with their likely range, and the lid."""

    def bands(values: NDArray[np.floating]) -> dict[str, list[float]]:
        q = np.quantile(values, (0.1, 0.5, 0.9), axis=0) - 273.15
        return {name: [round(float(v), 1) for v in row] for name, row in zip(("p10", "p50", "p90"), q, strict=True)}

    return {
        "start": str(forecast.middle.start),
        "outside_c": bands(air),
        "inside_c": bands(plan.out[:, :, AIR]),
        "if_nothing_c": bands(nothing.out[:, :, AIR])["p50"],
        "lid_open": [round(float(v), 2) for v in np.median(plan.out[:, :, LID_OPEN], axis=0)],
    }
