"""Between a shelter and plain tables (as in a TOML file): every key of the model, its range, and one sentence for each fault.

The keys are the model's own names; a number is SI, and a text with a unit is converted ("36 in", "4 mm", "-5 C").  `like` starts from a
preset and changes only what is named.
"""

from __future__ import annotations

import difflib
import json
import math
import re
import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass, replace
from typing import Any, Literal, Union, get_args, get_origin

from underglass.errors import InputError
from underglass.shelter import model
from underglass.shelter.model import Box, Drum, Hoop, OpenGround, Shelter
from underglass.units import parse_quantity

__all__ = ["KEYS", "LIMITS", "shelter_from_table", "shelter_to_toml"]

SHAPES: dict[str, type] = {"box": Box, "hoop": Hoop, "drum": Drum, "open": OpenGround}

LIMITS: dict[str, tuple[float, float]] = {
    "thickness_m": (1e-5, 2.0),
    "length_m": (0.05, 200.0),
    "depth_m": (0.05, 50.0),
    "width_m": (0.05, 50.0),
    "diameter_m": (0.03, 2.0),
    "height_m": (0.0, 10.0),
    "front_height_m": (0.03, 6.0),
    "back_height_m": (0.03, 6.0),
    "clear_height_m": (0.03, 10.0),
    "gap_m": (0.0, 3.0),
    "full_gap_m": (0.01, 10.0),
    "hinge_length_m": (0.01, 60.0),
    "swing_m": (0.0, 10.0),
    "vent_height_m": (0.01, 6.0),
    "from_left_m": (0.0, 50.0),
    "from_floor_m": (0.0, 6.0),
    "raised_m": (0.0, 1.5),
    "refractive_index": (1.0, 2.5),
    "extinction_per_m": (0.0, 5000.0),
    "conductivity_w_mk": (0.01, 400.0),
    "density_kg_m3": (0.5, 12000.0),
    "specific_heat_j_kgk": (100.0, 5000.0),
    "frame_u_w_m2k": (0.0, 10.0),
    "gap_conductance_w_m2k": (0.1, 50.0),
    "inside_film_w_m2k": (0.1, 50.0),
    "outside_film_w_m2k": (0.1, 100.0),
    "conductance_w_m2k": (0.0, 1000.0),
    "leak_area_m2": (0.0, 5.0),
    "fixed_air_changes_per_h": (0.0, 500.0),
    "resistance_m2k_w": (0.0, 20.0),
    "boundary_resistance_m2k_w": (0.0, 100.0),
    "edge_resistance_m2k_w": (0.0, 20.0),
    "air_exchange_m_s": (0.0, 0.5),
    "volume_m3": (0.0, 20.0),
    "area_m2": (0.0, 100.0),
    "leaf_area_index": (0.0, 8.0),
    "moisture": (0.0, 0.6),
    "porosity": (0.05, 0.9),
    "facing_deg": (0.0, 360.0),
    "wind_factor": (0.0, 2.0),
    "gains_w": (-5000.0, 20000.0),
    "rule_rate_m3_h": (0.0, 100000.0),
    "wave_amplitude_k": (0.0, 40.0),
    "wave_day_of_minimum": (0.0, 366.0),
    "below_k": (200.0, 400.0),
}
"""What each number may be, by the end of its name; shares are 0-1, hours 0-24, temperatures 200-360 K."""

ANGLE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:deg|degrees|°)\s*")
"""An opening may be given as the angle of the lid instead of the gap at its edge."""

SHARES = ("share", "transmittance", "emissivity", "absorptance", "reflectance", "clean", "wetness", "wet_leaf")

KEYS: dict[str, tuple[str, ...]] = {
    cls.__name__: tuple(f.name for f in fields(cls))
    for cls in vars(model).values()
    if isinstance(cls, type) and is_dataclass(cls)
}
"""Every key by the class it belongs to; docs/shelter-files.md explains each of them (a test compares the two)."""


def _limits(name: str) -> tuple[float, float]:
    if name in LIMITS:
        return LIMITS[name]
    if name.endswith(SHARES):
        return 0.0, 1.0
    if name.endswith("_h"):
        return 0.0, 24.0
    if name.endswith("_k"):
        return 200.0, 360.0
    return -1e9, 1e9


class _Reader:
    """Turns tables into model values and keeps every fault, with the path of the key."""

    def __init__(self) -> None:
        self.faults: list[tuple[str, str]] = []

    def fault(self, path: str, text: str) -> None:
        self.faults.append((path, text))

    def gap_of_angle(self, given: str, lid: Mapping[str, object], path: str, base: object | None) -> object:
        """An opening given as an angle, as "30 deg": how far the edge lifts, the chord of the swing."""
        swing = lid.get("swing_m", getattr(base, "swing_m", model.Lid().swing_m))
        degrees = float(found.group(1)) if (found := ANGLE.fullmatch(given)) else 0.0
        if not 0.0 <= degrees <= 110.0:
            self.fault(path, f"{path} is {given!r}: expected 0 to 110 degrees")
            return 0.0
        return 2.0 * self.number(swing, path, "swing_m") * math.sin(math.radians(degrees) / 2.0)

    def build(self, cls: type, table: object, path: str, base: object | None = None) -> Any:
        if not isinstance(table, Mapping):
            self.fault(
                path, f"{path} is {table!r}: expected a table of keys such as {', '.join(KEYS[cls.__name__][:3])}"
            )
            return base
        hints = typing.get_type_hints(cls)
        known = {f.name: f for f in fields(cls)}
        values: dict[str, Any] = {}
        for key, given in table.items():
            where = f"{path}.{key}" if path else str(key)
            if cls is model.Lid and key in ("gap_m", "full_gap_m") and ANGLE.fullmatch(str(given)):
                given = self.gap_of_angle(str(given), table, where, base)
            if key in known:
                old = getattr(base, key, None) if base is not None else None
                values[key] = self.value(hints[key], given, where, key, old)
            elif key != "kind_of_shape":
                near = difflib.get_close_matches(str(key), list(known), n=1, cutoff=0.5)
                hint = f"; did you mean {near[0]}?" if near else f"; known keys: {', '.join(known)}"
                self.fault(where, f"{where} is not a key of a shelter file{hint}")
        return self.make(cls, values, known, path, base)

    def make(
        self, cls: type, values: dict[str, Any], known: Mapping[str, Field[Any]], path: str, base: object | None
    ) -> Any:
        if base is not None and isinstance(base, cls):
            return replace(base, **values)  # type: ignore[type-var]  # cls is one of the model's dataclasses
        missing = [
            n for n, f in known.items() if n not in values and f.default is MISSING and f.default_factory is MISSING
        ]
        if missing:
            self.fault(path, f"{path or 'the file'} needs {', '.join(missing)}")
            return None
        return cls(**values)

    def value(self, hint: Any, given: object, path: str, name: str, old: object | None) -> Any:
        origin = get_origin(hint)
        if origin in (Union, types.UnionType):
            return self.union(hint, given, path, name, old)
        if origin is Literal:
            if given not in get_args(hint):
                self.fault(path, f"{path} is {given!r}: expected one of {', '.join(map(str, get_args(hint)))}")
            return given
        if origin is tuple:
            return self.items(hint, given, path, name)
        if isinstance(hint, type) and is_dataclass(hint):
            return self.build(hint, given, path, old)
        if hint is bool:
            if not isinstance(given, bool):
                self.fault(path, f"{path} is {given!r}: expected true or false")
            return given
        if hint is str:
            return str(given)
        return self.number(given, path, name)

    def union(self, hint: Any, given: object, path: str, name: str, old: object | None) -> Any:
        options = [o for o in get_args(hint) if o is not type(None)]
        if given in ("none", None, False):
            return None
        if len(options) > 1:
            return self.shape(given, path, old)
        return self.value(options[0], given, path, name, old)

    def shape(self, given: object, path: str, old: object | None) -> Any:
        if not isinstance(given, Mapping):
            self.fault(path, f"{path} is {given!r}: expected a table with kind = one of {', '.join(SHAPES)}")
            return old
        table = dict(given)
        word = table.pop("kind", None)
        if word is None and old is not None:
            return self.build(type(old), table, path, old)
        if word not in SHAPES:
            self.fault(f"{path}.kind", f"{path}.kind is {word!r}: expected one of {', '.join(SHAPES)}")
            return old
        return self.build(SHAPES[str(word)], table, path, old if isinstance(old, SHAPES[str(word)]) else None)

    def items(self, hint: Any, given: object, path: str, name: str) -> Any:
        inner = get_args(hint)[0]
        if not isinstance(given, list):
            self.fault(path, f"{path} is {given!r}: expected a list in square brackets")
            return ()
        return tuple(self.value(inner, item, f"{path}[{i + 1}]", name, None) for i, item in enumerate(given))

    def number(self, given: object, path: str, name: str) -> float:
        low, high = _limits(name)
        try:
            value = parse_quantity(given, name)
        except InputError as error:
            self.fault(path, f"{path}: {error}")
            return low
        if not low <= value <= high:
            self.fault(path, f"{path} is {given}: expected {low:g} to {high:g}{_meant(name, value, low, high)}")
        return value


def _meant(name: str, value: float, low: float, high: float) -> str:
    """A likely slip: centimetres, millimetres, inches or percent taken for SI."""
    sizes = [(1e-2, "cm"), (1e-3, "mm"), (0.0254, "in"), (0.3048, "ft")] if name.endswith("_m") else []
    if name == "thickness_m":
        sizes.insert(0, sizes.pop(1))
    for factor, unit in (*sizes, (0.01, "percent")):
        if low <= value * factor <= high and low >= 0.0:
            return f"; did you mean {value:g} {unit}?"
    return ""


def shelter_from_table(table: Mapping[str, object], base: Shelter | None = None) -> Shelter:
    """A shelter from a plain table, starting from `base` where one is given.

    Raises InputError that lists every fault; its `paths` attribute names the keys, for line numbers.
    """
    reader = _Reader()
    shelter = reader.build(Shelter, table, "", base)
    if reader.faults:
        error = InputError.of([text for _, text in reader.faults])
        error.paths = [path for path, _ in reader.faults]  # type: ignore[attr-defined]  # read by sources/shelter_file.py
        raise error
    return typing.cast("Shelter", shelter)


def _toml_value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # JSON's escapes are TOML's, but for one
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, float | int):
        return repr(float(value))
    if value is None:
        return '"none"'
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    if is_dataclass(value):
        return "{ " + ", ".join(f"{f.name} = {_toml_value(getattr(value, f.name))}" for f in fields(value)) + " }"
    raise TypeError(f"cannot write {value!r}")


def shelter_to_toml(shelter: Shelter) -> str:
    """The whole shelter as TOML that reads back to the same value."""
    plain, tables = [], []
    for f in fields(shelter):
        value = getattr(shelter, f.name)
        if is_dataclass(value) and not isinstance(value, type):
            rows = [f"{g.name} = {_toml_value(getattr(value, g.name))}" for g in fields(value)]
            if f.name == "shape":
                rows.insert(0, f'kind = "{next(word for word, cls in SHAPES.items() if isinstance(value, cls))}"')
            tables.append("\n".join([f"[{f.name}]", *rows]))
        else:
            plain.append(f"{f.name} = {_toml_value(value)}")
    return "\n".join(plain) + "\n\n" + "\n\n".join(tables) + "\n"
