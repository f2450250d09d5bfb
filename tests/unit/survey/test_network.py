"""Where roads meet, where they do not, what is doubtful, where places stand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import Geod, Proj, Transformer

from tests.memory_site import EXACT, ORIGIN, make_site
from travel.errors import InputError
from travel.survey import Survey, build_survey


def road(name: str, *xy: tuple[float, ...], **columns: Any) -> dict[str, Any]:
    return {"id": name, ("xyz" if len(xy[0]) == 3 else "xy"): list(xy), "width_m": 6.0, **columns}


def survey_of(*roads: dict[str, Any], **rest: Any) -> Survey:
    return build_survey(make_site(list(roads), **rest), EXACT)


def degrees(survey: Survey) -> list[int]:
    return sorted(survey.network.node_degree.tolist())


def messages(survey: Survey) -> str:
    return "\n".join(doubt.text() for doubt in survey.doubts)


def test_two_ends_join_into_one_chain() -> None:
    survey = survey_of(road("a", (0, 0), (40, 0)), road("b", (80, 5), (40, 0.08)))
    assert degrees(survey) == [1, 1, 2]
    assert len(set(survey.network.link_chain)) == 1
    assert set(survey.pieces.sign[survey.pieces.road == 0]) == {-survey.pieces.sign[survey.pieces.road == 1][0]}


def test_ends_further_apart_than_the_snap_stay_apart_and_are_doubtful() -> None:
    survey = survey_of(road("a", (0, 0), (40, 0)), road("b", (40.3, 0), (80, 0)))
    assert degrees(survey) == [1, 1, 1, 1]
    assert "lies 0.30 m from road b but does not meet it" in messages(survey)
    joined = survey_of(road("a", (0, 0), (40, 0)), road("b", (40.3, 0), (80, 0)), header={"snap_m": 0.4})
    assert degrees(joined) == [1, 1, 2]
    assert not joined.doubts


def test_an_end_whose_width_reaches_another_road_is_doubtful() -> None:
    wide = {"width_m": 5.0}
    near = survey_of(road("a", (0, 0), (40, 0), **wide), road("b", (42.6, 0), (80, 0), width_m=4.0))
    assert messages(near).count("lies 2.60 m from road") == 2
    apart = survey_of(road("a", (0, 0), (40, 0), **wide), road("b", (44.7, 0), (80, 0), width_m=4.0))
    assert not apart.doubts
    above = survey_of(road("a", (0, 0), (40, 0), **wide), road("b", (42.6, 0), (80, 0), level=1, width_m=4.0))
    assert not above.doubts


def test_end_on_an_interior_makes_a_junction_and_moves_nothing() -> None:
    survey = survey_of(road("main", (0, 0), (100, 0)), road("side", (37, 0.06), (37, 30)))
    assert degrees(survey) == [1, 1, 1, 3]
    assert survey.network.n_links == 3
    cut = survey.network.link_to_m[0]
    assert cut == pytest.approx(37.0, abs=1e-6)
    assert survey.xy(1, 0, 30)[0] == pytest.approx((ORIGIN[0] + 37, ORIGIN[1] + 0.06))
    assert shapely.length(survey.site.layers["roads"].geometry[1]) == pytest.approx(29.94)


def test_two_ends_from_both_sides_make_one_junction_of_four() -> None:
    survey = survey_of(
        road("main", (0, 0), (100, 0)), road("left", (50.03, 0.05), (50, 30)), road("right", (50.0, -0.05), (50, -30))
    )
    assert degrees(survey) == [1, 1, 1, 1, 4]
    assert survey.network.n_links == 4


def test_end_near_a_vertex_takes_the_vertex() -> None:
    survey = survey_of(road("main", (0, 0), (50, 0), (100, 0)), road("side", (50.05, 0.05), (50, 30)))
    assert survey.network.link_to_m[0] == pytest.approx(50.0, abs=1e-9)


def test_shared_interior_vertex_joins_and_a_plain_crossing_does_not() -> None:
    shared = survey_of(road("a", (0, 0), (50, 0), (100, 0)), road("b", (50, -50), (50, 0), (50, 50)))
    assert degrees(shared) == [1, 1, 1, 1, 4]
    assert not shared.doubts
    crossing = survey_of(road("a", (0, 0), (100, 0)), road("b", (50, -50), (50, 50)))
    assert degrees(crossing) == [1, 1, 1, 1]
    assert "a: crosses road b at x 500050.0, y 5000000.0 on one level without meeting it" in messages(crossing)


def test_roads_on_different_levels_do_not_meet() -> None:
    survey = survey_of(
        road("a", (0, 0), (50, 0), (100, 0)),
        road("b", (50, -50), (50, 0), (50, 50), level=1),
        road("c", (50, 0), (80, 40), level=2),
    )
    assert degrees(survey) == [1, 1, 1, 1, 1, 1]
    assert ["passes over road a" in doubt.message for doubt in survey.doubts] == [True]


def test_blank_level_is_zero() -> None:
    assert degrees(survey_of(road("a", (0, 0), (50, 0)), road("b", (50, 0), (90, 0), level=0))) == [1, 1, 2]


def test_ring_with_a_way_in_is_one_loop_at_a_junction_of_three() -> None:
    loop = road("loop", (0, 0), (30, 10), (40, 30), (10, 40), (0, 0))
    survey = survey_of(loop, road("in", (-40, 0), (0, 0)))
    assert degrees(survey) == [1, 3]
    assert survey.network.n_links == 2


def test_road_that_comes_back_to_itself_joins_itself() -> None:
    survey = survey_of(road("lasso", (0, 0), (50, 0), (80, 20), (60, 40), (50, 0.05)))
    assert degrees(survey) == [1, 3]
    assert survey.network.link_to_m[0] == pytest.approx(50.0)


def test_short_steps_near_an_end_are_not_a_return() -> None:
    survey = survey_of(road("a", (0, 0), (0.03, 0), (0.06, 0), (0.09, 0.01), (50, 0)))
    assert degrees(survey) == [1, 1]


def test_ring_alone_starts_at_its_least_vertex() -> None:
    points = [(30, 10), (40, 30), (10, 40), (0, 0), (30, 10)]
    survey = survey_of(road("ring", *points))
    assert degrees(survey) == [2, 2]
    assert survey.network.node_xy[:, 0].min() == ORIGIN[0]
    start = np.flatnonzero(survey.pieces.cell_from_m == 0)
    corner = np.hypot(survey.pieces.x_m[start] - ORIGIN[0], survey.pieces.y_m[start] - ORIGIN[1])
    assert corner.min() < 5.0


def test_road_with_some_heights_uses_none_and_is_doubtful() -> None:
    survey = survey_of(road("a", (0, 0, 5), (20, 0, float("nan")), (40, 0, 6)))
    assert "only 2 of 3 vertices have a height" in messages(survey)
    assert set(survey.height_source) == {"none"}
    assert np.isnan(survey.windowed(8.0).grade_max).all()


def test_road_shorter_than_the_snap_is_doubtful() -> None:
    survey = survey_of(road("a", (0, 0), (40, 0)), road("crumb", (40, 0), (40.05, 0)), road("b", (40.05, 0), (80, 0)))
    assert "no longer than snap_m" in messages(survey)
    assert 2 in degrees(survey)
    assert len(set(survey.network.link_chain[[0, 2]])) == 1


def test_pieces_of_links_are_contiguous_ascending_and_at_most_five_metres() -> None:
    survey = survey_of(
        road("a", (0, 0), (33, 0), (60, 20)), road("b", (33, 0), (33, -18)), road("c", (60, 20), (99, 20))
    )
    pieces, network = survey.pieces, survey.network
    assert pieces.length_m.max() <= 5.0 + 1e-9
    for link in range(network.n_links):
        own = slice(network.link_piece_start[link], network.link_piece_stop[link])
        assert (pieces.link[own] == link).all()
        assert pieces.from_m[own][0] == pytest.approx(network.link_from_m[link])
        assert pieces.to_m[own][-1] == pytest.approx(network.link_to_m[link])
        assert pieces.from_m[own][1:] == pytest.approx(pieces.to_m[own][:-1])
    assert pieces.length_m.sum() == pytest.approx(shapely.length(survey.site.layers["roads"].geometry).sum())


def test_midpoints_and_headings_lie_on_the_road_as_drawn() -> None:
    survey = survey_of(road("a", (0, 0), (33, 0), (60, 20)), road("b", (95, 55), (60, 20)))
    geometry, pieces = survey.site.layers["roads"].geometry, survey.pieces
    middle = (pieces.from_m + pieces.to_m) / 2
    for k in range(len(pieces)):
        ahead = shapely.line_interpolate_point(geometry[pieces.road[k]], middle[k] + 1e-3)
        behind = shapely.line_interpolate_point(geometry[pieces.road[k]], middle[k] - 1e-3)
        assert shapely.distance(shapely.Point(pieces.x_m[k], pieces.y_m[k]), geometry[pieces.road[k]]) < 1e-6
        bearing = np.arctan2(ahead.x - behind.x, ahead.y - behind.y) % (2 * np.pi)
        assert pieces.heading_rad[k] == pytest.approx(bearing, abs=1e-4)


def test_bending_is_turning_per_metre_over_ten_metres() -> None:
    survey = survey_of(road("a", (0, 0), (52.5, 0), (52.5, 52.5)))
    pieces = survey.pieces
    middle = (pieces.cell_from_m + pieces.cell_to_m) / 2
    near = np.abs(middle - 52.5) <= 5.0
    assert pieces.curvature_per_m[near] == pytest.approx(np.pi / 2 / 10)
    assert pieces.curvature_per_m[~near] == pytest.approx(0.0)


def place(name: str, x: float, y: float) -> dict[str, Any]:
    return {"id": name, "kind": "waiting", "xy": (x, y)}


def test_place_becomes_a_node_and_does_not_cut_the_chain() -> None:
    survey = survey_of(
        road("a", (0, 0), (100, 0)), places=[place("p", 42, 4.0), place("q", 42.6, -5), place("end", 99.4, 1)]
    )
    network = survey.network
    assert survey.node_at("p") == survey.node_at("q") != survey.node_at("end")
    assert network.node_places[survey.node_at("p")] == ("p", "q")
    assert network.node_xy[survey.node_at("p")] - ORIGIN == pytest.approx((42, 0))
    assert network.node_xy[survey.node_at("end")] - ORIGIN == pytest.approx((100, 0))
    assert len(set(network.link_chain)) == 1
    assert degrees(survey) == [1, 1, 2]
    assert np.abs(survey.pieces.from_m - 42.0).min() < 1e-9


def test_place_belongs_to_the_nearest_road_that_reaches_it() -> None:
    narrow = road("narrow", (0, 0), (100, 0)) | {"width_m": 2.0}
    wide = road("wide", (0, 14), (100, 14)) | {"width_m": 16.0}
    survey = survey_of(narrow, wide, places=[place("p", 50, 5.0)])
    assert survey.network.node_xy[survey.node_at("p")] - ORIGIN == pytest.approx((50, 14))


def test_places_off_the_network_are_all_named() -> None:
    with pytest.raises(InputError) as caught:
        survey_of(
            road("a", (0, 0), (100, 0)), places=[place("near", 50, 5.9), place("off", 50, 6.4), place("far", 200, 0)]
        )
    faults = {fault.feature: fault for fault in caught.value.faults}
    assert set(faults) == {"off", "far"}
    assert faults["off"].value == "6.4 m from road a"
    assert faults["far"].value == "100.0 m from road a"


def test_road_without_length_is_a_fault() -> None:
    with pytest.raises(InputError, match="dot"):
        survey_of(road("a", (0, 0), (40, 0)), road("dot", (5, 5), (5, 5)))


def test_lengths_agree_with_the_ellipsoid_within_the_scale_of_the_projection() -> None:
    survey = survey_of(road("a", (0, 0), (400, 300)), road("b", (400, 300), (900, -500)))
    back = Transformer.from_crs(survey.site.crs_wkt, "EPSG:4326", always_xy=True)
    for row, length in enumerate((500.0, np.hypot(500, 800))):
        ends = survey.lonlat(survey.xy(row, 0.0, length))
        assert ends[0] == pytest.approx(back.transform(*survey.xy(row, 0, 1)[0]))
        geodesic = Geod(ellps="WGS84").inv(*ends[0], *ends[-1])[2]
        scale = Proj("EPSG:32633").get_factors(*ends[0]).meridional_scale
        assert length / geodesic == pytest.approx(scale, abs=2e-6)
        assert survey.pieces.length_m[survey.pieces.road == row].sum() == pytest.approx(length)


def test_polyline_between_two_chainages_in_either_order() -> None:
    survey = survey_of(road("a", (0, 0, 1), (30, 0, 4), (30, 40, 4)))
    there = survey.xyz(0, 10, 50) - (*ORIGIN, 0)
    assert there == pytest.approx(np.array([[10, 0, 2], [30, 0, 4], [30, 20, 4]]))
    assert survey.xyz(0, 50, 10) - (*ORIGIN, 0) == pytest.approx(there[::-1])
    assert survey.height_at(0, 15.0) == pytest.approx(2.5)
