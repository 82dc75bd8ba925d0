"""Replies of weather services, kept on disk as they came, with the time they came.

One file per request: a first line of JSON (address, times, validators), then the body.  Files are written beside and moved
into place, so a reply is there whole or not at all; when the folder grows beyond its bound the oldest go first.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["KeptReply", "ReplyCache", "default_cache_dir"]

MAX_TOTAL_BYTES = 300_000_000


def default_cache_dir() -> Path:
    """The user's cache folder for weather replies."""
    from platformdirs import user_cache_path

    return user_cache_path("underglass") / "weather"


@dataclass(frozen=True, slots=True)
class KeptReply:
    """A reply as it came.

    fetched, fresh_until : UTC; between them nobody is asked again        etag, last_modified : to ask 'has it changed?'
    """

    url: str
    body: bytes
    fetched: datetime
    fresh_until: datetime
    etag: str = ""
    last_modified: str = ""


class ReplyCache:
    """A folder of kept replies, found again by their request."""

    def __init__(self, folder: Path, max_total_bytes: int = MAX_TOTAL_BYTES) -> None:
        self.folder = folder
        self.max_total_bytes = max_total_bytes

    @staticmethod
    def key(method: str, url: str, body: bytes = b"") -> str:
        """Name of the file that keeps a request's reply."""
        return hashlib.sha256(b"\n".join((method.encode(), url.encode(), body))).hexdigest()[:40]

    def get(self, key: str) -> KeptReply | None:
        """The kept reply, or None where there is none that can be read."""
        try:
            head, _, body = (self.folder / f"{key}.reply").read_bytes().partition(b"\n")
            meta = json.loads(head)
            if meta.pop("length") != len(body):
                return None
            fetched, fresh = (datetime.fromisoformat(meta[name]).astimezone(UTC) for name in ("fetched", "fresh_until"))
            return KeptReply(meta["url"], body, fetched, fresh, meta["etag"], meta["last_modified"])
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            return None

    def put(self, key: str, reply: KeptReply) -> None:
        """Keep a reply; a full or read-only disk only means that it is not kept."""
        meta = {name: value for name, value in asdict(reply).items() if name != "body"}
        meta["fetched"], meta["fresh_until"] = reply.fetched.isoformat(), reply.fresh_until.isoformat()
        head = json.dumps({**meta, "length": len(reply.body)}).encode()
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, beside = tempfile.mkstemp(dir=self.folder, suffix=".part")
            with os.fdopen(handle, "wb") as file:
                file.write(head + b"\n" + reply.body)
            os.replace(beside, self.folder / f"{key}.reply")
            self._forget_oldest(key)
        except OSError:
            return

    def _forget_oldest(self, spare: str) -> None:
        """Remove replies, oldest first, until the folder is within its bound."""
        files = sorted(self.folder.glob("*.reply"), key=lambda path: path.stat().st_mtime)
        total = sum(path.stat().st_size for path in files)
        for path in files:
            if total <= self.max_total_bytes:
                return
            if path.stem != spare:
                total -= path.stat().st_size
                path.unlink(missing_ok=True)
