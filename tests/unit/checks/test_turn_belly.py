"""Ground under the belly in a corner where three roads meet, against the same corner of one road."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, plan_of
from tests.property.test_plan_properties import FULL, strong
from travel.checks.turns import check_turns
from travel.checks.underbody import clearances
from travel.domain.machine import Machine
from travel.domain.site import Site
from travel.domain.verdict import Verdict

WIDE = FULL | {"width_m": 14.0}
STEEP = {"limits": {"grade_pct": 60.0, "cross_slope_pct": 40.0, "low_range_above_pct": 12.0}}


def corner(rise_m: float, third: bool, *, drawn: int = 1, blind: bool = False) -> Site:
    """Give a road that climbs 60 m to a node from which another leads level to the left, and a third to the right."""
    up = [(0, 0, 0), (60, 0, rise_m)]
    roads: list[dict[str, Any]] = [
        WIDE | {"id": "up", "xyz": up[::drawn]},
        WIDE | {"id": "on", "xyz": [(60, 0, rise_m), (60, 60, rise_m)]},
    ]
    if third:
        side = [(60, 0, rise_m), (62, -30, rise_m)]
        roads += [WIDE | {"id": "side"} | ({"xy": [p[:2] for p in side]} if blind else {"xyz": side[::drawn]})]
    ground = [{"id": "f", "use": "free_ground", "polygon": [(30, -30), (90, -30), (90, 30), (30, 30)]}]
    places = [{"id": "G", "xy": (0, 0), "kind": "gate"}, {"id": "P", "xy": (60, 60), "kind": "pick_point"}]
    return make_site(roads, places, areas=ground)


def in_the_corner(site: Site) -> tuple[float, Verdict]:
    """Give clearance and verdict of the corner from the road that climbs on to the one to the left."""
    case = case_of(site, Machine.model_validate(strong(**STEEP)))
    turns, ids = check_turns(case), site.layers["roads"].ids
    links = np.asarray(case.survey.network.link_road)
    (row,) = [
        k
        for k, (a, b) in enumerate(zip(turns.corners.edge_in, turns.corners.edge_out, strict=True))
        if (ids[links[a >> 1]], ids[links[b >> 1]]) == ("up", "on")
    ]
    (part,) = [part for part in turns.parts(np.array([row]), np.array([0])) if part.rule == "underbody"]
    return float(np.asarray(part.outcome.capacity)[0, 0]), Verdict(int(part.verdict[0, 0]))


@pytest.mark.parametrize("drawn", [1, -1])
@pytest.mark.parametrize("rise_m", [15.0, 21.0, -18.0])
def test_the_profile_goes_on_round_the_corner_as_on_one_road(rise_m: float, drawn: int) -> None:
    alone = case_of(corner(rise_m, False, drawn=drawn), Machine.model_validate(strong(**STEEP)))
    wanted = float(clearances(alone)[0].min())
    found, verdict = in_the_corner(corner(rise_m, True, drawn=drawn))
    assert found == pytest.approx(wanted, abs=0.005)
    assert wanted < 0.3
    assert verdict >= Verdict.CAUTION


def test_a_level_corner_leaves_the_belly_as_it_stands_and_another_road_without_heights_changes_nothing() -> None:
    assert in_the_corner(corner(0.0, True)) == (np.inf, Verdict.CLEAR)
    seen, unseen = (in_the_corner(corner(21.0, True, blind=blind)) for blind in (False, True))
    assert unseen == seen


def test_a_plan_tells_the_corner_as_a_finding_of_its_turn() -> None:
    plan = plan_of(corner(18.0, True), "G", "P", strong(**STEEP))
    (found,) = [finding for finding in plan.findings if finding.rule == "underbody"]
    assert (found.verdict, found.where.scope, found.why) == ("caution", "turn", "margin")
    assert plan.verdict != "clear"
