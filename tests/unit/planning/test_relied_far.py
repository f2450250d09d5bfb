"""What counts from beyond the corridor of a way is relied on too: wires by their distance, crests, carried mud."""

from __future__ import annotations

from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import case_of, plan_of, sheet
from tests.unit.planning.remedy_cases import FLAT, KNOWN, PLACES, site_with, straight
from travel.domain.plan import TravelPlan
from travel.domain.site import Site, Weather
from travel.planning.differences import relied_changes
from travel.planning.relied import Basis, corridor_from, journey_of, relied_on

WET = Weather(ground="wet", temperature_c=8.0, wind_mps=2.0)
DRY = Weather(ground="dry", temperature_c=8.0, wind_mps=2.0)
LINE: dict[str, Any] = {
    "id": "w", "kind": "power_line", "xy": [(-30, 55), (130, 55)], "clearance_m": 9.0, "voltage_kv": 11.0,
    "owner_clearance_m": 3.0, "sag_m": 1.0, "sag_max_m": 1.0, "at_temperature_c": 10.0, "measured_at_c": 10.0,
    "half_spread_m": 1.0,
}  # fmt: skip
PIT: dict[str, Any] = {"id": "e", "kind": "excavation", "xy": [(20, 50), (80, 50)], "depth_m": 3.0}


def planned(site: Site, weather: Weather = DRY) -> TravelPlan:
    return plan_of(site, "gate", "pick", sheet(**KNOWN), weather=weather)


def fallen(plan: TravelPlan, now: Site, weather: Weather = DRY) -> list[tuple[str, str, str]]:
    """Give what of a plan's rows is not as it is now."""
    case = case_of(now, sheet(**KNOWN), weather=weather)
    basis = Basis(site=now, rulebook=case.rulebook, machine=case.machine, journeys=(journey_of(case),))
    corridor = next(corridor_from(row.values) for row in plan.relied_on if row.layer == "corridor")
    return [(c.layer, c.feature, c.kind) for c in relied_changes(plan.relied_on, relied_on(corridor, basis))]


@pytest.mark.parametrize("change", [
    {"owner_clearance_m": 65.0}, {"half_spread_m": 50.0}, {"sag_m": 75.0, "sag_max_m": 75.0}
])  # fmt: skip
def test_a_line_that_now_counts_from_further_off_than_the_corridor_is_wide(change: dict[str, float]) -> None:
    plan, now = planned(site_with(overheads=[LINE])), site_with(overheads=[LINE | change])
    assert "line-clearance" in {f.rule for f in planned(now).findings}
    assert ("overheads", "w", "new") in fallen(plan, now)
    assert fallen(plan, site_with(overheads=[LINE | {"owner_clearance_m": 4.0}])) == []
    assert fallen(planned(now), now) == []


def test_a_pit_dug_deeper_than_it_is_far_off() -> None:
    plan, now = planned(site_with(edges=[PIT])), site_with(edges=[PIT | {"depth_m": 40.0}])
    assert "edge-standoff" in {f.rule for f in planned(now).findings}
    assert ("edges", "e", "new") in fallen(plan, now)
    assert fallen(plan, site_with(edges=[PIT | {"depth_m": 3.5}])) == []


def yard(**track: Any) -> Site:
    """Give the straight paved road, 60 m more of it beyond the pick point, then a track."""
    more = [
        {"id": "r2", "xyz": [(100, 0, 10), (160, 0, 10)], **FLAT},
        {"id": "track", "xyz": [(160, 0, 10), (220, 0, 10)], **FLAT, **track},
    ]
    return make_site([straight(), *more], PLACES)


def test_mud_from_a_track_beyond_the_corridor() -> None:
    plan, now = planned(yard(), WET), yard(surface="clay")
    grips = [{c.rule: c.smallest_margin for c in each.checked}["grip"] for each in (plan, planned(now, WET))]
    assert grips[1] < grips[0]
    assert fallen(plan, now, WET) == [("mud", "surfaces further off", "changed")]
    assert fallen(plan, yard(width_m=5.0), WET) == []
    assert fallen(planned(now, WET), now, WET) == []
    assert fallen(planned(yard(), DRY), now, DRY) == []  # dry clay gives none
