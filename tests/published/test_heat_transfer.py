"""Small formulas and the soil column against closed forms and handbook values."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import erfc

from tests.published.test_covers import steady
from underglass.shelter import columns, films
from underglass.shelter.geometry import enclosure
from underglass.shelter.model import Airtightness, Box, Construction, Cover, Ground, Layer, Sheet, Shelter, Switches
from underglass.shelter.simulate import simulate
from underglass.shelter.soil import YEAR_S, annual_wave_k, column_of_layers, damping_depth_m, soil_conductivity

K, RHO, C = 1.2, 1500.0, 1300.0
ALPHA = K / (RHO * C)
DAY_S = 86400.0
"""Soil of the checks: k 1.2, rho 1500, c 1300 (diffusivity 6.154e-7 m2/s); closed forms of Carslaw & Jaeger 1959, §2.6."""


def march(surface, hours: int, depth_m: float = 4.0, slices: int = 200, dt: float = 600.0):
    """Drive a column of this soil with a surface temperature, time in seconds → K, and give back all profiles by hour."""
    thick = np.full(slices, depth_m / slices)
    zero, heat, k = np.zeros(slices), np.full(slices, RHO * C), np.full(slices, K)
    temp, links = np.full(slices, 300.0), np.empty(slices + 1)
    up, low, hold, inverse = np.empty(slices), np.empty(slices), np.empty(slices), np.empty(slices)
    columns.couple(temp, thick, k, k, zero, links)
    profiles, fluxes = [], []
    for step in range(int(hours * 3600.0 / dt)):
        skin = surface((step + 1) * dt)
        columns.factor(temp, thick, links, heat, heat, zero, zero, 0.0, dt, hold, inverse, low)
        columns.sweep(temp, zero, 0.0, hold, inverse, up, low)
        columns.settle(temp, hold, up, low, skin, zero, zero)
        if (step + 1) % round(3600.0 / dt) == 0:
            profiles.append(temp.copy())
            fluxes.append(links[0] * (skin - temp[0]))
    return np.array(profiles), np.array(fluxes), np.cumsum(thick) - 0.5 * thick


def test_damping_depths() -> None:
    assert damping_depth_m(ALPHA, YEAR_S) == pytest.approx(2.485, rel=0.002)
    assert damping_depth_m(ALPHA, DAY_S) == pytest.approx(0.1301, rel=0.002)


@pytest.mark.parametrize(("depth", "share", "lag_d"), [(0.5, 0.818, 11.7), (1.0, 0.669, 23.4), (2.0, 0.447, 46.8)])
def test_annual_wave(depth: float, share: float, lag_d: float) -> None:
    days = np.arange(0.0, 365.25, 0.05)
    wave = annual_wave_k(depth, days, 283.15, 10.0, 20.0, ALPHA)
    assert 0.5 * (wave.max() - wave.min()) / 10.0 == pytest.approx(share, rel=0.01)
    assert days[wave.argmin()] - 20.0 == pytest.approx(lag_d, rel=0.01)


def test_daily_wave_at_ten_centimetres_in_our_column() -> None:
    """Amplitude x 0.464, 2.94 h late (Carslaw & Jaeger, exp(-z/d) and z/d)."""
    profiles, _, depth = march(lambda t: 300.0 + 10.0 * np.sin(2 * np.pi * t / DAY_S), 24 * 12)
    last = np.array([np.interp(0.10, depth, p) for p in profiles[-24:]])
    phase = np.arange(1, 25) * 3600.0 * 2 * np.pi / DAY_S
    a, b = (last * np.sin(phase)).mean() * 2, (last * np.cos(phase)).mean() * 2
    assert np.hypot(a, b) / 10.0 == pytest.approx(0.464, rel=0.02)
    assert np.arctan2(-b, a) / (2 * np.pi) * 24.0 == pytest.approx(2.94, rel=0.03)


def test_surface_flux_of_a_daily_wave() -> None:
    """Effusivity 1530 W s^0.5/m2K: 130.4 W/m2 for 10 K, three hours ahead."""
    _, flux, _ = march(
        lambda t: 300.0 + 10.0 * np.sin(2 * np.pi * t / DAY_S), 24 * 12, slices=400, depth_m=2.0, dt=300.0
    )
    phase = np.arange(1, 25) * 3600.0 * 2 * np.pi / DAY_S
    a, b = (flux[-24:] * np.sin(phase)).mean() * 2, (flux[-24:] * np.cos(phase)).mean() * 2
    assert np.hypot(a, b) == pytest.approx(130.4, rel=0.02)
    assert np.arctan2(b, a) / (2 * np.pi) * 24.0 == pytest.approx(3.0, abs=0.15)


@pytest.mark.parametrize(("depth", "hours", "rise"), [(0.1, 6, 5.40), (0.1, 24, 7.59), (0.3, 24, 3.58)])
def test_step_response(depth: float, hours: int, rise: float) -> None:
    """10 K at the surface at once: 10 erfc(z / 2 sqrt(alpha t))."""
    profiles, _, at = march(lambda t: 310.0, hours)
    found = np.interp(depth, at, profiles[-1]) - 300.0
    assert found == pytest.approx(rise, abs=0.1)
    assert rise == pytest.approx(10.0 * erfc(depth / (2 * np.sqrt(ALPHA * hours * 3600.0))), abs=0.01)


def test_flux_an_hour_after_a_step() -> None:
    """k dT / sqrt(pi alpha t) = 143.8 W/m2."""
    _, flux, _ = march(lambda t: 310.0, 1, depth_m=1.0, slices=400, dt=60.0)
    assert flux[0] == pytest.approx(143.8, rel=0.03)


def test_freezing_takes_the_latent_heat_and_gives_it_back() -> None:
    thawed, frozen, latent = 2.0e6, 1.7e6, 8.0e7
    below = columns.soil_heat(273.15 - 5.0, thawed, frozen, latent)
    assert columns.soil_temp(below, thawed, frozen, latent) == pytest.approx(268.15)
    assert (
        columns.soil_heat(273.15, thawed, frozen, latent) - columns.soil_heat(273.15 - 0.8, thawed, frozen, latent)
        > latent
    )


def test_single_and_double_glass_conductance() -> None:
    """EN 673: 4 mm single glass 5.75 W/m2K with films 25 and 7.7; 4-12-4 air 2.85 (gap: Nu 1, 2.08 + 3.70)."""
    single = 1.0 / (1 / 25 + 0.004 / 1.0 + 1 / 7.7)
    assert single == pytest.approx(5.75, abs=0.02)
    assert pytest.approx(5.79, abs=0.02) == 1.0 / (1 / 25 + 0.003 / 1.0 + 1 / 7.7)
    pair = 1.0 / (2.0 / 0.837 - 1.0)
    gap = films.gap_film(0.012, 283.0 + 7.5, 283.0 - 7.5) + pair * films.radiation(290.5, 275.5)
    assert gap == pytest.approx(2.08 + 3.70, abs=0.05)
    assert 1.0 / (1 / 25 + 2 * 0.004 + 1 / gap + 1 / 7.7) == pytest.approx(2.85, abs=0.05)


@pytest.mark.parametrize(("thickness_m", "u"), [(0.025, 2.64), (0.019, 3.05)])
def test_wooden_wall_conductance(thickness_m: float, u: float) -> None:
    """Softwood, k 0.12, ISO 6946 films."""
    column = column_of_layers((Layer(thickness_m, 0.12, 450.0, 1600.0),))
    resistance = float((column.thickness_m / column.conductivity_thawed).sum())
    assert 1.0 / (0.13 + resistance + 0.04) == pytest.approx(u, abs=0.02)


def test_sideways_way_agrees_with_iso_13370() -> None:
    """Small floor 0.9 x 1.8 m, k 1.2: ISO 13370:2017 eq. 9 less its films is 4.0 W/m2K; ours is conductivity times perimeter / floor."""
    enc = enclosure(Box(1.8, 0.9, 0.3, 0.45))
    b = enc.floor_area_m2 / (0.5 * enc.perimeter_m)
    d = 0.05 + 1.2 * (0.17 + 0.04)
    whole = 2 * 1.2 / (np.pi * b + d) * np.log(np.pi * b / d + 1.0)
    ground = 1.0 / (1.0 / whole - 0.21)
    ours = 1.2 * enc.perimeter_m / enc.floor_area_m2  # a fin of depth: k * m, m = perimeter / floor
    assert ours == pytest.approx(ground, rel=0.10)


def test_one_air_change_an_hour_carries_its_heat() -> None:
    """1 ACH of 0.405 m3 at 1.2 kg/m3 and 1006 J/kgK: 0.136 W/K, as the balance books it."""
    box = Shelter(
        "box", Box(1.8, 0.9, 0.25, 0.25), Cover((Sheet(0.003),)), Construction((Layer(0.025, 0.12, 450.0, 1600.0),)),
        airtightness=Airtightness(fixed_air_changes_per_h=1.0), gains_w=20.0, switches=Switches(vapour=False),
    )  # fmt: skip
    outside = replace(
        steady(0.0), air_temp_k=np.full(steady(0.0).n_hours, 294.0), dew_point_k=np.full(steady(0.0).n_hours, 285.0)
    )
    inside = simulate(box, outside, heat=True)
    per_k = inside.heat["air_leak_w"][-1] / (294.0 - inside.air_temp_k[-1])
    assert per_k == pytest.approx(0.136, rel=0.01)


def test_saturation() -> None:
    """FAO-56 eq. 11: 2.338 kPa at 20 degC."""
    assert films.saturation(293.15) == pytest.approx(2338.0, abs=3.0)


def test_tabled_saturation_is_the_curve() -> None:
    """FAO-56 eq. 11 and 13 at any temperature that plants or panes meet, between the table's values too."""
    for temp in np.linspace(215.0, 370.0, 1009):
        pressure, slope = films.saturation_near(temp)
        assert pressure == pytest.approx(films.saturation(temp), rel=2e-6)
        assert slope == pytest.approx(films.saturation_slope(temp, films.saturation(temp)), rel=2e-3)


def test_tabled_cube_root_is_the_root() -> None:
    """Free convection goes with it; films are held at 0.5 W/m2K and more, so that what is less than 0.1 K hardly counts."""
    for difference in np.linspace(0.1, 150.0, 997):
        assert films.cube_root(difference) == pytest.approx(np.cbrt(difference), rel=0.004)
    assert films.cube_root(0.0) == 0.0
    assert films.cube_root(1000.0) == pytest.approx(np.cbrt(200.0), rel=1e-3)


def test_leak_flow_of_the_basic_model() -> None:
    """ASHRAE Fundamentals, basic model, one storey, class 4: 500 cm2, 25 K, 6.7 m/s: sqrt(0.000145 x 25 + 0.000104 x 44.9) x 500 L/s."""
    expected = 500.0 * np.sqrt(0.000145 * 25 + 0.000104 * 6.7**2) / 1000.0
    assert films.leak_flow(0.05, 25.0, 6.7, 2.5, 1.04e-4) == pytest.approx(expected, rel=1e-6)


def test_johansen_conductivity_lies_where_measured_soils_do() -> None:
    """Farouki 1981: moist loam 1.0-1.6 W/mK thawed, more when frozen, dry about 0.2-0.3."""
    assert 1.0 < soil_conductivity(0.25, 0.48, 0.4, frozen=False) < 1.6
    assert soil_conductivity(0.35, 0.48, 0.4, frozen=True) > soil_conductivity(0.35, 0.48, 0.4, frozen=False)
    assert 0.15 < soil_conductivity(0.0, 0.48, 0.4, frozen=False) < 0.35


def test_slope_of_saturation_is_its_derivative() -> None:
    for temp in (263.15, 283.15, 303.15):
        numeric = (films.saturation(temp + 0.01) - films.saturation(temp - 0.01)) / 0.02
        assert films.saturation_slope(temp, films.saturation(temp)) == pytest.approx(numeric, rel=0.002)


def test_shelter_values_are_kept_as_given() -> None:
    wall = Construction((Layer(0.025, 0.12, 450.0, 1600.0),))
    shelter = Shelter("x", Box(1.0, 1.0, 0.3, 0.3), Cover((Sheet(0.003),)), wall, ground=Ground(moisture=0.2))
    assert shelter.ground.moisture == 0.2
