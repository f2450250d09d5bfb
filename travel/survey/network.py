"""From roads to nodes, links, chains, cells and pieces, in one go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.domain.site import Amendment, Doubt, Layer, Site
from travel.survey import doubts as doubt
from travel.survey.amendments import ranged_rows
from travel.survey.arrays import Bools, Floats, Ints, Objects, bounds
from travel.survey.chains import Chains, Links, add_visits, degrees, make_chains, make_links, ring_seams
from travel.survey.course import Course, lay_course
from travel.survey.cutting import cut_cells, cut_pieces
from travel.survey.fabric import Fabric
from travel.survey.features import read_features
from travel.survey.intervals import Intervals
from travel.survey.lines import Lines, read_lines
from travel.survey.meeting import Visits, meet
from travel.survey.places import settle
from travel.survey.profile import lay_heights, sources
from travel.survey.records import Network, Pieces, Tolerance
from travel.survey.signs import Way, belong, strays


@dataclass(frozen=True, eq=False, kw_only=True)
class _Net:
    visits: Visits
    links: Links
    chains: Chains
    degree: Ints
    place_node: Ints


def weave(site: Site, tolerance: Tolerance, piece_m: float) -> tuple[Fabric, Network, Pieces, tuple[Doubt, ...]]:
    """Cut a site into pieces and keep what the columns are drawn from."""
    roads, snap_m = site.layers["roads"], site.header.snap_m
    ranged = ranged_rows(site)
    lines = read_lines(roads, _amended_width(ranged))
    places = site.layers.get("places")
    net = _knit(lines, places, snap_m)
    course = lay_course(lines, net.links, net.chains)
    source = sources(lines, site.terrain, _has_grade(roads, ranged))
    heights = lay_heights(course, net.links, source, site.terrain, tolerance)
    features = {
        name: read_features(layer)
        for name, layer in site.layers.items()
        if name not in ("roads", "places") and len(layer)
    }
    way = Way(lines=lines, links=net.links, chains=net.chains, course=course)
    own = {name: belong(way, some, name == "limits", None) for name, some in features.items()}
    chain, position = _breaks(net, course, source, tuple(own.values()), ranged)
    cells = cut_cells(net.chains, chain, position, piece_m)
    pieces, order = cut_pieces(net.links, net.chains, course, cells)
    own_row = np.flatnonzero(course.row_shift == 0)
    link_row = np.empty(len(net.links), dtype=np.int64)
    link_row[course.row_link[own_row]] = own_row
    fabric = Fabric(
        lines=lines,
        links=net.links,
        chains=net.chains,
        course=course,
        heights=heights,
        cells=cells,
        order=order,
        features=features,
        own=own,
        ranged=ranged,
        link_row=link_row,
    )
    return fabric, _network(net, places, pieces), pieces, _doubts(fabric, net, site, tolerance)


def _knit(lines: Lines, places: Layer | None, snap_m: float) -> _Net:
    """Join roads, then put the places on them."""
    visits = meet(lines, snap_m)
    seams = np.zeros(0, dtype=np.int64)
    links = make_links(visits.road, visits.s, visits.node, len(lines))
    degree = degrees(links, len(visits.node_xy), snap_m)
    chains = make_chains(links, degree, seams, snap_m)
    road, s = ring_seams(lines, links, chains, degree, snap_m)
    if len(road):
        x, y, _ = lines.locate(road, s)
        visits, seams = add_visits(visits, road, s, np.column_stack((x, y)))
        links, degree, chains = _linked(lines, visits, seams, snap_m)
    node = np.zeros(0, dtype=np.int64)
    if places is not None and len(places):
        visits, node = settle(lines, places, visits, links, chains)
        links, degree, chains = _linked(lines, visits, seams, snap_m)
    return _Net(visits=visits, links=links, chains=chains, degree=degree, place_node=node)


def _linked(lines: Lines, visits: Visits, seams: Ints, snap_m: float) -> tuple[Links, Ints, Chains]:
    links = make_links(visits.road, visits.s, visits.node, len(lines))
    degree = degrees(links, len(visits.node_xy), snap_m)
    return links, degree, make_chains(links, degree, seams, snap_m)


def _amended_width(ranged: tuple[tuple[int, Amendment], ...]) -> dict[int, float]:
    out: dict[int, float] = {}
    for row, change in ranged:
        if change.field == "width_m" and change.value is not None:
            out[row] = max(out.get(row, 0.0), float(change.value))
    return out


def _has_grade(roads: Layer, ranged: tuple[tuple[int, Amendment], ...]) -> Bools:
    out = np.isfinite(roads.number("grade_pct"))
    for row, change in ranged:
        if change.field == "grade_pct" and change.value is not None:
            out[row] = True
    return out


def _breaks(
    net: _Net, course: Course, source: Objects, own: tuple[Intervals, ...], ranged: tuple[tuple[int, Amendment], ...]
) -> tuple[Ints, Floats]:
    """Give chain and chainage of every break: places, ends of features and of changes, changes of height source."""
    links, chains = net.links, net.chains
    ends = np.concatenate((links.a, links.b))
    at_place = np.flatnonzero(np.isin(ends, net.place_node))
    link = np.tile(np.arange(len(links)), 2)[at_place]
    s = np.concatenate((links.from_m, links.to_m))[at_place]
    chain, position = [chains.chain[link]], [chains.position(links, link, s)]
    for some in own:
        chain += [some.chain, some.chain]
        position += [some.from_m, some.to_m]
    changes = [(row, s) for row, change in ranged for s in (change.from_m, change.to_m) if s is not None]
    if changes:
        road = np.array([row for row, _ in changes], dtype=np.int64)
        s = np.array([at for _, at in changes], dtype=np.float64)
        link = links.at(road, s)
        chain.append(chains.chain[link])
        position.append(chains.position(links, link, s))
    given = source[links.road[course.row_link]] == "grade"
    turn = np.flatnonzero((given[1:] != given[:-1]) & (course.row_chain[1:] == course.row_chain[:-1])) + 1
    chain.append(course.row_chain[turn])
    position.append(course.row_from[turn])
    return np.concatenate(chain), np.concatenate(position)


def _network(net: _Net, places: Layer | None, pieces: Pieces) -> Network:
    ids = places.ids if places is not None else ()
    place_node = {name: int(node) for name, node in zip(ids, net.place_node, strict=True)}
    node_places: dict[int, tuple[str, ...]] = {}
    for name, node in place_node.items():
        node_places[node] = (*node_places.get(node, ()), name)
    start, stop = bounds(pieces.link, len(net.links))
    links = net.links
    return Network(
        node_xy=net.visits.node_xy,
        node_degree=net.degree,
        place_node=place_node,
        node_places=node_places,
        link_road=links.road,
        link_from_m=links.from_m,
        link_to_m=links.to_m,
        link_a=links.a,
        link_b=links.b,
        link_chain=net.chains.chain,
        link_piece_start=start,
        link_piece_stop=stop,
    )


def _doubts(fabric: Fabric, net: _Net, site: Site, tolerance: Tolerance) -> tuple[Doubt, ...]:
    lines, snap_m = fabric.lines, site.header.snap_m
    out = doubt.short_roads(lines, snap_m) + doubt.near_misses(lines, net.visits, snap_m)
    out += doubt.partial_heights(lines) + doubt.crossings(lines, net.visits, snap_m) + doubt.drawn_twice(lines)
    out += doubt.steps(fabric, tolerance.height_m) + doubt.passed_under(lines, fabric.features.get("overheads"))
    for name, some in fabric.features.items():
        ids = site.layers[name].ids
        out += [
            Doubt(file="site", layer=name, feature=ids[row], message=message)
            for row, message in strays(lines, some, name == "limits").items()
        ]
    if "overheads" in fabric.features:
        layer = site.layers["overheads"]
        drawn = doubt.named_elsewhere(lines, fabric.features["overheads"])
        out += [Doubt(file="site", layer="overheads", feature=layer.ids[row], message=m) for row, m in drawn.items()]
    return tuple(out)
