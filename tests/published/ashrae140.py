"""The free-float cases of ANSI/ASHRAE 140-2020 section 7 as shelters: a room, its walls and two south windows.

Data: ANSI/ASHRAE Standard 140-2020 as carried by the Modelica Buildings library's validation cases (Case600FF, Case900FF, window Glass600)
and by JasonGlazer/ashrae-140-automation (rendered tables B8-5a, b, c).  Dry air, floor over massless insulation, 200 W of gains.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from underglass.shelter.model import (
    Airtightness,
    Box,
    Construction,
    Cover,
    Ground,
    Layer,
    Lid,
    Plants,
    Sheet,
    Shelter,
    Switches,
    Window,
)

RANGES = {
    "600FF": {"max": (62.4, 68.4), "min": (-13.8, -9.9), "mean": (24.3, 26.1)},
    "650FF": {"max": (61.1, 66.8), "min": (-17.8, -16.7), "mean": (17.6, 18.9)},
    "900FF": {"max": (43.3, 46.0), "min": (0.6, 2.2), "mean": (24.5, 25.7)},
    "950FF": {"max": (36.1, 37.1), "min": (-13.4, -12.5), "mean": (14.3, 15.0)},
}
"""Zone air over the year, range of the example programs [degC]."""

SIDING = Layer(0.009, 0.14, 530.0, 900.0)
PLASTER = Layer(0.012, 0.16, 950.0, 840.0)
LIGHT_WALL = Construction((SIDING, Layer(0.066, 0.04, 12.0, 840.0), PLASTER), 0.6, 0.9)
HEAVY_WALL = Construction((SIDING, Layer(0.0615, 0.04, 10.0, 1400.0), Layer(0.100, 0.51, 1400.0, 1000.0)), 0.6, 0.9)
ROOF = Construction(
    (Layer(0.019, 0.14, 530.0, 900.0), Layer(0.1118, 0.04, 12.0, 840.0), Layer(0.010, 0.16, 950.0, 840.0)), 0.6, 0.9
)
PANE = Sheet(0.003048, 1.526, 19.0, solar_transmittance=0.834)
"""Glass600: transmittance 0.834, reflectance 0.075, emissivity 0.84; the extinction only shapes the angle."""

WINDOWS = (Window("front", 3.0, 2.0, 0.5, 0.2), Window("front", 3.0, 2.0, 4.5, 0.2))


def room(case: str) -> Shelter:
    """One of the cases: 600 light, 900 heavy, with '50' the night ventilation of 1700 m3/h from 18 to 7 h."""
    heavy, vented = case.startswith("9"), case[1:3] == "50"
    floor = Layer(0.080, 1.13, 1400.0, 1000.0) if heavy else Layer(0.025, 0.14, 650.0, 1200.0)
    return Shelter(
        name=case,
        shape=Box(8.0, 6.0, 2.7, 2.7, glazed=(), windows=WINDOWS),
        cover=Cover((PANE, PANE), gap_m=0.012),
        walls=HEAVY_WALL if heavy else LIGHT_WALL,
        roof=ROOF,
        facing_deg=180.0,
        airtightness=Airtightness(fixed_air_changes_per_h=0.5),
        lid=Lid("rule", rule_on_h=18.0, rule_off_h=7.0, rule_rate_m3_h=1700.0) if vented else Lid("shut"),
        plants=Plants(cover_share=0.0, leaf_area_index=0.0, height_m=0.0),
        ground=Ground(
            layers=(floor,), boundary="air", boundary_resistance_m2k_w=25.1, solar_absorptance=0.6, ir_emissivity=0.9
        ),
        switches=Switches(vapour=False, soil_freezing=False, snow=False, sideways_soil=False),
        ground_reflectance=0.2,
        gains_w=200.0,
        gains_radiant_share=0.6,
    )


def denver_epw() -> Path:
    """Denver Intl 725650 TMY3, the weather of the 2020 edition, from a development dependency (US public data)."""
    return Path(str(files("openbes") / "simulations" / "epw_data" / "USA_Denver_725650TYCST.epw"))
