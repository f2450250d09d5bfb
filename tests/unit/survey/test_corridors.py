"""Lines, corridors and arms of a network made at once, against one link and one arm at a time by plain loops."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely

from tests.planning import workspace_of
from tests.random_site import random_site
from travel.survey.arms import SAMPLE_M, Arms
from travel.survey.corners import edge_headings
from travel.survey.corridors import END_M, SIMPLE_M, link_capsules, link_lines
from travel.survey.narrow import narrows
from travel.survey.rooms import ARM_M, Roads
from travel.survey.survey import Survey

Line = tuple[list[tuple[float, float]], list[float]]


def plain_line(survey: Survey, width: np.ndarray, link: int) -> Line:
    """Give vertices and half widths of one link from its pieces, its road's own geometry and what narrows it."""
    network, pieces = survey.network, survey.pieces
    own = range(int(network.link_piece_start[link]), int(network.link_piece_stop[link]))
    road = int(network.link_road[link])
    plan = survey.site.layers["roads"].geometry[road]
    low, high = float(network.link_from_m[link]), float(network.link_to_m[link])
    xy = shapely.get_coordinates(plan)
    chainage = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]
    cuts = {low, high, *(s for s in chainage.tolist() if low + 1e-9 < s < high - 1e-9)}
    for before, piece in itertools.pairwise(own):
        if width[before] != width[piece]:
            cuts.add(float(pieces.from_m[piece]))
    narrow = list(zip(*(part.tolist() for part in narrows(survey).of(link)), strict=True))
    cuts |= {end for begins, ends, _ in narrow for end in (begins, ends)}
    at = sorted(cuts)
    points = [(float(np.interp(s, chainage, xy[:, 0])), float(np.interp(s, chainage, xy[:, 1]))) for s in at]
    halves = []
    for a, b in itertools.pairwise(at):
        there = [piece for piece in own if pieces.from_m[piece] <= (a + b) / 2.0]
        left = [gate for begins, ends, gate in narrow if begins < (a + b) / 2.0 < ends]
        road = float(width[there[-1]])
        halves.append((road if np.isnan(road) else min([road, *left])) / 2.0)
    return points, halves


@pytest.fixture(params=range(12))
def roads(request: pytest.FixtureRequest) -> Roads:
    """The roads of a random site, some without a width, some narrowed."""
    survey = workspace_of(random_site(request.param)).survey
    return Roads(survey=survey, width=survey.number("width_m"), narrow=narrows(survey), heading=edge_headings(survey))


def test_lines_of_all_links_are_those_of_each(roads: Roads) -> None:
    for link in range(len(roads.survey.network.link_road)):
        points, halves = plain_line(roads.survey, roads.width, link)
        xy, half = link_lines(roads.survey, roads.width, roads.narrow).of(link)
        assert xy == pytest.approx(np.array(points), abs=1e-6)
        assert half.tolist() == pytest.approx(halves, nan_ok=True)


def test_capsules_cover_their_link_and_no_more(roads: Roads) -> None:
    """Within what is left out of the line, and past a dead end as far as a body may stand there."""
    found, network = link_capsules(roads.survey, roads.lines), roads.survey.network
    ends = np.bincount(np.r_[network.link_a, network.link_b], minlength=network.n_nodes)
    for link in range(len(network.link_road)):
        (xy, half), (every, beyond) = roads.lines.of(link), found.of(link)
        known = np.isfinite(every[:, 4])
        rows, past = every[known], beyond[known]
        wide = [
            shapely.LineString(xy[n : n + 2]).buffer(radius) for n, radius in enumerate(half) if np.isfinite(radius)
        ]
        along = [shapely.LineString([row[:2], row[2:4]]).buffer(row[4]) for row in rows[~past]]
        whole, free = shapely.union_all(wide), shapely.union_all(along)
        assert free.difference(whole.buffer(0.01)).area < 1e-6  # circles are drawn as polygons
        assert whole.difference(free.buffer(2.5 * SIMPLE_M)).area < 1e-6
        dead = [node for node, side in ((network.link_b[link], -1), (network.link_a[link], 0))
                if ends[node] == 1 and np.isfinite(half[side])]  # fmt: skip
        assert past.sum() == len(dead)
        assert np.hypot(*(rows[past, 2:4] - rows[past, :2]).T) == pytest.approx(np.full(len(dead), END_M))


def test_arms_are_sampled_along_the_roads_that_go_on(roads: Roads) -> None:
    edges = range(2 * len(roads.survey.network.link_road))
    xy, length = Arms(roads).of([(edge, None) for edge in edges])
    wanted = np.arange(0.0, ARM_M + SAMPLE_M / 2, SAMPLE_M)
    for edge in edges:
        points: list[np.ndarray] = []
        for one in roads.onward(edge):
            line = roads.lines.of(one >> 1)[0][:: -1 if one & 1 else 1]
            points.append(line if not points else line[1:])
            if shapely.LineString(np.vstack(points)).length >= ARM_M:
                break
        drawn = shapely.LineString(np.vstack(points))
        assert length[edge] == pytest.approx(drawn.length)
        on = wanted <= drawn.length
        plain = shapely.get_coordinates(shapely.line_interpolate_point(drawn, wanted[on]))
        assert xy[edge][on] == pytest.approx(plain, abs=1e-6)
        step = np.hypot(*np.diff(xy[edge][~on], axis=0).T)
        assert step == pytest.approx(np.full(len(step), SAMPLE_M))
