"""Pieces paired with features, against one shapely loop over all of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
import shapely.ops

from tests.memory_site import EXACT, make_site
from travel.survey import Survey, build_survey

BODY_M = 7.5


def random_site(seed: int) -> Survey:
    """Draw long bent roads that do not meet, and features of all geometries."""
    rng = np.random.default_rng(seed)
    roads: list[dict[str, Any]] = []
    for k in range(4):
        x = np.linspace(0, 120, 14)
        y = 60.0 * k + np.cumsum(rng.uniform(-5, 5, len(x)))
        row: dict[str, Any] = {"id": f"r{k}", "xy": np.column_stack((x, y))}
        roads.append(row | ({"width_m": float(rng.uniform(3, 9))} if k else {}))
    wires, zones, things = [], [], []
    for k in range(25):
        a = rng.uniform((0, -30), (120, 220))
        wires.append(
            {
                "id": f"w{k}",
                "kind": "wire",
                "half_spread_m": float(rng.uniform(0, 3)),
                "xy": [tuple(a), tuple(a + rng.uniform(-50, 50, 2)), tuple(a + rng.uniform(-50, 50, 2))],
            }
        )
        ring = shapely.Point(rng.uniform((0, -30), (120, 220))).buffer(float(rng.uniform(1, 40)), quad_segs=3)
        hole = ring.buffer(-5.0)
        zones.append({"id": f"z{k}", "geometry": ring if k % 2 else ring.difference(hole)})
        things.append({"id": f"t{k}", "xy": tuple(rng.uniform((0, -30), (120, 220)))})
    return build_survey(make_site(roads, overheads=wires, ground=zones, obstacles=things), EXACT)


def carried_on(line: shapely.LineString, run_m: float) -> shapely.LineString:
    """Give a line with both ends carried straight on."""
    xy = np.array(line.coords)[:, :2]
    first, last = xy[0] - xy[1], xy[-1] - xy[-2]
    ends = xy[0] + run_m * first / np.hypot(*first), xy[-1] + run_m * last / np.hypot(*last)
    return shapely.LineString([ends[0], *xy, ends[1]])


def by_hand(survey: Survey, layer: str, beside: float | None) -> dict[tuple[int, int], tuple[float, float]]:
    """Give distance, and how far inside the reach, of every pair: each road is one chain here."""
    rows, pieces = survey.site.layers[layer], survey.pieces
    roads = survey.site.layers["roads"]
    out = {}
    for k in range(len(pieces)):
        line = roads.geometry[pieces.road[k]]
        width = roads.number("width_m")[pieces.road[k]]
        reach = beside if beside is not None else (3.0 if np.isnan(width) else width / 2)
        longer = carried_on(line, BODY_M)
        stretch = shapely.ops.substring(longer, pieces.from_m[k], pieces.to_m[k] + 2 * BODY_M)
        for f in range(len(rows)):
            spread = rows.number("half_spread_m")[f]
            spread = 0.5 if rows.geometry[f].geom_type == "Point" else (0.0 if np.isnan(spread) else spread)
            away = max(stretch.distance(rows.geometry[f]) - spread, 0.0)
            if away <= reach + 1e-3:
                out[k, f] = (away, reach - away)
    return out


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("layer", ["overheads", "ground", "obstacles"])
@pytest.mark.parametrize("beside", [None, 1.0, 20.0])
def test_pairs_are_those_of_a_plain_loop(seed: int, layer: str, beside: float | None) -> None:
    survey = random_site(seed)
    found, expected = survey.pairs(layer, BODY_M, beside), by_hand(survey, layer, beside)
    got = dict(zip(zip(found.piece.tolist(), found.feature.tolist(), strict=True), found.distance_m, strict=True))
    assert len(got) == len(found)
    for pair, away in got.items():
        assert pair in expected
        assert away == pytest.approx(expected[pair][0], abs=1e-6)
    for pair, (_, inside) in expected.items():
        assert pair in got or inside < 1e-5, f"{pair} inside by {inside}"
    assert (np.diff(found.piece) >= 0).all()


@pytest.mark.parametrize("seed", range(4))
def test_over_marks_the_pairs_of_the_road_itself(seed: int) -> None:
    survey = random_site(seed)
    own, near = survey.pairs("overheads", BODY_M), survey.pairs("overheads", BODY_M, 20.0)
    assert own.over.all()
    marked = {(int(p), int(f)) for p, f in zip(near.piece[near.over], near.feature[near.over], strict=True)}
    assert marked == {(int(p), int(f)) for p, f in zip(own.piece, own.feature, strict=True)}
    assert len(marked) < len(near)


def straight(**layers: Any) -> Survey:
    return build_survey(make_site([{"id": "r", "xy": [(0, 0), (100, 0)], "width_m": 6.0}], **layers), EXACT)


def test_side_is_left_and_right_as_drawn() -> None:
    things = [{"id": "left", "xy": (50, 8)}, {"id": "right", "xy": (50, -8)}, {"id": "on", "xy": (50, 0.2)}]
    survey = straight(obstacles=things)
    found = survey.pairs("obstacles", 5.0, 12.0)
    beside = np.abs(survey.pieces.x_m[found.piece] - 500_050.0) < 5.0
    assert set(found.side[beside & (found.feature == 0)]) == {1}
    assert set(found.side[beside & (found.feature == 1)]) == {-1}
    assert set(found.side[beside & (found.feature == 2)]) == {0}
    assert found.distance_m[beside & (found.feature == 0)] == pytest.approx(7.5)
    assert found.distance_m[beside & (found.feature == 2)] == pytest.approx(0.0)


def test_polygon_round_the_whole_road_is_over_every_piece() -> None:
    survey = straight(ground=[{"id": "g", "polygon": [(-50, -50), (150, -50), (150, 50), (-50, 50)]}])
    found = survey.pairs("ground", 0.0)
    assert found.piece.tolist() == list(range(len(survey.pieces)))
    assert found.distance_m == pytest.approx(0.0)


def test_piece_within_a_body_length_takes_the_feature() -> None:
    survey = straight(overheads=[{"id": "w", "kind": "wire", "xy": [(50, -20), (50, 20)]}])
    found = survey.pairs("overheads", 10.0)
    low, high = survey.pieces.cell_from_m[found.piece].min(), survey.pieces.cell_to_m[found.piece].max()
    everything = set(np.flatnonzero((survey.pieces.cell_to_m >= 37.0) & (survey.pieces.cell_from_m <= 63.0)))
    assert set(found.piece) == everything
    assert low < 37.0 + 1e-5
    assert high > 63.0 - 1e-5


def test_piece_ends_stand_at_feature_ends() -> None:
    survey = straight(ground=[{"id": "g", "polygon": [(31.3, -1), (47.7, -1), (47.7, 1), (31.3, 1)]}])
    ends = np.concatenate((survey.pieces.from_m, survey.pieces.to_m))
    for at in (31.3 - 3.0, 47.7 + 3.0):  # half the width before and after the polygon
        assert np.abs(ends - at).min() < 1e-4


TWO = [
    {"id": "low", "xy": [(0, 0), (100, 0)], "width_m": 6.0},
    {"id": "near", "xy": [(0, 8), (100, 8)], "width_m": 6.0},
]


def roads_of(survey: Survey, layer: str, feature: int, beside: float | None = None) -> set[str]:
    found = survey.pairs(layer, 3.0, beside)
    return {survey.site.layers["roads"].ids[survey.pieces.road[p]] for p in found.piece[found.feature == feature]}


def test_overhead_without_a_road_is_over_every_road_below_and_with_one_over_that_one() -> None:
    wire = {"kind": "wire", "xy": [(50, -20), (50, 20)]}
    survey = build_survey(make_site(TWO, overheads=[{"id": "a", **wire}, {"id": "b", "road": "low", **wire}]), EXACT)
    assert roads_of(survey, "overheads", 0) == {"low", "near"}
    assert roads_of(survey, "overheads", 1) == {"low"}


def test_sign_stands_on_the_nearest_road_only() -> None:
    sign = {"kind": "posted", "gross_kg": 9000.0}
    limits = [
        {"id": "a", "xy": (50, 3.5), **sign},
        {"id": "b", "xy": (20, 60), **sign},
        {"id": "c", "xy": [(20, -4.5), (60, -4.5)], **sign},
        {"id": "d", "road": "near", "xy": (50, -9), **sign},
    ]
    survey = build_survey(make_site(TWO, limits=limits), EXACT)
    assert roads_of(survey, "limits", 0) == {"low"}
    assert roads_of(survey, "limits", 0, 15.0) == {"low"}
    assert roads_of(survey, "limits", 1) == set()
    assert roads_of(survey, "limits", 3) == {"near"}
    told = {(doubt.feature, doubt.message.split(":")[0].split(",")[0]) for doubt in survey.doubts}
    assert ("b", "belongs to no road") in told
    assert ("d", "drawn 16.5 m from road near") in told
    alongside = survey.pairs("limits", 0.0)
    covered = survey.pieces.x_m[alongside.piece[alongside.feature == 2]] - 500_000.0
    assert covered.min() < 22.0
    assert covered.max() > 58.0


def test_line_drawn_along_a_road_across_a_junction_counts_on_both_sides() -> None:
    roads = [
        {"id": "main", "xy": [(0, 0), (50, 0), (100, 0)], "width_m": 6.0},
        {"id": "side", "xy": [(50, 0), (50, 40)], "width_m": 6.0},
    ]
    line = {"id": "slab", "kind": "slab", "gross_kg": 9000.0, "xy": [(30, 1), (70, 1)]}
    survey = build_survey(make_site(roads, limits=[line]), EXACT)
    found = survey.pairs("limits", 0.0)
    main = survey.pieces.road[found.piece] == 0
    covered = survey.pieces.x_m[found.piece[main]] - 500_000.0
    assert covered.min() < 31.0
    assert covered.max() > 69.0


def test_layer_without_features_has_no_pairs() -> None:
    assert len(straight().pairs("overheads", 5.0)) == 0
