"""A weather service of our own on 127.0.0.1 that answers in a documented format and fails in documented ways."""

from __future__ import annotations

import json
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any
from urllib.parse import parse_qsl, urlsplit


@dataclass
class Asked:
    """One request as the stand-in saw it."""

    method: str
    path: str
    query: dict[str, str]
    headers: dict[str, str]
    body: Any


@dataclass
class Answer:
    """What it says: a status, headers, and JSON (or raw bytes)."""

    body: Any = None
    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    cut_to: int | None = None  # send only so many bytes of the promised length
    after_s: float = 0.0

    def raw(self) -> bytes:
        return self.body if isinstance(self.body, bytes) else json.dumps(self.body, ensure_ascii=False).encode()


Route = Callable[[Asked], Answer | Any]


class StandIn:
    """Serves `routes` (by path); answers in `faults` are given first, one per request."""

    def __init__(self, routes: dict[str, Route] | None = None) -> None:
        self.routes = routes or {}
        self.faults: deque[Answer] = deque()
        self.asked: list[Asked] = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:
                self.reply()

            def do_POST(self) -> None:
                self.reply()

            def reply(self) -> None:
                asked = self.what()
                outer.asked.append(asked)
                answer = outer.faults.popleft() if outer.faults else outer.answer(asked)
                time.sleep(answer.after_s)
                raw = b"" if answer.status == 304 else answer.raw()
                try:
                    self.send_response(answer.status)
                    for name, value in {"Content-Type": "application/json", **answer.headers}.items():
                        self.send_header(name, value)
                    self.send_header("Content-Length", str(len(raw)))
                    self.end_headers()
                    self.wfile.write(raw if answer.cut_to is None else raw[: answer.cut_to])
                except OSError:
                    pass  # the client has gone, as a slow answer's does
                self.close_connection = self.close_connection or answer.cut_to is not None

            def what(self) -> Asked:
                parts = urlsplit(self.path)
                length = int(self.headers.get("Content-Length") or 0)
                body = json.loads(self.rfile.read(length)) if length else None
                return Asked(self.command, parts.path, dict(parse_qsl(parts.query)), dict(self.headers), body)

            def log_message(self, *args: object) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server.server_address[1]}"

    def answer(self, asked: Asked) -> Answer:
        route = self.routes.get(asked.path)
        if route is None:
            return Answer({"title": "Not Found", "detail": f"no {asked.path} here"}, 404)
        said = route(asked)
        return said if isinstance(said, Answer) else Answer(said)

    def __enter__(self) -> StandIn:
        self.thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, tb: TracebackType | None) -> None:
        self.server.shutdown()
        self.server.server_close()
        self.thread.join(5)
