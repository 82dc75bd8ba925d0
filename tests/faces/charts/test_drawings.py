"""The other drawings: the same figures give the same drawing, and what it says in words is what the figures say."""

from __future__ import annotations

import math
import re
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from tests.faces.charts.pictures import kept, lines_of
from underglass.faces.charts.carpet import year_carpet
from underglass.faces.charts.heat_paths import heat_paths
from underglass.faces.charts.hour_strip import LidTime, hour_strip
from underglass.faces.charts.outlook import outlook_curve
from underglass.faces.charts.small_carpet import small_carpet
from underglass.faces.web.texts import say_in
from underglass.place.place import Place
from underglass.shelter.inside import InsideWeather

SAY = say_in("en")


def degrees(temp_c: float) -> str:
    return f"{temp_c:.0f} °C"


def made_up_year() -> InsideWeather:
    """A year of air by two cosines, in whole quarters of a degree, so that it is the same on every machine."""
    hour = np.arange(365 * 24)
    air = (
        12.0
        - 14.0 * np.cos(2.0 * math.pi * (hour / 24.0 - 20.0) / 365.0)
        + 14.0 * np.cos(2.0 * math.pi * (hour - 13.0) / 24.0)
    )
    kelvin = (np.round(4.0 * air) / 4.0 + 273.15).astype(np.float32)
    names = [
        f
        for f in InsideWeather.__dataclass_fields__
        if f not in ("shelter_name", "place", "start", "heat", "floor_area_m2", "closure")
    ]
    arrays: dict[str, Any] = dict.fromkeys(names, kelvin)
    place = Place(51.0, 0.0, 20.0, "UTC", "Alder Hill")
    return InsideWeather(
        shelter_name="box", place=place, start=np.datetime64("2026-01-01T00"), heat={}, floor_area_m2=1.0, closure=0.0, **arrays
    )  # fmt: skip


def test_the_year_carpet() -> None:
    svg = year_carpet(made_up_year(), units="f")
    assert lines_of(svg) == kept("carpet", svg)
    assert "°F" in svg


def test_the_small_carpet() -> None:
    svg = small_carpet(made_up_year(), SAY, degrees)
    assert lines_of(svg) == kept("carpet-small", svg)
    air = made_up_year().air_temp_k - 273.15
    assert f"Coldest hour {air.min():.0f} °C, hottest {air.max():.0f} °C" in svg


def test_the_heat_paths() -> None:
    flows = {
        "sun_in_w": 2100.0,
        "cover_longwave_w": -900.0,
        "air_leak_w": -700.4,
        "soil_down_w": -499.6,
        "latent_w": 0.2,
    }
    svg = heat_paths(flows, "Heat", SAY, lambda wh: f"{wh:+.0f} Wh/m²".replace("-", "−"))
    assert lines_of(svg) == kept("heat-paths", svg)
    assert "drying and dew" not in svg, "what is too little to be drawn is not named"


def test_the_outlook_curve() -> None:
    dates = [
        {
            "sow": str(np.datetime64("2027-01-06") + 7 * i),
            "chance": round(max(0.0, math.sin(math.pi * i / 40.0)), 3) if i < 40 else 0.0,
            "years": 30,
            "causes": {"killed by cold": 0.1, "not ready in time": 0.05} if i % 5 else {"starved of light": 0.2},
        }
        for i in range(53)
    ]
    svg = outlook_curve(dates, 20, SAY, lambda iso: iso[5:])
    assert lines_of(svg) == kept("outlook", svg)
    assert re.search(r"Sown on 05-26 it ends in a harvest in 30 of 30 years", svg)


def test_the_hour_strip() -> None:
    def wave(middle: float, swing: float) -> list[float]:
        return [round(middle + swing * math.sin(math.pi * (i - 8) / 12.0), 1) for i in range(49)]

    def spread(middle: float, swing: float) -> dict[str, list[float]]:
        return {"p10": wave(middle - 2.0, swing), "p50": wave(middle, swing), "p90": wave(middle + 2.0, swing)}

    hours = {
        "start": "2027-03-10T12",
        "inside_c": spread(9.0, 12.0),
        "outside_c": spread(3.0, 6.0),
        "lid_open": [0.0] * 49,
        "bears_c": [-4.0, 30.0],
    }
    lids = (LidTime(0, 20, "shut", 0.0), LidTime(20, 49, "open 5 cm", 0.4))
    svg = hour_strip(hours, lids, ZoneInfo("America/New_York"), "The next hours", SAY, degrees)
    assert lines_of(svg) == kept("hour-strip", svg)
    assert "Inside -5 °C to 23 °C, outside -5 °C to 11 °C" in svg
