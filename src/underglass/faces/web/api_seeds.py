"""Seed on hand as data: what it is good for, and packets and tests to add, change and remove."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from underglass.errors import InputError
from underglass.faces.web.api_parts import Conflict, Day, Fault, Kept, Whole
from underglass.faces.web.desk import Desk
from underglass.faces.web.seeds import shelf_of
from underglass.notebook.records import PacketRecord
from underglass.notebook.store import Notebook
from underglass.services.packets import (
    MOST_KG,
    MOST_SEEDS,
    MOST_TESTED,
    Packet,
    add_packet,
    change_packet,
    record_test,
    remove_packet,
)
from underglass.units import c_to_k

__all__ = ["packet_row", "seeds_api"]


Short = Annotated[str, Field(max_length=80)]
PacketId = Annotated[str, Path(min_length=1, max_length=40)]


class PacketSaid(BaseModel):
    """A packet as a family says it; count seeds or mass_g, neither: a full packet."""

    model_config = ConfigDict(extra="forbid", strict=True)

    crop: Annotated[str, Field(min_length=1, max_length=80)]
    packed: Annotated[int, Field(ge=1950, le=2200), Whole]
    variety: Short = ""
    count: Annotated[int, Field(ge=0, le=MOST_SEEDS), Whole] | None = None
    mass_g: Annotated[float | None, Field(gt=0.0, le=1000.0 * MOST_KG)] = None
    bought_from: Short = ""
    storage_c: Annotated[float | None, Field(ge=-40.0, le=50.0)] = None
    storage_humidity: Annotated[float | None, Field(gt=0.0, le=1.0)] = None

    def packet(self) -> Packet:
        """In the units of the notebook."""
        return Packet(
            crop=self.crop, packed=self.packed, variety=self.variety, count=self.count, bought_from=self.bought_from,
            mass_kg=None if self.mass_g is None else self.mass_g / 1000.0,
            storage_k=None if self.storage_c is None else c_to_k(self.storage_c), storage_rh=self.storage_humidity,
        )  # fmt: skip


class PacketChanged(PacketSaid):
    """A changed packet with the version that it was read with."""

    version: Annotated[int, Field(ge=1, le=2**31), Whole]


class TestSaid(BaseModel):
    """A germination test: of n_sown seeds n_up came up by the day."""

    model_config = ConfigDict(extra="forbid", strict=True)

    on: Day
    n_sown: Annotated[int, Field(ge=1, le=MOST_TESTED), Whole]
    n_up: Annotated[int, Field(ge=0, le=MOST_TESTED), Whole]


WRITES: dict[int | str, dict[str, Any]] = {
    400: {"description": "what was sent is no JSON"},
    404: {
        "model": Fault,
        "description": "no household, crop or packet of this name, or values that do not fit together",
    },
    422: {"description": "a value is wrong"},
}
OVER: dict[int | str, dict[str, Any]] = {
    **WRITES,
    409: {"model": Conflict, "description": "changed meanwhile"},
}


def packet_row(packet: PacketRecord) -> dict[str, Any]:
    """A packet as it stands now, for whoever was slower."""
    return {
        "version": packet.version, "crop": packet.crop_id, "packed": packet.packed, "variety": packet.variety, "count": packet.count,
        "mass_g": None if packet.mass_kg is None else 1000.0 * packet.mass_kg, "bought_from": packet.bought_from,
        "storage_c": None if packet.storage_k is None else packet.storage_k - 273.15, "storage_humidity": packet.storage_rh,
    }  # fmt: skip


def seeds_api(desk: Desk) -> APIRouter:
    """The routes."""
    routes = APIRouter()

    def book() -> Notebook:
        if desk.household() is None:
            raise InputError("there is no household yet: describe one on the first page")
        return desk.home.open()

    def today() -> date:
        return date.fromisoformat(str(desk.today()))

    @routes.get("/seeds", responses={404: WRITES[404]})
    def seeds() -> JSONResponse:
        """Every packet on hand with what it is good for, and what the kept plan of the year needs, as `underglass seeds --json`."""
        with book() as notebook:
            return JSONResponse(shelf_of(desk, notebook))

    @routes.post("/seeds", status_code=201, responses=WRITES)
    def add(said: PacketSaid) -> Kept:
        """One more packet."""
        with book() as notebook:
            kept = add_packet(notebook, said.packet(), today())
        return Kept(id=kept.id, version=kept.version)

    @routes.put("/seeds/{packet_id}", responses=OVER)
    def change(packet_id: PacketId, said: PacketChanged) -> Kept:
        """A packet is other than was written; `version` is the one that was read."""
        with book() as notebook:
            kept = change_packet(notebook, packet_id, said.version, said.packet(), today())
        return Kept(id=kept.id, version=kept.version)

    @routes.delete("/seeds/{packet_id}", status_code=204, response_class=Response, responses=OVER)
    def remove(packet_id: PacketId, version: Annotated[int, Query(ge=1, le=2**31)]) -> Response:
        """A packet goes, with its tests."""
        with book() as notebook:
            remove_packet(notebook, packet_id, version)
        return Response(status_code=204)

    @routes.post("/seeds/{packet_id}/tests", status_code=201, responses=WRITES)
    def test(packet_id: PacketId, said: TestSaid) -> Kept:
        """A germination test."""
        with book() as notebook:
            kept = record_test(notebook, packet_id, said.on, said.n_sown, said.n_up, today())
        return Kept(id=kept.id, version=kept.version)

    return routes
