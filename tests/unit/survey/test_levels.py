"""Roads on different levels: a bridge meets its approaches end to end, and nothing it passes over."""

from __future__ import annotations

from tests.memory_site import EXACT, make_site
from travel.survey import build_survey


def test_bridge_meets_its_approaches_and_not_the_road_below() -> None:
    site = make_site(
        roads=[
            {"id": "approach", "xyz": [(0, 0, 5), (50, 0, 5)]},
            {"id": "bridge", "xyz": [(50, 0, 5), (75, 0, 5), (100, 0, 5)], "level": 1},
            {"id": "below", "xyz": [(75, -50, 0), (75, 0, 0), (75, 50, 0)]},
        ],
        places=[],
    )
    network = build_survey(site, EXACT).network
    assert sorted(network.node_degree.tolist()) == [1, 1, 1, 1, 2]
    assert network.n_links == 3


def test_an_end_joins_the_inside_of_a_road_only_on_its_level() -> None:
    for level, nodes in ((0, 4), (1, 4)):
        site = make_site(
            roads=[
                {"id": "a", "xyz": [(0, 0, 0), (100, 0, 0)]},
                {"id": "b", "xyz": [(50, 0, 0), (50, 40, 0)], "level": level},
            ],
            places=[],
        )
        network = build_survey(site, EXACT).network
        assert network.n_nodes == nodes
        assert network.n_links == (3 if level == 0 else 2)
