"""Hours of inside: from a shelter and the hours outside to temperature, light and humidity where the plants stand.

Value types: `Shelter` and its parts (model.py), `InsideWeather` (inside.py).  Main functions: `simulate` (simulate.py), `preset`
(presets.py), `changed` (changes.py).  The physics, from the outside in: geometry.py the facets, optics.py the sheets, sunlight.py
where the sun lands, soil.py and columns.py the ground and the walls, films.py the small formulas, network.py and parts.py the balance,
kernel.py the loop.  Equations with their sources: docs/model/shelter.md.

Import from the modules: `simulate` brings the compiled kernel with it, the value types do not.
"""
