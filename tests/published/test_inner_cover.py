"""A heavy row cover inside a hoop house on a deep-cold sunny day, as one grower measured it hour by hour.

gemtactics.net, 2020-02-10 (9 February; the place is not given; here 42.5 N), read as an excerpt.  Outside / under the cover at the soil: 1 / 19 degF at
sunrise, 8 / 28 at 9:00, cover off at 9:30, then 19 / 30 in the dark at 19:30 with 20 in the house.  Left out: the house's air in sun, 37 degF at 9:00 and 72 at
11:00, by a thermometer that hung in that sun (a bare one runs 5-15 K warm in still air; ours gives the house's air 28 and 30).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from underglass.place.place import Place
from underglass.shelter.inside import InsideWeather
from underglass.shelter.model import Fleece
from underglass.shelter.presets import preset
from underglass.shelter.simulate import simulate
from underglass.shelter.working import Handling
from underglass.sun.position import sun_at
from underglass.units import f_to_k
from underglass.weather.outside import OutsideWeather, Provenance

PLACE = Place(42.5, -75.0, 300.0, "America/New_York")
DAYS = 21
THERMOMETER_K = 3.0
"""One thermometer, one place in the bed, weather of the days before not told."""

HEAVY = Fleece(solar_transmittance=0.4, ir_transmittance=0.2, ir_emissivity=0.75, air_exchange_m_s=0.002)
"""Row cover of 1.5-2.2 oz/yd2 lets 30-50 % of the light through (growers' tables); the rest estimates beside the light one."""


@cache
def outside() -> OutsideWeather:
    """Three cold weeks, half clear, before the measured day; that day's air through the grower's hours."""
    n = 24 * DAYS
    start = np.datetime64("2020-01-20T05", "h")
    zenith, azimuth = sun_at(PLACE, (start + np.arange(n)).astype("datetime64[m]") + 30)
    up = np.maximum(np.cos(np.radians(zenith)), 0.0)
    hour = np.arange(n) % 24
    air = 268.15 + 5.0 * np.cos(2.0 * np.pi * (hour - 15) / 24.0)
    known_h = [0, 7, 18, 31, 33, 33.5, 35, 39, 43.5, 47]
    air[-48:] = np.interp(np.arange(48), known_h, f_to_k(np.array([15.0, 5, 15, 1, 8, 9.3, 12, 24, 19, 15])))
    dni = np.where(up > 0.05, 800.0, 0.0)
    dni[:-48] *= 0.5
    return OutsideWeather(
        PLACE, start, air, air - 4.0, np.full(n, 1.5), dni, 90.0 * np.sqrt(up), 5.67e-8 * (air - 20.0) ** 4, np.zeros(n), np.full(n, 0.2),
        np.full(n, 98000.0), zenith, azimuth, Provenance("forecast", "made for the test"),
    )  # fmt: skip


@cache
def house(fleece: Fleece | None, off_h: int, on_h: int) -> InsideWeather:
    """The last day's hours, the cover off between two hours of each day (the same hour: never)."""
    hoop = preset("hoop")
    ground = replace(hoop.ground, wave_mean_k=281.0, wave_amplitude_k=13.0, wave_day_of_minimum=25.0)
    shelter = replace(hoop, fleece=fleece, ground=ground, lid=replace(hoop.lid, working="visits"))
    n = 24 * DAYS
    hour, shut = np.arange(n) % 24, np.zeros(n)
    laid = 1.0 - ((hour >= off_h) & (hour < on_h))
    return simulate(shelter, outside(), handling=Handling(shut, shut, laid, shut))


def at(values: np.ndarray, hour: int) -> float:
    return float(values[-24 + hour])


def test_under_the_cover_at_sunrise_and_at_nine() -> None:
    covered = house(HEAVY, 10, 16)
    assert at(covered.air_temp_k, 7) == pytest.approx(f_to_k(19.0), abs=THERMOMETER_K)
    assert at(covered.air_temp_k, 9) == pytest.approx(f_to_k(28.0), abs=THERMOMETER_K)


def test_in_the_evening_film_gives_almost_nothing_and_the_cover_more() -> None:
    """Measured +0.6 K and +5.6 K more; ours adds 2 K in the evening (missed by three) and 4.5 K at sunrise, where growers say 4-6."""
    bare, covered = house(None, 0, 0).air_temp_k, house(HEAVY, 10, 16).air_temp_k
    assert at(bare, 19) - at(outside().air_temp_k, 19) == pytest.approx(0.6, abs=2.0)
    assert at(covered, 19) - at(bare, 19) > 1.5
    assert 3.5 <= at(covered, 7) - at(bare, 7) <= 6.5


def test_a_heavy_cover_left_on_holds_the_cold_in() -> None:
    """What the soil did not get by day it does not give by night."""
    lifted, left = house(HEAVY, 9, 16), house(HEAVY, 0, 0)
    assert at(lifted.soil_5cm_k, 15) > at(left.soil_5cm_k, 15) + 2.0
    assert at(lifted.air_temp_k, 19) > at(left.air_temp_k, 19) + 0.3
    assert at(lifted.par_umol_m2_s, 12) > 2.0 * at(left.par_umol_m2_s, 12)


def test_a_light_fleece_left_on_does_not() -> None:
    """At 85 % of the light it is one more pane."""
    lifted, left = house(Fleece(), 9, 16), house(Fleece(), 0, 0)
    assert at(left.soil_5cm_k, 15) > at(lifted.soil_5cm_k, 15)
