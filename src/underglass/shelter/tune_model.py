"""What is unknown about a shelter and its probes, and what the probes would show if it were known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from underglass.shelter.geometry import enclosure
from underglass.shelter.inside import InsideWeather
from underglass.shelter.model import OpenGround, Shelter
from underglass.shelter.simulate import simulate
from underglass.shelter.tunable import WIDEST, apply_tuning, knobs_of, ranges_of
from underglass.shelter.tune_types import Readings
from underglass.shelter.working import Handling
from underglass.weather.outside import OutsideWeather

__all__ = ["LAYERING_K_M", "Model", "Unknowns", "height_over_middle_m", "predicted", "shown_by", "unknowns_of"]

F64 = NDArray[np.float64]

OFFSET_SD_K = 0.7
"""Of a cheap thermometer (makers state ±0.5 to ±1 K)."""

CLOCK_SD_H = 0.7
"""Summer time forgotten, or a clock set by eye (estimate)."""

CLOCK_MOST_H = 3.0

HEATING_SD = {"shade": 1.0, "unknown": 3.0, "sun": 8.0}
"""How far 1000 W/m2 may warm a probe [K]: shaded; not said; in the sun (estimate; bare sensors in still air run 5-15 K warm)."""

GROUND_SD_K = 2.0
"""How far the ground at the first hour may lie from the climate's guess [K] (estimate: a warm or cold month moves the top metre so far)."""

LAYERING_K_M = 5.0
LAYERING_SD_K_M = 4.0
LAYERING_MOST_K_M = 25.0
"""How much warmer the air is a metre higher, for each 1000 W/m2 of sun inside [K/m]: up to 15 K/m was measured by day in a plastic tunnel
(Savage 1980, Agrochemophysica 12), in sun of 0.6-0.8 kW/m2; the usual value is an estimate well below that.  By night the soil warms the air
from below and stirs it: no layers."""

NEAR_MIDDLE_M = 0.1
"""A probe nearer to the middle than this shows no layers: half a kelvin in full sun at most."""

SOIL_DEPTHS_M = (0.0, 0.05, 0.10, 0.30)


@dataclass(frozen=True, slots=True, eq=False)
class Unknowns:
    """What is fitted, in order: logarithms of the knobs' factors, clock [h], how much warmer the ground began where the weather before the
    readings is short [K], layering less its usual value where a height was said, then offset [K] and heating [K per 1000 W/m2] by probe.

    prior_sd, low, high : each (n,); the prior's middle is 0 everywhere
    """

    knobs: tuple[str, ...]
    ground: int | None
    layering: int | None
    offsets: dict[str, int]
    heatings: dict[str, int]
    prior_sd: F64
    low: F64
    high: F64

    @property
    def clock(self) -> int:
        """Place of the clock's error."""
        return len(self.knobs)

    def shelter(self, described: Shelter, at: F64) -> Shelter:
        """The shelter as it is at a point."""
        tuned = apply_tuning(described, self.factors(at))
        if self.ground is None or tuned.ground.wave_mean_k is None:
            return tuned
        warmer = replace(tuned.ground, wave_mean_k=tuned.ground.wave_mean_k + float(at[self.ground]))
        return replace(tuned, ground=warmer)

    @property
    def run(self) -> list[int]:
        """Places of what a run of the shelter depends on."""
        return [*range(self.clock), *([] if self.ground is None else [self.ground])]

    def factors(self, at: F64) -> dict[str, float]:
        """The knobs' factors at a point."""
        return {name: float(np.exp(at[i])) for i, name in enumerate(self.knobs)}


def unknowns_of(shelter: Shelter, readings: tuple[Readings, ...], *, ground_known: bool = True) -> Unknowns:
    """What these readings of this shelter may be asked.  ground_known : the weather before them makes the ground's warmth"""
    knobs = knobs_of(shelter)
    sds, lows, highs = [], [], []
    for name, knob in knobs.items():
        least, most = ranges_of(shelter, name)
        sds.append(knob.prior_sd)
        lows.append(max(float(np.log(max(least, 1e-9))), -WIDEST * knob.prior_sd))
        highs.append(min(float(np.log(most)), WIDEST * knob.prior_sd))
    sds, lows, highs = [*sds, CLOCK_SD_H], [*lows, -CLOCK_MOST_H], [*highs, CLOCK_MOST_H]
    ground = layering = None
    if not ground_known:
        ground = len(sds)
        sds, lows, highs = [*sds, GROUND_SD_K], [*lows, -WIDEST * GROUND_SD_K], [*highs, WIDEST * GROUND_SD_K]
    if any(height_over_middle_m(shelter, r) for r in readings):
        layering = len(sds)
        sds, lows = [*sds, LAYERING_SD_K_M], [*lows, -LAYERING_K_M]
        highs = [*highs, LAYERING_MOST_K_M - LAYERING_K_M]
    offsets, heatings = dict[str, int](), dict[str, int]()
    for r in readings:
        if r.probe not in offsets:
            offsets[r.probe] = len(sds)
            sds, lows, highs = [*sds, OFFSET_SD_K], [*lows, -5.0], [*highs, 5.0]
            if r.spot != "soil":
                heatings[r.probe] = len(sds)
                sds, lows, highs = [*sds, HEATING_SD[r.sunlit]], [*lows, 0.0], [*highs, 40.0]
    return Unknowns(tuple(knobs), ground, layering, offsets, heatings, np.array(sds), np.array(lows), np.array(highs))


def height_over_middle_m(shelter: Shelter, readings: Readings) -> float:
    """How far a probe in the air under a cover hangs over the middle of that air [m], 0 where its height was not said or is near it."""
    if readings.height_m is None or readings.spot != "air" or isinstance(shelter.shape, OpenGround):
        return 0.0
    over = readings.height_m - 0.5 * enclosure(shelter.shape, shelter.plants.height_m).height_m
    return over if abs(over) >= NEAR_MIDDLE_M else 0.0


def _series(readings: Readings, inside: InsideWeather, outside: OutsideWeather) -> tuple[F64, F64]:
    """Hourly temperature [K] and sun [kW/m2] where the probe is, each (n_hours,)."""
    up = np.maximum(np.cos(np.radians(outside.sun_zenith_deg)), 0.0)
    if readings.spot == "outside":
        return outside.air_temp_k, (outside.dni_w_m2 * up + outside.dhi_w_m2) / 1000.0
    if readings.spot == "soil":
        rows = (inside.soil_surface_k, inside.soil_5cm_k, inside.soil_10cm_k, inside.soil_30cm_k)
        j = int(np.clip(np.searchsorted(SOIL_DEPTHS_M, readings.depth_m) - 1, 0, 2))
        share = float(
            np.clip((readings.depth_m - SOIL_DEPTHS_M[j]) / (SOIL_DEPTHS_M[j + 1] - SOIL_DEPTHS_M[j]), 0.0, 1.0)
        )
        return (1.0 - share) * rows[j].astype(float) + share * rows[j + 1].astype(float), np.zeros(inside.n_hours)
    lowest = {"lowest": (inside.air_min_k, inside.leaf_min_k), "highest": (inside.air_max_k, inside.leaf_max_k)}
    air, leaf = lowest.get(readings.kind, (inside.air_temp_k, inside.leaf_temp_k))
    shown = air if readings.spot == "air" else leaf
    return shown.astype(float), inside.solar_in_w.astype(float) / inside.floor_area_m2 / 1000.0


def predicted(
    readings: Readings, inside: InsideWeather, outside: OutsideWeather, clock_h: float = 0.0
) -> tuple[F64, F64]:
    """What a perfect probe would have shown [K] and the sun on it then [kW/m2], each (n_readings,); a logger's clock is fast by `clock_h`."""
    temp, sun = _series(readings, inside, outside)
    start_s = int(outside.start.astype("datetime64[s]").astype(np.int64))
    if readings.timed_by_hand:
        clock_h = 0.0
    hour = (readings.at_s - start_s) / 3600.0 - clock_h
    if readings.kind == "moment" or readings.since_s is None:
        middle = np.arange(len(temp)) + 0.5
        return np.interp(hour, middle, temp), np.interp(hour, middle, sun)
    first = np.clip(((readings.since_s - start_s) / 3600.0 - clock_h).astype(int), 0, len(temp) - 1)
    last = np.clip(np.ceil(hour).astype(int), first + 1, len(temp))
    pick: Callable[[F64], np.intp] = np.argmin if readings.kind == "lowest" else np.argmax
    hours = np.array([a + int(pick(temp[a:b])) for a, b in zip(first, last, strict=True)], dtype=int)
    return temp[hours], sun[hours]


def shown_by(
    readings: Readings, shelter: Shelter, inside: InsideWeather, outside: OutsideWeather, unknowns: Unknowns, at: F64
) -> tuple[F64, F64]:
    """What a probe shows with its faults [K], and the sun on it [kW/m2], each (n_readings,)."""
    temp, sun = predicted(readings, inside, outside, float(at[unknowns.clock]))
    temp = temp + at[unknowns.offsets[readings.probe]]
    if readings.probe in unknowns.heatings:
        temp += at[unknowns.heatings[readings.probe]] * sun
    if unknowns.layering is not None:
        layering = LAYERING_K_M + float(at[unknowns.layering])
        temp += layering * height_over_middle_m(shelter, readings) * sun
    return temp, sun


@dataclass(slots=True, eq=False)
class Model:
    """Shelter, weather and readings together; remembers runs, since one more run is what costs.

    handling : how lids and covers were worked, where it was noted; the shelter's own ways otherwise
    """

    shelter: Shelter
    outside: OutsideWeather
    readings: tuple[Readings, ...]
    unknowns: Unknowns
    handling: Handling | None = None
    runs: dict[bytes, InsideWeather] = field(default_factory=dict)

    def inside(self, at: F64) -> InsideWeather:
        """The shelter's hours at a point; kept."""
        key = at[self.unknowns.run].tobytes()
        if key not in self.runs:
            if len(self.runs) > 64:
                self.runs.clear()
            shelter = self.unknowns.shelter(self.shelter, at)
            self.runs[key] = simulate(shelter, self.outside, handling=self.handling)
        return self.runs[key]

    def shown(self, at: F64) -> tuple[F64, F64]:
        """What the probes should show [K], readings after readings, and the sun on them [kW/m2]."""
        inside = self.inside(at)
        both = [shown_by(r, self.shelter, inside, self.outside, self.unknowns, at) for r in self.readings]
        return np.concatenate([temp for temp, _ in both]), np.concatenate([sun for _, sun in both])

    def slopes(self, at: F64, steps: F64) -> F64:
        """Derivative of `shown` by each unknown, (n_readings, n); knobs and clock by differences over `steps`, the rest exactly."""
        u, (now, sun) = self.unknowns, self.shown(at)
        out = np.zeros((len(now), len(at)))
        for i in (*u.run, u.clock):
            low, high = at.copy(), at.copy()
            low[i], high[i] = max(at[i] - steps[i], u.low[i]), min(at[i] + steps[i], u.high[i])
            out[:, i] = (self.shown(high)[0] - self.shown(low)[0]) / (high[i] - low[i])
        a = 0
        for r in self.readings:
            rows = slice(a, a + r.n_readings)
            out[rows, u.offsets[r.probe]] = 1.0
            if r.probe in u.heatings:
                out[rows, u.heatings[r.probe]] = sun[rows]
            if u.layering is not None:
                out[rows, u.layering] = height_over_middle_m(self.shelter, r) * sun[rows]
            a += r.n_readings
        return out
