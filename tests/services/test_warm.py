"""What must be compiled first is compiled in a process of its own."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from underglass.services import warm as module


@pytest.mark.parametrize("whole", [True, False])
def test_a_process_of_its_own_compiles_only_what_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, whole: bool
) -> None:
    asked: list[Any] = []
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(module.subprocess, "run", lambda command, **_: asked.append(command))
    monkeypatch.setattr(module, "warm", lambda: asked.append("here"))
    if whole:
        (tmp_path / module.MARK).touch()
    module.warm_apart()
    elsewhere = [sys.executable, "-m", "underglass.services.warm"]
    assert asked == (["here"] if whole else [elsewhere, "here"])


def test_once_warm_it_is_marked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(module, "sowing_outlook", lambda *_: None)
    module.warm()
    assert (tmp_path / module.MARK).exists()
