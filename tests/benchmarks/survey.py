"""How long the survey of about 100 000 pieces takes: ``python tests/benchmarks/survey.py``.

A square network of bent roads over terrain of one metre, with features beside and over the roads.
"""

from __future__ import annotations

import cProfile
import pstats
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.memory_site import EXACT, make_site, make_terrain
from travel.domain.site import Site
from travel.survey import build_survey

SIDE, BLOCK_M = 50, 100.0


def network(cell_m: float) -> Site:
    """Build the site."""
    rng = np.random.default_rng(7)
    corner = np.stack(np.meshgrid(np.arange(SIDE + 1), np.arange(SIDE + 1), indexing="ij"), -1) * BLOCK_M
    corner = corner + rng.uniform(-15, 15, corner.shape)
    roads = []
    for i in range(SIDE + 1):
        for j in range(SIDE + 1):
            for di, dj in ((1, 0), (0, 1)):
                if i + di > SIDE or j + dj > SIDE:
                    continue
                a, b = corner[i, j], corner[i + di, j + dj]
                t = np.linspace(0, 1, 9)[:, None]
                line = a + t * (b - a)
                line[1:-1] += rng.uniform(-1.5, 1.5, (7, 2))
                roads.append({"id": f"r{len(roads)}", "xy": line.tolist(), "width_m": 6.0, "surface": "asphalt"})
    places = [{"id": f"p{k}", "xy": corner[k % SIDE, (7 * k) % SIDE], "kind": "gate"} for k in range(20)]
    span = SIDE * BLOCK_M
    spots = rng.uniform(0, span, (500, 2))
    wires = [{"id": f"w{k}", "kind": "wire", "xy": [(x, y), (x + 60, y + 45)]} for k, (x, y) in enumerate(spots)]
    zones = [
        {"id": f"z{k}", "polygon": [(x, y), (x + 30, y), (x + 30, y + 30), (x, y + 30)]}
        for k, (x, y) in enumerate(spots)
    ]
    cells = int((span + 200) / cell_m)
    terrain = make_terrain(
        lambda x, y: 8 * np.sin(x / 70) + 5 * np.cos(y / 45),
        west=-100,
        south=-100,
        columns=cells,
        rows=cells,
        cell_m=cell_m,
    )
    return make_site(roads, places, terrain=terrain, overheads=wires, ground=zones)


def main() -> None:
    """Print the times."""
    for cell_m in (5.0, 1.0):
        site = network(cell_m)
        profile = cProfile.Profile()
        started = time.perf_counter()
        if "--profile" in sys.argv:
            profile.enable()
        survey = build_survey(site, EXACT)
        built = time.perf_counter()
        survey.windowed(10.0)
        windowed = time.perf_counter()
        survey.cross_change(3.0)
        twisted = time.perf_counter()
        survey.pairs("overheads", 8.0)
        survey.pairs("ground", 8.0)
        over = time.perf_counter()
        survey.pairs("overheads", 8.0, 30.0)
        done = time.perf_counter()
        profile.disable()
        print(
            f"terrain {cell_m:g} m, {len(survey.pieces)} pieces: built {built - started:.2f} s, grades "
            f"{windowed - built:.2f} s, twist {twisted - windowed:.2f} s, pairs over {over - twisted:.2f} s, "
            f"pairs within 30 m {done - over:.2f} s"
        )
        if "--profile" in sys.argv:
            pstats.Stats(profile).sort_stats("tottime").print_stats(18)


if __name__ == "__main__":
    main()
