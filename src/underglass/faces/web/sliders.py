"""The sliders of Inside: what each asks for, the shelter that it gives, and the words for each of its steps."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

import numpy as np

from underglass.faces.web.speech import Speech
from underglass.shelter.changes import changed
from underglass.shelter.model import Box, Drum, Hoop, NightCover, OpenGround, Shape, Shelter, Water
from underglass.shelter.sizes import LIMITS_M, resized

__all__ = ["Change", "Slider", "sliders", "with_change"]

FOAM_M2K_W_PER_M = 30.0
"""Resistance of foam: 0.033 W/mK (ISO 10456, expanded polystyrene)."""

HEDGE_M = 10.0
"""How far off the hedge of the skyline's words stands [m]."""


@dataclass(frozen=True, slots=True)
class Change:
    """What the sliders ask for; the defaults leave the shelter as it is.

    double : a second sheet    leaks : per cent of its leaks that stay    cover : night cover [m2K/W times 10]    jugs [litres per m2]
    length, across, front, high : per cent    facing [degrees from north], below 0 as built    trees : skyline all around [degrees],
    below 0 as it is    day : of the year
    """

    double: int = 0
    leaks: int = 100
    cover: int = 0
    jugs: int = 0
    length: int = 100
    across: int = 100
    front: int = 100
    high: int = 100
    facing: int = -45
    trees: int = -5
    day: int = 60

    def clipped(self) -> Change:
        """Every value within what its slider can give."""
        given = asdict(self)
        return Change(**{k: int(np.clip(given[k], low, high)) for k, (low, high, _) in STEPS.items()})


SIZE = (40, 250, 10)
STEPS = {
    "double": (0, 1, 1), "leaks": (10, 300, 10), "cover": (0, 18, 3), "jugs": (0, 60, 5), "length": SIZE, "across": SIZE, "front": SIZE,
    "high": SIZE, "facing": (-45, 315, 45), "trees": (-5, 45, 5), "day": (1, 365, 1),
}  # fmt: skip
"""Lowest, highest and step of each."""


def _size_of(shape: Shape) -> dict[str, str]:
    """The sliders of size that a shape has, and the measure behind each."""
    if isinstance(shape, Box):
        if shape.windows:
            return {}
        return {"length": "length_m", "across": "depth_m", "front": "front_height_m", "high": "back_height_m"}
    if isinstance(shape, Hoop):
        return {"length": "length_m", "across": "width_m", "high": "height_m"}
    return {"across": "diameter_m", "high": "height_m"} if isinstance(shape, Drum) else {}


def _sizes_m(shape: Shape, change: Change) -> dict[str, float]:
    """The sizes asked for, within what there is; a lid never falls backwards."""
    asked = asdict(change)
    sizes = {
        key: float(np.clip(getattr(shape, key) * asked[name] / 100.0, *LIMITS_M[key])) for name, key in _size_of(shape).items()
    }  # fmt: skip
    if "front_height_m" in sizes:
        sizes["back_height_m"] = max(sizes["front_height_m"], sizes["back_height_m"])
    return sizes


def with_change(shelter: Shelter, change: Change) -> Shelter:
    """The shelter as the sliders ask; what it cannot have stays as it is."""
    if isinstance(shelter.shape, OpenGround):
        return shelter
    if change.double and shelter.cover is not None and len(shelter.cover.sheets) == 1:
        shelter = replace(changed(shelter, "double"), name=shelter.name)
    shelter = resized(shelter, _sizes_m(shelter.shape, change))
    leak = shelter.airtightness
    shelter = replace(shelter, airtightness=replace(leak, leak_area_m2=leak.leak_area_m2 * change.leaks / 100.0))
    if change.cover:
        shelter = replace(shelter, night_cover=NightCover(resistance_m2k_w=change.cover / 10.0))
    if change.jugs:
        litres = change.jugs * _floor_m2(shelter)
        shelter = replace(shelter, water=Water(volume_m3=litres / 1000.0, area_m2=0.018 * litres))
    return replace(shelter, facing_deg=float(change.facing)) if change.facing >= 0 else shelter


def _floor_m2(shelter: Shelter) -> float:
    from underglass.shelter.geometry import enclosure

    return enclosure(shelter.shape).floor_area_m2


@dataclass(frozen=True, slots=True)
class Slider:
    """One slider: its range, where it stands, its name and the words of each of its steps."""

    name: str
    label: str
    low: int
    high: int
    step: int
    value: int
    words: list[str]

    @property
    def said(self) -> str:
        """The words of where it stands."""
        return self.words[min(max((self.value - self.low) // self.step, 0), len(self.words) - 1)]


def sliders(shelter: Shelter, change: Change, speech: Speech) -> list[Slider]:
    """The sliders that fit the shelter, with the words of the language and unit."""
    say, found = speech.say, []

    def add(name: str, label: str, words: Callable[[int], str]) -> None:
        low, high, step = STEPS[name]
        found.append(
            Slider(name, label, low, high, step, getattr(change, name), [words(v) for v in range(low, high + 1, step)])
        )

    as_is = say("inside.as_is")
    if not isinstance(shelter.shape, OpenGround):
        if shelter.room is None:
            add("cover", say("inside.cover"), lambda v: _foam(v, speech))
        add("leaks", say("inside.leaks"), lambda v: as_is if v == 100 else say("inside.leaks_words", n=v))
        if shelter.room is None:
            add("jugs", say("inside.jugs"), lambda v: speech.water_depth(v) if v else say("inside.none"))
        for name, key in _size_of(shelter.shape).items():
            size = getattr(shelter.shape, key)
            add(name, say(f"size.{key}"), lambda v, size=size: speech.length(size * v / 100.0))  # type: ignore[misc]
        add("facing", say("inside.facing"), lambda v: as_is if v < 0 else say(f"point.{v}"))
    add("trees", say("inside.trees"), lambda v: as_is if v < 0 else _hedge(v, speech))
    return found


def _foam(tenths: int, speech: Speech) -> str:
    if tenths == 0:
        return speech.say("inside.none")
    return speech.say("inside.cover_words", thick=speech.length(tenths / 10.0 / FOAM_M2K_W_PER_M))


def _hedge(degrees: int, speech: Speech) -> str:
    if degrees == 0:
        return speech.say("inside.trees_open")
    high = HEDGE_M * math.tan(math.radians(degrees))
    return speech.say("inside.trees_words", high=speech.length(high), far=speech.length(HEDGE_M))
