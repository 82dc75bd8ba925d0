"""A hand that fills in forms without a browser: it reads a page, sends one of its forms back, and follows to where it leads."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path

import httpx
from fastapi.testclient import TestClient

from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk
from underglass.plan.household import Household
from underglass.sources.household_file import demo_household

CROPS = ("kale", "spinach", "radish", "lettuce_leaf", "tomato")
NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)


class _Forms(HTMLParser):
    """The forms of a page: their address and the fields as they are filled in."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, dict[str, str]]] = []
        self._select = self._area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {k: v or "" for k, v in attrs}
        if tag == "form":
            self.forms.append((given.get("action", ""), {}))
        elif self.forms and tag == "input" and "name" in given:
            if given.get("type") not in ("checkbox", "radio") or "checked" in given:
                self.forms[-1][1][given["name"]] = given.get("value", "on")
        elif self.forms and tag == "select":
            self._select = given.get("name", "")
        elif (
            self.forms
            and tag == "option"
            and self._select
            and ("selected" in given or self._select not in self.forms[-1][1])
        ):
            self.forms[-1][1][self._select] = given.get("value", "")


class Hand:
    """A browser without script, in English."""

    def __init__(self, desk: Desk, language: str = "en") -> None:
        self.desk = desk
        self._client = TestClient(
            create_app(desk),
            base_url="http://127.0.0.1",
            client=("127.0.0.1", 5),
            headers={"accept-language": language},
        )
        self.page: httpx.Response = self._client.get("/healthz")

    def open(self, address: str) -> httpx.Response:
        """Read a page."""
        self.page = self._client.get(address)
        return self.page

    def forms(self) -> list[tuple[str, dict[str, str]]]:
        """The forms of the page that is open."""
        parser = _Forms()
        parser.feed(self.page.text)
        return parser.forms

    def send(self, address: str, **typed: str) -> httpx.Response:
        """Fill in and send the form of the open page with this address, else the first whose address begins so; ends where it leads."""
        fitting = [(a, f) for a, f in self.forms() if a.startswith(address)]
        action, fields = next((found for found in fitting if found[0] == address), fitting[0])
        self.page = self._client.post(action, data={**fields, **typed}, headers={"origin": "http://127.0.0.1"})
        return self.page

    def tap(self, what: str, where: str = "", **typed: str) -> httpx.Response:
        """Send the form of the open page that records this, of a shelter or sowing if named; ends where it leads."""
        action, fields = next(
            (a, f)
            for a, f in self.forms()
            if f.get("what") == what and where in ("", f.get("shelter"), f.get("sowing"))
        )
        self.page = self._client.post(action, data={**fields, **typed}, headers={"origin": "http://127.0.0.1"})
        return self.page

    @property
    def api(self) -> TestClient:
        """For what is no page."""
        return self._client


def settled(hand: Hand, address: str) -> str:
    """Load a page again and again, as a browser without script does, until no work goes on."""
    for _ in range(1800):
        page = hand.open(address).text
        if 'http-equiv="refresh"' not in page:
            return page
        time.sleep(0.05)
    raise AssertionError(f"the work of {address} never ended")


def demo_hand(folder: Path, *, years: int = 4, now: Callable[[], datetime] = lambda: NOON) -> Hand:
    """A hand at the invented family's pages."""
    desk = Desk(folder, now=now, years=years)
    desk.home.show_demo()
    return Hand(desk)


def small_household() -> Household:
    """Three places and five crops at the demo's spot, so that a plan of the year takes a second."""
    demo = demo_household()
    shelters = tuple(s for s in demo.shelters if s.name in ("sill", "south box", "open"))
    return replace(demo, shelters=shelters, crops=CROPS, standing=(), seeds=())
