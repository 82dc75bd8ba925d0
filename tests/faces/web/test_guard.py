"""Who may ask: hosts, origins, tokens, sizes, pairing.  Each refusal beside the same request that is let in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from underglass.faces.web import devices
from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk

HERE = ("127.0.0.1", 50000)
PHONE = ("192.168.1.23", 50000)
HOME = "http://192.168.1.5:8471"


def client(
    folder: Path, *, lan: bool = False, who: tuple[str, int] = HERE, base: str = "http://127.0.0.1:8471"
) -> TestClient:
    return TestClient(create_app(Desk(folder), lan=lan), base_url=base, client=who, follow_redirects=False)


def token(page: str) -> str:
    found = re.search(r'name="token" value="([0-9a-f]+)"', page)
    assert found
    return found.group(1)


def test_a_foreign_host_name_is_refused(folder: Path) -> None:
    c = client(folder)
    assert c.get("/welcome").status_code == 200
    assert c.get("/welcome", headers={"host": "evil.example"}).status_code == 421
    assert c.get("/welcome", headers={"host": "192.168.1.5:8471"}).status_code == 421


def test_a_forged_change_is_refused(folder: Path) -> None:
    c = client(folder)
    page = c.get("/welcome").text
    form = {"token": token(page)}
    assert c.post("/welcome/demo", data=form, headers={"origin": "http://evil.example"}).status_code == 403
    assert c.post("/welcome/demo", data=form, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert c.post("/welcome/demo", data=form | {"token": "0" * 64}).status_code == 422
    assert not (folder / "demo" / "notebook.sqlite").exists()
    assert c.post("/welcome/demo", data=form, headers={"origin": "http://127.0.0.1:8471"}).status_code == 303
    assert (folder / "demo" / "notebook.sqlite").exists()


def test_every_answer_carries_the_headers(folder: Path) -> None:
    for path in ("/welcome", "/settings", "/static/app.js", "/nowhere", "/api/guide"):
        headers = client(folder).get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_no_page_holds_inline_script_style_or_a_foreign_address() -> None:
    from importlib.resources import files

    for path in (Path(str(files("underglass.faces.web"))) / "templates").glob("*.html"):
        text = path.read_text("utf-8")
        assert not re.search(r"<script(?![^>]*\bsrc=)|\son\w+=|\sstyle=|<style|https?://", text), path.name


def test_the_vendored_script_is_the_one_recorded() -> None:
    import hashlib
    from importlib.resources import files

    static = Path(str(files("underglass.faces.web"))) / "static"
    assert hashlib.sha256((static / "htmx.min.js").read_bytes()).hexdigest() in (static / "VENDORED.txt").read_text()


def test_another_machine_is_refused_without_lan(folder: Path) -> None:
    assert client(folder, who=PHONE).get("/welcome").status_code == 403


def test_a_phone_is_paired_once_and_revoked(folder: Path) -> None:
    desk = Desk(folder)
    app = create_app(desk, lan=True)
    phone = TestClient(app, base_url=HOME, client=PHONE, follow_redirects=False)
    assert phone.get("/welcome").status_code == 401
    assert phone.get("/api/guide").status_code == 401
    led = phone.get("/welcome", headers={"accept": "text/html,*/*"})
    assert (led.status_code, led.headers["location"]) == (303, "/pair"), "a person is led to where the code is typed"
    code = desk.devices.new_code()
    form = {"token": token(phone.get("/pair").text), "code": code, "name": "Mia's phone"}
    assert phone.post("/pair", data=form | {"code": "wrong"}).status_code == 403
    assert phone.post("/pair", data=form).status_code == 303
    assert phone.get("/welcome").status_code == 200
    other = TestClient(app, base_url=HOME, client=PHONE, follow_redirects=False)
    assert other.post("/pair", data=form | {"token": token(other.get("/pair").text)}).status_code == 403, (
        "a code serves once"
    )
    kept = (folder / "devices.json").read_text()
    assert code not in kept
    assert phone.cookies["underglass_device"] not in kept
    desk.devices.revoke(desk.devices.all()[0].id)
    assert phone.get("/welcome").status_code == 401


def test_guessing_codes_is_slowed(folder: Path) -> None:
    desk = Desk(folder)
    phone = TestClient(create_app(desk, lan=True), base_url=HOME, client=PHONE, follow_redirects=False)
    form = {"token": token(phone.get("/pair").text), "code": "guess"}
    assert [phone.post("/pair", data=form).status_code for _ in range(devices.TRIES)] == [403] * devices.TRIES
    assert phone.post("/pair", data=form | {"code": desk.devices.new_code()}).status_code == 429


def test_a_code_dies_after_five_minutes(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Desk(folder).devices
    code, now = store.new_code(), devices.time.monotonic()
    monkeypatch.setattr(devices.time, "monotonic", lambda: now + devices.CODE_LIVES_S + 1.0)
    assert store.pair(code, "late", "2027-03-10") is None


def test_too_much_at_once_is_refused(folder: Path) -> None:
    c = client(folder)
    assert c.post("/welcome", content=b"x" * 12_000_001).status_code == 413
