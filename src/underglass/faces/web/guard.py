"""What every request passes first: who may ask, from where, how much, and what the browser is told not to do.

Order: Host (against DNS rebinding), Origin and a token for changes (against forged requests), size, pairing, then the page; headers on
every answer.  docs/threat-model.md says what each one is against.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from underglass.faces.web.devices import Devices
from underglass.faces.web.texts import chosen_language, say_in

__all__ = ["DEVICE_COOKIE", "FORM_COOKIE", "MOST_BYTES", "Guard", "form_token", "tokens_agree"]

DEVICE_COOKIE = "underglass_device"
FORM_COOKIE = "underglass_form"
MOST_BYTES = 12_000_000
"""Largest request: one phone photo."""

LARGER = {"/notebook/archive": 300_000_000}
"""Where more may be sent: a whole notebook with its pictures, read back."""

OPEN_PATHS = ("/pair", "/static/", "/manifest.webmanifest", "/sw.js", "/healthz")
"""What an unpaired phone may see: enough to pair."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",  # "no-referrer" would also blank the Origin of our own forms
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(self), payment=(), usb=()",
}


def form_token(cookie: str) -> str:
    """The token that a page's forms carry, bound to the browser's own cookie."""
    return hashlib.sha256(b"form:" + cookie.encode()).hexdigest()


def _cookies(headers: Headers) -> dict[str, str]:
    try:
        return {name: morsel.value for name, morsel in SimpleCookie(headers.get("cookie", "")).items()}
    except CookieError:
        return {}


def _own_name(host: str, lan: bool) -> bool:
    """Whether a Host header names this machine by loopback or, on the house's network, by a private address."""
    name = urlsplit(f"//{host}").hostname or ""
    if name == "localhost":
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return False
    return address.is_loopback or (lan and (address.is_private or address.is_link_local))


def _loopback(scope: Scope) -> bool:
    client = scope.get("client")
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


class Guard:
    """The middleware; `lan` lets private addresses in once they are paired."""

    def __init__(self, app: ASGIApp, devices: Devices, *, lan: bool) -> None:
        self._app, self._devices, self._lan = app, devices, lan

    def _refusal(self, scope: Scope, headers: Headers, cookies: dict[str, str]) -> tuple[int, str] | None:
        """Status and sentence of a refusal, None for a request that may pass."""
        say = say_in(chosen_language(cookies, headers.get("accept-language", "")))
        host = headers.get("host", "")
        try:
            if not _own_name(host, self._lan):
                return 421, say("guard.host")
            origin = headers.get("origin")
            if scope["method"] not in ("GET", "HEAD"):
                if origin is None and headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
                    return 403, say("guard.origin")
                if origin is not None and urlsplit(origin).netloc != host:
                    return 403, say("guard.origin")
            most = LARGER.get(scope["path"], MOST_BYTES)
            if int(headers.get("content-length", "0")) > most:
                return 413, say("guard.large", most=f"{most / 1e6:.0f}")
        except ValueError:
            return 400, say("guard.unread")
        if not _loopback(scope):
            if not self._lan:
                return 403, say("guard.own_machine")
            if not scope["path"].startswith(OPEN_PATHS) and not self._devices.known(cookies.get(DEVICE_COOKIE, "")):
                return 401, say("guard.pair")
        return None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse or pass on, and put the headers on whatever is answered."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        cookies = _cookies(headers)
        browser = cookies.get(FORM_COOKIE) or secrets.token_urlsafe(24)
        scope.setdefault("state", {})["form_token"] = form_token(browser)
        scope["state"]["has_form_cookie"] = FORM_COOKIE in cookies
        taken = 0

        async def limited() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > LARGER.get(scope["path"], MOST_BYTES):  # a body without a length
                return {"type": "http.disconnect"}
            return message

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    out.setdefault("cache-control", "no-store")
                if FORM_COOKIE not in cookies:
                    out.append("set-cookie", f"{FORM_COOKIE}={browser}; Path=/; HttpOnly; SameSite=Strict")
            await send(message)

        refused = self._refusal(scope, headers, cookies)
        if refused is not None:
            asks_for_page = scope["method"] == "GET" and "text/html" in headers.get("accept", "")
            told: Response = PlainTextResponse(refused[1], refused[0])
            if refused[0] == 401 and asks_for_page:  # a person is led to where the code is typed
                told = RedirectResponse("/pair", 303)
            await told(scope, receive, answer)
            return
        await self._app(scope, limited, answer)


def tokens_agree(scope_token: str, given: str) -> bool:
    """Whether a form's token is this browser's."""
    return hmac.compare_digest(scope_token.encode(), given.encode())
