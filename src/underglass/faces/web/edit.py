"""Changing one entry of the notebook: a form made from a version of it; where somebody else was faster both versions are shown."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response

from underglass.errors import InputError
from underglass.faces.cli.note_words import amount_of, temperature_k
from underglass.faces.web.desk import Desk
from underglass.faces.web.show import Shown, check_form, page
from underglass.notebook.faults import Changed
from underglass.notebook.records import HarvestRecord, Note, Photo, Reading, Record, ShelterRecord, Sowing
from underglass.notebook.store import Notebook
from underglass.services import corrections
from underglass.units import OUNCE_KG, SQUARE_FOOT_M2, k_to_c, k_to_f

__all__ = ["router"]

LONGEST = 4000


@dataclass(frozen=True, slots=True)
class Entered:
    """What a form holds when a correction is read from it: the notebook, the entry's id, the version it was read with, the fields."""

    book: Notebook
    id: str
    version: int
    fields: Mapping[str, str]
    show: Shown

    def number(self, name: str) -> float | None:
        """A number in a field, None where it is empty."""
        plain = self.fields.get(name, "").strip().replace(",", ".")
        try:
            return float(plain) if plain else None
        except ValueError:
            raise InputError(self.show.say("fault.number")) from None


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of entry: its record, how its form is filled, and how a sent form is written."""

    record: type[Record]
    fill: Callable[[Any, Notebook, Shown], dict[str, str]]
    write: Callable[[Entered], None]


def _sowing_fields(s: Sowing, book: Notebook, show: Shown) -> dict[str, str]:
    area = "" if s.area_m2 is None else f"{s.area_m2 / (SQUARE_FOOT_M2 if show.units == 'f' else 1.0):.3g}"
    return {
        "on": s.sown_on.isoformat(), "shelter": book.get(ShelterRecord, s.stands_in_id).name,
        "count": "" if s.count is None else str(s.count), "area": area, "variety": s.variety,
    }  # fmt: skip


def _write_sowing(e: Entered) -> None:
    try:
        on = date.fromisoformat(e.fields.get("on", ""))
    except ValueError:
        raise InputError(e.show.say("fault.date")) from None
    count, area = e.number("count"), e.number("area")
    if count is not None and (count != count // 1.0 or count > 1e9):
        raise InputError(e.show.say("fault.number"))
    corrections.correct_sowing(
        e.book, e.id, e.version, sown_on=on, stands_in=e.fields.get("shelter", ""), count=None if count is None else int(count),
        area_m2=None if area is None else area * (SQUARE_FOOT_M2 if e.show.units == "f" else 1.0),
        variety=e.fields.get("variety", "")[:80],
    )  # fmt: skip


def _amount(h: HarvestRecord, show: Shown) -> str:
    if h.mass_kg is None:
        return f"{h.servings:g}"
    return f"{h.mass_kg / OUNCE_KG:.3g}oz" if show.units == "f" else f"{1000.0 * h.mass_kg:.4g}g"


def _write_harvest(e: Entered) -> None:
    if not e.fields.get("amount", "").strip():
        raise InputError(e.show.say("fault.amount"))
    corrections.correct_harvest(e.book, e.id, e.version, *amount_of(e.fields["amount"].replace(",", ".")))


def _write_reading(e: Entered) -> None:
    if not e.fields.get("value", "").strip():
        raise InputError(e.show.say("fault.number"))
    if e.fields["value"].strip()[-1:].lower() not in ("c", "f"):
        e.number("value")
    corrections.correct_reading(e.book, e.id, e.version, temperature_k(e.fields["value"], e.show.units))


KINDS: dict[str, Kind] = {
    "note": Kind(
        Note, lambda n, book, show: {"note": n.text}, lambda e: corrections.correct_note(e.book, e.id, e.version, e.fields.get("note", ""))
    ),
    "photo": Kind(
        Photo, lambda p, book, show: {"caption": p.caption},
        lambda e: corrections.correct_caption(e.book, e.id, e.version, e.fields.get("caption", "")[:200]),
    ),
    "reading": Kind(
        Reading, lambda r, book, show: {"value": f"{k_to_f(r.value_k) if show.units == 'f' else k_to_c(r.value_k):.1f}"}, _write_reading
    ),
    "harvest": Kind(HarvestRecord, lambda h, book, show: {"amount": _amount(h, show)}, _write_harvest),
    "sowing": Kind(Sowing, _sowing_fields, _write_sowing),
}  # fmt: skip
"""What can be changed on the page."""


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    def form(
        request: Request, name: str, record_id: str, status: int = 200, fault: str = "", typed: Mapping[str, str] | None = None,
        *, changed: bool = False,
    ) -> Response:  # fmt: skip
        """The form of an entry; with `typed` and `changed` what was typed, and beside it what stands now."""
        show, kind = Shown(request, desk), KINDS.get(name)
        household = desk.household()
        if kind is None or household is None:
            return page(request, desk, "fault.html", 404, here="notebook", said=show.say("fault.no_page"))
        with desk.home.open() as book:
            found = book.get_or_none(kind.record, record_id)
            stands = None if found is None else kind.fill(found, book, show)
        if found is None or stands is None:
            gone = 409 if typed else 404
            return page(request, desk, "gone.html", gone, here="notebook", typed=typed or {}, name=name)
        version = found.version if typed is None or changed else int(typed["version"])
        return page(
            request, desk, "edit.html", status, here="notebook", name=name, id=record_id, seen=version, fault=fault,
            fields=stands | {k: v for k, v in (typed or {}).items() if k in stands}, mine=stands if changed else None,
            shelters=household.shelters,
        )  # fmt: skip

    @routes.get("/notebook/{name}/{record_id}")
    def entry(request: Request, name: str, record_id: str) -> Response:
        return form(request, name, record_id)

    async def sent(request: Request) -> dict[str, str]:
        given = await request.form(max_files=0, max_fields=20)
        fields = {k: v[:LONGEST] for k, v in given.items() if isinstance(v, str)}
        check_form(request, fields.get("token", ""))
        return fields | {"version": fields["version"] if fields.get("version", "").isdecimal() else "0"}

    def written(request: Request, name: str, record_id: str, fields: dict[str, str], *, remove: bool) -> Response:
        kind, show = KINDS.get(name), Shown(request, desk)
        if kind is None:
            return form(request, name, record_id)
        try:
            with desk.home.open() as book:
                if book.get_or_none(kind.record, record_id) is None:
                    return form(request, name, record_id, typed=fields)
                if remove:
                    corrections.take_out(book, kind.record, record_id, int(fields["version"]))
                else:
                    kind.write(Entered(book, record_id, int(fields["version"]), fields, show))
        except Changed:
            said = show.say("fault.changed_meanwhile")
            return form(request, name, record_id, 409, said, fields, changed=True)
        except InputError as error:
            return form(request, name, record_id, 422, str(error), fields)
        return RedirectResponse("/notebook#written", 303)

    @routes.post("/notebook/{name}/{record_id}")
    async def change(request: Request, name: str, record_id: str) -> Response:
        fields = await sent(request)
        return await run_in_threadpool(written, request, name, record_id, fields, remove=False)

    @routes.post("/notebook/{name}/{record_id}/remove")
    async def remove(request: Request, name: str, record_id: str) -> Response:
        fields = await sent(request)
        return await run_in_threadpool(written, request, name, record_id, fields, remove=True)

    return routes
