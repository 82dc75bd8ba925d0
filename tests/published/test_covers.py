"""Heat through covers: components by standard films, and a whole heated house beside published comparisons.

The house: 4 m wide and 8 m long, insulated floor, no leaks, a constant heater, steady outside air at 0 degC and a sky 20 K colder; its heat
over cover area and temperature difference is the overall conductance.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from underglass.place.place import Place
from underglass.shelter import films
from underglass.shelter.changes import SECOND_FILM
from underglass.shelter.geometry import COVER, enclosure
from underglass.shelter.model import (
    Airtightness,
    Cover,
    Ground,
    Hoop,
    Layer,
    NightCover,
    Plants,
    Sheet,
    Shelter,
    Switches,
)
from underglass.shelter.optics import cover_optics
from underglass.shelter.presets import preset
from underglass.shelter.simulate import simulate
from underglass.weather.outside import OutsideWeather, Provenance

HEATER_W = 6000.0
FREEZING_K = 273.15
CLEAR = Sheet(0.003, solar_transmittance=0.837)
FILM = Sheet(0.0002, 1.51, 165.0)


def steady(sky_drop_k: float) -> OutsideWeather:
    """Twenty days of one hour: 0 degC, 6.7 m/s, no sun."""
    n = 24 * 20
    hour = {
        "air_temp_k": FREEZING_K, "dew_point_k": 268.15, "wind_m_s": 6.7, "dni_w_m2": 0.0, "dhi_w_m2": 0.0,
        "longwave_down_w_m2": films.SIGMA * (FREEZING_K - sky_drop_k) ** 4, "precipitation_mm": 0.0, "snow_depth_m": 0.0,
        "pressure_pa": 101325.0, "sun_zenith_deg": 120.0, "sun_azimuth_deg": 0.0,
    }  # fmt: skip
    arrays = {name: np.full(n, value) for name, value in hour.items()}
    start = np.datetime64("2026-01-01T00")
    return OutsideWeather(place=Place(45.0, 0.0, 0.0), start=start, provenance=Provenance("x", "steady"), **arrays)


@cache
def conductance(
    cover: Cover,
    sky_drop_k: float = 20.0,
    wind_m_s: float = 6.7,
    inside_film: float | None = None,
    blanket: float | None = None,
) -> float:
    """Overall conductance of the heated house [W/m2K]; convection inside is free unless a film is given, a blanket has a resistance [m2K/W]."""
    house = Shelter(
        "heated", Hoop(8.0, 4.0, 2.2), replace(cover, frame_share=0.0), airtightness=Airtightness(fixed_air_changes_per_h=0.0),
        plants=Plants(cover_share=0.0, leaf_area_index=0.0), ground=Ground(layers=(Layer(0.1, 0.03, 30.0, 1000.0),), boundary="insulated"),
        switches=Switches(vapour=False, snow=False, sideways_soil=False), gains_w=HEATER_W, gains_radiant_share=0.3, wind_factor=1.0,
        inside_film_w_m2k=inside_film, night_cover=NightCover(blanket, 0.0, 24.0) if blanket else None,
    )  # fmt: skip
    outside = steady(sky_drop_k)
    outside = replace(outside, wind_m_s=np.full(outside.n_hours, wind_m_s))
    over = float(simulate(house, outside).air_temp_k[-1]) - FREEZING_K
    return HEATER_W / enclosure(house.shape).area_m2(COVER) / over


def glazing(name: str) -> Cover:
    cover = preset(name).cover
    assert cover is not None
    return cover


@pytest.mark.parametrize(("sheets", "expected"), [((CLEAR,), 0.861), ((CLEAR, CLEAR), 0.763), ((FILM,), 0.891)])
def test_solar_gain_of_an_engine_report(sheets: tuple[Sheet, ...], expected: float) -> None:
    """Normal incidence, what passes and the inward share of what panes absorb (U over the film outside of each): EnergyPlus 25.2."""
    optics = cover_optics(Cover(sheets, gap_m=0.012))
    he, u = 15.0, (5.2 if len(sheets) == 1 else 2.6)  # summer films of the standard
    inward = optics.absorptance_outer[0] * u / he + optics.absorptance_inner[0] * (
        u / he if len(sheets) == 1 else 1.0 - u / 8.0
    )
    assert optics.transmittance[0] + inward == pytest.approx(expected, abs=0.02)


def test_doubling_the_film_cuts_the_loss_by_a_third() -> None:
    """Rasheed, Lee & Lee (2017), Spanish J. Agric. Res.: 34 % (tolerance five points)."""
    assert 1.0 - conductance(glazing("hoop-double")) / conductance(glazing("hoop")) == pytest.approx(0.34, abs=0.05)


@pytest.mark.parametrize(("sheet", "lower"), [("glass", 0.15), ("polycarbonate", 0.09), ("pvc", 0.04)])
def test_other_single_sheets_lose_less_than_film(sheet: str, lower: float) -> None:
    """The same paper: how far below polyethylene (tolerance five points), here over stirred air."""
    cover = Cover(({"glass": GLASS, "polycarbonate": POLYCARBONATE, "pvc": PVC}[sheet],))
    film = conductance(glazing("hoop"), inside_film=STIRRED_W_M2K)
    assert 1.0 - conductance(cover, inside_film=STIRRED_W_M2K) / film == pytest.approx(lower, abs=0.05)


def test_glass_and_twin_wall_lose_less_than_single_film() -> None:
    """The order holds in still air too; glass is 8 % below film there."""
    film = conductance(glazing("hoop"))
    assert 0.80 <= conductance(glazing("box")) / film <= 0.97
    assert conductance(glazing("box-twinwall")) < 0.7 * film


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("hoop-double", 3.3, 4.4), ("box-twinwall", 3.0, 4.0)],
)
def test_double_covers_lie_where_the_engineers_table_puts_them(name: str, low: float, high: float) -> None:
    """ASABE EP406 (from memory): double film 4.0, 8 mm twin wall 3.3-3.7 W/m2K, within 10 %."""
    assert low <= conductance(glazing(name)) <= high


STIRRED_W_M2K = 4.4
"""Inside film where heaters stir the air at a third of a metre per second: 3.4 of free convection and 3.0 per m/s (films.py)."""


@pytest.mark.parametrize(
    ("name", "low", "high"), [("box", 6.2, 6.3), ("hoop", 6.2, 6.8), ("hoop-double", 4.0, 4.0), ("box-twinwall", 3.3, 3.7)]
)  # fmt: skip
def test_covers_over_stirred_air_lie_where_the_engineers_table_puts_them(name: str, low: float, high: float) -> None:
    """ASABE EP406 (from memory), for houses whose heaters move the air: single glass, single and double film, 8 mm twin wall, within 10 %."""
    assert 0.9 * low <= conductance(glazing(name), inside_film=STIRRED_W_M2K) <= 1.1 * high


def test_double_glass_without_its_bars_lies_below_that_table() -> None:
    """EP406: 3.7-4.0 for double-glass houses, bars included; the panes alone are 2.85 by EN 673 (4-12-4) and 3.0 here."""
    panes = conductance(Cover((Sheet(0.004), Sheet(0.004)), gap_m=0.012), inside_film=STIRRED_W_M2K)
    assert panes == pytest.approx(2.85, rel=0.10)
    assert panes < 3.7


POLYCARBONATE = Sheet(
    0.0015, 1.586, 60.0, ir_emissivity=0.90, conductivity_w_mk=0.20, density_kg_m3=1200.0, specific_heat_j_kgk=1200.0
)  # fmt: skip
"""Single sheet (from memory)."""


def test_nobody_stirs_an_unheated_shelter() -> None:
    """Free convection alone: single covers a sixth below that table (glass 5.1, film 5.6 W/m2K), double ones 12 % at most."""
    assert 0.80 <= conductance(glazing("box")) / 6.2 <= 0.90
    assert 0.82 <= conductance(glazing("hoop")) / 6.5 <= 0.92
    assert 0.85 <= conductance(glazing("hoop-double")) / 4.0 <= 1.0


PVC = Sheet(
    0.0001, 1.54, 100.0, ir_transmittance=0.25, ir_emissivity=0.70, conductivity_w_mk=0.17, density_kg_m3=1300.0, specific_heat_j_kgk=1000.0
)  # fmt: skip
"""Horticultural PVC film of 0.1 mm (infrared values from memory)."""

GLASS = glazing("box").sheets[0]


@pytest.mark.parametrize(
    ("sheets", "measured"),
    [((GLASS,), 4.81), ((PVC,), 5.41), ((GLASS, PVC), 3.03), ((GLASS, SECOND_FILM), 3.16), ((PVC, PVC), 3.05), ((PVC, SECOND_FILM), 3.32)],
)  # fmt: skip
def test_small_heated_houses_on_winter_nights(sheets: tuple[Sheet, ...], measured: float) -> None:
    """Mihara & Hayashi (1979), J. Agric. Meteorol. 35: 13, abstract: k by wind on winter nights, here at 1 m/s (glass 4.41 + 0.40 w and so on).

    Theirs leak a little and ours do not; within a sixth, ours lower for all but the double PVC.
    """
    ours = conductance(Cover(sheets, gap_m=0.10), wind_m_s=1.0)
    assert 0.83 * measured <= ours <= 1.07 * measured


@pytest.mark.parametrize(
    ("house", "curtain", "saved"), [(GLASS, PVC, 0.37), (GLASS, SECOND_FILM, 0.33), (PVC, PVC, 0.44), (PVC, SECOND_FILM, 0.39)]
)  # fmt: skip
def test_a_curtain_of_film_saves_what_was_measured(house: Sheet, curtain: Sheet, saved: float) -> None:
    """The same paper, at 1 m/s (the last two from its lines for k), and Geoola et al. (2009): a thermal screen saves about 30 %; within 10 points."""
    bare, drawn = (conductance(Cover(sheets, gap_m=0.10), wind_m_s=1.0) for sheets in ((house,), (house, curtain)))
    assert 1.0 - drawn / bare == pytest.approx(saved, abs=0.10)
    assert 0.20 <= 1.0 - drawn / bare <= 0.45


STILL_AIR_LAYER = 0.16
"""Unventilated air layer, heat flow upwards (ISO 6946) [m2K/W]: what a tight opaque cover brings if its stuff itself brings nothing."""


@pytest.mark.parametrize("name", ["box", "hoop", "hoop-double"])
def test_a_night_cover_saves_what_tight_curtains_save(name: str) -> None:
    """Roberts, Mears, Simpkins & Cipolletti (Rutgers), movable insulation: 22 to 58 % in full-size houses, tight opaque covers the most."""
    saved = 1.0 - conductance(glazing(name), blanket=STILL_AIR_LAYER) / conductance(glazing(name))
    assert 0.35 <= saved <= 0.58


@pytest.mark.parametrize("sky_drop_k", [10.0, 20.0])
def test_a_wet_film_loses_less_than_a_dry_one(sky_drop_k: float) -> None:
    """Geoola et al. (2009), Polymer Testing: the wet film's conductance lies below the dry one's always; wet it stops infrared."""
    dry = glazing("hoop")
    wet = replace(dry, sheets=tuple(replace(s, ir_emissivity=0.95, ir_transmittance=0.0) for s in dry.sheets))
    assert conductance(wet, sky_drop_k) < conductance(dry, sky_drop_k)
