"""The year as an answer: beds are never overfull, dates are in order, what stands is kept, and the command prints it."""

from __future__ import annotations

import csv
import io
import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.faces.cli.main import main
from underglass.services.year import year_plan
from underglass.sources.household_file import household_of_table

ON = np.datetime64("2027-03-01")
FILE = """
[place]
latitude = 44.02
longitude = -72.66
[[shelters]]
like = "box"
[[shelters]]
like = "sill"
[[wants]]
kind = "salad"
servings = 6
[[wants]]
crop = "radish"
[crops]
want = ["spinach", "leaf lettuce"]
"""
TABLE: dict[str, Any] = {
    "place": {"latitude": 44.02, "longitude": -72.66},
    "shelters": [{"like": "box"}, {"like": "sill"}],
    "wants": [{"name": "salad", "crops": ["spinach", "leaf lettuce"], "servings": 6}, {"crop": "radish"}],
}


@cache
def plan() -> dict[str, Any]:
    return year_plan(household_of_table(TABLE), ON, n_years=6)


def test_a_plan_is_possible_and_within_its_gap() -> None:
    assert plan()["possible"]
    assert plan()["gap"] <= 0.02
    assert {s["crop"] for s in plan()["sowings"]} <= {"spinach", "lettuce_leaf", "radish"}


def test_no_bed_is_overfull() -> None:
    for bed in plan()["ground"]:
        assert max(bed["used_share"]) <= 1.0 + 1e-6


def test_dates_are_in_order() -> None:
    for s in plan()["sowings"]:
        assert plan()["date"] <= s["sow"] <= s["bed_from"] < s["bed_to"]
        assert s["first_harvest"]["p10"] <= s["first_harvest"]["p50"] <= s["first_harvest"]["p90"]
        assert s["seeds"] >= s["plants"] > 0


def test_the_basket_is_what_the_sowings_bring() -> None:
    """In the middle of the year salad is there most weeks, and nothing comes before anything can be ready."""
    basket = plan()["basket"]
    assert basket[0]["all"]["p90"] == 0.0
    assert sum(w["servings"]["salad"]["p50"] > 1.0 for w in basket) >= 10
    for week in basket:
        assert week["all"]["p10"] <= week["all"]["p50"] <= week["all"]["p90"]


def test_an_earlier_plan_of_its_own_stays_as_it_is() -> None:
    again = year_plan(household_of_table(TABLE), ON, n_years=6, earlier=plan())
    before, after = ({(s["crop"], s["grown_in"], s["sow"]) for s in p["sowings"]} for p in (plan(), again))
    assert len(before & after) >= 0.8 * len(before)


def test_an_unknown_shelter_is_named() -> None:
    with pytest.raises(InputError, match="no shelter is called 'shed'"):
        year_plan(household_of_table({**TABLE, "ground": [{"shelter": "shed"}]}), ON, n_years=6)


def test_the_command_prints_table_json_and_csv(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "household.toml"
    file.write_text(FILE, encoding="utf-8")
    said = []
    for extra in ([], ["--json"], ["--csv"]):
        with pytest.raises(SystemExit) as end:
            main(["year", "--household", str(file), "--date", "2027-03-01", "--years", "6", *extra])
        assert end.value.code in (0, None)
        said.append(capsys.readouterr().out)
    assert "The basket" in said[0]
    assert "…" not in said[0]
    sowings = json.loads(said[1])["sowings"]
    assert len(list(csv.DictReader(io.StringIO(said[2])))) == len(sowings) > 0
