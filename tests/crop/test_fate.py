"""The kernel on made-up days: what must always hold, and common practice in good conditions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.crop.catalogue import catalogue, find_crop
from underglass.crop.drivers import ROWS
from underglass.crop.fate import fate_rule, fates, toughness
from underglass.crop.germination import aged_share, rate_per_day, success
from underglass.crop.growth import degrees, reference_degrees
from underglass.crop.outcome import Fate
from underglass.crop.types import Crop

N_DAYS = 420


def steady(crop: Crop, mean_c: float, *, swing_k: float = 5.0, light: float = 25.0, night_k: float = 6.0) -> np.ndarray:
    """Days that are all alike: a day and night around `mean_c`, leaves `night_k` below it at the coldest."""
    hours = mean_c + swing_k * np.sin(2 * np.pi * np.arange(24) / 24)
    germ = rate_per_day(crop.germination, np.full(24, mean_c))
    bed = np.zeros((len(ROWS), N_DAYS), np.float32)
    bed[0] = germ.mean()
    bed[1] = (germ * success(crop.germination, np.full(24, mean_c))).mean()
    bed[2] = degrees(crop.growth, hours).mean()
    cold = crop.bolting.cold_c
    bed[3] = 0.0 if cold is None else ((hours < cold) & (hours > -1.0)).sum()
    bed[4], bed[5], bed[6], bed[7], bed[8] = light, mean_c - night_k, 5, mean_c + swing_k + 2.0, 14
    bed[9], bed[10], bed[11] = mean_c, mean_c - 0.6 * swing_k, mean_c + swing_k
    return bed


def run(
    crop: Crop,
    bed: np.ndarray,
    *,
    nursery: np.ndarray | None = None,
    day_h: float = 12.0,
    start: int = 0,
    u: float = 0.5,
    age: float = 0.0,
):
    length = np.full(N_DAYS, day_h, np.float32)
    safe = np.ones(N_DAYS, np.uint8)
    return fates(
        fate_rule(crop, aged_share(crop.seed.life_years, age)),
        nursery,
        bed,
        length,
        safe,
        np.array([start], np.int32),
        np.array([u]),
    )


@pytest.mark.parametrize("name", ["leaf lettuce", "arugula", "mizuna", "tatsoi", "spinach"])
def test_baby_leaves_in_four_to_six_weeks(name: str) -> None:
    """Growers' tables and common practice: 4-6 weeks from sowing in good conditions, three for the quickest mustards."""
    crop = find_crop(name)
    found = run(crop, steady(crop, 16.9))
    assert found.outcome[0] == Fate.HARVESTED
    assert 20 <= found.first[0] <= 44


def test_radish_in_three_to_seven_weeks() -> None:
    """Britannica: 25-50 days."""
    found = run(find_crop("radish"), steady(find_crop("radish"), 16.9))
    assert 22 <= found.first[0] <= 50


def test_tomato_feeds_sixty_to_ninety_days_after_set_out() -> None:
    """Britannica: 70-90 days, early kinds 55-60."""
    crop = find_crop("tomato")
    found = run(crop, steady(crop, 22.5, light=30.0), nursery=steady(crop, 20.0, light=12.0))
    assert found.outcome[0] == Fate.HARVESTED
    assert 50 <= found.first[0] - found.set_out[0] <= 100
    assert 4 * 7 - 8 <= found.set_out[0] <= 9 * 7 + 14


def test_tender_crops_die_in_frost_and_hardy_ones_stand_it() -> None:
    """Dawling & Bezilla 2012: tomato and basil dead at 0 degC; kale and spinach far below when hardened."""
    for name, fate in (("tomato", Fate.SEEDLING_FROZEN), ("kale", Fate.HARVESTED)):
        crop = find_crop(name)
        bed = steady(crop, 16.0)
        bed[5, 60] = -4.5
        bed[9, 50:70] = 4.0
        assert run(crop, bed, start=20).outcome[0] in (
            (fate,) if name == "kale" else (Fate.SEEDLING_FROZEN, Fate.PLANT_FROZEN)
        )


def test_the_deciding_hour_is_told() -> None:
    crop = find_crop("tomato")
    bed = steady(crop, 18.0)
    bed[5, 70], bed[6, 70] = -8.0, 4
    found = run(crop, bed)
    assert (found.deciding[0], found.hour[0]) == (70, 4)


def test_a_shut_lid_cooks() -> None:
    crop = find_crop("leaf lettuce")
    bed = steady(crop, 16.9)
    bed[7, 15] = 56.0
    assert run(crop, bed).outcome[0] == Fate.COOKED


def test_spinach_bolts_in_long_warm_days() -> None:
    """Utah State Extension: stems rise once days pass 12-15 h, faster in warmth."""
    crop = find_crop("spinach")
    short, long = run(crop, steady(crop, 16.0), day_h=11.0), run(crop, steady(crop, 16.0), day_h=15.5)
    assert short.share[0] >= long.share[0]
    assert run(crop, steady(crop, 9.0), day_h=16.0).outcome[0] in (Fate.BOLTED, Fate.HARVESTED)


def test_frost_on_open_flowers_delays_strawberries() -> None:
    """Delaware and Purdue extension: open bloom is lost at -1.1 degC, while the plant lives on."""
    crop = find_crop("strawberry")
    spared, struck = steady(crop, 15.0), steady(crop, 15.0)
    first = int(run(crop, spared).first[0])
    struck[5, first - 30 : first] = -1.8
    found = run(crop, struck)
    assert found.outcome[0] == Fate.HARVESTED
    assert first + 5 <= found.first[0] <= first + 20


def test_seed_dries_out_in_small_cells() -> None:
    """Estimate in germination.cell_drying: a slow kind in a warm cell loses some of what the ground would bring up."""
    parsley = find_crop("parsley")
    nursery, bed = steady(parsley, 20.0), steady(parsley, 20.0)
    nursery[1] = bed[1] = nursery[0] * 0.27  # just enough comes up in the ground
    assert run(parsley, bed).emerged[0] >= 0
    assert run(parsley, bed, nursery=nursery).outcome[0] == Fate.DRIED_OUT


def test_garlic_needs_cold() -> None:
    """6-8 weeks at 0-10 degC or no bulb divides."""
    crop = find_crop("garlic")
    bed = steady(crop, 14.5)
    bed[3] = 0.0
    assert run(crop, bed, day_h=15.0).outcome[0] == Fate.NOT_READY
    bed[3, :60] = 24.0
    assert run(crop, bed, day_h=15.0).outcome[0] == Fate.HARVESTED


def test_nothing_is_sown_into_frozen_ground() -> None:
    """Common practice: a bed is sown once it can be worked; seed in a cell on the sill does not ask."""
    crop = find_crop("kale")
    bed = steady(crop, 12.0)
    bed[ROWS.index("frozen"), :20] = 1.0
    assert run(crop, bed, start=5).outcome[0] == Fate.TOO_COLD_TO_COME_UP
    assert run(crop, bed, start=20).outcome[0] == Fate.HARVESTED
    assert run(crop, bed, start=5, nursery=steady(crop, 17.0)).outcome[0] == Fate.HARVESTED


def test_garlic_goes_into_cooled_soil() -> None:
    """Growers in Oregon: plant at about 50 degF; what is planted in summer's soil is planted too early (common practice)."""
    crop = find_crop("garlic")
    assert run(crop, steady(crop, 19.0)).outcome[0] == Fate.TOO_HOT_TO_COME_UP
    assert run(crop, steady(crop, 11.0)).outcome[0] != Fate.TOO_HOT_TO_COME_UP


def test_peas_come_again_from_buds_below_the_ground() -> None:
    """Univ. Delaware Weekly Crop Update p=3919, p=19860: peas stand the low 20s degF (-5 to -6.5 degC) and, frozen off, make new stems from
    below; lettuce, whose bud stands above, does not."""
    for name, leaf_c, lives in (("pea", -6.0, True), ("pea", -11.0, False), ("leaf lettuce", -6.0, False)):
        crop = find_crop(name)
        bed = steady(crop, 13.0)
        bed[5, run(crop, bed).emerged[0] + 5] = leaf_c
        found = run(crop, bed)
        assert (found.outcome[0] == Fate.SEEDLING_FROZEN) != lives, (name, leaf_c)


def test_early_tomatoes_feed_sixty_days_after_set_out() -> None:
    """Britannica's table: 70-90 days from set-out, early kinds 55-60; families choose early ones, and the days count from a plant of full size at set-out."""
    rule = fate_rule(find_crop("tomato"))
    growth = find_crop("tomato").growth
    after = (rule.full - rule.set_out) / reference_degrees(growth)
    assert 55 <= after <= 65


def test_darkness_starves_seedlings() -> None:
    crop = find_crop("tomato")
    assert run(crop, steady(crop, 20.0, light=1.0)).outcome[0] == Fate.STARVED_OF_LIGHT


def test_old_seed_does_not_come_up() -> None:
    crop = find_crop("bulb onion")
    assert run(crop, steady(crop, 15.0), age=5.0).outcome[0] == Fate.SEED_TOO_OLD


def test_cold_soil_and_hot_soil_are_told_apart() -> None:
    lettuce = find_crop("leaf lettuce")
    assert run(lettuce, steady(lettuce, 33.0)).outcome[0] == Fate.TOO_HOT_TO_COME_UP
    bean = find_crop("snap bean")
    assert run(bean, steady(bean, 8.0)).outcome[0] == Fate.TOO_COLD_TO_COME_UP


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(catalogue())), st.floats(-6.0, 0.0), st.integers(30, 200))
def test_a_later_or_harder_frost_never_helps(crop_id: str, frost_c: float, day: int) -> None:
    crop = catalogue()[crop_id]
    mild, hard = steady(crop, 15.0), steady(crop, 15.0)
    mild[5, day], hard[5, day] = frost_c, frost_c - 5.0
    good = run(crop, mild).outcome[0] == Fate.HARVESTED
    assert good or run(crop, hard).outcome[0] != Fate.HARVESTED


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(sorted(catalogue())), st.floats(6.0, 17.0), st.floats(0.5, 4.0))
def test_warmer_soil_within_range_never_delays_emergence(crop_id: str, temp: float, more: float) -> None:
    germination = catalogue()[crop_id].germination
    best = min(19.0, germination.ceiling_c - 4.0)  # mache and claytonia slow down above 16-17 degC
    cool, warm = rate_per_day(germination, np.array([min(temp, best), min(temp + more, best)]))
    assert warm >= cool - 1e-9


@given(st.integers(3, 60), st.integers(0, 1000))
def test_toughness_is_evenly_spread_and_repeatable(n: int, seed: int) -> None:
    drawn = toughness(n, seed, "kale")
    assert sorted(drawn) == pytest.approx([(i + 0.5) / n for i in range(n)])
    assert (drawn == toughness(n, seed, "kale")).all()


def bearing(crop: Crop, mean_c: float, *, frost_on: int = N_DAYS, **more: float):
    bed = steady(crop, mean_c, light=30.0, **more)
    bed[5, frost_on:] = -6.0
    nursery = steady(crop, 20.0, light=12.0) if crop.growth.raise_weeks else None
    return run(crop, bed, nursery=nursery)


def test_tomatoes_bear_until_frost_or_until_they_are_worn_out() -> None:
    """Kansas State and others, hightunnels.org: once begun, picking goes on until frost; a plant is worn out after some months (common practice)."""
    crop = find_crop("tomato")
    first = int(bearing(crop, 21.0).first[0])
    seasons = [bearing(crop, 21.0, frost_on=first + d) for d in (20, 60, 100, 300)]
    shares = [float(s.share[0]) for s in seasons]
    assert shares == sorted(shares)
    assert shares[1] > 2.0 * shares[0]
    for days, found in zip((20, 60, 100), seasons, strict=False):
        assert first + days - 8 <= found.last[0] <= first + days
    assert 90 <= seasons[-1].last[0] - first <= 160
    assert shares[-1] <= crop.harvest.most_cuts / crop.harvest.cuts


def test_what_is_too_cool_to_ripen_gives_nothing_more() -> None:
    crop = find_crop("tomato")
    bed = steady(crop, 21.0, light=30.0)
    first = int(run(crop, bed).first[0])
    cool = bed.copy()
    cool[:, first + 5 :] = steady(crop, 8.0, light=30.0, night_k=4.0)[:, first + 5 :]
    assert run(crop, cool).share[0] <= 0.25
    assert run(crop, bed).share[0] > 1.0


def test_heat_at_bloom_leaves_pulses_and_tomatoes_without_fruit() -> None:
    """Bueckert et al. 2015 and Univ. Delaware: peas lose yield from 28 degC, and much of it above 29.4; Oklahoma State: tomatoes do not set in nights above 21 degC or days above 33."""
    pea, tomato = find_crop("pea"), find_crop("tomato")
    cool, warm = (run(pea, steady(pea, c, light=40.0)) for c in (14.0, 23.5))
    assert cool.outcome[0] == Fate.HARVESTED
    assert cool.share[0] > 0.9
    assert warm.share[0] < 0.6 * cool.share[0]
    assert run(pea, steady(pea, 27.0, light=40.0)).outcome[0] == Fate.NO_FRUIT_SET
    assert run(tomato, steady(tomato, 29.0, light=30.0, swing_k=6.0)).outcome[0] == Fate.NO_FRUIT_SET


def test_onions_swell_in_long_days_only() -> None:
    """Oregon State Extension: no bulb before the days of the kind.  Britannica: 130-160 days from seed.  Sown in summer at 50 degrees they stay leaf."""
    crop = find_crop("bulb onion")
    day = np.arange(N_DAYS)
    length = (12.2 + 4.3 * np.cos(2 * np.pi * (day - 172) / 365.0)).astype(np.float32)
    bed = steady(crop, 17.0, light=30.0)
    safe = np.ones(N_DAYS, np.uint8)

    def sown(start: int):
        return fates(fate_rule(crop), None, bed, length, safe, np.array([start], np.int32), np.array([0.5]))

    spring, summer = sown(60), sown(170)
    assert spring.outcome[0] == Fate.HARVESTED
    assert 125 <= spring.first[0] - 60 <= 165
    assert summer.first[0] < 0 or summer.first[0] > 365 + 100
