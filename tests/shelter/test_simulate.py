"""What must always hold of a shelter, whatever its shape and sheets."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underglass.crop.drivers import joined_days, shelter_days
from underglass.errors import InputError
from underglass.place.place import Place
from underglass.shelter.inside import HEAT_PATHS, InsideWeather
from underglass.shelter.model import (
    Airtightness,
    Box,
    Construction,
    Cover,
    Fleece,
    Ground,
    Hoop,
    Layer,
    Lid,
    NightCover,
    OpenGround,
    Plants,
    Sheet,
    Shelter,
    Switches,
    Water,
)
from underglass.shelter.presets import PRESETS, preset
from underglass.shelter.simulate import simulate, simulate_pieces
from underglass.weather.outside import OutsideWeather, Provenance

HOURS = 24 * 12
PLACE = Place(45.0, -72.0, 200.0, "UTC", terrain="open")
DRY = Switches(vapour=False, soil_freezing=False, snow=False, sideways_soil=False)
WOOD = Construction((Layer(0.025, 0.12, 450.0, 1600.0),))
GLASS = Cover((Sheet(0.003),))
FILM = Cover((Sheet(0.00015, 1.51, 165.0, ir_transmittance=0.65, ir_emissivity=0.25),))


def weather(
    *, air_c: float = 0.0, sky_c: float = -15.0, sun: float = 0.0, wind: float = 2.0, swing_k: float = 0.0
) -> OutsideWeather:
    """Made-up days: steady air (or a daily swing), a sky of one temperature, and sun from 8 to 16 h."""
    hour = np.arange(HOURS) % 24
    day = np.clip(np.cos((hour - 12.0) / 8.0 * np.pi), 0.0, None) * ((hour > 7) & (hour < 17))
    air = air_c + 273.15 + swing_k * np.cos((hour - 14.0) / 24.0 * 2.0 * np.pi)
    full = np.full(HOURS, 1.0)
    return OutsideWeather(
        place=PLACE, start=np.datetime64("2026-02-01", "h"), air_temp_k=air, dew_point_k=air - 4.0, wind_m_s=wind * full, dni_w_m2=sun * day,
        dhi_w_m2=0.2 * sun * day, longwave_down_w_m2=5.670374e-8 * (sky_c + 273.15) ** 4 * full, precipitation_mm=0.0 * full, snow_depth_m=0.0 * full,
        pressure_pa=99000.0 * full, sun_zenith_deg=np.where(day > 0.0, 90.0 - 35.0 * day, 120.0), sun_azimuth_deg=(180.0 + 12.0 * (hour - 12.0)) % 360.0,
        provenance=Provenance("hourly record", "made up for a test"),
    )  # fmt: skip


def box(**changes: object) -> Shelter:
    plain = Shelter(
        "box",
        Box(1.8, 0.9, 0.3, 0.45),
        GLASS,
        WOOD,
        airtightness=Airtightness(0.002),
        switches=DRY,
        plants=Plants(height_m=0.05),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def nights(inside: InsideWeather) -> float:
    """Mean of the nights' lowest air, first days left out [K]."""
    return float(inside.air_temp_k.reshape(-1, 24)[4:].min(axis=1).mean())


def noons(inside: InsideWeather) -> float:
    return float(inside.air_temp_k.reshape(-1, 24)[4:].max(axis=1).mean())


SOIL_AT_AIR = Ground(wave_mean_k=273.15, wave_amplitude_k=0.0, wave_day_of_minimum=20.0)
shelters = st.sampled_from(
    [
        box(),
        Shelter("tunnel", Hoop(6, 1.2, 0.7), FILM, airtightness=Airtightness(0.01), switches=DRY),
        box(cover=Cover((Sheet(0.003), Sheet(0.003)))),
    ]
)


@settings(max_examples=12, deadline=None)
@given(shelters, st.floats(0.0, 6.0))
def test_in_the_dark_with_all_at_one_temperature_inside_is_outside(shelter: Shelter, wind: float) -> None:
    outside = weather(air_c=0.0, sky_c=0.0, wind=wind)
    inside = simulate(replace(shelter, ground=SOIL_AT_AIR), outside)
    assert np.abs(inside.air_temp_k - 273.15).max() < 0.02
    assert np.abs(inside.leaf_temp_k - 273.15).max() < 0.02


@settings(max_examples=12, deadline=None)
@given(shelters, st.floats(2.0, 15.0))
def test_without_sun_and_sky_as_air_inside_lies_between_soil_and_air(shelter: Shelter, soil_c: float) -> None:
    ground = Ground(wave_mean_k=273.15 + soil_c, wave_amplitude_k=0.0, wave_day_of_minimum=20.0)
    inside = simulate(replace(shelter, ground=ground), weather(air_c=0.0, sky_c=0.0))
    assert (inside.air_temp_k >= 273.15 - 0.01).all()
    assert (inside.air_temp_k <= 273.15 + soil_c).all()


@pytest.mark.parametrize(
    "shelter", [box(), Shelter("tunnel", Hoop(6, 1.2, 0.7), FILM, switches=DRY)], ids=["box", "tunnel"]
)
def test_under_a_cold_sky_with_cold_soil_inside_falls_below_outside(shelter: Shelter) -> None:
    """Real, not a fault: the cover loses more to the sky than the air gives it."""
    inside = simulate(replace(shelter, ground=SOIL_AT_AIR), weather(air_c=0.0, sky_c=-25.0, wind=1.0))
    assert inside.air_temp_k[100:].mean() < 273.15


@settings(max_examples=10, deadline=None)
@given(st.floats(0.2, 5.0), st.floats(10.0, 100.0))
def test_more_air_changes_bring_the_inside_nearer_the_outside(few: float, many: float) -> None:
    outside = weather(air_c=2.0, sky_c=-10.0, sun=500.0, swing_k=4.0)
    gap = [
        float(
            np.abs(
                simulate(box(airtightness=Airtightness(fixed_air_changes_per_h=n)), outside).air_temp_k
                - outside.air_temp_k
            )[96:].mean()
        )
        for n in (few, many)
    ]
    assert gap[1] < gap[0]


def test_a_night_cover_never_lowers_the_night_under_a_clear_sky() -> None:
    outside = weather(sun=400.0, swing_k=4.0, sky_c=-20.0)
    for resistance in (0.1, 0.5, 2.0):
        assert nights(simulate(box(night_cover=NightCover(resistance)), outside)) >= nights(simulate(box(), outside))


def test_a_second_pane_raises_night_and_noon() -> None:
    outside = weather(sun=500.0, swing_k=4.0)
    single, double = simulate(box(), outside), simulate(box(cover=Cover((Sheet(0.003), Sheet(0.003)))), outside)
    assert nights(double) > nights(single)
    assert noons(double) > noons(single)
    assert double.par_umol_m2_s.sum() < single.par_umol_m2_s.sum()


def test_film_that_passes_infrared_is_colder_at_night_than_one_that_does_not() -> None:
    outside = weather(sun=400.0, swing_k=4.0, sky_c=-20.0)
    clear = Shelter("film", Hoop(6, 1.2, 0.7), FILM, airtightness=Airtightness(0.01), switches=DRY)
    closed = replace(clear, cover=Cover((replace(FILM.sheets[0], ir_transmittance=0.0, ir_emissivity=0.9),)))
    assert nights(simulate(clear, outside)) < nights(simulate(closed, outside))


def test_jugs_calm_the_day() -> None:
    outside = weather(sun=500.0, swing_k=4.0)
    bare, jugs = simulate(box(), outside), simulate(box(water=Water(0.06, 1.0)), outside)
    assert nights(jugs) > nights(bare)
    assert noons(jugs) < noons(bare)


def test_fleece_warms_the_air_under_it() -> None:
    outside = weather(sun=300.0, swing_k=4.0, sky_c=-20.0)
    assert nights(simulate(box(fleece=Fleece()), outside)) > nights(simulate(box(), outside))


def test_an_arm_opens_and_somebody_always_there_holds_the_temperature() -> None:
    outside = weather(air_c=8.0, sun=800.0, swing_k=4.0)
    shut = simulate(box(), outside)
    arm = simulate(box(lid=Lid("arm", start_k=293.15, full_k=303.15)), outside)
    perfect = simulate(box(lid=Lid("perfect", start_k=295.15)), outside)
    assert arm.air_temp_k.max() < shut.air_temp_k.max()
    assert arm.lid_open.max() > 0.05
    assert perfect.air_temp_k[96:].max() < 295.15 + 1.0
    assert shut.lid_open.max() == 0.0


def test_a_shelters_own_terrain_goes_before_the_places() -> None:
    """The place of these tests is open; behind hedges the same box leaks less."""
    outside = weather(wind=6.0)
    leaks = [
        float(simulate(box(terrain=t), outside).air_changes_per_h[-48:].mean()) for t in (None, "open", "sheltered")
    ]
    assert leaks[0] == leaks[1]
    assert leaks[2] < 0.6 * leaks[1]


def test_a_rule_with_a_threshold_has_hysteresis() -> None:
    outside = weather(air_c=8.0, sun=800.0, swing_k=4.0)
    lid = Lid("rule", rule_rate_m3_h=60.0, rule_start_k=303.15, rule_stop_k=293.15)
    ruled = simulate(box(lid=lid), outside)
    assert ruled.air_temp_k[96:].max() < simulate(box(), outside).air_temp_k[96:].max()
    running = ruled.lid_open > 0.5
    assert running.any()
    assert (ruled.air_temp_k[running] > 291.0).mean() > 0.8


@pytest.mark.parametrize("name", PRESETS)
def test_every_preset_closes_its_energy_books(name: str) -> None:
    outside = weather(sun=600.0, swing_k=6.0, sky_c=-18.0)
    inside = simulate(preset(name), outside, heat=True)
    assert inside.closure < 1e-6
    assert set(inside.heat) == set(HEAT_PATHS)
    assert np.isfinite(inside.air_temp_k).all()
    assert ((inside.rh >= 0.0) & (inside.rh <= 1.0)).all()


def test_heat_paths_balance_over_days() -> None:
    """What came in, less what the parts stored, went out; steady days store next to nothing."""
    inside = simulate(box(), weather(sun=400.0, swing_k=3.0), heat=True)
    last = {k: float(v[-48:].mean()) for k, v in inside.heat.items()}
    sheet = 0.15 * last["sun_in_w"]  # sun caught in the pane itself leaves again within the cover's flows
    assert abs(sum(last.values())) < 0.2 * last["sun_in_w"] + sheet


def test_frozen_soil_holds_at_zero_while_it_freezes() -> None:
    ground = Ground(moisture=0.35, wave_mean_k=275.15, wave_amplitude_k=0.0, wave_day_of_minimum=20.0)
    wet = Shelter(
        "open",
        OpenGround(),
        ground=ground,
        plants=Plants(cover_share=0.0, leaf_area_index=0.0),
        switches=replace(DRY, soil_freezing=True),
    )
    dry = replace(wet, switches=DRY)
    outside = weather(air_c=-6.0, sky_c=-20.0)
    assert simulate(wet, outside).soil_10cm_k[-1] > simulate(dry, outside).soil_10cm_k[-1] + 0.3


def test_the_same_inputs_give_the_same_bytes() -> None:
    outside = weather(sun=500.0, swing_k=4.0)
    assert simulate(box(), outside).air_temp_k.tobytes() == simulate(box(), outside).air_temp_k.tobytes()


@pytest.mark.parametrize("name", ["box", "hoop", "sill"])
def test_pieces_are_the_whole(name: str) -> None:
    """What is carried from piece to piece is all that the next one needs, to the last bit."""
    outside, shelter = weather(air_c=-2.0, sun=400.0, swing_k=5.0), preset(name)
    whole, pieces = simulate(shelter, outside), list(simulate_pieces(shelter, outside, [24 * 3, 24 * 7]))
    assert [p.n_hours for p in pieces] == [72, 96, 120]
    for column in ("air_temp_k", "leaf_min_k", "soil_30cm_k", "rh", "lid_open"):
        assert np.concatenate([getattr(p, column) for p in pieces]).tobytes() == getattr(whole, column).tobytes()
    days, joined = shelter_days(whole), joined_days([shelter_days(p) for p in pieces])
    assert joined.shared.tobytes() == days.shared.tobytes()
    assert joined.hourly.tobytes() == days.hourly.tobytes()
    assert (joined.days.dates == days.days.dates).all()


def test_a_cover_that_is_missing_gets_a_sentence() -> None:
    with pytest.raises(InputError, match="no cover"):
        simulate(Shelter("bare", Box(1.0, 1.0, 0.3, 0.3)), weather())
    with pytest.raises(InputError, match="no wall material"):
        simulate(Shelter("bare", Box(1.0, 1.0, 0.3, 0.3), GLASS), weather())


def test_a_windowsill_stays_near_the_room() -> None:
    inside = simulate(preset("sill"), weather(air_c=-10.0))
    assert inside.air_temp_k.min() > 286.0
    assert inside.air_temp_k.max() < 296.0
