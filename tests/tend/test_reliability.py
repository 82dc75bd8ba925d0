"""Chances of the plan come true about that often, on generated years (the full table is in docs/model/tend.md)."""

from __future__ import annotations

import re
from pathlib import Path

from benchmarks.reliability import table

ROOT = Path(__file__).parents[2]


def test_chances_come_true() -> None:
    """Eight starts, two shelters: sums over the middle bins within three standard deviations of a fair coin of that chance, clustered by start."""
    rows = table(8)
    middle = [r for r in rows if 0.1 <= r[0] < 0.9]
    n = sum(r[2] for r in middle)
    said = sum(r[2] * r[3] for r in middle) / n
    came = sum(r[2] * r[4] for r in middle) / n
    assert n > 30
    assert abs(said - came) < 0.20  # events of one start go together: about 16 independent ones, sd 0.06-0.12
    low, high = rows[0], rows[-1]
    assert low[4] < 0.05
    assert high[4] > 0.95


def test_the_readme_tells_the_table_s_own_row() -> None:
    table_text = (ROOT / "docs" / "model" / "tend.md").read_text(encoding="utf-8")
    row = re.search(r"\| 70%-90% \| (\d+) \| (\d+)% \| (\d+)% \|", table_text)
    assert row is not None
    many, said, came = row.groups()
    readme = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    assert f"between 70 and 90 %, {said} % in the mean, came true in {came} % of {many} cases" in readme
