"""A logger's file into the notebook: first what was understood of it, then its readings as one step that can be undone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from underglass.notebook.records import Reading, ReadingKind
from underglass.notebook.store import Notebook
from underglass.services.household_store import shelter_named
from underglass.services.notes import record_readings
from underglass.shelter.tune_types import Readings
from underglass.units import k_to_c

__all__ = ["keep_readings", "preview_of"]

KINDS: dict[str, ReadingKind] = {"moment": "now", "lowest": "min", "highest": "max"}


def preview_of(readings: Sequence[Readings]) -> list[dict[str, Any]]:
    """What a file holds, by probe: name, spot, kind, number, first and last (UTC), lowest, middle and highest [degC]."""
    return [
        {
            "probe": r.probe,
            "spot": r.spot,
            "kind": KINDS[r.kind],
            "depth_m": r.depth_m if r.spot == "soil" else None,
            "n": r.n_readings,
            "first": datetime.fromtimestamp(int(r.at_s.min()), UTC),
            "last": datetime.fromtimestamp(int(r.at_s.max()), UTC),
            "low_c": k_to_c(float(r.temp_k.min())),
            "mean_c": k_to_c(float(r.temp_k.mean())),
            "high_c": k_to_c(float(r.temp_k.max())),
        }
        for r in readings
    ]


def keep_readings(notebook: Notebook, readings: Sequence[Readings], shelter: str, label: str) -> int:
    """Keep the readings of a file as one step; those that came with an earlier import are left out.  Returns how many are new.

    label : what the file is called; probes of one kind in one file are told apart by their names
    """
    place = shelter_named(notebook, shelter)
    alike = Counter((r.spot, r.kind, r.depth_m, r.height_m) for r in readings)
    new = 0
    records: dict[str, list[Reading]] = {}
    for r in readings:
        source = label if alike[r.spot, r.kind, r.depth_m, r.height_m] == 1 else f"{label}: {r.probe}"
        records.setdefault(source, []).extend(
            Reading(
                at=datetime.fromtimestamp(int(at), UTC),
                value_k=float(value),
                shelter_id=None if r.spot == "outside" else place.id,
                probe=r.spot,
                kind=KINDS[r.kind],
                depth_m=r.depth_m if r.spot == "soil" else None,
                height_m=r.height_m,
                in_sun={"sun": True, "shade": False}.get(r.sunlit),
            )
            for at, value in zip(r.at_s, r.temp_k, strict=True)
        )
    for source, rows in records.items():
        new += record_readings(notebook, rows, source)
    return new
