"""What to sow, where and when, under cheap unheated shelters: computed from the weather of your own place.

In a few lines:

    import underglass
    place = underglass.Place(44.02, -72.66, 350.0, "America/New_York")
    outside = underglass.generate_weather(underglass.from_grid(place), place, 2026, n_years=3)
    inside = underglass.inside_weather(underglass.preset("box"), outside)

Names are loaded when they are first used, so that `import underglass` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from underglass.kernel_cache import use_kernel_cache

__all__ = [
    "InputError",
    "OutsideWeather",
    "Place",
    "Route",
    "Shelter",
    "find_crop",
    "from_grid",
    "generate_weather",
    "inside_weather",
    "preset",
    "read_weather_file",
    "sowing_outlook",
    "with_last_frost",
]

__version__ = "0.1.0"

_HOMES = {
    "InputError": "underglass.errors",
    "OutsideWeather": "underglass.weather.outside",
    "Place": "underglass.place.place",
    "Route": "underglass.plan.outlook_types",
    "Shelter": "underglass.shelter.model",
    "find_crop": "underglass.crop.catalogue",
    "from_grid": "underglass.weather.normals",
    "generate_weather": "underglass.weather.generator",
    "inside_weather": "underglass.services.api",
    "preset": "underglass.shelter.presets",
    "read_weather_file": "underglass.sources.files",
    "sowing_outlook": "underglass.services.api",
    "with_last_frost": "underglass.weather.normals",
}

use_kernel_cache()


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'underglass' has no attribute {name!r}")
