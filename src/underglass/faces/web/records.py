"""What is recorded with a tap or a few words: one address for every kind of record, kept once however often it is sent.

Each form carries an id of its own.  A phone that was away sends what it queued to the same address, with the time at which it was written;
an answer in JSON tells it what became of it.
"""

from __future__ import annotations

import hashlib
import io
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache, partial
from pathlib import Path
from typing import get_args

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, RedirectResponse, Response

from underglass.errors import InputError, NotebookError
from underglass.faces.cli.note_words import amount_of, hours_of, temperature_k
from underglass.faces.web.desk import Desk
from underglass.faces.web.fault_words import fault
from underglass.faces.web.show import Shown, check_form
from underglass.notebook.photos import picture_path
from underglass.notebook.records import STAGES, LidSetting, Probe, ReadingKind, Sowing
from underglass.notebook.store import Notebook
from underglass.plan.household import Household
from underglass.services import notes
from underglass.services.photos import add_photo
from underglass.services.worked import already_kept, record_setting
from underglass.tend.setting import Setting
from underglass.units import INCH_M, SQUARE_FOOT_M2, US_GALLON_M3

__all__ = ["KINDS", "PROBES", "SETTINGS", "Sent", "fresh_id", "router", "when_written"]

SETTINGS: tuple[LidSetting, ...] = get_args(LidSetting)
KINDS: tuple[ReadingKind, ...] = get_args(ReadingKind)
PROBES: tuple[Probe, ...] = get_args(Probe)
LONGEST = 4000
SMALL_PX = 320
MEDIA = {".jpg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}
OLDEST = timedelta(days=60)
"""What a phone kept longer is taken for a wrong clock."""

ShowAgain = Callable[[Request, int, str, Mapping[str, str]], Response]
"""Shows a page again with a fault and what was typed."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A form as it came: its fields, its id, the time it was written, the words and units of who sent it, and the household."""

    fields: Mapping[str, str]
    id: str
    at: datetime
    day: date
    show: Shown
    household: Household

    def text(self, name: str) -> str:
        """A field without blanks around it, '' where it is empty or was not sent."""
        return self.fields.get(name, "").strip()

    def number(self, name: str) -> float | None:
        """A number in a field, None where it is empty.  Raises InputError."""
        plain = self.text(name).replace(",", ".").replace("−", "-")
        if not plain:
            return None
        try:
            return float(plain)
        except ValueError:
            raise InputError(self.show.say("fault.number")) from None

    def whole(self, name: str) -> int | None:
        """A whole number in a field, None where it is empty."""
        value = self.number(name)
        if value is None:
            return None
        if value != value // 1.0 or abs(value) > 1e9:
            raise InputError(self.show.say("fault.number"))
        return int(value)

    def on(self) -> date:
        """The day in the form, else that on which it was written."""
        if not self.text("on"):
            return self.day
        try:
            return date.fromisoformat(self.text("on"))
        except ValueError:
            raise InputError(self.show.say("fault.date")) from None

    def sowing(self, notebook: Notebook) -> Sowing:
        """The sowing that the form names by its id."""
        found = notebook.get_or_none(Sowing, self.text("sowing"))
        if found is None:
            raise InputError(self.show.say("fault.sowing"))
        return found


def fresh_id(given: str, show: Shown) -> str:
    """The form's own id, by which a record that was sent twice is kept once; anything else is refused."""
    try:
        return uuid.UUID(given).hex
    except ValueError:
        raise InputError(show.say("fault.old_form")) from None


def own_id(given: str, fields: Mapping[str, str], data: bytes, show: Shown) -> str:
    """The id of what is to be kept: by the form's own id and by all that it says.

    What is sent again becomes the same record; something else from a form that was shown again becomes another one.
    """
    told = sorted((k, v) for k, v in fields.items() if k not in ("token", "id", "at", "back", "mark"))
    mark = hashlib.sha256(repr(told).encode() + data).hexdigest()
    return uuid.uuid5(uuid.UUID(fresh_id(given, show)), mark).hex


def when_written(given: str, now: datetime) -> datetime:
    """The time that a phone put on what it queued, if it can be true; else now."""
    try:
        at = datetime.fromisoformat(given)
    except ValueError:
        return now
    if at.tzinfo is None or not now - OLDEST <= at <= now:
        return now
    return at.astimezone(UTC)


def _note(book: Notebook, sent: Sent) -> None:
    shelter, sowing = sent.text("shelter") or None, sent.sowing(book) if sent.text("sowing") else None
    notes.add_note(book, sent.at, sent.text("note"), sent.text("tags").split(","), shelter=shelter, sowing=sowing, record_id=sent.id)  # fmt: skip


def _lid(book: Notebook, sent: Sent) -> None:
    """A setting by its word; a bare number is a gap in metres, as on the buttons of Today."""
    word, say = sent.text("setting"), sent.show.say
    if word[:1].isdigit():
        try:
            notes.record_lid(book, sent.at, sent.text("shelter"), "gap", float(word), record_id=sent.id)
        except ValueError:
            raise InputError(say("fault.setting")) from None
        return
    if word not in SETTINGS:
        raise InputError(say("fault.setting"))
    gap = sent.number("gap") if word == "gap" else None
    if word == "gap" and gap is None:
        raise InputError(say("fault.gap"))
    length = gap * (INCH_M if sent.show.units == "f" else 0.01) if gap is not None else None
    notes.record_lid(book, sent.at, sent.text("shelter"), word, length, record_id=sent.id)


def _done(book: Notebook, sent: Sent) -> None:
    """A shelter was set as the plan said."""
    shelter = next((s for s in sent.household.shelters if s.name == sent.text("shelter")), None)
    gap_m = sent.number("gap_m")
    if shelter is None or gap_m is None or not 0.0 <= gap_m <= 3.0:
        raise InputError(sent.show.say("fault.setting"))
    on = {key: sent.text(key) == "1" for key in ("night_cover", "fleece", "off", "trays_in")}
    trays = sent.text("trays_in") != ""
    record_setting(book, sent.at, shelter, Setting(gap_m, **on), trays=trays, record_id=sent.id)


def _reading(book: Notebook, sent: Sent) -> None:
    if not sent.text("value"):
        raise InputError(sent.show.say("fault.number"))
    if sent.text("value")[-1:].lower() not in ("c", "f"):
        sent.number("value")
    value_k = temperature_k(sent.text("value"), sent.show.units)
    kind: ReadingKind = next((k for k in KINDS if k == sent.text("kind")), "now")
    probe: Probe = next((p for p in PROBES if p == sent.text("probe")), "air")
    height = sent.number("height")
    metres = height * (INCH_M if sent.show.units == "f" else 0.01) if height is not None else None
    if metres is not None and not 0.0 <= metres <= 4.0:
        raise InputError(sent.show.say("fault.height"))
    notes.record_reading(
        book, sent.at, value_k, shelter=sent.text("shelter") or None, probe=probe, kind=kind,
        depth_m=metres if probe == "soil" else None, height_m=metres if probe == "air" else None,
        in_sun={"sun": True, "shade": False}.get(sent.text("sun")), record_id=sent.id,
    )  # fmt: skip


def _water(book: Notebook, sent: Sent) -> None:
    litres, gallons = sent.number("litres"), sent.number("gallons")
    volume_m3 = litres / 1000.0 if litres is not None else gallons * US_GALLON_M3 if gallons is not None else None
    sowing = sent.sowing(book) if sent.text("sowing") else None
    notes.record_watering(
        book, sent.at, shelter=sent.text("shelter") or None, sowing=sowing,
        volume_m3=volume_m3, record_id=sent.id,
    )  # fmt: skip


def _sowing(book: Notebook, sent: Sent) -> None:
    area = sent.number("area")
    square = SQUARE_FOOT_M2 if sent.show.units == "f" else 1.0
    notes.record_sowing(
        book, sent.text("crop"), grown_in=sent.text("grown_in"), raised_in=sent.text("raised_in") or None, on=sent.on(),
        count=sent.whole("count"), area_m2=area * square if area is not None else None, variety=sent.text("variety"),
        record_id=sent.id,
    )  # fmt: skip


def _move(book: Notebook, sent: Sent) -> None:
    stage = sent.text("stage")
    if stage not in STAGES[1:]:
        raise InputError(sent.show.say("fault.stage"))
    sowing = sent.sowing(book)
    if sowing.stage != stage:  # sent again, it changes nothing
        notes.move_on(book, sowing, stage, sent.on(), sent.text("shelter") or None)


def _harvest(book: Notebook, sent: Sent) -> None:
    if not sent.text("amount"):
        raise InputError(sent.show.say("fault.amount"))
    mass_kg, servings = amount_of(sent.text("amount").replace(",", "."))
    notes.record_harvest(
        book, sent.sowing(book), sent.on(), mass_kg=mass_kg, servings=servings, last=sent.text("last") == "1", record_id=sent.id
    )  # fmt: skip


def _loss(book: Notebook, sent: Sent) -> None:
    cause = sent.text("words") or sent.text("cause")
    if not cause:
        raise InputError(sent.show.say("fault.cause"))
    notes.record_loss(book, sent.sowing(book), sent.on(), cause, sent.whole("count"), record_id=sent.id)


def _visits(book: Notebook, sent: Sent) -> None:
    """Days on which somebody comes at other times, or nobody."""
    first, say = sent.on(), sent.show.say
    try:
        last = date.fromisoformat(sent.text("until")) if sent.text("until") else first
    except ValueError:
        raise InputError(say("fault.date")) from None
    days = (last - first).days + 1
    if not 1 <= days <= 366:
        raise InputError(say("fault.span"))
    times = sent.text("times").replace(",", " ")
    try:
        hours = None if sent.text("who") == "usual" else hours_of(times or "nobody")
    except InputError:
        raise InputError(say("fault.times")) from None
    notes.record_visits(book, [first + timedelta(days=n) for n in range(days)], hours)


KEEPERS: dict[str, Callable[[Notebook, Sent], None]] = {
    "note": _note,
    "lid": _lid,
    "done": _done,
    "reading": _reading,
    "water": _water,
    "sowing": _sowing,
    "move": _move,
    "harvest": _harvest,
    "loss": _loss,
    "visits": _visits,
}
"""What each kind of form writes."""


def reply(
    request: Request,
    desk: Desk,
    fields: Mapping[str, str],
    write: Callable[[], None],
    show_again: Mapping[str, ShowAgain],
) -> Response:
    """Write, and go back to the page; a phone that sends from its queue is told in JSON."""
    queued = request.headers.get("accept", "").startswith("application/json")
    back = fields.get("back", "")
    page_of = show_again.get(back, show_again["notebook"])
    try:
        write()
    except (InputError, NotebookError) as error:
        status = 422 if isinstance(error, InputError) else 409
        if queued:
            return JSONResponse({"fault": fault(str(error), Shown(request, desk))}, status)
        return page_of(request, status, str(error), fields)
    if queued:
        return JSONResponse({"kept": True})
    mark = fields.get("mark", "")
    return RedirectResponse(
        f"/{back if back in show_again else 'notebook'}#{mark if mark.isalnum() else 'written'}", 303
    )


def router(desk: Desk, show_again: Mapping[str, ShowAgain]) -> APIRouter:
    """The routes of records.  show_again : by page, what shows it again after a fault"""
    routes = APIRouter(include_in_schema=False)

    def keep(request: Request, fields: Mapping[str, str]) -> None:
        """Write one record, once.  Raises InputError for what is wrong with it."""
        show, household = Shown(request, desk), desk.household()
        keeper = KEEPERS.get(fields.get("what", ""))
        if keeper is None or household is None:
            raise InputError(show.say("fault.old_form"))
        record_id = own_id(fields.get("id", ""), fields, b"", show)
        at = when_written(fields.get("at", ""), desk.now())
        with desk.home.open() as notebook:
            if not already_kept(notebook, record_id):
                keeper(notebook, Sent(fields, record_id, at, desk.local(at).date(), show, household))

    def keep_picture(request: Request, fields: Mapping[str, str], data: bytes) -> None:
        """Keep one picture, once."""
        show = Shown(request, desk)
        if not data:
            raise InputError(show.say("fault.picture"))
        record_id = own_id(fields.get("id", ""), fields, data, show)
        at = when_written(fields.get("at", ""), desk.now())
        with desk.home.open() as notebook:
            if not already_kept(notebook, record_id):
                place, about = fields.get("shelter") or None, fields.get("sowing", "")
                sowing = notebook.get_or_none(Sowing, about) if about else None
                if about and sowing is None:
                    raise InputError(show.say("fault.sowing"))
                add_photo(
                    notebook,
                    at,
                    data,
                    fields.get("caption", "")[:200],
                    shelter=place,
                    sowing=sowing,
                    record_id=record_id,
                )

    @routes.post("/record")
    async def record(request: Request) -> Response:
        fields, _ = await _sent(request, files=0)
        check_form(request, fields.get("token", ""))
        return await run_in_threadpool(reply, request, desk, fields, partial(keep, request, fields), show_again)

    @routes.post("/photo")
    async def photo(request: Request) -> Response:
        fields, data = await _sent(request, files=1)
        check_form(request, fields.get("token", ""))
        write = partial(keep_picture, request, fields, data)
        return await run_in_threadpool(reply, request, desk, fields, write, show_again)

    @routes.get("/photo/{name}")
    def picture(name: str, small: bool = False) -> Response:
        """A picture by the name we gave it; any other name is refused."""
        path = picture_path(desk.home.path(), name)
        kept = {"cache-control": "private, max-age=31536000, immutable"}
        try:
            data = thumbnail(path) if small else path.read_bytes()
        except OSError:
            raise InputError("this picture is not there (any more)") from None
        return Response(data, media_type=MEDIA[".jpg" if small else path.suffix], headers=kept)

    @routes.get("/record/token")
    def token(request: Request) -> Response:
        """The token for what a phone sends from its queue."""
        return JSONResponse({"token": request.state.form_token})

    return routes


async def _sent(request: Request, files: int) -> tuple[dict[str, str], bytes]:
    """The fields of a form, and its file; the name that the file had is never looked at."""
    async with request.form(max_files=files, max_fields=40) as sent:
        fields = {k: v[:LONGEST] for k, v in sent.items() if isinstance(v, str)}
        data = [await v.read() for v in sent.values() if not isinstance(v, str)]
    return fields, data[0] if data else b""


@lru_cache(maxsize=64)
def thumbnail(path: Path) -> bytes:
    """A picture small enough for a list; pictures never change."""
    from PIL import Image

    with Image.open(path) as given:
        given.thumbnail((SMALL_PX, SMALL_PX))
        out = io.BytesIO()
        given.convert("RGB").save(out, "JPEG", quality=75)
    return out.getvalue()
