"""How long all rules take over 100 000 pieces in every configuration: ``python tests/benchmarks/rules.py [pieces]``.

Prints the survey, the whole fold, each part of each rule alone (the second time it is asked: with what it keeps for
later already there, and the first time), graph and search, and the greatest memory of the process.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.memory_site import make_site, make_terrain
from tests.planning import DEMO, case_of, workspace_of
from travel.checks import Case, fold, parts
from travel.checks.fold import BLOCK, part_over
from travel.domain.site import Site
from travel.domain.verdict import Verdict
from travel.readers.sheets import read_machine
from travel.routing import choose, find_way, make_graph

PIECES = 100_000
BLOCK_M = 100.0
MODES = ("front", "all", "crab")
FULL = {"width_m": 6.0, "surface": "compacted_gravel", "cross_slope_pct": 1.0, "traffic": "none", "bearing_kpa": 1800.0,
        "bearing_wet_kpa": 1500.0, "roughness_m": 0.03, "sight_m": 80.0, "lit": True, "passes_done": 20,
        "edge_left": "kerb", "edge_right": "verge"}  # fmt: skip
Value = TypeVar("Value")


def square(pieces: int) -> Site:
    """Build a square network of gently bent roads over terrain, with a feature of every layer here and there."""
    side = max(2, round(np.sqrt(pieces / 40)))
    rng = np.random.default_rng(7)
    corner = np.stack(np.meshgrid(np.arange(side + 1), np.arange(side + 1), indexing="ij"), -1) * BLOCK_M
    corner = corner + rng.uniform(-15, 15, corner.shape)
    roads: list[dict[str, Any]] = []
    for i, j, di, dj in [(i, j, *d) for i in range(side + 1) for j in range(side + 1) for d in ((1, 0), (0, 1))]:
        if i + di <= side and j + dj <= side:
            line = corner[i, j] + np.linspace(0, 1, 5)[:, None] * (corner[i + di, j + dj] - corner[i, j])
            line[1:-1] += rng.uniform(-1.5, 1.5, (3, 2))
            roads.append({"id": f"r{len(roads)}", "xy": line.tolist()} | FULL)
    span, count = side * BLOCK_M, max(5, pieces // 500)
    spots = rng.uniform(0, span, (count, 2)).tolist()
    layers: dict[str, list[dict[str, Any]]] = {
        "overheads": [{"id": f"w{k}", "kind": "power_line", "xy": [(x, y), (x + 60, y + 45)], "clearance_m": 9.0,
                       "sag_max_m": 1.5, "half_spread_m": 0.8, "voltage_kv": 11.0, "owner_clearance_m": 3.0}
                      for k, (x, y) in enumerate(spots)],
        "ground": [{"id": f"z{k}", "polygon": [(x, y), (x + 30, y), (x + 30, y + 30)], "bearing_kpa": 1600.0}
                   for k, (x, y) in enumerate(spots)],
        "edges": [{"id": f"e{k}", "kind": "drop", "xy": [(x, y), (x + 25, y)], "depth_m": 2.0}
                  for k, (x, y) in enumerate(spots[::2])],
        "people": [{"id": f"h{k}", "kind": "walkway", "xy": [(x, y), (x, y + 25)]}
                   for k, (x, y) in enumerate(spots[::2])],
        "limits": [{"id": f"l{k}", "kind": "culvert", "xy": tuple((np.array(r["xy"][1]) + r["xy"][2]) / 2),
                    "gross_kg": 30000.0} for k, r in enumerate(roads[::9])],
    }  # fmt: skip
    places = [{"id": f"p{k}", "xy": tuple(corner[a, b]), "kind": "gate", "may_stop": True, "turn_radius_m": 20.0}
              for k, (a, b) in enumerate([(0, 0), (side, side), (0, side), (side, 0)])]  # fmt: skip
    cells = int((span + 200) / 2.0)
    terrain = make_terrain(lambda x, y: 4 * np.sin(x / 90) + 3 * np.cos(y / 75), west=-100, south=-100, columns=cells,
                           rows=cells, cell_m=2.0, sd_m=0.02)  # fmt: skip
    return make_site(roads, places, terrain=terrain, **layers)


def timed(what: str, work: Callable[[], Value]) -> Value:
    """Run something and print how long it took."""
    start = time.perf_counter()
    out = work()
    print(f"{time.perf_counter() - start:8.2f} s  {what}", flush=True)
    return out


def by_part(case: Case) -> list[tuple[float, float, str]]:
    """Give seconds of every part of every rule over all pieces: once it is warm, the first time, its name."""
    out, n = [], len(case.survey.pieces)
    for part in parts():
        took = []
        for _ in range(2):
            start = time.perf_counter()
            for low in range(0, n, BLOCK):
                part_over(case, part, slice(low, min(low + BLOCK, n)))
            took.append(time.perf_counter() - start)
        out.append((took[1], took[0], f"{part.rule} {part.check.__name__}"))
    return sorted(out, reverse=True)


def megabytes() -> float:
    """Give the greatest memory of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(pieces: int) -> None:
    """Print the table."""
    site = square(pieces)
    workspace = workspace_of(site)
    survey = timed("survey", lambda: workspace.survey)
    print(f"          {megabytes():.0f} MB so far")
    case = case_of(workspace, read_machine(DEMO / "machines" / "middle.toml")[0], steering=MODES)
    print(f"          {len(survey.pieces)} pieces, 2 directions, {len(case.configurations)} configurations")
    folded = timed("all rules, first time", lambda: fold(case))
    timed("all rules, again", lambda: fold(case))
    print(f"          {megabytes():.0f} MB so far; cells by verdict {np.bincount(folded.worst.ravel(), minlength=4)}")
    choice = timed("best gears", lambda: choose(case, folded))
    graph = timed("graph", lambda: make_graph(case, choice))
    nodes = survey.network.place_node
    timed("search from corner to corner", lambda: find_way(graph, nodes["p0"], nodes["p1"], Verdict.UNKNOWN))
    print("\nsecond time, first time")
    for warm, cold, name in by_part(case):
        print(f"{warm:8.3f} s {cold:8.3f} s  {name}")
    print(f"\n{megabytes():.0f} MB at most")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else PIECES)
