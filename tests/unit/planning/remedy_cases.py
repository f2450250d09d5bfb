"""Sites with something in the way, and questions about them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from tests.memory_site import make_site
from tests.planning import MILD, case_of, sheet, workspace_of
from travel.domain.plan import Remedy, RemedyPart
from travel.domain.rules import RemedyRow, Rulebook
from travel.domain.site import Site
from travel.planning.remedies import Question, plan_again
from travel.rulebook import load_rulebook
from travel.service.workspace import Workspace

FLAT: dict[str, Any] = {
    "width_m": 6.0, "surface": "asphalt", "cross_slope_pct": 0.0, "edge_left": "kerb", "edge_right": "kerb",
    "traffic": "none", "sight_m": 100.0, "lit": True, "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
    "cone_index_kpa": 3000.0, "remoulding_index": 1.0, "passes_done": 1, "roughness_m": 0.0,
}  # fmt: skip
KNOWN: dict[str, Any] = {
    "axles__0__squash_m": 0.03, "axles__1__squash_m": 0.03, "retarding": {"kind": "hydrostatic", "power_kw": 120.0}
}  # fmt: skip
"""What the baseline sheet leaves open."""
PLACES = [
    {"id": "gate", "xy": (0, 0), "kind": "gate", "may_stop": True, "turn_radius_m": 15.0},
    {
        "id": "pick",
        "xy": (100, 0),
        "kind": "pick_point",
        "may_stop": True,
        "turn_radius_m": 15.0,
        "slope_pct": 0.0,
        "cross_slope_pct": 0.0,
    },
]


def straight(rise: float = 0.0, **values: Any) -> dict[str, Any]:
    """Give one road of 100 m from gate to pick point."""
    return {"id": "r1", "xyz": [(0, 0, 10), (100, 0, 10 + rise)], **FLAT, **values}


def site_with(*roads: dict[str, Any], **layers: Any) -> Site:
    """Give a site of one straight road unless told otherwise."""
    return make_site(list(roads) or [straight()], PLACES, **layers)


def book(keep: Callable[[RemedyRow], bool] = lambda row: row.layer != "machine", **changes: Any) -> Rulebook:
    """Give the default rulebook with some of its remedies, their rows changed."""
    base = load_rulebook()
    rows = (row if row.forbidden else replace(row, **changes) for row in base.remedies)
    return replace(base, remedies=tuple(row for row in rows if row.forbidden or keep(row)))


def question_of(
    site: Site, rulebook: Rulebook | None = None, back: bool = True, places: tuple[str, str] = ("gate", "pick"),
    **changes: Any,
) -> Question:  # fmt: skip
    """Give the question whether the baseline machine gets from gate to pick point and back in mild weather."""
    workspace: Workspace = workspace_of(site, rulebook or book())
    machine = sheet(**KNOWN, **changes)
    out = case_of(workspace, machine, weather=MILD)
    return Question(
        out=out,
        back=case_of(workspace, machine, weather=MILD, trip="back") if back else None,
        from_place=places[0],
        to_place=places[1],
    )


def opens(question: Question, parts: tuple[RemedyPart, ...]) -> bool:
    """Tell by planning again whether changes open a question."""
    return plan_again(question, parts) is not None


def only(remedies: tuple[Remedy, ...], row: str) -> Remedy:
    """Give the remedy that is one row of the rulebook and nothing else."""
    found = [r for r in remedies if r.kind == "change" and {part.reason for part in r.amendments} == {row}]
    assert len(found) == 1, [r.text for r in remedies]
    return found[0]
