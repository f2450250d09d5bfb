"""What the site itself does to keep people apart reaches the condition of that rule, and no other."""

from __future__ import annotations

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of
from travel.domain.site import Weather

ROAD = {
    "id": "r", "xyz": [(0, 0, 0), (80, 0, 0)], "width_m": 6.0, "surface": "asphalt", "cross_slope_pct": 0.0,
    "roughness_m": 0.0, "sight_m": 200.0, "traffic": "none", "lit": True, "edge_left": "kerb", "edge_right": "kerb",
}  # fmt: skip
PLACES = [
    {"id": "G", "xy": (0, 0), "kind": "gate", "may_stop": True},
    {"id": "P", "xy": (80, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 20.0},
]


@pytest.mark.parametrize("own", ["fenced, gate locked", None])
def test_the_sites_own_control_is_named(own: str | None) -> None:
    walkers = {"id": "PE9", "kind": "walkway", "xy": [(40, 4), (60, 4)], "control": own}
    plan = plan_of(make_site([ROAD], PLACES, people=[walkers]), "G", "P")
    met = [finding for finding in plan.findings if finding.rule == "people" and finding.control]
    assert met
    said = {item.id: item.text for item in plan.conditions if item.kind == "control"}
    usual = "people-kept-out"
    assert usual in said
    assert ("PE9: fenced, gate locked" in said[usual]) == (own is not None)
    assert all("fenced" not in text for name, text in said.items() if name != usual)


@pytest.mark.parametrize(
    ("ground", "celsius", "told"), [("wet", -5.0, True), ("wet", 3.0, False), ("dry", -5.0, False)]
)
def test_moist_ground_below_freezing_is_named(ground: str, celsius: float, told: bool) -> None:
    weather = Weather(ground=ground, temperature_c=celsius, wind_mps=2.0)
    plan = plan_of(make_site([ROAD], PLACES), "G", "P", weather=weather)
    (said,) = [item.text for item in plan.conditions if item.kind == "weather"]
    assert ("ice" in said) == told
