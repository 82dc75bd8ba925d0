"""What must be compiled first is compiled in a process of its own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from underglass.services import warm as module


@pytest.fixture
def asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What was compiled where; a process of its own leaves its mark."""
    told: list[Any] = []

    def run(command: list[str], **_: Any) -> None:
        told.append(command[1:])
        (tmp_path / command[-1]).touch()

    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(module.subprocess, "run", run)
    return told


def elsewhere(part: str) -> list[str]:
    return ["-m", "underglass.services.warm", part]


def test_a_process_of_its_own_compiles_only_what_is_missing(asked: list[Any]) -> None:
    module.compiled_apart()
    module.compiled_apart()
    assert asked == [elsewhere("first")]


def test_a_plan_of_the_year_needs_more_and_says_that_it_waits(asked: list[Any]) -> None:
    words: list[str] = []
    module.compiled_apart(lambda share, doing: words.append(doing), search=True)
    module.compiled_apart(lambda share, doing: words.append(doing), search=True)
    assert asked == [elsewhere("first"), elsewhere("search")]
    assert words == ["getting ready"] * 2, "what is compiled already is waited for by nobody"


def test_once_warm_it_is_marked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(module, "sowing_outlook", lambda *_: None)
    module.warm()
    assert (tmp_path / "first").exists()
    assert not (tmp_path / "search").exists()
