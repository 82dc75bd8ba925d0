"""`underglass places`: towns by name."""

from __future__ import annotations

from underglass.place.gazetteer import found

__all__ = ["run"]


def run(name: str) -> None:
    """Print matching towns, biggest first."""
    for t in found(name, 15):
        where = ", ".join(part for part in (t.name, t.region, t.country) if part)
        print(f"{where:48} {t.latitude_deg:8.3f} {t.longitude_deg:9.3f} {t.elevation_m:5.0f} m (guess)  {t.time_zone}")
