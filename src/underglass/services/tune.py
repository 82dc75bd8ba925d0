"""Tune: thermometer readings correct a shelter, as plain data with the words for it."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any, Literal

from underglass.errors import InputError
from underglass.notebook import tunings
from underglass.notebook.store import Notebook
from underglass.services.household_store import shelter_named
from underglass.services.progress import Progress, silent
from underglass.shelter.model import Shelter
from underglass.shelter.tunable import apply_tuning
from underglass.shelter.tune import tune
from underglass.shelter.tune_types import Estimate, ProbeFit, Readings, Score, Tuned
from underglass.shelter.working import Handling, worked_by_hand
from underglass.weather.outside import OutsideWeather

__all__ = ["keep_tuning", "tune_shelter", "undo_tuning"]

Verdict = Literal["too few", "misfit", "nothing told", "no better", "better"]

SURE_CLOCK_H = 0.25
"""A clock that is off by less is called right."""


WORST_K = 5.0
"""Readings that are further off what is foretold of days held back do not fit: another unit, place or time (estimate; good ones come within 1.5 K)."""


def tune_shelter(
    shelter: Shelter,
    outside: OutsideWeather,
    readings: tuple[Readings, ...],
    understood: tuple[str, ...] = (),
    progress: Progress = silent,
    handling: Handling | None = None,
) -> tuple[dict[str, Any], Shelter]:
    """What readings taught about a shelter, and the shelter corrected by it.

    handling : how lids and covers were worked in the hours of `outside`, where the notebook knows it

    Factors are on the shelter as described; temperatures are differences in K; docs/json.md says what each field is.
    Raises InputError where the readings and the weather do not meet.
    """
    progress(0.0, "learning from the readings")
    tuned = tune(
        shelter if handling is None else worked_by_hand(shelter), outside, readings, handling=handling,
        progress=lambda share: progress(share, "learning from the readings"),
    )  # fmt: skip
    better = apply_tuning(shelter, tuned.parameters)
    answer = {
        "version": 1,
        "shelter": shelter.name,
        "weather": outside.provenance.source,
        "understood": list(understood),
        "short_lead": tuned.ground is not None,
        "lids_noted": handling is not None,
        "questions": _questions(readings),
        "parameters": tuned.parameters,
        "estimates": {name: asdict(e) | {"words": _words(name, e, better)} for name, e in tuned.estimates.items()},
        "clock_h": asdict(tuned.clock_shift) | {"words": _clock_words(tuned.clock_shift, readings)},
        "ground_k": None if tuned.ground is None else asdict(tuned.ground) | {"words": _ground_words(tuned.ground)},
        "layering_k_m": None
        if tuned.layering is None
        else asdict(tuned.layering) | {"words": _layering_words(tuned.layering)},
        "probes": [_probe(p) for p in tuned.probes],
        "held_back": {
            "days": tuned.held_back_days,
            "before": _score(tuned.before),
            "after": _score(tuned.after),
            "verdict": _verdict(tuned),
            "words": _verdict_words(tuned),
        },
    }
    return answer, better


def keep_tuning(notebook: Notebook, answer: dict[str, Any]) -> None:
    """Put what readings taught into force in the notebook: from now on every command's shelter is the corrected one.

    Raises InputError where the readings do not fit the shelter at all.
    """
    name = answer["shelter"]
    if answer["held_back"]["verdict"] == "misfit":
        raise InputError(f"not kept: {answer['held_back']['words']}")
    spans = {k: (e["low"], e["high"]) for k, e in answer["estimates"].items()}
    with notebook.transaction(f"the {name} corrected by its readings"):
        tunings.add(notebook, shelter_named(notebook, name).id, answer["parameters"], spans, answer["held_back"])


def undo_tuning(notebook: Notebook, name: str) -> str:
    """Take the newest correction of a shelter out of force.  Returns what holds now, in words.

    Raises InputError where it is not tuned.
    """
    record = shelter_named(notebook, name)
    with notebook.transaction(f"the correction of the {record.name} taken back"):
        earlier = tunings.undo(notebook, record.id)
    return f"the {record.name} is {'corrected as it was before' if earlier else 'as it was described'} again"


def _score(score: Score | None) -> dict[str, float | None] | None:
    """A score with none for what could not be compared, since JSON has no nan."""
    return None if score is None else {k: None if math.isnan(v) else v for k, v in asdict(score).items()}


def _probe(p: ProbeFit) -> dict[str, Any]:
    words = f"reads {abs(p.offset.value):.1f} K too {'high' if p.offset.value > 0 else 'low'}"
    if p.offset.low <= 0.0 <= p.offset.high:
        words = (
            "no error that the readings could show"
            if p.offset.told
            else "the readings can't tell whether it reads right"
        )
    if p.sun_warmed and p.sun_heating is not None:
        words += f"; the sun itself warms it, by {p.sun_heating.value:.0f} K in full sun: its sunny readings count little; shade it"
    return asdict(p) | {"words": words}


def _questions(readings: tuple[Readings, ...]) -> list[str]:
    """What was not said of a probe's place and would make its readings worth more."""
    asked = []
    for r in {r.probe: r for r in readings if r.spot in ("air", "leaf")}.values():
        unsaid = ["whether the sun reaches it"] if r.sunlit == "unknown" else []
        unsaid += ["how high it hangs"] if r.spot == "air" and r.height_m is None else []
        if unsaid:
            asked.append(f"{r.probe}: it was not said {' or '.join(unsaid)}")
    return asked


def _ground_words(e: Estimate) -> str:
    if not e.told:
        return "the weather before the readings is short: how warm the ground was then is a guess within 2 K, and the rest is that much less sure"
    return (
        f"the weather before the readings is short; by them the ground began {abs(e.value):.1f} K "
        f"{'warmer' if e.value > 0 else 'colder'} than guessed ({e.low:+.1f} to {e.high:+.1f} K)"
    ).replace("-", "−")


def _layering_words(e: Estimate) -> str:
    if not e.told:
        return "how much warmer the air is higher up in sun: the readings can't tell"
    return f"in full sun the air is {e.value:.0f} K warmer a metre higher ({e.low:.0f} to {e.high:.0f})"


def _clock_words(e: Estimate, readings: tuple[Readings, ...]) -> str:
    if all(r.timed_by_hand for r in readings):
        return "the times are your own, no logger's clock"
    if not e.told:
        return "the readings can't tell whether the clock is right"
    if e.low <= 0.0 <= e.high or abs(e.value) < SURE_CLOCK_H:
        return "the clock is right"
    return f"the clock is {'fast' if e.value > 0 else 'slow'} by {abs(e.value):.1f} h"


def _words(name: str, e: Estimate, tuned: Shelter) -> str:
    """One sentence for a fitted factor."""
    span = f"({e.low:.2g} to {e.high:.2g} times)"
    if not e.told:
        return {
            "leak_factor": "how much it leaks: the readings can't tell",
            "light_factor": "how much light gets in: the readings can't tell",
            "moisture_factor": "how wet the soil is: the readings can't tell",
            "gap_conductance_factor": "what the double glazing insulates: the readings can't tell",
            "night_cover_factor": "what the night cover insulates: the readings can't tell",
        }[name]
    if name == "leak_factor":
        area_cm2 = tuned.airtightness.leak_area_m2 * 1e4
        return f"it leaks {e.value:.2g} times as much as described {span}: all cracks together {area_cm2:.0f} cm²"
    if name == "light_factor":
        return (
            f"{100 * e.value:.0f} % of the light described gets in ({100 * e.low:.0f} to {100 * e.high:.0f} %): "
            "dirt, age and shade together"
        )
    if name == "moisture_factor":
        return f"the soil holds {100 * tuned.ground.moisture:.0f} % water by volume, {e.value:.2g} times as described {span}"
    if name == "gap_conductance_factor":
        return f"the double glazing lets {e.value:.2g} times as much heat through as described {span}"
    return f"the night cover insulates {e.value:.2g} times as well as described {span}"


def _verdict(t: Tuned) -> Verdict:
    """What the days held back say of the correction."""
    if t.before is None or t.after is None:
        return "too few"
    if t.after.error_k > WORST_K:
        return "misfit"
    if not any(e.told for e in t.estimates.values()):
        return "nothing told"
    return "no better" if t.after.error_k >= t.before.error_k else "better"


def _verdict_words(t: Tuned) -> str:
    verdict, before, after = _verdict(t), t.before, t.after
    if verdict == "misfit" and after is not None:
        return (
            f"the readings do not fit this shelter in this weather, by {after.error_k:.0f} K on the days held back even when corrected: "
            "do not rely on it, and look at the unit, the place, and where the thermometer hung"
        )
    nights = ""
    if verdict == "better" and before is not None and after is not None and not math.isnan(after.night_error_k):
        nights = (
            ", nights included" if after.night_error_k < before.night_error_k else ", but not for the nights' lowest"
        )
    return {
        "too few": "too few days to hold some back; read for at least eight days to see whether the correction helps",
        "nothing told": "the readings tell nothing of the shelter itself",
        "no better": "on the days held back the corrected shelter is no better: do not rely on it yet",
        "better": f"better on the days held back{nights}",
    }[verdict]
