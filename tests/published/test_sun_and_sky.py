"""Sun, day length, humidity and sky against published values."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from underglass.place.place import Place
from underglass.sun.daylength import day_length_h, short_days
from underglass.sun.position import extraterrestrial_mj_m2, split_ghi, sun_at
from underglass.weather import sky

ALMANAC_DEG = 0.02
"""What the Almanac's low-precision formulae promise is 0.01 deg (Michalsky 1988); refraction adds as much near the horizon."""


def test_solar_position_of_nrel_report() -> None:
    """Reda & Andreas, NREL/TP-560-34302, appendix: 2003-10-17 12:30:30 UTC-7, zenith 50.11162, azimuth 194.34024."""
    golden = Place(39.742476, -105.1786, 1830.14)
    zenith, azimuth = sun_at(golden, np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]"))
    assert zenith[0] == pytest.approx(50.11162, abs=ALMANAC_DEG)
    assert azimuth[0] == pytest.approx(194.34024, abs=ALMANAC_DEG)


@pytest.mark.parametrize(("latitude", "longitude"), [(44.0, -72.7), (-35.0, 150.0), (65.0, 20.0), (1.0, 30.0)])
def test_positions_agree_with_spa_over_a_century(latitude: float, longitude: float) -> None:
    """Against pvlib's implementation of SPA, sun above the horizon; azimuth as an angle on the sky."""
    import pandas as pd
    import pvlib

    times = np.datetime64("1951-01-01T00:30") + np.arange(0, 8766 * 98, 371) * np.timedelta64(60, "m")
    zenith, azimuth = sun_at(Place(latitude, longitude, 350.0), times)
    moments = pd.DatetimeIndex(times).tz_localize("UTC")
    spa = pvlib.solarposition.get_solarposition(moments, latitude, longitude, altitude=350.0)
    true = np.array(spa["apparent_zenith"])
    up = true < 88.0
    assert np.abs(zenith - true)[up].max() < ALMANAC_DEG
    turned = (azimuth - np.array(spa["azimuth"]) + 180.0) % 360.0 - 180.0
    assert np.abs(turned * np.sin(np.radians(true)))[up].max() < ALMANAC_DEG


def test_extraterrestrial_radiation_of_fao_56_example_8() -> None:
    """20 S on 3 September (day 246): 32.2 MJ/m2 d."""
    assert extraterrestrial_mj_m2(-20.0, np.array([246.0]))[0] == pytest.approx(32.2, abs=0.1)


@pytest.mark.parametrize(
    ("latitude", "first", "last", "days"),
    [
        (34, "12-06", "01-07", 33),
        (40, "11-16", "01-27", 73),
        (45, "11-06", "02-06", 93),
        (50, "10-30", "02-13", 107),
        (55, "10-24", "02-19", 119),
    ],
)
def test_days_under_ten_hours(latitude: int, first: str, last: str, days: int) -> None:
    """Sunrise to sunset with zenith 90.833 deg, worked out independently; 6 Nov - 6 Feb at 44-45 N is also what growers' tables print."""
    found = short_days(float(latitude), 2025)
    assert found is not None
    assert abs((found[0] - np.datetime64(f"2025-{first}")).astype(int)) <= 2
    assert abs((found[1] - np.datetime64(f"2026-{last}")).astype(int)) <= 2
    assert abs((found[1] - found[0]).astype(int) + 1 - days) <= 3


def test_low_latitudes_have_no_short_days() -> None:
    assert short_days(32.0, 2025) is None
    assert short_days(-30.0, 2025) is None
    assert short_days(35.0, 2025) is not None


def test_day_length_of_portland_maine() -> None:
    """43.66 N: 15 h 26 min and 8 h 55 min on the solstices (published almanac times, within 3 minutes)."""
    days = np.array(["2025-06-21", "2025-12-21"], dtype="datetime64[D]")
    assert day_length_h(43.66, days) == pytest.approx([15 + 26 / 60, 8 + 55 / 60], abs=3 / 60)


@pytest.mark.parametrize(
    ("air_c", "dew_c", "emissivity", "sky_c"),
    [(10, 5, 0.741, -10.5), (0, -5, 0.685, -24.7), (-10, -15, 0.643, -37.5), (20, 10, 0.774, 1.8)],
)
def test_berdahl_and_martin(air_c: float, dew_c: float, emissivity: float, sky_c: float) -> None:
    """Berdahl & Martin 1984, without the hour-of-day term."""
    found = sky.berdahl_martin(np.array([dew_c + 273.15]))[0]
    assert found == pytest.approx(emissivity, abs=0.002)
    assert found**0.25 * (air_c + 273.15) - 273.15 == pytest.approx(sky_c, abs=0.2)


def of_typical_years(air_k: np.ndarray, dew_k: np.ndarray, tenths: np.ndarray) -> np.ndarray:
    """What fills the longwave column of typical-year files: Clark & Allen (1978) with Walton's (1983) factor for opaque cloud in tenths [W/m2]."""
    clear = 0.787 + 0.764 * np.log(dew_k / 273.0)
    return np.asarray(clear * (1.0 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3) * 5.6697e-8 * air_k**4)


@pytest.mark.parametrize(("air_c", "dew_c", "tenths", "watts"), [(-11.1, -15.0, 10, 230.0), (24.0, 6.0, 3, 371.0)])
def test_longwave_of_typical_year_files(air_c: float, dew_c: float, tenths: int, watts: float) -> None:
    """Clark & Allen with Walton's cloud factor: Chicago EPW 1 January hour 4, Golden EPW 3 July hour 9."""
    found = of_typical_years(np.array([air_c + 273.15]), np.array([dew_c + 273.15]), np.array([tenths]))
    assert found[0] == pytest.approx(watts, abs=1.5)


def test_longwave_column_of_a_whole_typical_year_is_that_formula() -> None:
    """Denver 725650 TMY3, 8760 hours of the file's own longwave: within 1.5 W/m2, so such a column is no measurement."""
    from importlib.resources import files

    folder = files("openbes") / "simulations" / "epw_data"
    lines = (folder / "USA_Denver_725650TYCST.epw").read_text(encoding="utf-8").splitlines()[8:]
    air, dew, longwave, tenths = np.array([[float(line.split(",")[i]) for i in (6, 7, 12, 23)] for line in lines]).T
    assert len(lines) == 8760
    assert np.abs(of_typical_years(air + 273.15, dew + 273.15, tenths) - longwave).max() < 1.5


def test_psychrometrics_against_psychrolib() -> None:
    """ASHRAE Handbook equations as psychrolib has them; ours is FAO-56's Tetens, within 1 % above -10 degC over water."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for temp in (2.0, 10.0, 20.0, 30.0, 40.0):
        assert sky.saturation_pa(np.array([temp + 273.15]))[0] == pytest.approx(
            psychrolib.GetSatVapPres(temp), rel=0.01
        )
        if temp < 10.0:
            continue  # below freezing psychrolib gives the frost point over ice, ours is the dew point over water
        dew = psychrolib.GetTDewPointFromRelHum(temp, 0.6)
        ours = sky.dew_point_k(0.6 * sky.saturation_pa(np.array([temp + 273.15])))[0] - 273.15
        assert ours == pytest.approx(dew, abs=0.15)


def test_standard_pressure() -> None:
    """FAO-56 example 2: 81.8 kPa at 1800 m."""
    assert sky.pressure_pa(1800.0) == pytest.approx(81800.0, rel=0.002)


def test_split_keeps_the_global_sum() -> None:
    ghi, zenith = np.array([50.0, 400.0, 800.0]), np.array([80.0, 60.0, 30.0])
    dni, dhi = split_ghi(ghi, zenith, np.array([100.0, 100.0, 100.0]))
    assert dni * np.cos(np.radians(zenith)) + dhi == pytest.approx(ghi)
    assert dhi[0] / ghi[0] > dhi[2] / ghi[2]  # Erbs, Klein & Duffie 1982: dull skies are diffuse
