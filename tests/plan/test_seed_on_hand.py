"""The one rule of seed on hand: what is sown, and what everything reckons with fresh seed for."""

from __future__ import annotations

import numpy as np
import pytest

from underglass.crop.catalogue import catalogue
from underglass.crop.germination import aged_share
from underglass.plan.household import SeedPacket
from underglass.plan.seed_on_hand import advice_on, needs_fresh, seed_shares, sowable
from underglass.sources.household_file import household_of_table

ON = np.datetime64("2027-03-01")
YEARS = range(2012, 2028)


def household(*packets: SeedPacket):
    return household_of_table(
        {
            "place": {"latitude": 44.0, "longitude": -72.7},
            "seeds": [
                {"crop": p.crop_id, "packed": p.packed, **({"tested": p.n_sown, "up": p.n_up} if p.n_sown else {})}
                for p in packets
            ],
        }
    )


@pytest.mark.parametrize("crop", sorted(catalogue()))
def test_what_is_to_be_bought_is_never_sown_and_what_is_good_always(crop: str) -> None:
    for packed in YEARS:
        for sown, up in ((0, 0), (20, 1), (20, 10), (20, 19)):
            packet = SeedPacket(crop, packed, n_sown=sown, n_up=up)
            advice = advice_on(packet, ON)
            assert sowable(packet, ON) or advice in ("buy", "test")
            assert not (sowable(packet, ON) and advice == "buy")


def test_about_half_is_the_bar() -> None:
    """Discard or sow double at 50 %: Univ. of Nebraska Extension; six tenths of the official 75 % of kale (7 CFR 201.31) is 45."""
    assert sowable(SeedPacket("kale", 2026, n_sown=200, n_up=110), ON)
    assert not sowable(SeedPacket("kale", 2026, n_sown=200, n_up=80), ON)


def test_untested_seed_ages_by_its_household_life_and_a_test_takes_its_place() -> None:
    spinach = catalogue()["spinach"]
    left = seed_shares(household(SeedPacket("spinach", 2024)), ON)["spinach"]
    assert left == pytest.approx(aged_share(spinach.seed.life_years, 3.0), abs=1e-3)
    well = seed_shares(household(SeedPacket("spinach", 2024, n_sown=100, n_up=60)), ON)["spinach"]
    assert left < well <= 1.0


def test_the_best_packet_of_a_kind_is_sown_and_one_that_is_dead_takes_nothing_from_it() -> None:
    found = household(SeedPacket("onion_bulb", 2020), SeedPacket("onion_bulb", 2027))
    assert seed_shares(found, ON)["onion_bulb"] == pytest.approx(1.0)
    assert not needs_fresh(found, "onion_bulb", ON)


def test_seed_that_only_a_test_could_save_is_reckoned_fresh_until_the_test_is_in() -> None:
    found = next(
        SeedPacket(crop, packed)
        for crop in sorted(catalogue())
        for packed in YEARS
        if advice_on(SeedPacket(crop, packed), ON) == "test" and not sowable(SeedPacket(crop, packed), ON)
    )
    untested = household(found)
    assert needs_fresh(untested, found.crop_id, ON)
    assert found.crop_id not in seed_shares(untested, ON)
    tested = household(SeedPacket(found.crop_id, found.packed, n_sown=40, n_up=38))
    assert not needs_fresh(tested, found.crop_id, ON)
    assert not needs_fresh(household(), found.crop_id, ON)
