"""The year's plan in a notebook: decisions are kept, what stands is kept, little changes in the middle of the season, and stopping keeps nothing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from underglass.errors import InputError
from underglass.notebook.store import Notebook, open_notebook
from underglass.services.household_store import keep_household
from underglass.services.notes import record_loss, record_sowing, undo
from underglass.services.year_book import (
    decided,
    drop_sowing,
    explain_here,
    forget_decision,
    help_here,
    is_stale,
    keep_sowing,
    let_go,
    make_plan,
    plan_now,
    swap_sowing,
    year_household,
)
from underglass.sources.household_file import household_of_table

ON = date(2027, 3, 1)
YEARS: dict[str, Any] = {"n_years": 6}
TABLE: dict[str, Any] = {
    "place": {"latitude": 44.02, "longitude": -72.66},
    "shelters": [{"like": "box"}, {"like": "sill"}],
    "wants": [
        {"name": "salad", "crops": ["spinach", "leaf lettuce"], "servings": 6},
        {"crop": "radish", "servings": 2},
    ],
    "wishes": {"people": 2},
}


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with open_notebook(tmp_path / "notebook.sqlite", create=True) as notebook:
        keep_household(notebook, household_of_table(TABLE))
        yield notebook


def ids(plan: dict[str, Any]) -> set[str]:
    return {s["id"] for s in plan["sowings"] if not s["standing"]}


def test_a_plan_is_kept_and_counted_again(book: Notebook) -> None:
    assert plan_now(book) is None
    made = make_plan(book, ON, **YEARS)
    again = plan_now(book, **YEARS)
    assert again is not None
    assert ids(again) == ids(made)
    assert again["basket"] == made["basket"]
    assert again["stale"] is False


def test_a_decision_is_kept_and_taken_back(book: Notebook) -> None:
    plan = make_plan(book, ON, **YEARS)
    row = plan["sowings"][-1]
    keep_sowing(book, plan, row["id"])
    stale = plan_now(book, **YEARS)
    assert stale is not None
    assert stale["stale"] is True
    pinned = next(s for s in make_plan(book, ON, fresh=True, **YEARS)["sowings"] if s["id"] == row["id"])
    assert pinned["pinned"]
    assert pinned["area_m2"] >= row["area_m2"] - 1e-6
    let_go(book, plan, row["id"])
    assert decided(book) == []
    undo(book)
    assert [d["wish"] for d in decided(book)] == ["keep"]
    forget_decision(book, decided(book)[0]["id"])
    assert decided(book) == []


def test_what_is_dropped_does_not_come_back_soon(book: Notebook) -> None:
    plan = make_plan(book, ON, **YEARS)
    row = plan["sowings"][0]
    drop_sowing(book, plan, row["id"])
    for s in make_plan(book, ON, **YEARS)["sowings"]:
        near = abs((date.fromisoformat(s["sow"]) - date.fromisoformat(row["sow"])).days) < 14
        assert (s["crop"], s["grown_in"]) != (row["crop"], row["grown_in"]) or not near


def test_an_explanation_offers_what_may_come_instead(book: Notebook) -> None:
    plan = make_plan(book, ON, **YEARS)
    row = plan["sowings"][1]
    why = explain_here(book, plan, row["id"], **YEARS)["sowings"][0]
    assert why["sowing"]["id"] == row["id"]
    assert why["without"]["costs_servings"] >= 0.0
    assert row["id"] in {r["id"] for r in why["without"]["goes"]}
    other = why["instead"][0]
    assert other["costs_servings"] >= why["without"]["costs_servings"] - 0.2
    swap_sowing(book, plan, row["id"], other)
    assert other["id"] in ids(make_plan(book, ON, **YEARS))


def test_little_changes_in_the_middle_of_the_season(book: Notebook) -> None:
    """Eleven weeks on, what was due is sown, one sowing is lost: the ground is kept as it is, and most of what was still to come stays."""
    plan = make_plan(book, ON, **YEARS)
    today = ON + timedelta(days=77)
    due = [s for s in plan["sowings"] if s["sow"] <= today.isoformat()]
    assert len(due) >= 2
    sown = [
        record_sowing(
            book, s["crop"], grown_in=s["grown_in"], raised_in=s["raised_in"], on=date.fromisoformat(s["sow"]), area_m2=s["area_m2"]
        )
        for s in due
    ]  # fmt: skip
    record_loss(book, sown[0], today, "slugs")
    stale = plan_now(book, today=today, **YEARS)
    assert stale is not None
    assert stale["stale"] is True
    new = make_plan(book, today, **YEARS)
    standing = [s for s in new["sowings"] if s["standing"]]
    assert len(standing) == len(due) - 1
    still = {s["id"] for s in plan["sowings"] if s["sow"] > today.isoformat()}
    assert len(still & ids(new)) >= 0.7 * len(still)
    changes = new["changes"]
    assert changes["kept"] + len(changes["gone"]) == len(still)
    assert {g["id"] for g in changes["gone"]} == {i for i in still if i not in ids(new)}
    end = (ON + timedelta(days=364)).isoformat()
    sow = {s["id"]: s["sow"] for s in new["sowings"]}
    assert all(sow[i] >= end for i in changes["later"])
    assert all(sow[i] < end for i in changes["new"])


def test_weeks_counted_from_another_day_change_nothing(book: Notebook) -> None:
    """Five weeks and two days on the sowings to come lie two days off: they are the same."""
    plan = make_plan(book, ON, **YEARS)
    today = ON + timedelta(days=37)
    new = make_plan(book, today, **YEARS)
    still = [s for s in plan["sowings"] if s["sow"] >= today.isoformat()]
    moved = {s["id"] for s in still if not s["held"]} - ids(new)
    assert moved, "weeks from another day have other dates"
    assert new["changes"]["kept"] >= 0.7 * len(still)


def test_what_the_plan_cannot_follow_is_named(book: Notebook) -> None:
    """A tomato is too tall for the box, parsley of the year before last is no part of a year, and no radish stands for 300 days."""
    record_sowing(book, "tomato", grown_in="box", on=ON - timedelta(days=20), area_m2=0.2)
    record_sowing(book, "parsley", grown_in="box", on=ON - timedelta(days=500), area_m2=0.2)
    record_sowing(book, "spinach", grown_in="box", on=ON, area_m2=0.2)
    record_sowing(book, "radish", grown_in="box", on=ON - timedelta(days=300), area_m2=0.2)
    plan = make_plan(book, ON, **YEARS)
    assert sorted(s["crop"] for s in plan["not_followed"]) == ["parsley", "radish", "tomato"]
    assert [s["crop"] for s in plan["sowings"] if s["standing"]] == ["spinach"]


def test_some_plants_lost_hold_less_ground(book: Notebook) -> None:
    sowing = record_sowing(book, "spinach", grown_in="box", on=ON, area_m2=0.5)
    whole = year_household(book, ON).wishes.standing[0].area_m2
    record_loss(book, sowing, ON, "slugs", count=10)
    assert whole == pytest.approx(0.5)
    assert 0.0 < year_household(book, ON).wishes.standing[0].area_m2 < whole


def test_stopping_keeps_nothing(book: Notebook) -> None:
    class Enough(Exception):
        pass

    def stop(share: float, doing: str) -> None:
        if share > 0.5:
            raise Enough

    with pytest.raises(Enough):
        make_plan(book, ON, use_cache=False, progress=stop, **YEARS)
    assert plan_now(book) is None


def test_progress_goes_on_to_the_end(book: Notebook) -> None:
    seen: list[float] = []
    make_plan(book, ON, use_cache=False, progress=lambda share, doing: seen.append(share), **YEARS)
    assert len(seen) > 8
    assert seen[-1] == 1.0
    assert max(np.diff(seen)) < 0.4


def test_what_is_not_in_the_plan_is_refused(book: Notebook) -> None:
    plan = make_plan(book, ON, **YEARS)
    with pytest.raises(InputError, match="not in the plan any more"):
        keep_sowing(book, plan, "spinach|box||2020-01-01")
    with pytest.raises(InputError, match="taken back already"):
        forget_decision(book, "keep|spinach|box|2020-01-01")


def test_help_names_wants_that_are_not_met(book: Notebook) -> None:
    plan = make_plan(book, ON, **YEARS)
    for want in help_here(book, plan, **YEARS)["wants"]:
        assert want["met_in_season"] < 0.75
        assert all(
            c["met"] > want["met_in_season"] or c["weeks_with_some"] > want["weeks_with_some"] for c in want["changes"]
        )


def test_what_would_help_knows_what_was_sown_yesterday(book: Notebook) -> None:
    """An earlier beginning is tried without what stands since: it was not sown then."""
    record_sowing(book, "radish", grown_in="box", on=ON - timedelta(days=1), area_m2=0.2)
    plan = make_plan(book, ON, **YEARS)
    assert year_household(book, ON).wishes.standing
    asked = {w["want"] for w in help_here(book, plan, **YEARS)["wants"]}
    assert asked <= {w["want"] for w in plan["wants"]}


def test_newer_than_the_plan_is_told_without_counting(book: Notebook) -> None:
    assert not is_stale(book)
    make_plan(book, ON, **YEARS)
    assert not is_stale(book, ON)
    record_sowing(book, "radish", grown_in="box", on=ON, area_m2=0.2)
    assert is_stale(book, ON)
    undo(book)
    assert not is_stale(book, ON)
