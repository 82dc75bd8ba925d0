"""A year's plan in the order in which it is read: by month and week of sowing, by shelter, and in sum."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from underglass.faces.charts.basket import SOME

__all__ = ["before_lean", "by_shelter", "by_week", "summary"]


def by_week(plan: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Months with their weeks and the sowings of each, what stands already apart and first."""
    months: list[dict[str, Any]] = []
    for sowing in plan["sowings"]:
        if sowing["standing"]:
            continue
        month = sowing["sow"][:7]
        if not months or months[-1]["month"] != month:
            months.append({"month": month, "weeks": [], "count": 0})
        weeks = months[-1]["weeks"]
        if not weeks or weeks[-1]["sow"] != sowing["sow"]:
            weeks.append({"sow": sowing["sow"], "sowings": []})
        weeks[-1]["sowings"].append(sowing)
        months[-1]["count"] += 1
    return months


def by_shelter(plan: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Each shelter with what is raised in it and what grows in its bed, in the order of time; how full its bed is by week."""
    full = {g["shelter"]: g for g in plan["ground"]}
    found = []
    for shelter in plan["shelters"]:
        name = shelter["name"]
        bed = sorted((s for s in plan["sowings"] if s["grown_in"] == name), key=lambda s: s["bed_from"])
        raised = [s for s in plan["sowings"] if s["raised_in"] == name and not s["standing"]]
        if bed or raised:
            found.append({"name": name, "bed": bed, "raised": raised, "ground": full.get(name)})
    return found


def summary(plan: Mapping[str, Any]) -> dict[str, Any]:
    """How many sowings, how many servings in the middle year, in how many weeks, and the work of the busiest and the usual week."""
    minutes = sorted(week["minutes"] for week in plan["basket"])
    return {
        "sowings": sum(not s["standing"] for s in plan["sowings"]),
        "servings": round(sum(week["all"]["p50"] for week in plan["basket"])),
        "some": sum(week["all"]["p50"] >= SOME for week in plan["basket"]),
        "weeks": len(plan["basket"]),
        "usual_minutes": minutes[len(minutes) // 2],
        "most_minutes": minutes[-1],
    }


def before_lean(plan: Mapping[str, Any]) -> list[dict[str, Any]]:
    """By when each crop is sown to stand nearly full-grown before the short days: the latest way for each bed, the latest bed first."""
    found: dict[str, dict[str, Any]] = {}
    for row in plan["autumn"]["latest"]:
        crop = found.setdefault(row["crop"], {"crop": row["crop"], "name": row["name"], "beds": {}})
        best = crop["beds"].get(row["grown_in"])
        if best is None or row["sow_by"] > best["sow_by"]:
            crop["beds"][row["grown_in"]] = row
    for crop in found.values():
        crop["beds"] = sorted(crop["beds"].values(), key=lambda r: r["sow_by"], reverse=True)
    return sorted(found.values(), key=lambda c: str(c["beds"][0]["sow_by"]))
