"""The page's speed and staying power: `python -m benchmarks.web`, and `python -m benchmarks.web --soak 10` (minutes, eight clients)."""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from pathlib import Path

import httpx
import numpy as np

from benchmarks.memory import Peak, used_mb

PORT = 8479
ADDRESS = f"http://127.0.0.1:{PORT}"
BOX = "/inside/south%20box/picture"


def field(page: str, name: str) -> str:
    return re.search(rf'name="{name}" value="([^"]*)"', page).group(1)  # type: ignore[union-attr]


def started(home: str) -> tuple[subprocess.Popen[bytes], float]:
    """The server, and seconds to its first page."""
    begun = time.perf_counter()
    command = [sys.executable, "-m", "underglass.faces.cli.main", "--no-browser", "--port", str(PORT)]
    server = subprocess.Popen(command, env={**os.environ, "UNDERGLASS_HOME": home}, stdout=subprocess.DEVNULL)
    while True:
        try:
            if httpx.get(f"{ADDRESS}/welcome").status_code == 200:
                return server, time.perf_counter() - begun
        except httpx.TransportError:
            time.sleep(0.02)


def ready(client: httpx.Client, path: str, mark: str) -> None:
    while mark not in client.get(path).text:
        time.sleep(0.2)


def times(client: httpx.Client, path: str, n: int, change: str = "") -> tuple[float, float]:
    """Median and 99th percentile [ms]."""
    taken = []
    for i in range(n):
        begun = time.perf_counter()
        client.get(path + (change.format(i=i) if change else "")).raise_for_status()
        taken.append(1e3 * (time.perf_counter() - begun))
    return float(np.median(taken)), float(np.quantile(taken, 0.99))


def soak(pid: int, minutes: float) -> None:
    """Eight clients read and write; every note must be there once at the end, also those sent twice, and the memory must not grow."""
    end, lock = time.monotonic() + 60.0 * minutes, threading.Lock()
    sent: list[str] = []
    reads = [0]

    def one(number: int) -> None:
        with httpx.Client(base_url=ADDRESS, timeout=60.0) as client:
            n = 0
            while time.monotonic() < end:
                n += 1
                token, words = field(client.get("/notebook").text, "token"), f"soak {number} {n}"
                form = {"token": token, "id": uuid.uuid4().hex, "what": "note", "note": words}
                for _ in range(2 if n % 10 == 0 else 1):  # a phone that did not get the answer sends it again
                    assert client.post("/record", data=form).status_code == 303
                with lock:
                    sent.append(words)
                    reads[0] += 3
                client.get("/sow")
                client.get("/inside/box/picture", params={"leaks": 10 + 10 * (n % 20)})

    before = used_mb(pid)[0]
    peak = Peak(pid)
    peak.start()
    clients = [threading.Thread(target=one, args=(i,)) for i in range(8)]
    for thread in clients:
        thread.start()
    for thread in clients:
        thread.join()
    from underglass.notebook.records import Note
    from underglass.notebook.store import open_notebook

    with open_notebook(Path(HOME) / "notebook.sqlite") as notebook:
        kept = [note.text for note in notebook.find(Note)]
    lost, doubled = len(set(sent) - set(kept)), len(kept) - len(set(kept))
    print(
        f"soak, {minutes:g} min, 8 clients: {len(sent)} notes sent, {lost} lost, {doubled} doubled, {reads[0]} pages read; "
        f"memory {before:.0f} MB before, {used_mb(pid)[0]:.0f} after, {peak.told()}"
    )


def main(minutes: float) -> None:
    server, first = started(HOME)
    peak = Peak(server.pid)
    peak.start()
    try:
        with httpx.Client(base_url=ADDRESS, timeout=120.0) as client:
            page = client.get("/welcome").text
            form = {"token": field(page, "token"), "seen": "0"}
            if minutes:
                form |= {
                    "near": "Montpelier, Vermont",
                    "shelter": ["sill", "box", "open"],
                    "name": "soak",
                    "weekday": "07:30",
                    "weekend": "08:00",
                }  # type: ignore[dict-item]
            client.post("/welcome" if minutes else "/welcome/demo", data=form)
            ready(client, "/sow", 'class="card"')
            ready(client, "/today", 'class="do"')
            print(f"memory with the day's plan and the guide: {used_mb(server.pid)[0]:.0f} MB")
            ready(client, "/year", 'id="h-basket"')
            print(f"first page after start: {first:.2f} s (promised 1.5)")
            shelter = "/inside/box/picture" if minutes else BOX
            for path, change in (
                ("/today", ""),
                ("/sow", ""),
                ("/year", ""),
                ("/seeds", ""),
                ("/settings", ""),
                (shelter, "?leaks={i}"),
                (shelter, "?facing={i}"),
            ):
                p50, p99 = times(client, path, 100, change)
                print(f"{path}{change}: p50 {p50:.1f} ms, p99 {p99:.1f} ms (promised 20 and 100)")
            print(f"memory with the year's plan too: {used_mb(server.pid)[0]:.0f} MB, {peak.told()} (promised 400)")
            if minutes:
                soak(server.pid, minutes)
    finally:
        server.terminate()
        server.wait(10)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--soak", type=float, default=0.0, metavar="MINUTES")
    HOME = tempfile.mkdtemp()
    main(parser.parse_args().soak)
