"""What readings taught, in the words of the page: figures as the family sees them, and what the readings can't tell said plainly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from underglass.faces.web.speech import Speech
from underglass.faces.web.understood_words import probe

__all__ = ["told"]

SURE_CLOCK_H = 0.25


def _factor(name: str, e: Mapping[str, Any], show: Speech) -> str:
    if not e["told"]:
        return show.say("tuned.cannot_tell", what=show.say(f"tuned.about_{name}"))
    values = {k: f"{e[k]:.2g}" for k in ("value", "low", "high")}
    return show.say(f"tuned.{name}", **values)


def _clock(answer: Mapping[str, Any], show: Speech) -> str:
    e = answer["clock_h"]
    if not e["told"]:
        return ""
    if e["low"] <= 0.0 <= e["high"] or abs(e["value"]) < SURE_CLOCK_H:
        return show.say("tuned.clock_right")
    return show.say("tuned.clock_fast" if e["value"] > 0 else "tuned.clock_slow", h=f"{abs(e['value']):.1f}")


def _probe(p: Mapping[str, Any], show: Speech) -> str:
    o = p["offset"]
    by = show.difference(abs(o["value"])).lstrip("+−")
    if not o["told"]:
        words = show.say("tuned.probe_cannot_tell")
    elif o["low"] <= 0.0 <= o["high"]:
        words = show.say("tuned.probe_right")
    else:
        words = show.say("tuned.probe_high" if o["value"] > 0 else "tuned.probe_low", by=by)
    if p["sun_warmed"]:
        words += " " + show.say("tuned.probe_sun")
    return f"{probe(p['probe'], show)}: {words}"


def _rows(answer: Mapping[str, Any], show: Speech) -> list[tuple[str, str, str]]:
    """Error before and after, over all readings and of the night's lowest."""
    held, rows = answer["held_back"], []
    for key, name in (("error_k", "tuned.all"), ("night_error_k", "tuned.nights")):
        pair: Sequence[Any] = [(held[when] or {}).get(key) for when in ("before", "after")]
        if all(v is not None for v in pair):
            rows.append((show.say(name), *(show.difference(v).lstrip("+") for v in pair)))
    return [(a, b, c) for a, b, c in rows]


def told(answer: Mapping[str, Any], show: Speech) -> dict[str, Any]:
    """The sentences and the table of a fit."""
    held = answer["held_back"]
    verdict = show.say(f"tuned.{held['verdict'].replace(' ', '_')}", days=held["days"])
    lines = [_factor(name, e, show) for name, e in answer["estimates"].items()]
    clock = _clock(answer, show)
    return {
        "verdict": verdict,
        "good": held["verdict"] == "better",
        "keepable": held["verdict"] != "misfit" and any(e["told"] for e in answer["estimates"].values()),
        "rows": _rows(answer, show),
        "lines": [*lines, *([clock] if clock else [])],
        "probes": [_probe(p, show) for p in answer["probes"]],
        "weather": answer["weather"],
        "short_lead": answer["short_lead"],
    }
