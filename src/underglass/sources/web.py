"""The one way to a weather service: time-outs, retries, a disk cache, and an honest word about age when offline.

Fresh replies are served from disk without asking; stale ones are asked for again with their validators (ETag,
Last-Modified; 304 keeps them); and where the network fails, the stale one serves, and its age is told.
"""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from underglass.errors import SourceError
from underglass.sources.cache import KeptReply, ReplyCache, default_cache_dir

if TYPE_CHECKING:
    import httpx

__all__ = ["Reply", "WebClient", "age_in_words"]

USER_AGENT = "underglass/0.1 (home food growing; contact: {contact})"
NO_CONTACT = "see the project's page"
MAX_REPLY_BYTES = 120_000_000
RETRY_STATUS = frozenset({429, 500, 502, 503, 504, 529})
MAX_WAIT_S = 30.0

Params = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Reply:
    """A service's JSON with the time it was fetched.

    notes : empty when fresh; else one sentence about a kept reply standing in for the network
    """

    data: Any
    fetched: datetime
    notes: tuple[str, ...] = ()


class _TryAgainError(Exception):
    """A failure that may pass; `wait_s` is what the service asked for, if anything."""

    def __init__(self, sentence: str, wait_s: float | None = None) -> None:
        super().__init__(sentence)
        self.wait_s = wait_s


def age_in_words(age: timedelta) -> str:
    """A time span as people say it.

    >>> age_in_words(timedelta(hours=30))
    '30 hours'
    """
    hours = age.total_seconds() / 3600.0
    if hours < 1.5:
        return f"{max(1, round(hours * 60))} minutes"
    return f"{round(hours)} hours" if hours < 48 else f"{round(hours / 24)} days"


class WebClient:
    """Asks services over HTTP and keeps what they say.

    folder     : where replies are kept (None: the user's cache folder)      offline : never touch the network
    timeout_s  : for connecting and for each read      attempts : tries in all       wait_s : before the second, then doubling
    contact    : an address of the user's, as some services want one in the User-Agent
    now, sleep : the clock, parameters so that tests can set them
    """

    def __init__(
        self,
        folder: Path | None = None,
        *,
        offline: bool = False,
        timeout_s: float = 30.0,
        attempts: int = 4,
        wait_s: float = 1.0,
        contact: str = NO_CONTACT,
        max_reply_bytes: int = MAX_REPLY_BYTES,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        sleep: Callable[[float], object] = time.sleep,
    ) -> None:
        self.cache = ReplyCache(folder or default_cache_dir())
        self.offline = offline
        self.timeout_s = timeout_s
        self.attempts = attempts
        self.wait_s = wait_s
        self.user_agent = USER_AGENT.format(contact=contact)
        self.max_reply_bytes = max_reply_bytes
        self.now = now
        self.sleep = sleep

    def get_json(self, service: str, url: str, params: Params, *, keep: timedelta) -> Reply:
        """GET an address; `keep` is how long a reply counts as fresh where the service does not say."""
        import httpx

        return self._ask(service, "GET", str(httpx.URL(url, params=dict(params))), b"", keep)

    def post_json(self, service: str, url: str, question: Mapping[str, Any], *, keep: timedelta) -> Reply:
        """POST a question as JSON; kept like a GET, as the services used here only answer questions."""
        return self._ask(service, "POST", url, json.dumps(question, sort_keys=True).encode(), keep)

    def _ask(self, service: str, method: str, url: str, body: bytes, keep: timedelta) -> Reply:
        key = self.cache.key(method, url, body)
        kept = self.cache.get(key)
        if kept is not None and (self.offline or self.now() < kept.fresh_until):
            stale = self.now() >= kept.fresh_until
            return self._reply(service, kept, "offline" if stale else "")
        if self.offline:
            raise SourceError(
                f"{service}: offline, and no earlier reply is kept for this place and time; go online once"
            )
        try:
            fresh = self._fetch(service, method, url, body, kept, keep)
        except _TryAgainError as error:
            if kept is None:
                raise SourceError(f"{service}: {error}; no earlier reply is kept, so try again later") from error
            return self._reply(service, kept, str(error))
        self.cache.put(key, fresh)
        return self._reply(service, fresh, "")

    def _reply(self, service: str, kept: KeptReply, trouble: str) -> Reply:
        """The JSON of a reply; where it stands in for the network, with a note of why and how old."""
        notes: tuple[str, ...] = ()
        if trouble:
            age = age_in_words(self.now() - kept.fetched)
            notes = (f"{service}: {trouble}; using the reply of {kept.fetched:%Y-%m-%d %H:%M} UTC, {age} old",)
        return Reply(_json(service, kept.body), kept.fetched, notes)

    def _fetch(
        self, service: str, method: str, url: str, body: bytes, kept: KeptReply | None, keep: timedelta
    ) -> KeptReply:
        """Ask with retries; a reply only counts when it is whole and JSON, so that nothing broken is kept."""
        for attempt in range(1, self.attempts + 1):
            try:
                return self._once(service, method, url, body, kept, keep)
            except _TryAgainError as error:
                if attempt == self.attempts:
                    raise
                doubling = self.wait_s * 2 ** (attempt - 1) * random.uniform(1.0, 1.5)
                self.sleep(min(doubling if error.wait_s is None else error.wait_s, MAX_WAIT_S))
        raise SourceError(f"{service}: no attempt was allowed; attempts must be at least 1")

    def _once(
        self, service: str, method: str, url: str, body: bytes, kept: KeptReply | None, keep: timedelta
    ) -> KeptReply:
        import httpx

        headers = {"User-Agent": self.user_agent, "Accept": "application/json"}
        if body:
            headers["Content-Type"] = "application/json"
        if kept is not None:
            headers.update({"If-None-Match": kept.etag} if kept.etag else {})
            headers.update({"If-Modified-Since": kept.last_modified} if kept.last_modified else {})
        try:
            with (
                httpx.Client(timeout=self.timeout_s, follow_redirects=True) as client,
                client.stream(method, url, content=body or None, headers=headers) as response,
            ):
                raw = self._read(service, response)
        except httpx.TimeoutException as error:
            raise _TryAgainError(f"no answer within {self.timeout_s:g} s") from error
        except httpx.TransportError as error:
            raise _TryAgainError(f"the connection failed ({str(error)[:80] or type(error).__name__})") from error
        except (httpx.HTTPError, httpx.InvalidURL) as error:
            raise SourceError(f"{service}: {str(error)[:120]}") from error
        return self._sorted_by_status(service, url, response, raw, kept, keep)

    def _read(self, service: str, response: httpx.Response) -> bytes:
        """The body, refused once it is longer than any honest reply."""
        parts, size = [], 0
        for part in response.iter_bytes():
            size += len(part)
            if size > self.max_reply_bytes:
                raise SourceError(
                    f"{service}: the reply is longer than {self.max_reply_bytes / 1e6:g} MB; ask for a shorter time"
                )
            parts.append(part)
        return b"".join(parts)

    def _sorted_by_status(
        self, service: str, url: str, response: httpx.Response, raw: bytes, kept: KeptReply | None, keep: timedelta
    ) -> KeptReply:
        """The reply to keep, or what went wrong."""
        now = self.now()
        fresh_until = _fresh_until(response.headers, now, keep)
        if response.status_code == 304 and kept is not None:
            return replace(kept, fetched=now, fresh_until=fresh_until)
        if response.status_code in RETRY_STATUS:
            what = "asks for fewer calls" if response.status_code == 429 else "has trouble"
            raise _TryAgainError(
                f"the service {what} (HTTP {response.status_code})", _retry_after(response.headers, now)
            )
        if not response.is_success:
            raise SourceError(f"{service}: HTTP {response.status_code}: {_reason(raw)}")
        try:
            json.loads(raw)
        except (ValueError, RecursionError) as error:
            raise _TryAgainError("the reply was cut off or is not JSON") from error
        head = response.headers
        return KeptReply(url, raw, now, fresh_until, head.get("etag", ""), head.get("last-modified", ""))


def _json(service: str, body: bytes) -> Any:
    try:
        return json.loads(body)
    except (ValueError, RecursionError) as error:
        raise SourceError(f"{service}: the kept reply cannot be read") from error


def _http_time(text: str) -> datetime | None:
    try:
        moment = parsedate_to_datetime(text)
    except (ValueError, TypeError):
        return None
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def _fresh_until(headers: Mapping[str, str], now: datetime, keep: timedelta) -> datetime:
    """When to ask again: the latest of Cache-Control max-age, Expires and `keep`; never sooner than a minute."""
    latest = now + max(keep, timedelta(minutes=1))
    for part in headers.get("cache-control", "").split(","):
        name, _, value = part.strip().lower().partition("=")
        if name == "max-age" and value.isdecimal():
            latest = max(latest, now + timedelta(seconds=min(int(value), 10**8)))
    expires = _http_time(headers.get("expires", ""))
    return latest if expires is None else max(latest, expires)


def _retry_after(headers: Mapping[str, str], now: datetime) -> float | None:
    """Seconds a service asks to wait, as a number or a date."""
    text = headers.get("retry-after", "")
    if text.isdecimal():
        return float(text)
    moment = _http_time(text)
    return None if moment is None else max(0.0, (moment - now).total_seconds())


def _reason(raw: bytes) -> str:
    """What a service says about a refusal: the usual keys of its JSON, else the beginning of its text."""
    try:
        said = json.loads(raw)
    except (ValueError, RecursionError):
        said = raw[:200].decode("utf-8", errors="replace")
    if isinstance(said, dict):
        said = next(
            (said[key] for key in ("reason", "message", "detail", "error", "messages", "title") if said.get(key)), said
        )
    return " ".join(str(said).split())[:200] or "no reason given"
