"""Inside: a shelter's year as a carpet, its heat paths for a day, and what a change would do, while a slider is moved."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from underglass.errors import InputError
from underglass.faces.charts.heat_paths import heat_paths
from underglass.faces.charts.small_carpet import small_carpet
from underglass.faces.web.desk import Desk
from underglass.faces.web.show import Shown, page
from underglass.place.place import Horizon
from underglass.services.inside import monthly_table
from underglass.shelter.changes import changed
from underglass.shelter.model import Box, Hoop, NightCover, OpenGround, Shelter, Water
from underglass.weather.days import local_days
from underglass.weather.outside import OutsideWeather

__all__ = ["Change", "router"]


@dataclass(frozen=True, slots=True)
class Change:
    """What the sliders ask for; the defaults leave the shelter as it is.

    double : a second sheet    leaks : per cent of its leaks that stay    cover : night cover [m2K/W times 10]    jugs [litres per m2]
    length : per cent    facing [degrees from north], -1 as built    trees : skyline all around [degrees], -1 as it is    day : of the year
    """

    double: int = 0
    leaks: int = 100
    cover: int = 0
    jugs: int = 0
    length: int = 100
    facing: int = -1
    trees: int = -1
    day: int = 60

    def clipped(self) -> Change:
        """Every value within what its slider can give."""
        limits = {"double": (0, 1), "leaks": (10, 300), "cover": (0, 20), "jugs": (0, 60), "length": (30, 300),
                  "facing": (-1, 359), "trees": (-1, 45), "day": (1, 365)}  # fmt: skip
        return Change(**{k: int(np.clip(v, *limits[k])) for k, v in asdict(self).items()})


def with_change(shelter: Shelter, change: Change) -> Shelter:
    """The shelter as the sliders ask; what it cannot have stays as it is."""
    if isinstance(shelter.shape, OpenGround):
        return shelter
    if change.double and shelter.cover is not None and len(shelter.cover.sheets) == 1:
        shelter = replace(changed(shelter, "double"), name=shelter.name)
    leak = shelter.airtightness
    shelter = replace(shelter, airtightness=replace(leak, leak_area_m2=leak.leak_area_m2 * change.leaks / 100.0))
    if change.cover:
        shelter = replace(shelter, night_cover=NightCover(resistance_m2k_w=change.cover / 10.0))
    if isinstance(shelter.shape, Box | Hoop) and change.length != 100 and not getattr(shelter.shape, "windows", ()):
        shelter = replace(
            shelter, shape=replace(shelter.shape, length_m=shelter.shape.length_m * change.length / 100.0)
        )
    if change.jugs:
        litres = change.jugs * _floor_m2(shelter)
        shelter = replace(shelter, water=Water(volume_m3=litres / 1000.0, area_m2=0.018 * litres))
    return replace(shelter, facing_deg=float(change.facing)) if change.facing >= 0 else shelter


def _floor_m2(shelter: Shelter) -> float:
    from underglass.shelter.geometry import enclosure

    return enclosure(shelter.shape).floor_area_m2


def _outside(desk: Desk, change: Change) -> OutsideWeather:
    outside = desk.year_outside()
    if change.trees < 0:
        return outside
    return replace(outside, place=replace(outside.place, horizon=Horizon((0.0,), (float(change.trees),))))


def _answer(desk: Desk, show: Shown, shelter: Shelter, change: Change) -> dict[str, Any]:
    """The picture, its table, and the day's heat paths."""
    from underglass.shelter.simulate import simulate

    outside = _outside(desk, change)
    inside = simulate(with_change(shelter, change), outside, heat=True)
    months = monthly_table(inside, outside)
    days = local_days(inside.place, inside.start, inside.n_hours)
    at = min(change.day, days.n_days) - 1
    flows = {k: float(days.by_day(v)[at].sum()) / inside.floor_area_m2 for k, v in inside.heat.items()}
    date = str(days.dates[at])
    title = show.say("inside.heat_of", day=show.day(date))
    return {
        "carpet": small_carpet(inside, show.say, show.degrees), "months": months, "date": date,
        "heat": heat_paths(flows, title, show.say), "flows": flows,
        "coldest": min(m["coldest"] for m in months), "frost_hours": sum(m["hours_below_0"] for m in months),
        "hot_hours": sum(m["hours_above_35"] for m in months),
    }  # fmt: skip


def router(desk: Desk) -> APIRouter:
    """The routes of the page."""
    routes = APIRouter(include_in_schema=False)

    def render(request: Request, name: str, change: Change, beside: str, template: str) -> Response:
        household = desk.household()
        if household is None:
            return RedirectResponse("/welcome", 303)
        from underglass.services.why import named_shelter

        shelter = named_shelter(household, name)
        show, change = Shown(request, desk), change.clipped()
        other = _answer(desk, show, named_shelter(household, beside), Change(day=change.day)) if beside else None
        return page(
            request, desk, template, here="inside", shelters=household.shelters, shelter=shelter, change=change, beside=beside,
            now=_answer(desk, show, shelter, change), other=other, simple=isinstance(shelter.shape, OpenGround),
            can_double=shelter.cover is not None and len(shelter.cover.sheets) == 1,
            can_stretch=isinstance(shelter.shape, Box | Hoop) and not getattr(shelter.shape, "windows", ()),
        )  # fmt: skip

    @routes.get("/inside")
    def first(request: Request) -> Response:
        household = desk.household()
        if household is None:
            return RedirectResponse("/welcome", 303)
        covered = [s for s in household.shelters if s.cover is not None and s.room is None] or list(household.shelters)
        if not covered:
            raise InputError("no shelters yet: add one under Settings")
        return RedirectResponse(f"/inside/{covered[0].name}", 303)

    @routes.get("/inside/{name}")
    def one(
        request: Request, name: str, double: int = 0, leaks: int = 100, cover: int = 0, jugs: int = 0, length: int = 100,
        facing: int = -1, trees: int = -1, day: int = 60, beside: str = "",
    ) -> Response:  # fmt: skip
        change = Change(double, leaks, cover, jugs, length, facing, trees, day)
        return render(request, name, change, beside, "inside.html")

    @routes.get("/inside/{name}/picture")
    def picture(
        request: Request, name: str, double: int = 0, leaks: int = 100, cover: int = 0, jugs: int = 0, length: int = 100,
        facing: int = -1, trees: int = -1, day: int = 60, beside: str = "",
    ) -> Response:  # fmt: skip
        change = Change(double, leaks, cover, jugs, length, facing, trees, day)
        return render(request, name, change, beside, "inside_picture.html")

    return routes
