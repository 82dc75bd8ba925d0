"""A shelter set as the plan said, or otherwise, recorded with one tap: lid and covers together are one step of the history."""

from __future__ import annotations

from datetime import datetime

from underglass.notebook.columns import KINDS
from underglass.notebook.records import LidAction, LidSetting
from underglass.notebook.store import Notebook
from underglass.services.household_store import shelter_named
from underglass.shelter.model import Shelter
from underglass.tend.setting import Setting

__all__ = ["actions_for", "already_kept", "record_setting"]


def actions_for(setting: Setting, shelter: Shelter, *, trays: bool = False) -> list[tuple[LidSetting, float | None]]:
    """What is done to a shelter to set it so: the lid, the covers that it has, and the trays where there are any."""
    wide = setting.gap_m >= 0.999 * shelter.lid.full_gap_m
    lid: tuple[LidSetting, float | None] = ("open", None) if wide else ("gap", setting.gap_m)
    actions = [("off", None) if setting.off else ("shut", None) if setting.gap_m <= 0.0 else lid]
    if shelter.night_cover is not None:
        actions.append(("cover on" if setting.night_cover else "cover off", None))
    if shelter.fleece is not None:
        actions.append(("fleece on" if setting.fleece else "fleece off", None))
    if trays:
        actions.append(("trays in" if setting.trays_in else "trays out", None))
    return actions


def record_setting(
    notebook: Notebook, at: datetime, shelter: Shelter, setting: Setting, *, trays: bool = False, record_id: str = ""
) -> None:
    """A shelter was set so, lid and covers; one step that can be undone.  record_id : as for a record, so that it is kept once."""
    place = shelter_named(notebook, shelter.name)
    with notebook.transaction(f"{place.name}: set as the plan says"):
        for i, (what, gap_m) in enumerate(actions_for(setting, shelter, trays=trays)):
            own = f"{record_id}-{i}" if record_id and i else record_id
            notebook.add(LidAction(id=own, at=at, shelter_id=place.id, setting=what, gap_m=gap_m))


def already_kept(notebook: Notebook, record_id: str) -> bool:
    """Whether a record with this id was ever written, also where it was undone since: what is sent again changes nothing."""
    marks = ", ".join("?" * len(KINDS))
    known = f'SELECT 1 FROM journal WHERE "table" IN ({marks}) AND record_id = ? LIMIT 1'
    return notebook.db.execute(known, (*KINDS, record_id)).fetchone() is not None
