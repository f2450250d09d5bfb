"""Plans up a real hill, from files: who is allowed enough gets up, who is not is stopped, between them nobody knows.

Real are the centrelines and the height grid (``tests/data/maunga_whau/SOURCE.md``). Invented, by this test, because
nobody measured them: room to turn everywhere, widths, surfaces, edges, cross slopes, roughness, bearing, traffic,
sight, the survey declarations and the machine, which is generous in everything but the grade it is permitted. The
surface is asphalt: on gravel `curve-speed` shuts a bend of road w270, whose vertices are drawn too sharp.
"""

from __future__ import annotations

import datetime as dt
import json
import shutil
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from tests import builders
from tests.planning import on_day
from tests.real_hill import CHORD_M, CRS, DATA, VERTICAL_SD_M, bottleneck, by_hand, half_band, lowest_and_highest, roads
from travel.checks import close_id
from travel.domain.layers import LAYERS
from travel.domain.plan import TravelPlan
from travel.domain.request import Acceptance, PlanRequest
from travel.domain.site import Weather
from travel.service.cases import make_case, read_sheets
from travel.service.plan import exit_code, make_plan
from travel.service.workspace import Workspace
from travel.survey.corners import find_corners

WINDOW_M = 40.0
AIR = {"temperature_c": 15.0, "wind_mps": 2.0}
DAY = dt.date(2026, 5, 4)
SET = {"width_m": 6.0, "surface": "asphalt", "cross_slope_pct": 0.0, "traffic": "none", "bearing_kpa": 2000.0,
       "bearing_wet_kpa": 2000.0, "roughness_m": 0.0, "sight_m": 500.0, "lit": True, "passes_done": 0,
       "edge_left": "kerb", "edge_right": "kerb"}  # fmt: skip
TRICK = 0.005
"""What the program's sampling and the test's may differ in the grade, beside the chord: rounding of the way's parts."""


@lru_cache(maxsize=1)
def to_lonlat() -> Transformer:
    return Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True)


def lonlat(x: float, y: float) -> list[float]:
    lon, lat = to_lonlat().transform(x, y)
    return [round(lon, 10), round(lat, 10)]


def to_lonlat_ring(area: shapely.Polygon) -> list[list[float]]:
    return [lonlat(x, y) for x, y in shapely.get_coordinates(area.envelope)]


def write_site(folder: Path, **values: Any) -> Path:
    """Write the hill as a site of GeoJSON files; ``values`` replace what every road is given (None = left out)."""
    given = {k: v for k, v in (SET | values).items() if v is not None}
    header = {
        "name": "real hill",
        "crs": CRS,
        "surveyed_on": DAY,
        "surveyed": {name: {"date": DAY} for name in LAYERS},
        "tolerance": {"width_m": 0.1, "cross_slope_pct": 0.0, "plan_m": 0.1, "height_m": 0.1, "grade_pct": 1.0},
        "window_m": WINDOW_M,
        "terrain": {"file": "terrain.tif", "vertical_sd_m": VERTICAL_SD_M},
    }
    builders.write_site(folder, header=header, **{name: [] for name in LAYERS})
    shutil.copy(DATA / "terrain.tif", folder / "terrain.tif")
    lines = [
        _feature(f"w{k}", "LineString", [lonlat(*p) for p in shapely.get_coordinates(line)], given)
        for k, line in enumerate(roads())
    ]
    low, high = lowest_and_highest(by_hand(WINDOW_M))
    stand = {"may_stop": True, "turn_radius_m": 30.0}
    places = [
        _feature("foot", "Point", lonlat(*low), {"kind": "gate"} | stand),
        _feature("summit", "Point", lonlat(*high), {"kind": "pick_point"} | stand),
    ]
    free = to_lonlat_ring(shapely.union_all(roads()).envelope.buffer(50.0))
    ground = [_feature("free", "Polygon", [free], {"use": "free_ground"})]
    for name, features in (("roads", lines), ("places", places), ("areas", ground)):
        (folder / f"{name}.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return folder


def _feature(id_: str, kind: str, coordinates: Any, values: dict[str, Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": {"id": id_} | values, "geometry": geometry}


def write_machine(path: Path, permitted_pct: float) -> Path:
    """Write a machine that lacks nothing but permission: low, with a high belly, wide, strong, braked and driven."""
    pull = [[0.0, 200.0], [6.0, 150.0]]
    changes = {f"axles__{i}__{k}": v for i in (0, 1) for k, v in
               (("squash_m", 0.0), ("track_m", 2.3), ("over_tyres_m", 2.5), ("parking_braked", True))}  # fmt: skip
    return builders.write_machine(
        path,
        **changes,
        axles__1__stop_deg=12.0,
        attitudes__0__cg_z_m=0.6,
        attitudes__0__cg_tolerance_m=0.0,
        attitudes__0__width_z_m=[[0.0, 2.5]],
        attitudes__0__under_xz_m=[[1.6, 1.0], [-4.6, 1.0]],
        limits={"grade_pct": permitted_pct, "cross_slope_pct": 30.0, "low_range_above_pct": 0.0},
        capability=None,
        gears=[
            {"name": "L1", "travel": "forward", "range": "low", "top_kmh": 6.0, "pull_kn": pull},
            {"name": "R1", "travel": "reverse", "range": "low", "top_kmh": 6.0, "pull_kn": pull},
        ],
        brakes={"service_mps2": 7.0, "lag_s": 0.1, "parking_grade_pct": 90.0},
        retarding={"kind": "hydrostatic", "power_kw": 1000.0},
        power_kw=300.0,
        steering=[{"mode": "front", "lock_deg": 45.0, "top_kmh": 25.0}],
        view=[{"sector_deg": [0.0, 360.0], "kind": "clear"}],
    )


@pytest.fixture(scope="module")
def hill(tmp_path_factory) -> Path:
    return write_site(tmp_path_factory.mktemp("hill") / "site")


def up(site: Path, permitted_pct: float, folder: Path) -> TravelPlan:
    """Plan; corners so close that nobody knows them driven as one are accepted, as who has driven there would."""
    machine, weather = write_machine(folder / "machine.toml", permitted_pct), Weather(ground="dry", **AIR)
    with on_day(DAY):
        case = make_case(Workspace(path=site), read_sheets(machine).machine, None, weather=weather)
    corners, reason = find_corners(case.survey), "driven last year with the same machine"
    names = {close_id(case, corners, row) for row in range(len(corners))}
    request = PlanRequest(
        site=site,
        machine=machine,
        from_place="foot",
        to_place="summit",
        with_return=False,
        weather=weather,
        accept_unknown=tuple(Acceptance(id=name, reason=reason) for name in sorted(names)),
    )
    with on_day(DAY):
        return make_plan(request).plan


@lru_cache(maxsize=1)
def least_and_most() -> tuple[float, float]:
    """Give, in percent, what a permission must be under to be surely too little, and over to be surely enough.

    A chain shorter than the window takes its whole rise with the uncertainty of its own length; the way is the one
    that asks least, first with every grade as much less as it may be, then as much more.
    """
    own = CHORD_M / WINDOW_M + TRICK
    answers = []
    for sign in (-1.0, 1.0):
        graph = by_hand(WINDOW_M).copy()
        for _, _, data in graph.edges(data=True):
            data["grade"] += sign * (half_band(min(WINDOW_M, data["length"])) + own)
        answers.append(100 * bottleneck(graph)[0])
    return answers[0], answers[1]


def test_own_numbers_are_those_of_the_table():
    b, length = bottleneck(by_hand(WINDOW_M))
    less, more = least_and_most()
    assert 100 * b == pytest.approx(28.2, abs=0.3)
    assert round(length) == 1171
    assert less < 100 * b - 3.4
    assert more > 100 * b + 3.4


def test_allowed_clearly_more_gets_up(hill, tmp_path):
    enough = least_and_most()[1] + 2.0
    plan = up(hill, enough, tmp_path)
    others = {f.rule for f in plan.findings if f.verdict in ("unknown", "blocked") and not f.accepted}
    assert plan.outcome == "way", [near.stopped_by for near in plan.nearest]
    assert others == set()
    assert plan.verdict in ("clear", "caution")
    assert plan.trips[0].length_m >= 1171 - 1.0, "no way up is shorter than the one with the least steepest grade"
    assert plan.trips[0].climb_m >= 192 - 94 - 1
    steepest = max(abs(g) for g in plan.profile[0].grade_pct if g is not None)
    b, _ = bottleneck(by_hand(WINDOW_M))
    assert 100 * (b - CHORD_M / WINDOW_M - TRICK) <= steepest <= enough


def test_allowed_clearly_less_is_stopped_by_its_grade(hill, tmp_path):
    plan = up(hill, least_and_most()[0] - 1.0, tmp_path)
    assert (plan.outcome, exit_code(plan)) == ("no_way", 1)
    assert {by["rule"] for near in plan.nearest for by in near.stopped_by} == {"grade-limit"}
    assert {f.rule for f in plan.findings if f.verdict == "blocked"} == {"grade-limit"}
    (near,) = plan.nearest
    assert near.remaining_m is not None
    assert 0 < near.remaining_m < 1171


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_between_nobody_knows(hill, tmp_path, share):
    less, more = least_and_most()
    permitted = less + share * (more - less)
    plan = up(hill, permitted, tmp_path)
    assert (plan.outcome, plan.verdict, exit_code(plan)) == ("way", "unknown", 3)
    unknown = [f for f in plan.findings if f.verdict == "unknown" and not f.accepted]
    assert {(f.rule, f.reason) for f in unknown} == {("grade-limit", "within_tolerance")}
    lengths = [data["length"] for _, _, data in by_hand(WINDOW_M).edges(data=True)]
    bands = 100 * np.array([half_band(min(WINDOW_M, length)) for length in lengths])
    for finding in unknown:
        assert np.isclose(bands, finding.tolerance, rtol=1e-4).any()
        assert finding.capacity == pytest.approx(permitted)
        assert abs(permitted - finding.demand) <= finding.tolerance


@pytest.mark.parametrize("column", ["width_m", "surface", "cross_slope_pct", "roughness_m", "traffic"])
def test_what_nobody_measured_is_unknown(tmp_path, column):
    site = write_site(tmp_path / "site", **{column: None})
    plan = up(site, least_and_most()[1] + 2.0, tmp_path)
    assert (plan.outcome, plan.verdict, exit_code(plan)) == ("way", "unknown", 3)
    assert any(column in f.missing for f in plan.findings)
    assert plan.trips[0].clear_m == pytest.approx(0.0, abs=1.0)


def test_the_hill_alone_is_unknown(tmp_path):
    """Only what is real: centrelines and heights."""
    site = write_site(tmp_path / "site", **dict.fromkeys(SET))
    plan = up(site, least_and_most()[1] + 2.0, tmp_path)
    assert plan.verdict == "unknown"
    assert plan.trips[0].clear_m == plan.trips[0].caution_m == 0.0
    for column in ("width_m", "surface", "cross_slope_pct", "bearing_kpa", "traffic"):
        assert any(column in f.missing for f in plan.findings), column


def test_the_way_drawn_is_on_the_roads(hill, tmp_path):
    enough = least_and_most()[1] + 2.0
    plan = up(hill, enough, tmp_path)
    network = shapely.union_all(roads()).buffer(0.02)
    back = Transformer.from_crs("OGC:CRS84", CRS, always_xy=True)
    for leg in plan.legs:
        path = np.array([point[:2] for point in leg.path_lonlat])
        assert network.covers(shapely.LineString(np.column_stack(back.transform(path[:, 0], path[:, 1]))))
