"""Every rule that code answers speaks on the demo at least once: a verdict short of clear, or a speed it holds."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from tests.planning import on_day
from travel.checks import answers_for, built_rules
from travel.domain.request import PlanRequest
from travel.domain.site import Weather
from travel.service.ask import plan_request
from travel.service.cases import make_case, read_sheets
from travel.service.plan import make_plan
from travel.service.workspace import Workspace

DEMO = Path(__file__).parents[2] / "demo_site"
SILENT = {
    "attitude": "answered once a trip, by the pre-travel list",
}
CASES = (
    ("small", None, "damp", 4.0, None),
    ("small", None, "mud", 4.0, None),
    ("small", "pallet_on_forks", "wet", 12.0, None),
    ("small", "beam_on_hook", "damp", 4.0, None),
    ("large", None, "damp", 4.0, None),
    ("middle", None, "damp", 4.0, dt.datetime.fromisoformat("2027-11-25T10:00:00+00:00")),
)


def test_each_rule_speaks_on_the_demo() -> None:
    workspace = Workspace(path=DEMO / "site")
    spoken: set[str] = set()
    for name, load, ground, wind, at in CASES:
        sheets = read_sheets(DEMO / "machines" / f"{name}.toml", DEMO / "loads" / f"{load}.toml" if load else None)
        weather = Weather(ground=ground, temperature_c=8, wind_mps=wind)
        case = make_case(workspace, sheets.machine, sheets.load, weather=weather, at=at, horizon_s=3600.0)
        pieces, configs = len(workspace.survey.pieces), len(case.configurations)
        piece = np.repeat(np.arange(pieces), 2 * configs)
        sense = np.tile(np.repeat([1, -1], configs), pieces)
        for answer in answers_for(case, piece, sense, np.tile(np.arange(configs), 2 * pieces)):
            caps = answer.outcome.cap_mps is not None and answer.applies().any()
            if caps or (answer.verdict > 0).any():
                spoken.add(answer.rule)
    request = PlanRequest(site=DEMO / "site", machine=DEMO / "machines" / "middle.toml", from_place="G1", to_place="P6",
                          weather=Weather(ground="damp", temperature_c=8, wind_mps=4))  # fmt: skip
    spoken |= {finding.rule for finding in make_plan(request, workspace, outlook=False).plan.findings}  # corners
    assert built_rules() - spoken == set(SILENT)


BEAM = "beam_on_hook"
DAY = dt.date(2026, 11, 25)
ROUND_BY_R74 = ("closures:CL3:removed=true", "roads:R71:width_m=1")
ON_A_WAY: dict[str, tuple[str, str, str, str | None, str, tuple[str, ...], str]] = {
    # rule: machine, from, to, load, ground, amendments, where it stands in the plan
    "closure": ("small", "G1", "W10", BEAM, "damp", (), "blocked"),
    "edge-standoff": ("middle", "W8", "W7", None, "damp", ("edges:ED1:depth_m=30",), "unknown"),
    "hook-pace": ("middle", "G1", "U1", BEAM, "damp", (), "cap"),
    "one-way": ("small", "G1", "T8", BEAM, "damp", (), "blocked"),
    "passes": ("small", "P3", "W5", BEAM, "damp", (), "blocked"),
    "retard": ("small", "W2", "W1", None, "damp", (), "cap"),
    "side-slope": ("middle", "G1", "B1", BEAM, "damp", (), "caution"),
    "steer-load": ("middle", "G1", "U1", BEAM, "damp", (), "caution"),
    "stopping": ("middle", "W4", "W3", None, "mud", (), "blocked"),
    "twist": ("small", "W10", "W9", None, "damp", ROUND_BY_R74, "caution"),
}
"""Rules that the plans of README and maps do not meet: one plan of the demo each that does."""


@pytest.mark.parametrize("rule", ON_A_WAY)
def test_a_plan_of_the_demo_meets_the_rule(rule: str) -> None:
    machine, start, goal, load, ground, amend, where = ON_A_WAY[rule]
    request = plan_request(
        site=DEMO / "site",
        machine=DEMO / "machines" / f"{machine}.toml",
        load=DEMO / "loads" / f"{load}.toml" if load else None,
        from_place=start,
        to_place=goal,
        weather=f"ground={ground},temperature_c=8,wind_mps=4",
        amendments=amend,
        with_return=False,
    )
    with on_day(DAY):
        plan = make_plan(request, remedies="none", outlook=False).plan
    stands = {finding.verdict for finding in plan.findings if finding.rule == rule}
    stands |= {"cap" for leg in plan.legs for speed in leg.speeds if speed.rule == rule}
    assert where in stands
