"""The one rule of seed on hand: what a packet is expected to give, what to do with it, and whether anything counts on it.

The guide, the story of a sowing, the year and the seed list all ask here.  Seed of which half is expected to come up (less of kinds that may be
sold fresh with less) is sown, thicker where it is thin; beneath that everything is reckoned with fresh seed, until a test says better.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import numpy as np

from underglass.crop.catalogue import catalogue
from underglass.crop.germination import aged_share
from underglass.crop.packet_germination import Expected, after_test, expected_of
from underglass.crop.seeds import seed_moisture, viability_after
from underglass.crop.types import Crop
from underglass.plan.household import Household, SeedPacket
from underglass.plan.work import fresh_germination

__all__ = [
    "COLDEST_K",
    "WARMEST_K",
    "Advice",
    "advice_on",
    "age_of",
    "expected_from",
    "needs_fresh",
    "seed_shares",
    "sowable",
    "with_sowable_seed",
]

Advice = Literal["use first", "good", "sow thicker", "test", "buy"]

FRESH = 0.95
"""Share alive of fresh good seed, where the storage equation starts (estimate)."""

THIN, DEAD = 0.7, 0.5
"""Under the first sow thicker, at or under the second discard or sow double (Univ. of Nebraska Extension)."""

COLDEST_K, WARMEST_K = 233.15, 323.15
"""Where a household keeps seed, from a freezer to a hot shed: -40 to 50 degC."""

TEST_SEEDS = 10
UNSURE = 0.45
"""An interval wider than this is worth a test."""


def age_of(packet: SeedPacket, on: np.datetime64) -> float:
    """Years since the one that it was packed for."""
    return float(max(0, int(str(on)[:4]) - packet.packed))


def expected_from(packet: SeedPacket, on: np.datetime64) -> tuple[Expected, str]:
    """What is expected of a packet, and what that stands on."""
    crop, age = catalogue()[packet.crop_id], age_of(packet, on)
    share = fresh_germination(crop) * aged_share(crop.seed.life_years, age)
    basis = "household life of the kind"
    if packet.storage_k is not None and packet.storage_rh is not None and crop.seed.viability is not None:
        if 0.1 <= packet.storage_rh <= 0.7:
            temp_c = packet.storage_k - 273.15
            moisture = seed_moisture(packet.storage_rh, temp_c, crop.seed.oil_share or 0.0)
            share = viability_after(crop.seed, FRESH, max(age, 0.01) * 365.25, moisture, temp_c)
            basis = "storage: Ellis & Roberts 1980"
        else:
            basis = "household life of the kind, as the store is damper or drier than was measured"
    expected = after_test(expected_of(share), packet.n_up, packet.n_sown)
    return expected, f"test of {packet.n_sown}, {basis} before it" if packet.n_sown else basis


def _bars(crop: Crop) -> tuple[float, float]:
    """(share under which seed is thin, share at or under which it is not counted on), by what fresh seed of the kind may be sold at."""
    fresh = fresh_germination(crop)
    return min(THIN, fresh), min(DEAD, 0.6 * fresh)


def sowable(packet: SeedPacket, on: np.datetime64) -> bool:
    """Whether enough of it is expected to come up for anything to count on it."""
    return expected_from(packet, on)[0].mean > _bars(catalogue()[packet.crop_id])[1]


def advice_on(packet: SeedPacket, on: np.datetime64) -> Advice:
    """Buy, test, sow thicker, use first, or good.  What is to be bought is never sowable; what is to be tested may be, if it is only old."""
    crop = catalogue()[packet.crop_id]
    thin, _ = _bars(crop)
    expected, _ = expected_from(packet, on)
    low, high = expected.interval()
    left = None if crop.seed.life_years is None else crop.seed.life_years - age_of(packet, on)
    testable = not packet.n_sown and (packet.count is None or packet.count >= 2 * TEST_SEEDS)
    if not sowable(packet, on):
        return "test" if testable and high > thin else "buy"
    if testable and left is not None and left <= 0.0 and high - low > UNSURE:
        return "test"
    if expected.mean < 0.9 * thin:
        return "sow thicker"
    return "use first" if left is not None and left <= 1.0 else "good"


def with_sowable_seed(household: Household, on: np.datetime64) -> Household:
    """The household without the packets that nothing counts on: what is sown of these kinds is fresh."""
    return replace(household, seeds=tuple(p for p in household.seeds if sowable(p, on)))


def seed_shares(household: Household, on: np.datetime64) -> Mapping[str, float]:
    """By crop id the share of fresh seed's germination that the best packet to be sown still has, 0-1; kinds of which there is none are left out."""
    found: dict[str, float] = {}
    for packet in with_sowable_seed(household, on).seeds:
        fresh = fresh_germination(catalogue()[packet.crop_id])
        share = min(1.0, expected_from(packet, on)[0].mean / fresh)
        found[packet.crop_id] = max(share, found.get(packet.crop_id, 0.0))
    return found


def needs_fresh(household: Household, crop_id: str, on: np.datetime64) -> bool:
    """Whether there is seed of a kind and none of it is counted on."""
    return any(p.crop_id == crop_id for p in household.seeds) and crop_id not in seed_shares(household, on)
