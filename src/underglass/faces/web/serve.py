"""`underglass` without a command: start the page, say its address, open a browser where there is one."""

from __future__ import annotations

import os
import socket
import sys
import threading
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from underglass.errors import InputError
from underglass.services.apart import apart
from underglass.services.progress import Progress, silent

if TYPE_CHECKING:
    from datetime import date

    from underglass.plan.household import Household
    from underglass.weather.outside import OutsideWeather

__all__ = ["serve"]

PORT = 8471
SERVICE = "open-meteo"
WARM_AFTER_S = 1.0


def _bound(address: str, port: int | None) -> socket.socket:
    """A listening socket: on the port asked for, else on ours or, where that is taken, any free one."""
    for attempt in (port,) if port is not None else (PORT, 0):
        # named as TCP, or asyncio leaves small packets waiting for 40 ms
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((address, attempt or 0))
            return listener
        except OSError:
            listener.close()
    raise InputError(f"port {port} is taken: give another with --port, or leave it out")


def _lan_address() -> str:
    """This machine's address on its network; no packet is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def _open_browser(address: str) -> None:
    if sys.platform.startswith("linux") and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _ahead(
    household: Household, *, progress: Progress = silent
) -> tuple[OutsideWeather | None, Sequence[OutsideWeather], str]:
    """The forecast by the usual service; without it the climate stands in, and a note says why."""
    from underglass.errors import SourceError
    from underglass.sources.by_name import ensemble_by_name, forecast_by_name

    try:
        return forecast_by_name(SERVICE, household.place), ensemble_by_name(SERVICE, household.place), ""
    except SourceError as error:
        return None, (), f"no forecast could be had ({error})"


def _past(household: Household, first: date, last: date, *, progress: Progress = silent) -> OutsideWeather:
    """The weather of past days: the household's own file, else a service that keeps a record."""
    from underglass.sources.by_name import SERVICES, weather_between
    from underglass.sources.files import read_weather_file

    name = household.weather_file or SERVICE
    if name in SERVICES:
        return weather_between(name, household.place, first, last)
    return read_weather_file(name, place=household.place)


def _tell(sentence: str) -> None:
    sys.stdout.write(sentence + "\n")
    sys.stdout.flush()


def serve(port: int | None = None, *, lan: bool = False, browser: bool = True) -> None:
    """Serve until stopped."""
    import uvicorn

    from underglass.faces.cli.options import read_weather
    from underglass.faces.web.app import create_app
    from underglass.faces.web.desk import Desk
    from underglass.kernel_cache import use_kernel_cache
    from underglass.notebook.places import notebook_folder

    use_kernel_cache()
    listener = _bound("0.0.0.0" if lan else "127.0.0.1", port)
    here = f"http://127.0.0.1:{listener.getsockname()[1]}"
    # what a weather service sends is read beside too, and comes back as hours
    desk = Desk(notebook_folder(), ahead=partial(apart, _ahead), past=partial(apart, _past), read=read_weather)
    desk.address = f"http://{_lan_address()}:{listener.getsockname()[1]}" if lan else here
    _tell(f"Underglass is open at {here}   (stop it with Ctrl-C)")
    if lan:
        _tell(f"On the house's network: {desk.address} - pair a phone under Settings first.")
    # the page comes first: loading kernels in a thread would keep it waiting
    later = threading.Timer(WARM_AFTER_S, desk.warm)
    later.daemon = True
    later.start()
    if browser:
        _open_browser(here)
    config = uvicorn.Config(
        create_app(desk, lan=lan),
        log_level="warning",
        server_header=False,
        access_log=False,
        timeout_graceful_shutdown=2,
    )
    uvicorn.Server(config).run(sockets=[listener])
