"""The demo site is what its drawing says, reads without a doubt, and tells the story its README promises."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
import rasterio
import shapely

from tests import make_demo
from travel.readers.sheets import read_load, read_machine
from travel.readers.site import read_site
from travel.rulebook.loader import load_rulebook

DEMO = Path(make_demo.__file__).resolve().parent.parent / "demo_site"
PIPE, CULVERT, SLOPE = "R38", "R43", "R48"


@pytest.fixture(scope="module")
def drawing():
    return make_demo.build()


@pytest.fixture(scope="module")
def network(drawing):
    graph = nx.Graph()
    for road in drawing[1]:
        points = [tuple(np.round(p, 3)) for p in road.points]
        for a, b in pairwise(points):
            graph.add_edge(a, b, length_m=float(np.hypot(a[0] - b[0], a[1] - b[1])), road=road.id)
    return graph


def nearest(graph: nx.Graph, drawing, place: str) -> tuple[float, float]:
    x, y = next(row["Point"] for row in drawing[3]["places"] if row["id"] == place)
    return min(graph, key=lambda node: np.hypot(node[0] - x, node[1] - y))


def way(graph: nx.Graph, drawing, shut: set[str], to: str = "P1") -> tuple[float, set[str]]:
    open_ = nx.subgraph_view(graph, filter_edge=lambda a, b: graph[a][b]["road"] not in shut)
    ends = nearest(graph, drawing, "G1"), nearest(graph, drawing, to)
    path = nx.shortest_path(open_, *ends, weight="length_m")
    steps = list(pairwise(path))
    return sum(graph[a][b]["length_m"] for a, b in steps), {graph[a][b]["road"] for a, b in steps}


def test_committed_site_is_what_the_drawing_gives(tmp_path):
    make_demo.main(tmp_path / "site")
    names = sorted(p.name for p in (DEMO / "site").iterdir())
    assert names == sorted(p.name for p in (tmp_path / "site").iterdir())
    for name in set(names) - {"terrain.tif"}:
        assert (tmp_path / "site" / name).read_bytes() == (DEMO / "site" / name).read_bytes(), name
    with rasterio.open(tmp_path / "site" / "terrain.tif") as new, rasterio.open(DEMO / "site" / "terrain.tif") as old:
        assert new.transform == old.transform
        np.testing.assert_allclose(new.read(1), old.read(1), atol=0.0015)


def test_site_and_sheets_read_without_a_doubt():
    assert read_site(DEMO / "site", load_rulebook().vocabulary).doubts == ()
    for path in sorted((DEMO / "machines").glob("*.toml")):
        assert read_machine(path)[1] == (), path.name
    for path in sorted((DEMO / "loads").glob("*.toml")):
        assert read_load(path)[1] == (), path.name


@pytest.mark.parametrize("name", ["small", "middle", "large"])
def test_axle_loads_and_centre_of_gravity_agree(name):
    machine = read_machine(DEMO / "machines" / f"{name}.toml")[0]
    stowed = machine.attitude("stowed")
    total = sum(axle.load_kg for axle in machine.axles)
    assert total == stowed.mass_kg
    assert sum(axle.load_kg * axle.x_m for axle in machine.axles) / total == pytest.approx(stowed.cg_x_m, abs=0.01)


def test_roads_hang_together(network):
    assert nx.number_connected_components(network) == 1


def test_ways_to_the_first_pick_point_in_the_order_of_the_story(network, drawing):
    shut: set[str] = set()
    lengths = []
    for road in (PIPE, CULVERT, SLOPE):
        length_m, roads = way(network, drawing, shut)
        assert road in roads
        lengths.append(length_m)
        shut.add(road)
    assert lengths == sorted(lengths)
    assert "R69" in way(network, drawing, shut)[1]


def test_second_pick_point_is_reached_only_where_nobody_looked(network, drawing):
    with pytest.raises(nx.NetworkXNoPath):
        way(network, drawing, {"R59"}, "P2")


def test_slope_is_steep_and_its_changing_places_are_nearly_level(drawing):
    road = next(road for road in drawing[1] if road.id == SLOPE)
    line = next(line for line in drawing[0] if line.name == "Slope way")
    start = line.plan.project(shapely.Point(road.points[0]))

    def grade(at_m: float) -> float:
        ends = line.height(np.array([at_m - 2.0, at_m + 2.0]))
        return float(ends[1] - ends[0]) / 4.0

    along = np.arange(start + 2, start + road.plan.length - 2, 1.0)
    assert 0.165 < max(grade(at) for at in along) < 0.18
    for place in ("W1", "W2"):
        xy = next(row["Point"] for row in drawing[3]["places"] if row["id"] == place)
        assert abs(grade(line.plan.project(shapely.Point(xy)))) < 0.03
