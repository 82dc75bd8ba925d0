"""Seeds: what is on hand and still good for what, its tests, and what this year's plan needs to be bought."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date
from typing import Annotated, Any
from weakref import WeakKeyDictionary

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from underglass.crop.catalogue import catalogue
from underglass.errors import InputError
from underglass.faces.web.desk import Desk
from underglass.faces.web.home import Seen
from underglass.faces.web.nobody import nobody_yet
from underglass.faces.web.records import fresh_id
from underglass.faces.web.seed_form import as_form, read_packet, read_test
from underglass.faces.web.show import Shown, check_form, page
from underglass.faces.web.texts import Say
from underglass.notebook.faults import Changed
from underglass.notebook.store import Notebook
from underglass.services.packets import (
    add_packet,
    change_packet,
    packet_named,
    record_test,
    remove_packet,
    seed_shelf,
)

__all__ = ["ADVICE", "router", "shelf_of"]

Text = Annotated[str, Form(max_length=200)]
ADVICE = ("use first", "test", "sow thicker", "good", "buy", "used up")
"""The order in which a family should look at them."""

TEST_SEEDS = "10"


Needed = tuple[dict[str, int], dict[str, int]]
"""Plants, and seeds for them, by crop."""

_KNOWN: WeakKeyDictionary[Desk, tuple[Seen, date, Needed, dict[str, Any]]] = WeakKeyDictionary()
"""The shelf of each desk as it was worked out last, with all that it stands on."""


def shelf_of(desk: Desk, notebook: Notebook) -> dict[str, Any]:
    """The seed on hand, and what the plants of the kept plan need; worked out anew only when something was written."""
    seen, today, needed = desk.home.seen(), date.fromisoformat(str(desk.today())), desk.year.needed()
    if seen is None:
        raise InputError("there is no household yet: describe one on the first page")
    known = _KNOWN.get(desk)
    if (
        known is not None and known[0] is seen and known[1:3] == (today, needed)
    ):  # a notebook that was written to is seen anew
        return known[3]
    plants, seeds = needed
    shelf = seed_shelf(notebook, seen.household, today, plants, seeds=seeds)
    _KNOWN[desk] = seen, today, needed, shelf
    return shelf


def _basis(said: str, say: Say) -> str:
    """What is expected stands on, without the tests: those are told by themselves."""
    if said.startswith("test of "):
        said = said.split(", ", 1)[1].removesuffix(" before it")
    return say(f"basis.{said}", or_else=said)


def router(desk: Desk) -> APIRouter:
    """The routes of the pages."""
    routes = APIRouter(include_in_schema=False)

    def today() -> date:
        return date.fromisoformat(str(desk.today()))

    def shelf_page(
        request: Request, status: int = 200, typed: dict[str, str] | None = None, faults: dict[str, str] | None = None
    ) -> Response:
        if desk.household() is None:
            return nobody_yet(request, desk)
        show = Shown(request, desk)
        with desk.home.open() as notebook:
            shelf = shelf_of(desk, notebook)
        groups = {a: [r for r in shelf["packets"] if r["advice"] == a] for a in ADVICE}
        for rows in groups.values():
            rows.sort(key=lambda r: show.crop(r["crop"], r["name"]).lower())
        kinds = sorted(((show.crop(c.id, c.name), c.id) for c in catalogue().values()), key=lambda c: c[0].lower())
        return page(
            request, desk, "seeds.html", status, here="sow", tab="seeds", shelf=shelf, groups=groups, kinds=kinds,
            fields=as_form(None, show.units) | {"packed": str(today().year)} | (typed or {}), faults=faults or {}, mine=None,
            fresh=uuid.uuid4().hex, planned=bool(desk.year.needed()[0]),
        )  # fmt: skip

    def packet_page(
        request: Request, packet_id: str, status: int = 200, *, typed: dict[str, str] | None = None,
        faults: dict[str, str] | None = None, tested: dict[str, str] | None = None, changed: bool = False,
    ) -> Response:  # fmt: skip
        if desk.household() is None:
            return nobody_yet(request, desk)
        show = Shown(request, desk)
        with desk.home.open() as notebook:
            row = next((r for r in shelf_of(desk, notebook)["packets"] if r["id"] == packet_id), None)
        if row is None:
            return page(request, desk, "fault.html", 404, here="sow", said=show.say("seeds.gone"))
        stands = as_form(row, show.units)
        return page(
            request, desk, "packet.html", status, here="sow", tab="seeds", row=row, fields=stands | (typed or {}),
            basis=_basis(row["basis"], show.say), mine=stands if changed else None, faults=faults or {}, fresh=uuid.uuid4().hex,
            test={"on": today().isoformat(), "sown": TEST_SEEDS, "up": "", **(tested or {})},
        )  # fmt: skip

    @routes.get("/seeds")
    def seeds(request: Request) -> Response:
        return shelf_page(request)

    @routes.get("/seeds/{packet_id}")
    def packet(request: Request, packet_id: str) -> Response:
        return packet_page(request, packet_id)

    def given_in(
        crop: Text = "", packed: Text = "", variety: Text = "", amount: Text = "", measure: Text = "seeds",
        bought_from: Text = "", storage: Text = "", humidity: Text = "",
    ) -> dict[str, str]:  # fmt: skip
        return {
            "crop": crop, "packed": packed, "variety": variety, "amount": amount, "measure": measure,
            "bought_from": bought_from, "storage": storage, "humidity": humidity,
        }  # fmt: skip

    @routes.post("/seeds/add")
    def add(
        request: Request, token: Text = "", id: Text = "", crop: Text = "", packed: Text = "", variety: Text = "",  # noqa: A002
        amount: Text = "", measure: Text = "seeds", bought_from: Text = "", storage: Text = "", humidity: Text = "",
    ) -> Response:  # fmt: skip
        check_form(request, token)
        show = Shown(request, desk)
        typed = given_in(crop, packed, variety, amount, measure, bought_from, storage, humidity)
        said, faults = read_packet(typed, show.say, show.units, today().year)
        if said is None:
            return shelf_page(request, 422, typed, faults)
        with desk.home.open() as notebook:
            kept = add_packet(notebook, said, today(), record_id=fresh_id(id, show))
        return RedirectResponse(f"/seeds/{kept.id}", 303)

    def written(
        request: Request, packet_id: str, write: Callable[[Notebook], object], typed: dict[str, str]
    ) -> Response:
        """Write over the version that was read; where it was changed meanwhile both versions are shown."""
        try:
            with desk.home.open() as notebook:
                write(notebook)
        except Changed as changed:
            if changed.theirs is None:
                return page(request, desk, "fault.html", 409, here="sow", said=Shown(request, desk).say("seeds.gone"))
            fault = {"form": Shown(request, desk).say("fault.changed_meanwhile")}
            return packet_page(request, packet_id, 409, typed=typed, faults=fault, changed=True)
        return RedirectResponse("/seeds", 303)

    @routes.post("/seeds/{packet_id}/change")
    def change(
        request: Request, packet_id: str, token: Text = "", version: Annotated[int, Form()] = 0, packed: Text = "",
        variety: Text = "", amount: Text = "", measure: Text = "seeds", bought_from: Text = "", storage: Text = "",
        humidity: Text = "",
    ) -> Response:  # fmt: skip
        check_form(request, token)
        show = Shown(request, desk)
        with desk.home.open() as notebook:
            crop = packet_named(notebook, packet_id).crop_id
        typed = given_in(crop, packed, variety, amount, measure, bought_from, storage, humidity)
        said, faults = read_packet(typed, show.say, show.units, today().year)
        if said is None:
            return packet_page(request, packet_id, 422, typed=typed, faults=faults)
        return written(request, packet_id, lambda book: change_packet(book, packet_id, version, said, today()), typed)

    @routes.post("/seeds/{packet_id}/remove")
    def remove(request: Request, packet_id: str, token: Text = "", version: Annotated[int, Form()] = 0) -> Response:
        check_form(request, token)
        return written(request, packet_id, lambda book: remove_packet(book, packet_id, version), {})

    @routes.post("/seeds/{packet_id}/test")
    def test(
        request: Request, packet_id: str, token: Text = "", id: Text = "", on: Text = "", sown: Text = "", up: Text = ""  # noqa: A002
    ) -> Response:  # fmt: skip
        check_form(request, token)
        show, typed = Shown(request, desk), {"on": on, "sown": sown, "up": up}
        with desk.home.open() as notebook:
            said, faults = read_test(typed, show.say, packet_named(notebook, packet_id).packed, today())
            if said is not None:
                record_test(notebook, packet_id, said.on, said.n_sown, said.n_up, today(), record_id=fresh_id(id, show))
        if said is None:
            return packet_page(request, packet_id, 422, tested=typed, faults=faults)
        return RedirectResponse(f"/seeds/{packet_id}", 303)

    return routes
