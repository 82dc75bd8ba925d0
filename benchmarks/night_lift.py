"""The night-lift tables of docs/model/shelter.md: `python -m benchmarks.night_lift` (about a minute)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underglass import Place, Shelter, from_grid, generate_weather, inside_weather, preset
from underglass.place.place import Horizon
from underglass.shelter.changes import changed
from underglass.shelter.model import Airtightness, Layer
from underglass.weather.days import local_days
from underglass.weather.outside import OutsideWeather

F64 = NDArray[np.float64]

COLD = Place(44.02, -72.66, 350.0, "America/New_York")
MILD = Place(50.40, -4.70, 60.0, "Europe/London")
ELSEWHERE = {
    "London": Place(51.5, -0.1, 20.0, "Europe/London"),
    "Seattle": Place(47.6, -122.3, 50.0, "America/Los_Angeles"),
    "Richmond VA": Place(37.5, -77.4, 50.0, "America/New_York"),
    "Munich": Place(48.1, 11.6, 520.0, "Europe/Berlin"),
    "Boston": Place(42.4, -71.1, 30.0, "America/New_York"),
    "Fort Collins": Place(40.6, -105.1, 1525.0, "America/Denver"),
    "central New York": Place(43.0, -76.1, 130.0, "America/New_York"),
    "Minneapolis": Place(44.98, -93.2, 255.0, "America/Chicago"),
}
CLEAR_K = 17.0
"""A night whose sky is colder than the air by more, in the mean to six, is called clear."""
N_YEARS = 3
STEFAN_BOLTZMANN = 5.670374e-8
FOAM_M2K_W = 1.5


class Winters:
    """November to March of three generated years at one place."""

    def __init__(self, place: Place) -> None:
        self.outside = generate_weather(from_grid(place), place, 2026, N_YEARS, seed=1)
        self._days = local_days(place, self.outside.start, self.outside.n_hours)
        self._cold = np.isin(self._days.dates.astype("datetime64[M]").astype(int) % 12 + 1, (11, 12, 1, 2, 3))
        self.low_k = self.days(self.outside.air_temp_k).min(axis=1)
        sky_k = (self.outside.longwave_down_w_m2 / STEFAN_BOLTZMANN) ** 0.25
        self.sky_below_k = self.days(self.outside.air_temp_k - sky_k)[:, :6].mean(axis=1)
        self.clear = self.sky_below_k > CLEAR_K

    def days(self, values: F64) -> F64:
        """Hours as days, shape (days, 24)."""
        return np.asarray(self._days.by_day(values)[self._cold])

    def lift(self, shelter: Shelter, outside: OutsideWeather | None = None) -> F64:
        """The night's lowest air inside less that outside, of each day.  [K]"""
        inside = inside_weather(shelter, outside or self.outside)
        return self.days(inside.air_temp_k).min(axis=1) - self.low_k


def shut(name: str) -> Shelter:
    return changed(preset(name), "shut")


def edge(shelter: Shelter, resistance_m2k_w: float) -> Shelter:
    """With something in the ground under the walls that holds back heat."""
    return replace(shelter, ground=replace(shelter.ground, edge_resistance_m2k_w=resistance_m2k_w))


def straw(shelter: Shelter) -> Shelter:
    """30 cm of it around the walls."""
    assert shelter.walls is not None
    return replace(
        shelter, walls=replace(shelter.walls, layers=(Layer(0.30, 0.06, 60.0, 1600.0), *shelter.walls.layers))
    )


BOX = shut("box")
BANKED = edge(straw(BOX), FOAM_M2K_W)
PRESETS = {
    "cloche": shut("cloche"),
    "low tunnel, single film": shut("tunnel"),
    "hoop house, single film": shut("hoop"),
    "hoop house, double film": shut("hoop-double"),
    "box, single glass": BOX,
    "box, double glass": changed(BOX, "double"),
    "box, single glass, night cover": changed(BOX, "night-cover"),
    "box, banked and on a board": BANKED,
    "the same with a night cover": changed(BANKED, "night-cover"),
}
CHANGES = {
    "a quarter of the leaks": replace(BOX, airtightness=Airtightness(0.25 * BOX.airtightness.leak_area_m2)),
    "no heat sideways into the ground around": edge(BOX, 1e6),
    "a board of foam under the walls": edge(BOX, FOAM_M2K_W),
    "a second pane": changed(BOX, "double"),
    "jugs of water": changed(BOX, "jugs"),
    "a night cover": changed(BOX, "night-cover"),
    "straw around the walls, 30 cm": straw(BOX),
    "straw, board and night cover together": changed(BANKED, "night-cover"),
}


def row(name: str, cells: list[str]) -> None:
    print(f"| {name} | " + " | ".join(cells) + " |")


def presets(winters: list[Winters]) -> None:
    for name, shelter in PRESETS.items():
        lifts = [(w.lift(shelter), w.clear) for w in winters]
        row(name, [f"{lift.mean():+.1f}, clear nights {lift[clear].mean():+.1f}" for lift, clear in lifts])


def why(winters: list[Winters]) -> None:
    """What the lift of the box stands on."""
    cells: dict[str, list[str]] = {}
    for w in winters:
        ground = inside_weather(preset("open"), w.outside)
        excess = w.days(ground.soil_5cm_k)[:, :7].mean(axis=1) - w.low_k
        beam = np.maximum(np.cos(np.radians(w.outside.sun_zenith_deg)), 0.0) * w.outside.dni_w_m2
        swing = w.days(w.outside.air_temp_k).max(axis=1) - w.low_k
        sun = w.days(beam + w.outside.dhi_w_m2).sum(axis=1).mean() / 1000.0
        surface = w.days(inside_weather(BOX, w.outside).soil_surface_k).min(axis=1) - w.low_k
        lift = w.lift(BOX)
        for name, cell in (
            ("open soil at 5 cm above the night's lowest air", f"{excess.mean():.1f} K"),
            ("swing of the outside air from day to night", f"{swing.mean():.1f} K"),
            ("sun a day", f"{sun:.1f} kWh/m²"),
            ("sky below the air, night mean", f"{w.sky_below_k.mean():.1f} K"),
            ("lift of the box in dull nights, clear nights", f"{lift[~w.clear].mean():+.1f}, {lift[w.clear].mean():+.1f} K"),
            ("the soil's surface in the box", f"{surface.mean():+.1f} K"),
        ):  # fmt: skip
            cells.setdefault(name, []).append(cell)
    for name, told in cells.items():
        row(name, told)


def changes(winters: list[Winters]) -> None:
    bare = [w.lift(BOX).mean() for w in winters]
    for name, shelter in CHANGES.items():
        row(name, [f"{w.lift(shelter).mean() - b:+.2f}" for w, b in zip(winters, bare, strict=True)])
    still = [replace(w.outside, wind_m_s=np.zeros(w.outside.n_hours)) for w in winters]
    row("no wind at all", [f"{w.lift(BOX, o).mean() - b:+.2f}" for w, o, b in zip(winters, still, bare, strict=True)])
    trees = [replace(w.outside, place=replace(w.outside.place, horizon=Horizon((0.0,), (20.0,)))) for w in winters]
    row(
        "a skyline of 20° all around",
        [f"{w.lift(BOX, o).mean() - b:+.2f}" for w, o, b in zip(winters, trees, bare, strict=True)],
    )


def main() -> None:
    winters = [Winters(COLD), Winters(MILD)]
    for title, table in (("presets", presets), ("why", why), ("changes to the box", changes)):
        print(f"\n{title} | cold continental | mild maritime")
        table(winters)
    print("\nelsewhere: the box, with two panes, with a night cover")
    for name, place in ELSEWHERE.items():
        w = Winters(place)
        told = (
            w.lift(s).mean() for s in (BOX, PRESETS["box, double glass"], PRESETS["box, single glass, night cover"])
        )
        print(name, ", ".join(f"{lift:.1f}" for lift in told))


if __name__ == "__main__":
    main()
