"""The form of one shelter: its sizes and extras as a family would write them, and the shelter that they make."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from underglass.errors import InputError
from underglass.faces.web.sliders import FOAM_M2K_W_PER_M
from underglass.faces.web.speech import Speech
from underglass.shelter.changes import changed
from underglass.shelter.geometry import enclosure
from underglass.shelter.model import Box, Fleece, NightCover, OpenGround, Shelter, Water
from underglass.shelter.sizes import resized, size_keys
from underglass.units import parse_quantity

__all__ = ["FOAM", "WATER", "as_fields", "extras_of", "read_shelter"]

FOAM, WATER, FACING = "foam_m", "water_m3", "facing"


def extras_of(shelter: Shelter) -> tuple[str, ...]:
    """What the form offers besides sizes; the open ground and a window have none of it."""
    if isinstance(shelter.shape, OpenGround) or shelter.room is not None:
        return ()
    return ("double", "arm", "fleece", "night_cover", "water", "facing")


def as_fields(shelter: Shelter, speech: Speech) -> dict[str, str]:
    """The shelter as text fields; ticks are 'on' or empty."""
    fields = {key: speech.length(getattr(shelter.shape, key)) for key in size_keys(shelter.shape)}
    if not extras_of(shelter):
        return fields
    cover, water = shelter.night_cover, shelter.water
    litres = 1000.0 * water.volume_m3 if water else 0.0
    return fields | {
        "double": "on" if shelter.cover and len(shelter.cover.sheets) > 1 else "",
        "arm": "on" if shelter.lid.working == "arm" else "",
        "fleece": "on" if shelter.fleece else "",
        FOAM: speech.length(cover.resistance_m2k_w / FOAM_M2K_W_PER_M) if cover else "",
        WATER: "" if not litres else f"{litres / 3.785:.0f} gal" if speech.units == "f" else f"{litres:.0f} l",
        FACING: "" if shelter.facing_deg is None else f"{round(shelter.facing_deg / 45.0) * 45 % 360}",
    }


def read_shelter(shelter: Shelter, given: Mapping[str, str], speech: Speech) -> tuple[Shelter, dict[str, str]]:
    """The shelter as the form says, and the faults by field; a field that stands as it was filled changes nothing."""
    shown, faults = as_fields(shelter, speech), dict[str, str]()
    touched = {key: given.get(key, "").strip() for key in shown if given.get(key, "").strip() != shown[key]}
    sizes = {}
    for key in size_keys(shelter.shape):
        if key in touched:
            value = _quantity(touched[key], key, speech, faults)
            if value is not None:
                sizes[key] = value
    steps: dict[str, Callable[[Shelter], Shelter]] = {key: _step(key, text, speech, faults) for key, text in touched.items() if key not in sizes and key not in faults}  # fmt: skip
    for key, step in {**{k: _size(k, v) for k, v in sizes.items()}, **steps}.items():
        try:
            shelter = step(shelter)
        except InputError as error:
            faults[key] = str(error)
    if isinstance(shelter.shape, Box) and shelter.shape.front_height_m > shelter.shape.back_height_m:
        faults["back_height_m"] = speech.say("shelters.falls_back")
    return shelter, faults


def _quantity(text: str, key: str, speech: Speech, faults: dict[str, str]) -> float | None:
    """A length or volume as written, in the unit of the reader where none stands behind it."""
    plain = {"foam_m": ("cm", "in"), "water_m3": ("l", "gal")}.get(key, ("m", "in"))
    try:
        number = text.replace(",", ".")
        bare = number.replace(".", "", 1).isdecimal()
        return parse_quantity(f"{number} {plain[speech.units == 'f']}" if bare else number, key)
    except InputError:
        faults[key] = speech.say("shelters.volume" if key == WATER else "shelters.length")
        return None


def _size(key: str, value: float) -> Callable[[Shelter], Shelter]:
    return lambda shelter: resized(shelter, {key: value})


def _step(key: str, text: str, speech: Speech, faults: dict[str, str]) -> Callable[[Shelter], Shelter]:
    """What one changed field does."""
    if key == "double":
        return _double if text else _single
    if key == "arm":
        return lambda s: replace(s, lid=replace(s.lid, working="arm" if text else "visits"))
    if key == "fleece":
        return lambda s: replace(s, fleece=Fleece() if text else None)
    if key == FACING:
        facing = float(text) % 360.0 if text.isdecimal() else None
        return lambda s: replace(s, facing_deg=facing)
    amount = _quantity(text, key, speech, faults) if text else 0.0
    if amount is None:
        return lambda s: s
    return (lambda s: _foam(s, amount, speech)) if key == FOAM else (lambda s: _water(s, amount, speech))


def _double(shelter: Shelter) -> Shelter:
    return replace(changed(shelter, "double"), name=shelter.name)


def _single(shelter: Shelter) -> Shelter:
    assert shelter.cover is not None
    return replace(shelter, cover=replace(shelter.cover, sheets=shelter.cover.sheets[:1]))


def _foam(shelter: Shelter, thickness_m: float, speech: Speech) -> Shelter:
    if not 0.0 <= thickness_m <= 0.3:
        raise InputError(speech.say("shelters.foam_range", most=speech.length(0.3)))
    if thickness_m == 0.0:
        return replace(shelter, night_cover=None)
    cover = shelter.night_cover or NightCover(0.0)
    return replace(shelter, night_cover=replace(cover, resistance_m2k_w=thickness_m * FOAM_M2K_W_PER_M))


def _water(shelter: Shelter, volume_m3: float, speech: Speech) -> Shelter:
    """Bottles of a size that shows 18 dm2 of side for ten litres (estimate); they may not fill more than half of the bed to 30 cm."""
    most = 0.15 * enclosure(shelter.shape).floor_area_m2
    if not 0.0 <= volume_m3 <= most:
        raise InputError(speech.say("shelters.water_range", most=speech.volume(most)))
    return replace(shelter, water=Water(volume_m3=volume_m3, area_m2=18.0 * volume_m3) if volume_m3 else None)
