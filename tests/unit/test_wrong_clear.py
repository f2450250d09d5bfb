"""One road that is clear, and what somebody might write on it by which it must not stay clear.

Every attempt starts from the same site, sheet and load, which :func:`test_the_road_alone_is_clear` shows to be clear,
and changes what it names. The rule in question must speak, on the feature in question, and the plan may not be better
than that rule.
"""

from __future__ import annotations

import copy
import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from tests import builders
from tests.memory_site import DATE, make_site
from tests.planning import DEMO, day_of, on_day, workspace_of
from travel.domain.layers import LAYERS
from travel.domain.plan import TravelPlan
from travel.domain.request import Acceptance, PlanRequest, TripConditions
from travel.domain.site import Weather
from travel.errors import InputError
from travel.service.cases import read_sheets
from travel.service.plan import make_plan

WORDS = ("clear", "caution", "unknown", "blocked")
AT = dt.datetime(2026, 3, 3, 10, 0, tzinfo=dt.UTC)
DRY = Weather(ground="dry", temperature_c=15.0, wind_mps=2.0)
WET = Weather(ground="wet", temperature_c=8.0, wind_mps=2.0)
BLOCKED = ("blocked",)
NOT_BETTER = ("unknown", "blocked")
ROAD: dict[str, Any] = {
    "id": "r", "xyz": [(0, 0, 0), (120, 0, 0)], "width_m": 8.0, "surface": "compacted_gravel", "traffic": "none",
    "edge_left": "none", "edge_right": "none", "lit": True, "sight_m": 100.0, "cross_slope_pct": 0.0,
    "roughness_m": 0.02, "bearing_kpa": 2000.0, "bearing_wet_kpa": 1500.0, "passes_done": 0, "speed_limit_kmh": 10.0,
}  # fmt: skip
PLACES = [
    {"id": "gate", "xyz": (0, 0), "kind": "gate", "may_stop": True, "turn_radius_m": 30.0},
    {"id": "pick", "xyz": (120, 0), "kind": "pick_point", "may_stop": True, "turn_radius_m": 30.0},
]
HEADER = {
    "jurisdiction": "gb",
    "tolerance": {"height_m": 0.03, "width_m": 0.05, "grade_pct": 0.5, "cross_slope_pct": 0.5, "plan_m": 0.1},
}


def _toml(name: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / name).read_text(encoding="utf-8"))


MACHINE = _toml("machines/middle.toml")
PALLET = _toml("loads/pallet_on_forks.toml")
BEAM = _toml("loads/beam_on_hook.toml")


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """What is changed, and which rule must say what about which feature."""

    rule: str
    verdicts: tuple[str, ...]
    feature: str | None = None
    missing: str = ""
    road: Mapping[str, Any] = field(default_factory=dict)
    header: Mapping[str, Any] = field(default_factory=dict)
    layers: Mapping[str, list[dict[str, Any]]] = field(default_factory=dict)
    undeclared: tuple[str, ...] = ()
    sheet: Mapping[str, Any] = field(default_factory=dict)
    load: Mapping[str, Any] | None = None
    back_load: Mapping[str, Any] | None = None
    weather: Weather = DRY
    ask: Mapping[str, Any] = field(default_factory=dict)


def sheet_with(changes: Mapping[str, Any]) -> dict[str, Any]:
    """Give the demo's sheet with values laid over it by key path; None leaves the key out."""
    content = copy.deepcopy(MACHINE)
    for path, value in changes.items():
        *parts, last = [int(part) if part.isdigit() else part for part in path.split("__")]
        table: Any = content
        for part in parts:
            table = table[part]
        if value is None:
            del table[last]
        else:
            table[last] = value
    return content


def planned(attempt: Attempt, folder: Path) -> TravelPlan:
    """Give the plan of the road with what the attempt changes."""
    layers = {"roads": [ROAD | dict(attempt.road)], "places": PLACES, **attempt.layers}
    site = make_site(
        layers.pop("roads"),
        layers.pop("places"),
        header=HEADER | dict(attempt.header),
        surveyed={name: {"date": DATE} for name in LAYERS if name not in attempt.undeclared},
        **layers,
    )
    ask: dict[str, Any] = {"at": AT, "weather": attempt.weather} | dict(attempt.ask)
    if attempt.load is not None:
        ask["load"] = _written(folder / "load.toml", attempt.load)
    if attempt.back_load is not None:
        load = _written(folder / "back.toml", attempt.back_load)
        ask |= {"with_return": True, "back": TripConditions(at=AT, weather=attempt.weather, load=load)}
    machine = _written(folder / "machine.toml", sheet_with(attempt.sheet))
    asked: dict[str, Any] = {"site": Path("memory"), "from_place": "gate", "to_place": "pick", "with_return": False}
    with on_day(day_of(site)):
        request = PlanRequest(machine=machine, **(asked | ask))
        return make_plan(request, workspace_of(site), remedies="none", outlook=False).plan


def _written(path: Path, content: Mapping[str, Any]) -> Path:
    path.write_text(builders.toml(content), encoding="utf-8")
    return path


def area(id_: str, x0: float, x1: float, y0: float = -5.0, y1: float = 5.0, **values: Any) -> dict[str, Any]:
    """Give a rectangle over the road."""
    return {"id": id_, "polygon": [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]} | values


def over(x: float = 60.0, **values: Any) -> list[dict[str, Any]]:
    """Give a structure across the road."""
    return [{"id": "o", "kind": "structure", "xy": [(x, -10), (x, 10)], "clearance_m": 6.0} | values]


def wire(**values: Any) -> list[dict[str, Any]]:
    """Give a power line whose owner has said all there is to say, 9 m above the road."""
    known = {"sag_m": 1.0, "sag_max_m": 1.0, "at_temperature_c": 15.0, "measured_at_c": 15.0, "half_spread_m": 0.5}
    own = {"id": "w", "kind": "power_line", "xy": [(60, -40), (60, 40)], "clearance_m": 9.0, "voltage_kv": 11.0}
    return [own | {"owner_clearance_m": 1.0} | known | values]


def limit(kind: str, **values: Any) -> dict[str, list[dict[str, Any]]]:
    """Give what a structure or a sign at the middle of the road allows."""
    return {"limits": [{"id": "b", "kind": kind, "road": "r", "xy": (60, 0)} | values]}


def pallet(**values: Any) -> dict[str, Any]:
    return PALLET | values


SLOPE = [(0, 0, 0), (120, 0, 14)]
HALVES = [
    ROAD | {"id": "a", "xyz": [(0, 0, 0), (60, 0, 0)]},
    ROAD | {"id": "b", "xyz": [(60, 0, 0.35), (120, 0, 0.35)]},
]
FAR = {"roads": [ROAD | {"xyz": [(0, 0, 0), (2000, 0, 0)]}], "places": [PLACES[0], PLACES[1] | {"xyz": (2000, 0)}]}
CREST = {
    "id": "e", "kind": "excavation", "xy": [(124, -5), (124, 5)], "depth_m": 3.0, "soil": "type_c", "batter_deg": 90.0,
    "supported": False, "inspected_on": "2026-03-03",
}  # fmt: skip
WALKERS = {"kind": "work_area"}

ATTEMPTS = {
    # over it
    "beam-told-high": Attempt(
        rule="headroom", verdicts=("unknown",), feature="o", layers={"overheads": over(clearance_m_method="told")}
    ),
    "beam-beside-a-benign-one": Attempt(
        rule="headroom",
        verdicts=BLOCKED,
        feature="o",
        layers={"overheads": [*over(id="high", clearance_m=9.0), *over(clearance_m=3.0)]},
    ),
    "soffit-over-one-side-only": Attempt(
        rule="headroom",
        verdicts=BLOCKED,
        feature="o",
        layers={"overheads": [area("o", 50, 70, 0.8, 5.0, kind="structure", clearance_m=2.9)]},
    ),
    "beam-behind-the-start": Attempt(
        rule="headroom", verdicts=BLOCKED, feature="o", layers={"overheads": over(-2.0, clearance_m=2.5)}
    ),
    "wide-span-lower-above-the-road-uphill": Attempt(
        rule="headroom",
        verdicts=NOT_BETTER,
        feature="o",
        road={"xyz": [(0, 0, 0), (120, 0, 10.8)]},
        layers={
            "overheads": over(clearance_m=None, attach_a_m=8.83, attach_b_m=8.83, sag_max_m=0.0, half_spread_m=3.0)
        },
    ),
    "load-higher-than-half-its-height": Attempt(
        rule="headroom",
        verdicts=BLOCKED,
        feature="o",
        layers={"overheads": over(clearance_m=3.5)},
        load=pallet(size_xyz_m=[1.0, 1.2, 2.7], z_m=1.4, cg_in_load_xyz_m=[0.5, 0.6, 0.3]),
    ),
    "load-hanging-down-to-the-ground": Attempt(
        rule="underbody",
        verdicts=NOT_BETTER,
        load=pallet(size_xyz_m=[1.0, 1.2, 1.5], cg_in_load_xyz_m=[0.5, 0.6, 0.95]),
    ),
    "beam-that-only-a-long-load-reaches": Attempt(
        rule="headroom",
        verdicts=BLOCKED,
        feature="o",
        layers={"overheads": over(124.5, clearance_m=0.6)},
        load=pallet(size_xyz_m=[5.0, 1.2, 1.0], cg_in_load_xyz_m=[0.5, 0.6, 0.5]),
    ),
    "beam-that-only-a-hanging-load-reaches": Attempt(
        rule="headroom",
        verdicts=BLOCKED,
        feature="o",
        layers={"overheads": over(125.5, clearance_m=1.0)},
        load=BEAM,
    ),
    "line-measured-at-no-known-temperature": Attempt(
        rule="line-clearance",
        verdicts=("unknown",),
        feature="w",
        missing="sag_max_m",
        layers={"overheads": wire(sag_m=None, sag_max_m=None, at_temperature_c=None, measured_at_c=None)},
    ),
    "line-of-no-voltage": Attempt(
        rule="line-clearance",
        verdicts=("unknown",),
        feature="w",
        missing="voltage_kv",
        layers={"overheads": wire(clearance_m=5.5, voltage_kv=0.0)},
    ),
    "live-pipe": Attempt(
        rule="line-clearance",
        verdicts=BLOCKED,
        feature="o",
        layers={"overheads": over(kind="pipe", clearance_m=3.5, voltage_kv=11.0, owner_clearance_m=1.0, sag_max_m=0.0)},
    ),
    "line-dead-only-for-the-first-half-hour": Attempt(
        rule="line-clearance",
        verdicts=BLOCKED,
        feature="w",
        layers={"overheads": wire(clearance_m=3.5, isolated_until="2026-03-03T10:30:00+00:00")},
        ask={"horizon_min": 60.0},
    ),
    "line-dead-only-until-just-after-the-drive": Attempt(
        rule="line-clearance",
        verdicts=BLOCKED,
        feature="w",
        layers={"overheads": wire(clearance_m=3.5, isolated_until="2026-03-03T10:01:00+00:00")},
    ),
    "line-far-enough-for-an-empty-machine": Attempt(
        rule="line-clearance",
        verdicts=BLOCKED,
        feature="w",
        header={"jurisdiction": "us"},
        layers={"overheads": wire(clearance_m=6.0, owner_clearance_m=0.1)},
        load=PALLET,
    ),
    "line-on-the-side-a-load-sticks-out": Attempt(
        rule="line-clearance",
        verdicts=BLOCKED,
        feature="w",
        road={"width_m": 14.0},
        layers={"overheads": wire(xy=[(-50, 6.5), (170, 6.5)], clearance_m=2.0, owner_clearance_m=2.0)},
        load=pallet(size_xyz_m=[1.0, 5.0, 1.0], cg_in_load_xyz_m=[0.5, 0.2, 0.5]),
    ),
    # beside it
    "post-in-the-road": Attempt(
        rule="width",
        verdicts=BLOCKED,
        feature="ob",
        layers={"obstacles": [{"id": "ob", "xy": (60, 1.0), "height_m": 1.5}]},
    ),
    "post-of-no-known-height-past-the-end": Attempt(
        rule="width", verdicts=NOT_BETTER, feature="ob", layers={"obstacles": [{"id": "ob", "xy": (122, 0)}]}
    ),
    "nobody-looked-for-obstacles": Attempt(
        rule="width", verdicts=("unknown",), missing="surveyed.obstacles", undeclared=("obstacles",)
    ),
    "gateway-narrower-than-a-load-set-aside": Attempt(
        rule="width",
        verdicts=BLOCKED,
        feature="b",
        layers=limit("gateway", width_m=3.6),
        load=pallet(size_xyz_m=[1.0, 1.8, 1.0], cg_in_load_xyz_m=[0.5, 0.9, 0.5], y_m=1.0),
    ),
    "excavation-past-the-end": Attempt(rule="edge-standoff", verdicts=BLOCKED, feature="e", layers={"edges": [CREST]}),
    "people-ahead-of-a-hanging-load": Attempt(
        rule="people",
        verdicts=("caution", *NOT_BETTER),
        feature="p",
        layers={"people": [area("p", 128, 131, -3, 3, **WALKERS)]},
        load=BEAM,
    ),
    "people-there-since-yesterday-night": Attempt(
        rule="people",
        verdicts=("caution", *NOT_BETTER),
        feature="p",
        layers={"people": [area("p", 55, 65, **WALKERS, from_time="22:00", until_time="11:00", days="mon")]},
    ),
    # under it
    "soft-patch-under-one-wheel-among-good-ones": Attempt(
        rule="bearing",
        verdicts=BLOCKED,
        feature="soft",
        layers={
            "ground": [
                area("firm", 50, 70, bearing_kpa=2000.0, bearing_wet_kpa=1500.0),
                area("soft", 55, 65, 0.8, 3.0, bearing_kpa=50.0, bearing_wet_kpa=50.0),
            ]
        },
    ),
    "soft-patch-under-the-rear-axle-at-the-start": Attempt(
        rule="bearing",
        verdicts=BLOCKED,
        feature="soft",
        layers={"ground": [area("soft", -3.5, -2.0, -3, 3, bearing_kpa=50.0, bearing_wet_kpa=50.0)]},
    ),
    "snow-laid-over-a-paved-slope": Attempt(
        rule="grip",
        verdicts=BLOCKED,
        road={"xyz": SLOPE, "surface": "asphalt"},
        layers={"ground": [area("s", 50, 70, bearing_kpa=2000.0, bearing_wet_kpa=1500.0, surface="snow")]},
        weather=WET,
    ),
    "bridge-for-the-machine-but-not-for-its-way-back": Attempt(
        rule="posted-load",
        verdicts=BLOCKED,
        feature="b",
        layers=limit("bridge", gross_kg=17000.0),
        back_load=PALLET,
    ),
    "slab-whose-corner-one-wheel-may-meet": Attempt(
        rule="posted-load",
        verdicts=BLOCKED,
        feature="b",
        layers={"limits": [area("b", 55, 65, 1.3, 5.0, kind="slab", wheel_kg=3000.0)]},
    ),
    "service-whose-cover-somebody-told": Attempt(
        rule="buried-service",
        verdicts=("unknown",),
        feature="b",
        layers=limit("buried_service", cover_m=3.0, cover_m_method="told"),
    ),
    # slopes
    "steep-for-a-metre-only": Attempt(
        rule="grade-limit",
        verdicts=NOT_BETTER,
        road={"xyz": [(0, 0, 0), (60, 0, 0), (61, 0, 0.3), (120, 0, 0.3)]},
    ),
    "step-where-two-roads-meet": Attempt(rule="grade-limit", verdicts=NOT_BETTER, layers={"roads": HALVES}),
    "cross-slope-somebody-assumed-under-a-beam": Attempt(
        rule="headroom",
        verdicts=("unknown",),
        feature="o",
        road={"cross_slope_pct_method": "assumed"},
        layers={"overheads": over(clearance_m=3.5)},
    ),
    # state and time
    "turret-that-may-travel-aft-only": Attempt(
        rule="carry-capacity", verdicts=NOT_BETTER, sheet={"turret__travel": ["aft"]}, load=PALLET
    ),
    "axle-without-a-word-beside-one-that-does-not-swing": Attempt(
        rule="twist",
        verdicts=("unknown",),
        missing="machine.axles.oscillating",
        sheet={
            "axles__0__oscillating": False,
            "axles__1__oscillating": None,
            "axles__1__stop_deg": None,
            "axles__1__pivot_height_m": None,
        },
    ),
    "turret-that-may-travel-in-no-position": Attempt(
        rule="attitude", verdicts=("unknown",), missing="machine.turret.travel", sheet={"turret__travel": []}
    ),
    "sheet-silent-on-its-turret": Attempt(
        rule="attitude", verdicts=("unknown",), missing="machine.turret.travel", sheet={"turret": None}
    ),
    "table-read-between-two-lengths": Attempt(
        rule="carry-capacity", verdicts=BLOCKED, load=pallet(mass_kg=3500.0, x_m=2.8)
    ),
    "closure-after-a-horizon-shorter-than-the-drive": Attempt(
        rule="closure",
        verdicts=BLOCKED,
        feature="c",
        layers=FAR | {"closures": [area("c", 1950, 1980, closed_from="2026-03-03T10:08:00+00:00")]},
        ask={"horizon_min": 1.0},
    ),
    "places-nobody-looked-at": Attempt(
        rule="survey-age", verdicts=("unknown",), missing="surveyed.places", undeclared=("places",)
    ),
}


@pytest.mark.parametrize("load", [None, PALLET, BEAM], ids=["stowed", "forks", "hook"])
def test_the_road_alone_is_clear(load: Mapping[str, Any] | None, tmp_path: Path) -> None:
    plan = planned(Attempt(rule="", verdicts=(), load=load), tmp_path)
    assert (plan.outcome, plan.verdict, plan.findings) == ("way", "clear", ())


@pytest.mark.parametrize("attempt", ATTEMPTS.values(), ids=ATTEMPTS)
def test_the_rule_speaks_and_the_plan_is_no_better(attempt: Attempt, tmp_path: Path) -> None:
    plan = planned(attempt, tmp_path)
    spoken = [f for f in plan.findings if f.rule == attempt.rule and attempt.missing in ("", *f.missing)]
    if attempt.feature is not None:
        spoken = [f for f in spoken if f.where.feature == attempt.feature]
    assert spoken, f"{attempt.rule} says nothing of {attempt.feature}: {[(f.rule, f.verdict) for f in plan.findings]}"
    worst = max((f.verdict for f in spoken), key=WORDS.index)
    assert worst in attempt.verdicts
    assert WORDS.index(plan.verdict) >= WORDS.index(worst)
    assert (plan.outcome == "no_way") == (plan.verdict == "blocked")


def test_low_range_of_a_loaded_attitude_is_not_the_stowed_one(tmp_path: Path) -> None:
    """Without the maker's threshold the high range is not taken up a grade of 10 %, also below the stowed 12 %."""
    forks = {key: value for key, value in MACHINE["limits"]["forks"].items() if key != "low_range_above_pct"}
    attempt = Attempt(
        rule="gear-for-grade",
        verdicts=(),
        road={"xyz": [(0, 0, 0), (120, 0, 12)]},
        sheet={"limits__forks": forks},
        load=PALLET,
    )
    plan = planned(attempt, tmp_path)
    assert [leg.range for leg in plan.legs if leg.verdict == "clear"] == ["low"] * len(plan.legs)
    judged = {j.verdict for j in plan.judged if j.rule == "gear-for-grade"}
    assert judged & set(NOT_BETTER)


def test_an_outline_that_leaves_out_the_tail_is_a_fault(tmp_path: Path) -> None:
    attempt = Attempt(rule="headroom", verdicts=(), sheet={"attitudes__0__top_xz_m": [[0.0, 2.0], [1.0, 2.0]]})
    with pytest.raises(InputError, match="top_xz_m"):
        planned(attempt, tmp_path)


def test_a_way_back_before_the_way_out_is_a_fault(tmp_path: Path) -> None:
    back = TripConditions(at=AT - dt.timedelta(hours=2), weather=DRY)
    with pytest.raises(InputError, match=r"back\.at"):
        planned(Attempt(rule="", verdicts=(), ask={"with_return": True, "back": back}), tmp_path)


UNKNOWN_GROUND = Attempt(
    rule="attitude",
    verdicts=(),
    sheet={"turret__travel": []},
    layers={"overheads": wire(voltage_kv=None, clearance_m=5.0)},
)


@pytest.mark.parametrize("rule", ["", "line-clearance"])
def test_an_acceptance_that_accepts_nothing_is_said(rule: str, tmp_path: Path) -> None:
    """An id no finding has, and one of a line's voltage, which nobody may accept; the plan stays as it was."""
    before = planned(UNKNOWN_GROUND, tmp_path)
    own = next(f.id for f in before.findings if f.rule == (rule or "attitude"))
    asked = own if rule else f"{own}x"
    after = planned(replace(UNKNOWN_GROUND, ask={"accept_unknown": (Acceptance(id=asked, reason="seen"),)}), tmp_path)
    assert [asked in doubt for doubt in after.doubts].count(True) == 1
    assert not any(f.accepted for f in after.findings)
    assert after.verdict == before.verdict == "unknown"


def test_an_acceptance_that_holds_raises_no_doubt(tmp_path: Path) -> None:
    attempt = Attempt(rule="attitude", verdicts=(), sheet={"turret__travel": []})
    own = next(f.id for f in planned(attempt, tmp_path).findings)
    plan = planned(replace(attempt, ask={"accept_unknown": (Acceptance(id=own, reason="pin seen in"),)}), tmp_path)
    assert plan.doubts == ()
    assert [f.accepted for f in plan.findings] == ["pin seen in"]


@pytest.mark.parametrize(("radius_m", "doubts"), [(3.0, 1), (6.0, 0)])
def test_a_hook_nearer_than_the_boom_is_drawn_is_a_doubt(radius_m: float, doubts: int, tmp_path: Path) -> None:
    machine = _written(tmp_path / "machine.toml", MACHINE)
    load = _written(tmp_path / "beam.toml", BEAM | {"radius_m": radius_m})
    assert len(read_sheets(machine, load, None).doubts) == doubts


ACROSS = ROAD | {"id": "b", "xyz": [(60, -40, 2.5), (60, 40, 2.5)], "level": 1}
SIDE = ROAD | {"id": "b", "xyz": [(0, 30, 0), (120, 30, 0)]}
PIPE = {"id": "o", "kind": "pipe", "xy": [(60, -10), (60, 40)], "clearance_m": 6.0, "road": "r"}


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ({"roads": [ROAD, ACROSS]}, "passes over road r"),
        ({"roads": [ROAD, ROAD | {"id": "b", "xyz": [(20, 0, 0), (90, 0, 0)], "width_m": 2.0}]}, "lies on road"),
        ({"roads": [ROAD, ACROSS], "overheads": over(clearance_m=4.5)}, ""),
        ({"roads": [ROAD, SIDE], "overheads": [PIPE]}, "drawn over b too"),
        ({"roads": [ROAD, SIDE], "overheads": [PIPE | {"road": None}]}, ""),
        ({"roads": [ROAD, SIDE], "overheads": [PIPE | {"xy": [(60, -10), (60, 10)]}]}, ""),
    ],
)
def test_what_may_hang_over_a_road_unasked_is_a_doubt(
    layers: Mapping[str, list[dict[str, Any]]], said: str, tmp_path: Path
) -> None:
    doubts = planned(Attempt(rule="headroom", verdicts=(), layers=layers), tmp_path).doubts
    assert [said in doubt for doubt in doubts] == ([True] if said else [])


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"attitudes__0__cg_z_m": 0.13}, "cg_z_m"), ({"attitudes__0__cg_x_m": -0.2}, "cg_x_m")],
)
def test_a_centre_of_gravity_that_cannot_be_is_a_fault(changes: Mapping[str, Any], field: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=field):
        planned(Attempt(rule="tip", verdicts=(), sheet=changes), tmp_path)
