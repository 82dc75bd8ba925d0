"""What a page shows as long as there is no household: the first visit or, where only the place was left out, what waits for it."""

from __future__ import annotations

from fastapi import Request
from fastapi.responses import RedirectResponse, Response

from underglass.crop.cautions import cautions_for
from underglass.faces.web.desk import Desk
from underglass.faces.web.show import page

__all__ = ["no_place", "nobody_yet"]

TOPICS = ("heat in shelters", "snow and wind", "heaters")
"""What can hurt somebody at any place."""


def no_place(request: Request, desk: Desk, status: int = 200, near: str = "", said: str = "") -> Response:
    """What needs to know the place, and the one field that says it."""
    here = request.url.path.strip("/").split("/")[0]
    return page(request, desk, "no_place.html", status, here=here, near=near, said=said, cautions=cautions_for(TOPICS))


def nobody_yet(request: Request, desk: Desk) -> Response:
    """In the place of a page that needs a household."""
    return RedirectResponse("/welcome", 303) if desk.draft.kept() is None else no_place(request, desk)
