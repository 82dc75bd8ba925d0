"""The README's Python is run, and its commands exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")


def test_the_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    blocks = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    assert blocks
    for block in blocks:
        exec(compile(block, "README.md", "exec"), {})
    said = capsys.readouterr().out
    assert "coldest hour in the box" in said
    assert said.count("years {") == 2


def test_every_named_document_exists() -> None:
    root = Path(__file__).parent.parent
    for target in re.findall(r"\]\(([\w./-]+\.md)\)", README):
        assert (root / target).exists(), target
