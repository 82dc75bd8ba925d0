"""Whose data the numbers come from, with their licences, as DATA-CREDITS.md has them (a test compares)."""

from __future__ import annotations

__all__ = ["CREDITS"]

CREDITS: dict[str, str] = {
    "climate": "ERA5, Copernicus Climate Change Service; CC BY 4.0. Contains modified Copernicus Climate Change Service information [2025]. "
    "Neither the European Commission nor ECMWF is responsible for any use of it.",
    "relief": "Mapzen terrain tiles as packed by pvlib (BSD-3-Clause); sources of the tiles: US Geological Survey, NOAA and others",
    "towns": "GeoNames, geonames.org; CC BY 4.0.",
    "letters": "Adobe; SIL Open Font License 1.1",
}
"""Licence line of each kind of data that travels with the program."""
