"""From the forms of the Seeds page to a packet or a test and back, with one sentence for each wrong field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from underglass.crop.catalogue import catalogue
from underglass.faces.web.texts import Say
from underglass.plan.seed_on_hand import COLDEST_K, WARMEST_K
from underglass.services.packets import MOST_KG, MOST_SEEDS, MOST_TESTED, Packet
from underglass.units import OUNCE_KG, c_to_k, f_to_k, k_to_c, k_to_f

__all__ = ["FIELDS", "Test", "as_form", "read_packet", "read_test"]

FIELDS = ("crop", "packed", "variety", "amount", "measure", "bought_from", "storage", "humidity")
LONGEST = 80
MEASURES = {"seeds": 0.0, "g": 0.001, "oz": OUNCE_KG}
"""Kilograms of one of each; seeds are counted."""


@dataclass(frozen=True, slots=True)
class Test:
    """A germination test as it was said."""

    on: date
    n_sown: int
    n_up: int


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        return None


def _whole(text: str, low: int, high: int) -> int | None:
    number = _number(text)
    return int(number) if number is not None and number == int(number) and low <= number <= high else None


def _amount(given: Mapping[str, str], say: Say, faults: dict[str, str]) -> dict[str, Any]:
    """Seeds counted or weighed, or neither."""
    if not given["amount"]:
        return {}
    each = MEASURES.get(given["measure"], 0.0)
    number = _number(given["amount"])
    if each:
        if number is None or not 0.0 < number * each <= MOST_KG:
            faults["amount"] = say("seeds.bad_weight")
            return {}
        return {"mass_kg": number * each}
    count = _whole(given["amount"], 0, MOST_SEEDS)
    if count is None:
        faults["amount"] = say("seeds.bad_count")
    return {"count": count}


def _storage(given: Mapping[str, str], units: str, say: Say, faults: dict[str, str]) -> dict[str, float]:
    kept: dict[str, float] = {}
    if given["storage"]:
        number = _number(given["storage"])
        kelvin = None if number is None else f_to_k(number) if units == "f" else c_to_k(number)
        if kelvin is None or not COLDEST_K <= kelvin <= WARMEST_K:
            faults["storage"] = say("seeds.bad_storage")
        else:
            kept["storage_k"] = kelvin
    if given["humidity"]:
        percent = _number(given["humidity"])
        if percent is None or not 0.0 < percent <= 100.0:
            faults["humidity"] = say("seeds.bad_humidity")
        else:
            kept["storage_rh"] = percent / 100.0
    return kept


def read_packet(given: Mapping[str, str], say: Say, units: str, year: int) -> tuple[Packet | None, dict[str, str]]:
    """The packet and the faults by field; none where there is a fault.  year : of today"""
    given = {f: given.get(f, "").strip()[:LONGEST] for f in FIELDS}
    faults: dict[str, str] = {}
    if given["crop"] not in catalogue():
        faults["crop"] = say("seeds.bad_crop")
    packed = _whole(given["packed"], 1950, year + 1)
    if packed is None:
        faults["packed"] = say("seeds.bad_packed", last=year + 1)
    more = _amount(given, say, faults) | _storage(given, units, say, faults)
    if faults or packed is None:
        return None, faults
    return Packet(
        crop=given["crop"], packed=packed, variety=given["variety"], bought_from=given["bought_from"], **more
    ), {}


def as_form(row: Mapping[str, Any] | None, units: str) -> dict[str, str]:
    """A row of the shelf as form fields; empty ones for a new packet.  units : 'c' or 'f'"""
    if row is None:
        return dict.fromkeys(FIELDS, "") | {"measure": "seeds"}
    weighed = row["seeds"] is None and row["mass_g"] is not None
    storage = None if row["storage_c"] is None else c_to_k(row["storage_c"])
    degrees = "" if storage is None else f"{k_to_f(storage) if units == 'f' else k_to_c(storage):.3g}"
    return {
        "crop": row["crop"],
        "packed": str(row["packed"]),
        "variety": row["variety"],
        "amount": f"{row['mass_g']:g}" if weighed else "" if row["seeds"] is None else str(row["seeds"]),
        "measure": "g" if weighed else "seeds",
        "bought_from": row["bought_from"],
        "storage": degrees,
        "humidity": "" if row["storage_humidity"] is None else f"{100.0 * row['storage_humidity']:.3g}",
    }


def read_test(given: Mapping[str, str], say: Say, packed: int, today: date) -> tuple[Test | None, dict[str, str]]:
    """The test and the faults by field.  packed : year on the packet"""
    faults: dict[str, str] = {}
    sown = _whole(given.get("sown", "").strip(), 1, MOST_TESTED)
    up = _whole(given.get("up", "").strip(), 0, MOST_TESTED)
    if sown is None:
        faults["sown"] = say("seeds.bad_sown")
    if up is None or (sown is not None and up > sown):
        faults["up"] = say("seeds.bad_up")
    try:
        on = date.fromisoformat(given.get("on", "").strip())
    except ValueError:
        on = None
    if on is None or not date(packed - 1, 1, 1) <= on <= today:
        faults["on"] = say("seeds.bad_day")
    if faults or sown is None or up is None or on is None:
        return None, faults
    return Test(on, sown, up), {}
