"""How much memory the page and the process beside it use while all that is heavy is made one after the other: `python -m benchmarks.memory`.

The demo's family as a household of one's own, its guide, day plan, plan of the year, the plan anew, reasons, outlooks, a shelter corrected by ten days of
readings, pictures of Inside.  No network: the climate stands in for weather services.  Linux only, as it reads /proc.  Ends with 1 where it was more than promised.
"""

from __future__ import annotations

import math
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import httpx

from underglass.faces.web import serve
from underglass.faces.web.home import Home
from underglass.plan.household import Household
from underglass.services.progress import Progress, silent
from underglass.services.weather import climate_of
from underglass.sources.household_file import demo_household
from underglass.weather.generator import generate_weather
from underglass.weather.outside import OutsideWeather

__all__ = ["Peak", "used_mb"]

PORT = 8478
PROMISED_MB = 400.0
ADDRESS = f"http://127.0.0.1:{PORT}"


def with_children(pid: int) -> list[int]:
    """A process and all that it started."""
    found = [pid]
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        with suppress(OSError):
            for child in task.read_text().split():
                found += with_children(int(child))
    return found


def used_mb(pid: int) -> tuple[float, float]:
    """Memory of a process and all that it started: what they share counted once (proportional), and counted in each (resident)."""
    once = each = 0.0
    for one in with_children(pid):
        with suppress(OSError, AttributeError):  # ended meanwhile
            told = Path(f"/proc/{one}/smaps_rollup").read_text()
            pss, rss = (re.search(rf"^{name}:\s+(\d+)", told, re.MULTILINE) for name in ("Pss", "Rss"))
            once, each = once + int(pss.group(1)) / 1024.0, each + int(rss.group(1)) / 1024.0  # type: ignore[union-attr]
    return once, each


class Peak(threading.Thread):
    """The most memory that was in use at one moment since `start_anew`, of a process alone and of all that it started too."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid, self.once, self.each = pid, 0.0, 0.0

    def start_anew(self) -> None:
        """Forget what was."""
        self.once = self.each = 0.0

    def run(self) -> None:
        while Path(f"/proc/{self.pid}").exists():
            once, each = used_mb(self.pid)
            self.once, self.each = max(self.once, once), max(self.each, each)
            time.sleep(0.05)

    def told(self) -> str:
        """In words."""
        return f"{self.once:.0f} MB at most ({self.each:.0f} where what is shared counts twice)"


def _ahead(
    household: Household, *, progress: Progress = silent
) -> tuple[OutsideWeather | None, tuple[OutsideWeather, ...], str]:
    return None, (), ""


def _past(household: Household, first: date, last: date, *, progress: Progress = silent) -> OutsideWeather:
    years = last.year - first.year + 1
    return generate_weather(climate_of(household), household.place, first.year, years)


def serve_offline() -> None:
    """The page, with the climate in the place of weather services."""
    serve._ahead, serve._past = _ahead, _past
    serve.serve(PORT, browser=False)


def _field(page: str, name: str) -> str:
    return re.search(rf'name="{name}" value="([^"]*)"', page).group(1)  # type: ignore[union-attr]


def _wait(client: httpx.Client, path: str, mark: str, *, gone: bool = False) -> None:
    while (mark in client.get(path).text) is gone:
        time.sleep(0.1)


def _answered(client: httpx.Client, path: str, **asked: str) -> None:
    while (answer := client.get(path, params=asked)).status_code == 202:
        time.sleep(0.1)
    answer.raise_for_status()


def _readings(now: datetime) -> str:
    """Ten days of a thermometer in the south box."""
    rows = []
    for h in range(240, 0, -1):
        at = now - timedelta(days=1, hours=h)
        rows.append(f"{at:%Y-%m-%d %H:00},{4.0 + 7.0 * math.cos((at.hour - 19) / 24.0 * 2.0 * math.pi):.1f}")
    return "\n".join(["time UTC,air °C", *rows]) + "\n"


def _corrected(client: httpx.Client) -> None:
    """Send readings, keep them, and have the shelter corrected by them."""
    form = {"token": _field(client.get("/tuning").text, "token"), "shelter": "south box"}
    shown = client.post(
        "/tuning/file", data=form, files={"file": ("box.csv", _readings(datetime.now(UTC)), "text/csv")}
    )
    form |= {"held": _field(shown.text, "held"), "zone": "UTC", "units": "c", "keep": "1"}
    assert client.post("/tuning/preview", data=form).status_code == 303, "the readings were not understood"
    _wait(client, "/tuning/result?shelter=south%20box", '<p class="lead">')  # whatever they taught


def main() -> float:
    """Make all of it, tell of each step; the most that was in use [MB]."""
    home = tempfile.mkdtemp()
    Home(Path(home), lambda: datetime.now(UTC), lambda zone: datetime.now(UTC).date().isoformat()).keep(
        demo_household(), 0
    )
    command = [sys.executable, "-c", "from benchmarks.memory import serve_offline; serve_offline()"]
    # nothing is worked out yet; what was compiled (NUMBA_CACHE_DIR, set by the package) stays
    env = {**os.environ, "UNDERGLASS_HOME": home, "UNDERGLASS_CACHE": tempfile.mkdtemp()}
    server = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL)
    peak, most = Peak(server.pid), 0.0

    @contextmanager
    def step(name: str) -> Iterator[None]:
        nonlocal most
        peak.start_anew()
        begun = time.perf_counter()
        yield
        time.sleep(0.1)
        most = max(most, peak.once)
        print(f"{name}: {time.perf_counter() - begun:.1f} s, {peak.told()}")

    try:
        peak.start()
        with httpx.Client(base_url=ADDRESS, timeout=120.0, transport=httpx.HTTPTransport(retries=20)) as client:
            with step("guide"):
                _wait(client, "/sow", 'class="card"')
            with step("day plan"):
                _wait(client, "/today", 'class="do"')
            with step("plan of the year"):
                _wait(client, "/year", 'id="h-basket"')
            with step("the plan anew"):
                client.post("/year/plan", data={"token": _field(client.get("/year").text, "token")})
                _wait(client, "/year", 'id="h-work"', gone=True)
            with step("reasons of a sowing"):
                sowing = client.get("/api/year").json()["sowings"][0]["id"]
                _answered(client, "/api/year/why", sowing=sowing)
            with step("outlooks"):
                for row in client.get("/api/guide").json()["rows"][:60:12]:
                    way = {k: row[k] for k in ("crop", "grown_in", "raised_in") if row[k]}
                    _answered(client, "/api/outlook", **way)
            with step("a shelter corrected by readings"):
                _corrected(client)
            with step("pictures of Inside"):
                _wait(client, "/inside/south%20box/picture", "<svg")
                for jugs in range(0, 60, 5):
                    client.get("/inside/hoop%20house/picture", params={"jugs": jugs}).raise_for_status()
        once, each = used_mb(server.pid)
        print(f"afterwards: {once:.0f} MB ({each:.0f}); at most {most:.0f} MB (promised {PROMISED_MB:.0f})")
    finally:
        server.terminate()
        server.wait(10)
    return most


if __name__ == "__main__":
    sys.exit(main() > PROMISED_MB)
