"""May it go out: asked on the page."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    desk = Desk(tmp_path, today=lambda zone: "2027-05-01", now=lambda: datetime(2027, 5, 1, 12, tzinfo=UTC), years=4)
    desk.home.show_demo()
    return TestClient(create_app(desk), base_url="http://127.0.0.1", client=("127.0.0.1", 5))


def asked(client: TestClient, **fields: str) -> str:
    for _ in range(900):
        answer = client.get("/set-out", params=fields)
        if 'id="work"' not in answer.text:
            assert answer.status_code == 200
            return answer.text
        time.sleep(0.1)
    raise AssertionError("never answered")


def test_a_tomato_waits_where_cabbage_goes(client: TestClient) -> None:
    assert "Wait with Tomato" in asked(client, crop="tomato", bed="open", before="2027-06-10")
    assert "Cabbage may go out" in asked(client, crop="cabbage", bed="hoop house", before="2027-06-10")


@pytest.mark.parametrize(
    ("field", "value"),
    [("crop", "carrot"), ("bed", "castle"), ("before", "2027-04-01"), ("before", "soon"), ("before", "2029-01-01")],
)
def test_each_wrong_field_gets_its_sentence(client: TestClient, field: str, value: str) -> None:
    fields = {"crop": "tomato", "bed": "hoop house", "before": "2027-06-10"} | {field: value}
    answer = client.get("/set-out", params=fields)
    assert answer.status_code == 422
    assert f'id="{field}-fault"' in answer.text
