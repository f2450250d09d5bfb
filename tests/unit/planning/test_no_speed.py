"""Where it is not known whether people bar a stretch, and there is no speed from which the machine stands before them,
time is reckoned with the least steady speed: hours of creeping would put every hour of the day into the plan.
"""

from __future__ import annotations

import copy
import datetime as dt
from pathlib import Path

from tests import builders
from tests.memory_site import make_site
from tests.planning import plan_of
from tests.property.test_plan_properties import strong
from tests.unit.planning.remedy_cases import PLACES, straight
from travel.domain.request import TripConditions

EIGHT = dt.datetime(2026, 3, 3, 8, tzinfo=dt.UTC)
LUNCH = {"id": "p", "polygon": [(40, -5), (60, -5), (60, 5), (40, 5)], "kind": "work_area", "from_time": "12:00",
         "until_time": "13:00"}  # fmt: skip


def test_time_is_no_creeping_where_no_speed_is_known(tmp_path: Path) -> None:
    machine = strong()
    machine["attitudes"].append(copy.deepcopy(machine["attitudes"][0]) | {"name": "forks"})
    machine["limits"]["forks"] = {"grade_pct": 20.0, "cross_slope_pct": 6.0}
    machine["carrying"] = [{"support": "tyres_moving", "how": "forks", "sector": "front", "slope_max_pct": 10.0,
                            "x_m": 2.4, "capacity_kg": 3000.0}]  # fmt: skip
    load = builders.write_load(tmp_path / "load.toml")  # not where in it its centre of gravity is
    site = make_site([straight(rise=6.0)], PLACES, people=[LUNCH])
    late = TripConditions(at=EIGHT + dt.timedelta(hours=4), load=load)
    plan = plan_of(site, "gate", "pick", machine, at=EIGHT, load=load, back=late, with_return=True)
    assert plan.outcome == "way"
    assert {f.trip for f in plan.findings if f.rule == "people"} == {"back"}
    slow = [(speed.to_m - speed.from_m, speed.speed_kmh) for leg in plan.legs for speed in leg.speeds]
    assert min(kmh for _, kmh in slow) == 0.0
    assert plan.trips[-1].time_s < 100.0 / (1.0 / 3.6) + 200.0
