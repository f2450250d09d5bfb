"""What ``travel reach`` takes on a large site, part by part: ``python tests/benchmarks/reach.py``.

A network of bent roads 6 to 10 m wide with 200 places on it. What is built (site, survey, rules, corners on the ways)
is told apart from what is searched on it: one way, every place, and the widest ways.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.memory_site import make_site
from tests.planning import DEMO, case_of
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.planning.reach_sizes import greatest_sizes
from travel.planning.trips import prepare
from travel.readers.sheets import read_machine
from travel.routing.reach import driven_on, reached, widest
from travel.routing.search import find_way

SIDE, BLOCK_M, PLACES = 18, 100.0, 200
ROAD = {
    "surface": "asphalt", "one_way": "no", "level": 0, "traffic": "none", "edge_left": "verge", "edge_right": "verge",
    "roughness_m": 0.01, "bearing_kpa": 1500.0, "bearing_wet_kpa": 1500.0, "proven_axle_kg": 11500.0,
    "proven_gross_kg": 44000.0, "sight_m": 200.0, "lit": True, "passes_done": 100, "cross_slope_pct": 0.0,
}  # fmt: skip


def network() -> Site:
    """Build the site."""
    rng = np.random.default_rng(5)
    corner = np.stack(np.meshgrid(np.arange(SIDE + 1), np.arange(SIDE + 1), indexing="ij"), -1) * BLOCK_M
    corner = corner + rng.uniform(-15.0, 15.0, corner.shape)
    height = 10.0 + 2.0 * np.sin(np.arange(SIDE + 1) / 3.0)[:, None] + 2.0 * np.cos(np.arange(SIDE + 1) / 4.0)
    points = np.concatenate((corner, height[..., None]), axis=-1)
    roads = []
    for i, j in np.ndindex(SIDE + 1, SIDE + 1):
        for di, dj in ((1, 0), (0, 1)):
            if i + di > SIDE or j + dj > SIDE:
                continue
            share = np.linspace(0.0, 1.0, 9)[:, None]
            line = points[i, j] + share * (points[i + di, j + dj] - points[i, j])
            line[1:-1, :2] += rng.uniform(-1.0, 1.0, (7, 2))
            roads.append({"id": f"r{len(roads)}", "xyz": line.tolist(), "width_m": rng.uniform(6.0, 10.0), **ROAD})
    spots = points.reshape(-1, 3)[rng.permutation(len(points) ** 2)[:PLACES], :2]
    places = [
        {"id": f"p{k}", "xy": tuple(spot), "kind": "pick_point" if k else "gate", "may_stop": True}
        for k, spot in enumerate(spots)
    ]
    return make_site(roads, places)


def main() -> None:
    """Print what each part takes."""
    site, since = network(), [time.process_time()]

    def tell(what: str) -> None:
        print(f"{time.process_time() - since[0]:8.3f} s  {what}")
        since[0] = time.process_time()

    since[0] = time.process_time()
    prepared = prepare(case_of(site, read_machine(DEMO / "machines" / "large.toml")[0]))
    case, graph = prepared.case, prepared.graph
    tell(f"survey and rules: {len(case.survey.pieces)} pieces, {len(case.configurations)} configurations")
    nodes = case.survey.network.place_node
    start, goals = nodes["p0"], {node for place, node in nodes.items() if place != "p0"}
    found = reached(graph, start, Verdict.CAUTION, goals)
    tell(f"corners on the ways to {len(goals)} places, looked at once: {len(found)} places are reached")
    reached(graph, start, Verdict.CAUTION, goals)
    tell("every place searched on what is built")
    took = []
    for goal in goals:
        before = time.process_time()
        find_way(graph, start, goal, Verdict.CAUTION)
        took.append(time.process_time() - before)
    print(f"{np.median(took):8.3f} s  one place searched, the median; {max(took):.3f} s the dearest")
    since[0] = time.process_time()
    widest(driven_on(graph.tail, graph.head, len(graph.leaving)), [1.0] * len(graph.tail), (np.inf,), start)
    tell("one widest way to every place")
    greatest_sizes(prepared, start)
    tell("greatest mass, height and width: nearly all of it corners tried at other widths")


if __name__ == "__main__":
    main()
