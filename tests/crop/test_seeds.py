"""Seed in store and in cells: order, bounds, and plain refusals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underglass.crop.catalogue import catalogue
from underglass.crop.seeds import (
    probit_days,
    seed_moisture,
    seeds_for_plants,
    seeds_per_cell,
    viability_after,
)
from underglass.errors import InputError

WITH_CONSTANTS = sorted(c.id for c in catalogue().values() if c.seed.viability)


@given(st.sampled_from(WITH_CONSTANTS), st.floats(0.03, 0.2), st.floats(0.0, 40.0), st.floats(1.0, 10.0))
def test_drier_and_cooler_lives_longer(crop_id: str, moisture: float, temp_c: float, more: float) -> None:
    seed = catalogue()[crop_id].seed
    here = probit_days(seed, moisture, temp_c)
    assert probit_days(seed, moisture * 1.1, temp_c) < here
    assert probit_days(seed, moisture, temp_c + more) < here


@given(st.sampled_from(WITH_CONSTANTS), st.floats(0.5, 0.99), st.floats(0.0, 3000.0), st.floats(0.0, 500.0))
def test_viability_only_falls(crop_id: str, start: float, days: float, more: float) -> None:
    seed = catalogue()[crop_id].seed
    later = viability_after(seed, start, days + more, 0.08, 20.0)
    assert 0.0 <= later <= viability_after(seed, start, days, 0.08, 20.0) <= start + 1e-12


@given(st.floats(0.1, 0.7), st.floats(0.0, 40.0), st.floats(0.0, 0.5))
def test_moist_air_makes_moist_seed(rh: float, temp_c: float, oil: float) -> None:
    assert 0.0 < seed_moisture(rh * 0.95 if rh > 0.11 else 0.1, temp_c, oil) <= seed_moisture(rh, temp_c, oil) < 0.3
    assert seed_moisture(rh, temp_c, oil + 0.1) < seed_moisture(rh, temp_c, oil)


@given(st.floats(0.2, 0.98), st.floats(0.5, 0.99))
def test_seeds_per_cell_are_the_fewest_that_do(p: float, chance: float) -> None:
    n = seeds_per_cell(p, chance)
    assert 1.0 - (1.0 - p) ** n >= chance - 1e-9
    assert n == 1 or 1.0 - (1.0 - p) ** (n - 1) < chance


@given(st.integers(1, 40), st.floats(0.3, 0.95))
def test_worse_seed_needs_more(plants: int, p: float) -> None:
    assert plants <= seeds_for_plants(plants, p) <= seeds_for_plants(plants, p * 0.8)


def test_what_was_not_measured_is_refused() -> None:
    spinach, onion = catalogue()["spinach"].seed, catalogue()["onion_bulb"].seed
    with pytest.raises(InputError, match="household seed life"):
        probit_days(spinach, 0.08, 20.0)
    with pytest.raises(InputError, match=r"moisture is 0\.5"):
        probit_days(onion, 0.5, 20.0)
    with pytest.raises(InputError, match=r"humidity is 0\.9"):
        seed_moisture(0.9, 20.0, 0.1)
    with pytest.raises(InputError, match="viability at the start is 1"):
        viability_after(onion, 1.0, 10.0, 0.08, 20.0)
    with pytest.raises(InputError, match="germination is 0"):
        seeds_per_cell(0.0)
    with pytest.raises(InputError, match="plants wanted is 0"):
        seeds_for_plants(0, 0.8)
