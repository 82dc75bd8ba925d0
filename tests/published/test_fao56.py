"""Worked examples of FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes & Smith 1998): evaporation and day length.

Inputs and answers of examples 17-19 as the paper prints them (from memory; its own intermediate values are checked on the way).
"""

from __future__ import annotations

import numpy as np
import pytest

from underglass.weather.evapotranspiration import net_radiation_mj_m2, reference_mm, wind_at_2m
from underglass.weather.sky import pressure_pa, saturation_pa

PRINTED_MM = 0.05
"""The paper prints one or two decimals."""


def kelvin(celsius: float) -> np.ndarray:
    return np.array(celsius + 273.15)


def test_example_17_bangkok_in_april() -> None:
    """Monthly means: 25.6-34.8 degC, vapour 2.85 kPa, 2 m/s, sun 22.65 of 28.54 MJ/m2 d, ground 0.14: net 14.33, ETo 5.72 mm."""
    high, low = kelvin(34.8), kelvin(25.6)
    net = net_radiation_mj_m2(np.array(22.65), np.array(28.54), 0.5 * (high**4 + low**4), np.array(2850.0))
    assert net == pytest.approx(14.33, abs=0.05)
    deficit = 0.5 * (saturation_pa(high) + saturation_pa(low)) - 2850.0
    assert reference_mm(net, np.array(0.14), 0.5 * (high + low), deficit, np.array(2.0), 101300.0) == pytest.approx(
        5.72, abs=PRINTED_MM
    )


def test_example_18_brussels_on_6_july() -> None:
    """12.3-21.5 degC, 63-84 %, 10 km/h at 10 m, 22.07 of 30.90 MJ/m2 d at 100 m: wind 2.078 m/s, net 13.28, ETo 3.88 mm."""
    high, low = kelvin(21.5), kelvin(12.3)
    wind = wind_at_2m(np.array(10.0 / 3.6))
    assert wind == pytest.approx(2.078, abs=0.005)
    vapour = 0.5 * (saturation_pa(low) * 0.84 + saturation_pa(high) * 0.63)
    assert vapour == pytest.approx(1409.0, abs=5.0)
    net = net_radiation_mj_m2(np.array(22.07), np.array(30.90), 0.5 * (high**4 + low**4), vapour)
    assert net == pytest.approx(13.28, abs=0.05)
    deficit = 0.5 * (saturation_pa(high) + saturation_pa(low)) - vapour
    found = reference_mm(net, np.array(0.0), 0.5 * (high + low), deficit, wind, pressure_pa(100.0))
    assert found == pytest.approx(3.88, abs=PRINTED_MM)


@pytest.mark.parametrize(
    ("air_c", "rh", "wind", "net", "expected"),
    [(38.0, 0.52, 3.3, 1.749, 0.63), (28.0, 0.90, 1.9, -0.100, 0.00)],
)
def test_example_19_an_hour_in_senegal(air_c: float, rh: float, wind: float, net: float, expected: float) -> None:
    """N'Diaye, 14-15 h and 2-3 h: ground heat a tenth of net by day, half by night; 0.63 and 0.00 mm."""
    air = kelvin(air_c)
    deficit = saturation_pa(air) * (1.0 - rh)
    ground = np.array(net * (0.1 if net > 0 else 0.5))
    found = reference_mm(np.array(net), ground, air, deficit, np.array(wind), pressure_pa(8.0), days=1.0 / 24.0)
    assert found == pytest.approx(expected, abs=0.02)


def test_equation_34_gives_the_day_length_of_example_9() -> None:
    """20 degrees south on day 246: 11.7 h from horizon to horizon; with refraction and the disc, as we count, 3 to 10 minutes more."""
    from underglass.sun.daylength import day_length_h

    found = float(day_length_h(-20.0, np.array(["2025-09-03"], dtype="datetime64[D]"))[0])
    assert 11.67 + 0.05 < found < 11.67 + 0.17


@pytest.mark.parametrize(
    ("latitude", "date", "geometric"),
    [(40.0, "2025-01-15", 9.47), (40.0, "2025-04-15", 13.08), (40.0, "2025-06-21", 14.84), (40.0, "2025-12-21", 9.16),
     (51.5, "2025-12-21", 7.60), (51.5, "2025-06-21", 16.40)],
)  # fmt: skip
def test_day_length_is_that_of_equation_34_and_the_discs_share(latitude: float, date: str, geometric: float) -> None:
    """FAO-56 eq. 34 knows no refraction: almanacs add 0.1-0.3 h."""
    from underglass.sun.daylength import day_length_h

    found = float(day_length_h(latitude, np.array([date], dtype="datetime64[D]"))[0])
    assert 0.08 <= found - geometric <= 0.32
