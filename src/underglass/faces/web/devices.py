"""Phones that may use the page from the house's network: one-time codes, cookies, revoking.  Only hashes of secrets are kept."""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from underglass.faces.web.whole_file import write_whole

__all__ = ["CODE_LIVES_S", "Device", "Devices"]

CODE_LIVES_S = 300.0
"""A pairing code serves once and for five minutes."""

TRIES, TRIES_WITHIN_S = 8, 60.0
"""Wrong codes from all addresses together, before pairing waits: 8 a minute against 2^64 codes."""


@dataclass(frozen=True, slots=True)
class Device:
    """A paired phone: id, the name it gave itself, SHA-256 of its cookie, day it was paired (UTC, ISO)."""

    id: str
    name: str
    token_hash: str
    paired: str


def _hash(secret: str) -> str:
    """SHA-256 suffices: the secrets are 256 random bits, not words that could be guessed."""
    return hashlib.sha256(secret.encode()).hexdigest()


class Devices:
    """The paired phones of a household's folder."""

    def __init__(self, path: Path) -> None:
        self._path, self._lock = path, threading.Lock()
        self._codes: dict[str, float] = {}
        self._tries: list[float] = []

    def all(self) -> list[Device]:
        """Every paired phone."""
        try:
            return [Device(**d) for d in json.loads(self._path.read_text(encoding="utf-8"))]
        except (OSError, ValueError, TypeError):
            return []

    def _keep(self, devices: list[Device]) -> None:
        write_whole(self._path, [asdict(d) for d in devices])

    def new_code(self) -> str:
        """A fresh one-time code."""
        code = secrets.token_urlsafe(8)
        with self._lock:
            now = time.monotonic()
            self._codes = {h: end for h, end in self._codes.items() if end > now}
            self._codes[_hash(code)] = now + CODE_LIVES_S
        return code

    def must_wait(self) -> bool:
        """Whether there were too many wrong codes in the last minute."""
        with self._lock:
            now = time.monotonic()
            self._tries = [t for t in self._tries if t > now - TRIES_WITHIN_S]
            return len(self._tries) >= TRIES

    def pair(self, code: str, name: str, day: str) -> str | None:
        """A new phone's secret for a code that holds, else None; the code is used up."""
        with self._lock:
            end = self._codes.pop(_hash(code), 0.0)
            if end < time.monotonic():
                self._tries.append(time.monotonic())
                return None
            token = secrets.token_urlsafe(32)
            self._keep([*self.all(), Device(secrets.token_hex(6), name[:60] or "phone", _hash(token), day)])
            return token

    def known(self, token: str) -> bool:
        """Whether a cookie belongs to a phone that was not revoked."""
        given = _hash(token)
        return any(hmac.compare_digest(d.token_hash, given) for d in self.all())

    def revoke(self, device_id: str) -> None:
        """Let a phone in no more."""
        with self._lock:
            self._keep([d for d in self.all() if d.id != device_id])
