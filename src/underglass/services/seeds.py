"""Seed on hand: what it is still good for, how many to sow, what to use first, test or buy.  Plain data, documented in docs/json.md."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from underglass.crop.catalogue import catalogue, find_crop
from underglass.crop.packet_germination import Expected, exact_interval, expected_of, seeds_for
from underglass.crop.seeds import seeds_per_cell
from underglass.crop.types import Crop
from underglass.errors import InputError
from underglass.plan.household import Household, SeedPacket
from underglass.plan.seed_on_hand import advice_on, age_of, expected_from, sowable, with_sowable_seed
from underglass.plan.work import figures, fresh_germination

__all__ = ["needed_of_plan", "seed_report"]

VERSION = 1


def seed_report(
    household: Household,
    on: np.datetime64,
    plants: Mapping[str, int],
    *,
    chance: float = 0.9,
    seeds: Mapping[str, int] | None = None,
) -> dict[str, Any]:
    """Every packet on hand, and what the wanted plants take.

    plants : wanted by crop id;  chance : of at least so many, 0-1 exclusive
    seeds : by crop id, where a plan has reckoned them already, sowing by sowing
    Raises InputError for a chance that is none.
    """
    if not 0.0 < chance < 1.0:
        raise InputError(f"--chance is {chance:g}: expected between 0 and 1, as 0.9")
    rows = [_packet(p, on) for p in household.seeds]
    rows.sort(key=lambda r: (ORDER.index(r["advice"]), r["years_left"] if r["years_left"] is not None else 99.0))
    price = figures()["seed"]
    known = seeds or {}
    needs = [_need(catalogue()[c], n, household, on, chance, known.get(c)) for c, n in plants.items()]
    packets = sum(n["packets_to_buy"] for n in needs)
    return {
        "version": VERSION,
        "date": str(on),
        "household": household.name,
        "chance": chance,
        "packets": rows,
        "needs": needs,
        "shopping": {
            "packets": packets,
            "cost_low": round(packets * float(price["packet_low"]), 2),
            "cost_high": round(packets * float(price["packet_high"]), 2),
            "note": "packet sizes and prices are estimates, in dollars, euros or pounds alike",
        },
    }


ORDER = ("use first", "good", "sow thicker", "test", "buy")


def _packet(packet: SeedPacket, on: np.datetime64) -> dict[str, Any]:
    crop, age = catalogue()[packet.crop_id], age_of(packet, on)
    expected, basis = expected_from(packet, on)
    low, high = expected.interval()
    life = crop.seed.life_years
    left = None if life is None else life - age
    return {
        "crop": crop.id,
        "name": crop.name,
        "packed": packet.packed,
        "age_years": age,
        "count": packet.count,
        "germination": round(expected.mean, 3),
        "germination_low": round(low, 3),
        "germination_high": round(high, 3),
        "basis": basis,
        "official_minimum": crop.seed.official_germination,
        "years_left": left,
        "test_interval": None
        if not packet.n_sown
        else [round(v, 3) for v in exact_interval(packet.n_up, packet.n_sown)],
        "seeds_per_cell": seeds_per_cell(min(expected.mean, 0.99)),
        "advice": advice_on(packet, on),
        "counted_on": sowable(packet, on),
    }


def needed_of_plan(plan: Mapping[str, Any]) -> tuple[dict[str, int], dict[str, int]]:
    """Plants, and seeds for them, by crop id in a year's plan, without what stands already."""
    plants: dict[str, int] = {}
    seeds: dict[str, int] = {}
    for sowing in plan["sowings"]:
        if not sowing["standing"]:
            crop = find_crop(sowing["crop"]).id
            plants[crop] = plants.get(crop, 0) + int(sowing["plants"])
            seeds[crop] = seeds.get(crop, 0) + int(sowing["seeds"])
    return plants, seeds


def _need(
    crop: Crop, plants: int, household: Household, on: np.datetime64, chance: float, seeds: int | None = None
) -> dict[str, Any]:
    """Seeds for so many plants from what is on hand, and how many packets that lacks."""
    if plants < 1:
        raise InputError(f"{crop.name}: {plants} plants wanted, expected at least 1")
    usable = [(p, expected_from(p, on)[0]) for p in with_sowable_seed(household, on).seeds if p.crop_id == crop.id]
    fresh = expected_of(fresh_germination(crop))
    expected = max((e for _, e in usable), key=lambda e: e.mean, default=fresh)
    field = float(figures()["seed"]["field"])
    sown = seeds or seeds_for(plants, Expected(expected.a * field, expected.a * (1.0 - field) + expected.b), chance)
    on_hand = sum(crop.kitchen.packet_seeds if p.count is None else p.count for p, _ in usable)
    lacking = max(0, sown - on_hand)
    return {
        "crop": crop.id,
        "name": crop.name,
        "plants": plants,
        "seeds": sown,
        "on_hand": on_hand,
        "packets_to_buy": math.ceil(lacking / crop.kitchen.packet_seeds),
        "packet_seeds": crop.kitchen.packet_seeds,
    }
