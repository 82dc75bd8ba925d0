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
from underglass.services.year_help import what_would_help
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


def test_one_new_kind_a_season_is_sown_beside_what_is_known() -> None:
    """Of the kinds that the family names nowhere; a few things that the children choose are all there."""
    wants = [
        {"crop": "spinach", "servings": 3},
        {"name": "the children's", "crops": ["radish", "arugula"], "servings": 1, "each": True},
    ]
    wishes = {"new_a_season": 1, "new_from": ["mizuna", "mustard"]}
    found = year_plan(household_of_table({**TABLE, "wants": wants, "wishes": wishes}), ON, n_years=6)
    sown = {s["crop"] for s in found["sowings"]}
    assert {"radish", "arugula"} <= sown
    assert sown & {"mizuna", "mustard"}
    assert {s["want"] for s in found["sowings"] if s["crop"] in ("mizuna", "mustard")} == {"something new"}
    with pytest.raises(InputError, match="say which kinds you know"):
        year_plan(household_of_table({**TABLE, "wants": [], "wishes": {"new_a_season": 1}}), ON, n_years=6)


def test_autumn_is_told_backwards_and_what_stands_is_kept_for_it() -> None:
    """Vermont: spinach in a box is sown by September to be near full size when days fall under ten hours on 8 November."""
    autumn = plan()["autumn"]
    assert (autumn["lean_from"], autumn["lean_to"]) == ("2027-11-08", "2028-02-04")
    spinach = next(r for r in autumn["latest"] if r["crop"] == "spinach" and r["raised_in"] is None)
    assert "2027-08-10" <= spinach["sow_by"] <= "2027-10-01"
    assert spinach["chance"] >= 0.8
    south = year_plan(household_of_table({**TABLE, "place": {"latitude": 29.8, "longitude": -95.4}}), ON, n_years=6)
    assert south["autumn"] == {"lean_from": None, "lean_to": None, "latest": []}


def test_the_basket_is_told_by_years_that_did_not_choose() -> None:
    assert (plan()["planned_on_years"], plan()["judged_on_years"], plan()["held_out"]) == (6, 6, False)
    more = year_plan(household_of_table(TABLE), ON, n_years=16)
    assert (more["planned_on_years"], more["judged_on_years"], more["held_out"]) == (8, 8, True)


def test_what_came_too_late_would_have_helped_earlier() -> None:
    """Tomatoes wanted from the middle of June on: no sowing of this year ripens, those of sixteen weeks before would have."""
    table = {**TABLE, "shelters": [{"like": "hoop"}, {"like": "sill"}], "wants": [{"crop": "tomato", "servings": 3}]}
    (want,) = what_would_help(household_of_table(table), np.datetime64("2027-06-14"), n_years=6)["wants"]
    assert (want["met_in_season"], want["weeks_with_some"]) == (0.0, 0)
    earlier = next(c for c in want["changes"] if c["kind"] == "earlier")
    assert earlier["to"] in (4.0, 8.0, 16.0)
    assert earlier["weeks_with_some"] >= 8
    assert earlier["met"] > 0.5


def test_more_decided_for_one_week_than_is_sown_in_one_is_said() -> None:
    table = {
        "place": {"latitude": 44.02, "longitude": -72.66},
        "shelters": [{"like": "hoop"}],
        "crops": {"want": ["spinach", "kale"]},
        "wishes": {"sowings": 1},
        "pins": [{"crop": "spinach", "in": "hoop", "sow": "2027-04-05", "area": 12.0}],
    }
    found = year_plan(household_of_table(table), ON, n_years=6)
    assert not found["possible"]
    assert "1 sowings a week" in found["in_the_way"]


def test_an_inner_cover_is_named_where_it_brings_greens_through_the_winter() -> None:
    """Common practice in USDA zone 5: spinach stands the winter in an unheated tunnel under a cover within it, and seldom without."""
    table = {
        "place": {"latitude": 44.02, "longitude": -72.66, "elevation": "350 m"},
        "shelters": [{"like": "hoop"}],
        "crops": {"want": ["spinach"]},
        "wants": [{"crop": "spinach", "servings": 3.0}],
    }
    (want,) = what_would_help(household_of_table(table), np.datetime64("2027-08-01"), n_years=12)["wants"]
    cover = next(c for c in want["changes"] if c["kind"] == "cover")
    assert cover["shelter"] == "hoop"
    assert cover["weeks_with_some"] >= want["weeks_with_some"] + 4, "a month more"


def test_the_command_explains_and_says_what_would_help(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "household.toml"
    file.write_text(FILE, encoding="utf-8")
    said = []
    for extra in (
        ["--explain", "radish"],
        ["--explain", "melon"],
        ["--explain", "radish", "--json"],
        ["--helps"],
        ["--helps", "--json"],
    ):
        with pytest.raises(SystemExit) as end:
            main(["year", "--household", str(file), "--date", "2027-03-01", "--years", "6", *extra])
        assert end.value.code in (0, None)
        said.append(capsys.readouterr().out)
    assert "servings less" in said[0]
    assert "Melon is not in the plan" in said[1]
    assert all(s["without"]["costs_servings"] >= 0.0 for s in json.loads(said[2])["sowings"])
    wants = json.loads(said[4])["wants"]
    assert all(w["want"] in said[3] for w in wants)
    documented = (Path(__file__).parents[2] / "docs" / "json.md").read_text(encoding="utf-8")
    rows = [
        json.loads(said[2])["sowings"][0],
        json.loads(said[2])["sowings"][0]["without"],
        *wants[:1],
        *(w["changes"][0] for w in wants[:1]),
    ]
    for row in rows:
        assert not [key for key in row if f"`{key}`" not in documented]
