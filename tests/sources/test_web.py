"""The web client: retries, cache, validators, age when offline, broken replies."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.sources.standins import Answer, Asked, StandIn
from underglass.errors import SourceError
from underglass.sources.cache import KeptReply, ReplyCache
from underglass.sources.web import WebClient

HOUR = timedelta(hours=1)
GOOD = {"temperature": [1, 2, 3], "place": "Hillside"}


class Clock:
    def __init__(self) -> None:
        self.time = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
        self.slept: list[float] = []

    def now(self) -> datetime:
        return self.time

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def service() -> Iterator[StandIn]:
    with StandIn({"/w": lambda asked: Answer(GOOD)}) as standin:
        yield standin


def client_of(folder: Path, clock: Clock, **options: object) -> WebClient:
    settings: dict[str, object] = {"timeout_s": 2.0, "wait_s": 1.0, "now": clock.now, "sleep": clock.sleep}
    return WebClient(folder, **{**settings, **options})  # type: ignore[arg-type]


def ask(client: WebClient, service: StandIn, keep: timedelta = HOUR) -> object:
    return client.get_json("Test", f"{service.url}/w", {"lat": "44.3"}, keep=keep)


def test_asks_once_and_then_from_disk(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    client = client_of(tmp_path, clock, contact="family@example.org")
    first, second = (client.get_json("Test", f"{service.url}/w", {"lat": "44.3"}, keep=HOUR) for _ in range(2))
    assert first.data == second.data == GOOD
    assert len(service.asked) == 1
    assert "family@example.org" in service.asked[0].headers["User-Agent"]
    assert first.notes == second.notes == ()
    assert second.fetched == clock.time


def test_asks_again_when_stale_with_validators_and_304_keeps_the_body(tmp_path: Path, clock: Clock) -> None:
    def route(asked: Asked) -> Answer:
        if asked.headers.get("If-None-Match") == '"v1"':
            assert asked.headers["If-Modified-Since"] == "Sun, 01 Mar 2026 10:00:00 GMT"
            return Answer(status=304)
        return Answer(GOOD, headers={"ETag": '"v1"', "Last-Modified": "Sun, 01 Mar 2026 10:00:00 GMT"})

    with StandIn({"/w": route}) as service:
        client = client_of(tmp_path, clock)
        client.get_json("Test", f"{service.url}/w", {}, keep=HOUR)
        clock.time += timedelta(hours=2)
        again = client.get_json("Test", f"{service.url}/w", {}, keep=HOUR)
        assert again.data == GOOD
        assert again.fetched == clock.time  # confirmed now, so it is as good as new
        client.get_json("Test", f"{service.url}/w", {}, keep=HOUR)
        assert len(service.asked) == 2


@pytest.mark.parametrize(
    "header", [{"Expires": "Sun, 01 Mar 2026 15:00:00 GMT"}, {"Cache-Control": "public, max-age=10800"}]
)
def test_does_not_ask_before_the_service_allows(header: dict[str, str], tmp_path: Path, clock: Clock) -> None:
    with StandIn({"/w": lambda asked: Answer(GOOD, headers=header)}) as service:
        client = client_of(tmp_path, clock)
        ask(client, service, timedelta(minutes=1))
        clock.time += timedelta(hours=2, minutes=59)
        ask(client, service, timedelta(minutes=1))
        assert len(service.asked) == 1
        clock.time += timedelta(minutes=2)
        ask(client, service, timedelta(minutes=1))
        assert len(service.asked) == 2


def test_retries_with_growing_waits(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.extend([Answer({}, 500), Answer({}, 503)])
    assert ask(client_of(tmp_path, clock), service).data == GOOD  # type: ignore[attr-defined]
    assert len(clock.slept) == 2
    assert 1.0 <= clock.slept[0] <= 1.5 <= 2.0 <= clock.slept[1] <= 3.0


def test_waits_as_long_as_asked_after_429(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.extend([Answer({}, 429, {"Retry-After": "7"}), Answer({}, 429, {"Retry-After": "900"})])
    ask(client_of(tmp_path, clock), service)
    assert clock.slept == [7.0, 30.0]  # never longer than half a minute


def test_half_sent_body_is_asked_for_again_and_never_kept(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.append(Answer(GOOD, cut_to=9))
    assert ask(client_of(tmp_path, clock), service).data == GOOD  # type: ignore[attr-defined]
    assert len(service.asked) == 2


def test_page_of_html_with_status_200_is_not_weather(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.extend([Answer(b"<html>log in to the guest network</html>")] * 4)
    with pytest.raises(SourceError, match=r"cut off or is not JSON; no earlier reply is kept"):
        ask(client_of(tmp_path, clock), service)


def test_a_reply_nested_beyond_reason_is_not_weather(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.extend([Answer(b"[" * 200_000)] * 4)
    with pytest.raises(SourceError, match=r"cut off or is not JSON"):
        ask(client_of(tmp_path, clock), service)


def test_a_wait_that_is_no_number_is_passed_over(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.append(Answer({}, 503, {"Retry-After": "7\u00b2"}))
    assert ask(client_of(tmp_path, clock), service).data == GOOD  # type: ignore[attr-defined]
    assert 1.0 <= clock.slept[0] <= 1.5


def test_slow_answer_times_out(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.append(Answer(GOOD, after_s=1.0))
    client = client_of(tmp_path, clock, timeout_s=0.2, attempts=1)
    with pytest.raises(SourceError, match=r"no answer within 0\.2 s"):
        ask(client, service)


def test_refusal_is_told_once_with_its_reason(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    service.faults.append(Answer({"error": True, "reason": "latitude must be in range of -90 to 90"}, 400))
    with pytest.raises(SourceError, match=r"Test: HTTP 400: latitude must be in range"):
        ask(client_of(tmp_path, clock), service)
    assert len(service.asked) == 1


def test_stale_reply_stands_in_for_a_broken_service_and_says_how_old(
    service: StandIn, tmp_path: Path, clock: Clock
) -> None:
    client = client_of(tmp_path, clock)
    ask(client, service)
    clock.time += timedelta(days=3)
    service.faults.extend([Answer({}, 500)] * 4)
    reply = client.get_json("Test", f"{service.url}/w", {"lat": "44.3"}, keep=HOUR)
    assert reply.data == GOOD
    assert reply.fetched == datetime(2026, 3, 1, 12, tzinfo=UTC)
    (note,) = reply.notes
    assert "HTTP 500" in note
    assert "2026-03-01 12:00 UTC, 3 days old" in note


def test_offline_serves_from_the_cache_without_a_connection(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    ask(client_of(tmp_path, clock), service)
    clock.time += timedelta(hours=30)
    offline = client_of(tmp_path, clock, offline=True)
    reply = offline.get_json("Test", f"{service.url}/w", {"lat": "44.3"}, keep=HOUR)
    assert "offline; using the reply of 2026-03-01 12:00 UTC, 30 hours old" in reply.notes[0]
    assert len(service.asked) == 1
    with pytest.raises(SourceError, match=r"offline, and no earlier reply is kept"):
        offline.get_json("Test", f"{service.url}/w", {"lat": "50"}, keep=HOUR)


def test_unplugged_network_falls_back_too(tmp_path: Path, clock: Clock) -> None:
    with StandIn({"/w": lambda asked: Answer(GOOD)}) as service:
        client, url = client_of(tmp_path, clock, attempts=2), service.url
        client.get_json("Test", f"{url}/w", {}, keep=HOUR)
    clock.time += timedelta(hours=5)
    assert "the connection failed" in client.get_json("Test", f"{url}/w", {}, keep=HOUR).notes[0]
    with pytest.raises(SourceError, match=r"the connection failed"):
        client.get_json("Test", f"{url}/other", {}, keep=HOUR)


def test_too_long_reply_is_refused(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    client = client_of(tmp_path, clock, max_reply_bytes=20)
    with pytest.raises(SourceError, match=r"longer than"):
        ask(client, service)


def test_post_is_kept_by_its_question(tmp_path: Path, clock: Clock) -> None:
    with StandIn({"/q": lambda asked: Answer({"you asked": asked.body})}) as service:
        client = client_of(tmp_path, clock)
        one, two, three = (
            client.post_json("Test", f"{service.url}/q", {"sid": sid}, keep=HOUR).data for sid in ("A", "B", "A")
        )
        assert one == three == {"you asked": {"sid": "A"}}
        assert two == {"you asked": {"sid": "B"}}
        assert len(service.asked) == 2


def kept(body: bytes) -> KeptReply:
    now = datetime(2026, 1, 1, tzinfo=UTC)
    return KeptReply("http://x", body, now, now + HOUR, '"e"', "then")


def test_cache_gives_back_what_it_got_and_refuses_a_damaged_file(tmp_path: Path) -> None:
    cache = ReplyCache(tmp_path / "deep" / "er")
    cache.put("k", kept(b"[1,\n2]"))
    assert cache.get("k") == kept(b"[1,\n2]")
    path = tmp_path / "deep" / "er" / "k.reply"
    whole = path.read_bytes()
    for damaged in (whole[:-1], whole[40:], b"", b"\xff\xfe" + whole, whole.replace(b"2026", b"20x6")):
        path.write_bytes(damaged)
        assert cache.get("k") is None


def test_cache_forgets_the_oldest_beyond_its_bound(tmp_path: Path) -> None:
    import os

    cache = ReplyCache(tmp_path, max_total_bytes=3000)
    for k in range(5):
        cache.put(f"k{k}", kept(b"x" * 700))
        os.utime(tmp_path / f"k{k}.reply", (1000 + k, 1000 + k)) if (tmp_path / f"k{k}.reply").exists() else None
    assert cache.get("k4") is not None
    assert cache.get("k0") is None
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= 3000
    assert not list(tmp_path.glob("*.part"))


def test_unwritable_cache_only_means_nothing_is_kept(service: StandIn, tmp_path: Path, clock: Clock) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    assert ask(client_of(blocked, clock), service).data == GOOD  # type: ignore[attr-defined]
