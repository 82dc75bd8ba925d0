"""How pages show things: the language, the units and the small filters of the templates."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from underglass.errors import InputError
from underglass.faces.cli.words import degrees, difference
from underglass.faces.web.desk import Desk
from underglass.faces.web.guard import tokens_agree
from underglass.faces.web.texts import LANGUAGES, Say, language_for, say_in

__all__ = ["Shown", "check_form", "page"]

PAGES = ("today", "sow", "inside", "notebook", "settings")


@cache
def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("underglass.faces.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )  # fmt: skip


class Shown:
    """Words and numbers for one request: language from Settings, else from the browser; units of the household."""

    def __init__(self, request: Request, desk: Desk) -> None:
        chosen = desk.table().get("language")
        self.language = chosen if chosen in LANGUAGES else language_for(request.headers.get("accept-language", ""))
        self.say: Say = say_in(self.language)
        household = desk.household()
        self.units = household.units if household else "c"

    def degrees(self, temp_c: float) -> str:
        """A temperature in the chosen unit."""
        return degrees(temp_c, self.units)

    def difference(self, diff_k: float) -> str:
        """A temperature difference in the chosen unit."""
        return f"{difference(diff_k, self.units)} °{'F' if self.units == 'f' else 'C'}"

    def day(self, iso: str | None) -> str:
        """'2027-04-02' as 2 Apr or 2. Apr."""
        if not iso:
            return "–"
        month, day = iso[-5:].split("-")
        return self.say("date.day_month", day=int(day), month=self.say(f"month3.{month}"))

    def crop(self, crop_id: str, name: str) -> str:
        """A crop's everyday name."""
        return self.say(f"crop.{crop_id}", or_else=name.split(" (")[0].split(" / ")[0])

    def shelter(self, name: str) -> str:
        """A shelter's name: a preset's in the chosen language, the family's own as it is."""
        return self.say(f"shelter.{name}", or_else=name)

    def cause(self, cause: str) -> str:
        """A cause of loss."""
        return self.say(f"cause.{cause}", or_else=cause)

    def route(self, grown_in: str, raised_in: str | None) -> str:
        """Where a sowing is raised and grown."""
        if raised_in is None:
            return self.say("sow.direct", bed=self.shelter(grown_in))
        return self.say("sow.raised", nursery=self.shelter(raised_in), bed=self.shelter(grown_in))


def page(request: Request, desk: Desk, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page or fragment from its template."""
    show = Shown(request, desk)
    text = _templates().get_template(template).render(
        t=show.say, show=show, request=request, token=request.state.form_token, pages=PAGES, version=desk.version(),
        languages=LANGUAGES, svg=Markup, **values,
    )  # fmt: skip
    return HTMLResponse(text, status)


def check_form(request: Request, given: str) -> None:
    """Refuse a form that does not carry this browser's token.  Raises InputError."""
    if not request.state.has_form_cookie or not tokens_agree(request.state.form_token, given):
        raise InputError("this form is too old or came from another page: load the page again and send it once more")
