"""The API keeps what its description says, whatever is asked."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings

from underglass.faces.web.api import api
from underglass.faces.web.app import create_app
from underglass.faces.web.desk import Desk

DESK = Desk(Path(tempfile.mkdtemp()), today=lambda zone: "2027-03-10", years=4)
DESK.home.show_demo()
schema = schemathesis.openapi.from_asgi("/openapi.json", api(DESK))


@schema.parametrize()
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
def test_every_answer_fits_the_description(case: schemathesis.Case) -> None:
    response = case.call()
    case.validate_response(response)
    assert response.status_code < 500


def test_the_guide_is_what_the_command_gives() -> None:
    client = TestClient(create_app(DESK), base_url="http://127.0.0.1", client=("127.0.0.1", 5))
    for _ in range(600):
        answer = client.get("/api/guide")
        if answer.status_code != 202:
            break
        time.sleep(0.1)
    assert answer.status_code == 200
    assert {"version", "place", "rows"} <= set(answer.json())
    assert client.get("/api/outlook", params={"crop": "nonsense", "grown_in": "open"}).status_code in (202, 404)
