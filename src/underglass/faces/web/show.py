"""How pages show things: the language, the units and the small filters of the templates."""

from __future__ import annotations

from functools import cache, partial
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from underglass.errors import InputError
from underglass.faces.web.desk import Desk
from underglass.faces.web.fault_words import fault
from underglass.faces.web.guard import tokens_agree
from underglass.faces.web.source_words import cited, layer, note, weather
from underglass.faces.web.speech import Speech
from underglass.faces.web.texts import LANGUAGES, chosen_language

__all__ = ["Shown", "check_form", "page"]

PAGES = ("today", "sow", "inside", "notebook", "settings")


@cache
def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("underglass.faces.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )  # fmt: skip


class Shown(Speech):
    """Words and numbers for one request: the language this device chose, else the browser's; units of the household."""

    def __init__(self, request: Request, desk: Desk) -> None:
        household = desk.readable()
        language = chosen_language(request.cookies, request.headers.get("accept-language", ""))
        super().__init__(language, household.units if household else "c")


def page(request: Request, desk: Desk, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page or fragment from its template."""
    show = Shown(request, desk)
    for name in ("fault", "said"):
        if isinstance(values.get(name), str):
            values[name] = fault(values[name], show)
    if isinstance(values.get("faults"), dict):
        values["faults"] = {field: fault(text, show) for field, text in values["faults"].items()}
    text = _templates().get_template(template).render(
        t=show.say, in_words=partial(fault, show=show), weather=partial(weather, show=show), layer=partial(layer, show=show),
        noted=partial(note, show=show), cited=partial(cited, show=show), show=show, request=request, token=request.state.form_token, pages=PAGES,
        languages=LANGUAGES, svg=Markup, **values,
    )  # fmt: skip
    return HTMLResponse(text, status)


def check_form(request: Request, given: str) -> None:
    """Refuse a form that does not carry this browser's token.  Raises InputError."""
    if not request.state.has_form_cookie or not tokens_agree(request.state.form_token, given):
        raise InputError("this form is too old or came from another page: load the page again and send it once more")
