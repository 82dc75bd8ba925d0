"""One server and one browser for all tests of the pages; each test gets a folder and a browser context of its own."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, expect, sync_playwright

from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
expect.set_options(timeout=60_000)  # where kernels are compiled first
TODAY = "2027-03-10"
YEARS = 4


@dataclass
class Served:
    """A running page: its address and its desk."""

    address: str
    desk: Desk


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    desk = Desk(
        tmp_path_factory.mktemp("home"),
        today=lambda zone: TODAY,
        years=YEARS,
        now=lambda: datetime(2027, 3, 10, 12, tzinfo=UTC),
    )
    server = uvicorn.Server(
        uvicorn.Config(create_app(desk), port=0, log_level="error", ws="none", timeout_graceful_shutdown=1)
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        thread.join(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield Served(f"http://127.0.0.1:{port}", desk)
    server.should_exit = True
    thread.join(5)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    found = os.environ.get("UNDERGLASS_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=found, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def fresh(served: Served) -> Served:
    """A household's folder with nothing in it."""
    for file in served.desk.folder.rglob("notebook.sqlite*"):
        file.unlink()
    served.desk.draft.let_go()
    return served


@pytest.fixture
def demo(fresh: Served) -> Served:
    """The demo household."""
    fresh.desk.home.show_demo()
    return fresh


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True, locale="en-US")
    context.set_default_timeout(60_000)
    yield context
    context.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path
