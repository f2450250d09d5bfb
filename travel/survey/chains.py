"""Links between nodes, and chains: links one after another through nodes where exactly two of them end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.survey.arrays import Bools, Floats, Ints, bounds, expand, group_search
from travel.survey.lines import Lines
from travel.survey.meeting import SAME_M, Visits


@dataclass(frozen=True, eq=False, kw_only=True)
class Links:
    """Stretches of one road between consecutive nodes, sorted by road and chainage."""

    road: Ints
    from_m: Floats
    to_m: Floats
    a: Ints
    b: Ints
    road_start: Ints
    road_stop: Ints

    def __len__(self) -> int:
        return len(self.road)

    def at(self, road: Ints, s: Floats) -> Ints:
        """Give the link of each chainage; at a node the later one, at the road's end the last."""
        found = group_search(self.from_m, self.road_start[road], self.road_stop[road], s, "right") - 1
        return np.clip(found, self.road_start[road], self.road_stop[road] - 1)


@dataclass(frozen=True, eq=False, kw_only=True)
class Chains:
    """Where each link lies: its chain, chainage there of its nearer end, and its sense (+1 drawn along the chain).

    ``order`` lists the links chain by chain; chain c owns ``start[c]`` … ``stop[c]`` of it. ``ring`` marks chains that
    close on themselves with no junction.
    """

    chain: Ints
    offset: Floats
    sign: Ints
    order: Ints
    start: Ints
    stop: Ints
    length: Floats
    ring: Ints

    def position(self, links: Links, link: Ints, s: Floats) -> Floats:
        """Give chain chainage from road chainage."""
        along = np.where(self.sign[link] > 0, s - links.from_m[link], links.to_m[link] - s)
        return self.offset[link] + along

    def chainage(self, links: Links, link: Ints, position: Floats) -> Floats:
        """Give road chainage from chain chainage, never outside the link."""
        along = position - self.offset[link]
        s = np.where(self.sign[link] > 0, links.from_m[link] + along, links.to_m[link] - along)
        return np.clip(s, links.from_m[link], links.to_m[link])


def make_links(road: Ints, s: Floats, node: Ints, roads: int) -> Links:
    """Cut roads at their visits (sorted by road and chainage, both ends among them)."""
    same = np.flatnonzero(road[1:] == road[:-1])
    start, stop = bounds(road[same], roads)
    return Links(
        road=road[same],
        from_m=s[same],
        to_m=s[same + 1],
        a=node[same],
        b=node[same + 1],
        road_start=start,
        road_stop=stop,
    )


def degrees(links: Links, nodes: int, snap_m: float) -> Ints:
    """Count the link ends at each node; a crumb of road that starts and ends at one node does not count."""
    real = ~_crumb(links, snap_m)
    both = np.concatenate((links.a[real], links.b[real]))
    return np.bincount(both, minlength=nodes).astype(np.int64)


def _crumb(links: Links, snap_m: float) -> Bools:
    out: Bools = (links.a == links.b) & (links.to_m - links.from_m <= 3 * snap_m)
    return out


def make_chains(links: Links, degree: Ints, seams: Ints, snap_m: float) -> Chains:
    """Walk links into chains; ``seams`` are nodes of degree two where a ring starts and ends."""
    through = degree == 2
    through[seams] = False
    chain, sign, order = _walk(_mates(links, through, snap_m), len(links))
    start, stop = bounds(chain[order], int(chain.max()) + 1)
    run = (links.to_m - links.from_m)[order]
    before = np.cumsum(run) - run
    offset = np.empty(len(links))
    offset[order] = before - before[start][chain[order]]
    offset = _exact_offsets(offset, run, order, (start, stop))
    last = order[stop - 1]
    first = order[start]
    length = offset[last] + run[stop - 1]
    node_in = np.where(sign[first] > 0, links.a[first], links.b[first])
    node_out = np.where(sign[last] > 0, links.b[last], links.a[last])
    ring = np.flatnonzero((node_in == node_out) & np.isin(node_in, seams) & (length > 3 * snap_m))
    return Chains(chain=chain, offset=offset, sign=sign, order=order, start=start, stop=stop, length=length, ring=ring)


def _exact_offsets(offset: Floats, run: Floats, order: Ints, own: tuple[Ints, Ints]) -> Floats:
    """Sum short chains again from zero, so that far-off chains do not add their rounding."""
    start, stop = own
    out = offset.copy()
    out[order[start]] = 0.0
    count = stop - start
    for k in range(1, int(min(count.max(), 64))):
        rows = start[count > k] + k
        out[order[rows]] = out[order[rows - 1]] + run[rows - 1]
    for first, last in zip(start[count > 64], stop[count > 64], strict=True):
        out[order[first:last]] = np.cumsum(run[first:last]) - run[first:last]
    return out


def _mates(links: Links, through: Bools, snap_m: float) -> list[int]:
    """Give, per link end (2·link at ``a``, 2·link + 1 at ``b``), the end that continues it, or −1."""
    node = np.column_stack((links.a, links.b)).ravel()
    usable = np.flatnonzero(through[node] & ~np.repeat(_crumb(links, snap_m), 2))
    by_node = usable[np.argsort(node[usable], kind="stable")]
    mate = np.full(len(node), -1, dtype=np.int64)
    mate[by_node[0::2]] = by_node[1::2]
    mate[by_node[1::2]] = by_node[0::2]
    return [int(value) for value in mate]


def _walk(mate: list[int], count: int) -> tuple[Ints, Ints, Ints]:
    chain, sign, order = [-1] * count, [0] * count, []
    number = 0
    entries = [end for end in range(2 * count) if mate[end] < 0] + list(range(0, 2 * count, 2))
    for entry in entries:
        if chain[entry >> 1] >= 0:
            continue
        end = entry
        while end >= 0 and chain[end >> 1] < 0:
            link = end >> 1
            chain[link], sign[link] = number, -1 if end & 1 else 1
            order.append(link)
            end = mate[end ^ 1]
        number += 1
    return np.array(chain, dtype=np.int64), np.array(sign, dtype=np.int64), np.array(order, dtype=np.int64)


def ring_seams(lines: Lines, links: Links, chains: Chains, degree: Ints, snap_m: float) -> tuple[Ints, Floats]:
    """Give, per ring without a junction, its least vertex (x, then y) as road and chainage."""
    first, last = chains.order[chains.start], chains.order[chains.stop - 1]
    node_in = np.where(chains.sign[first] > 0, links.a[first], links.b[first])
    node_out = np.where(chains.sign[last] > 0, links.b[last], links.a[last])
    rings = np.flatnonzero((node_in == node_out) & (degree[node_in] == 2) & (chains.length > 3 * snap_m))
    road, s = np.empty(len(rings), dtype=np.int64), np.empty(len(rings))
    for k, ring in enumerate(rings):
        roads = np.unique(links.road[chains.order[chains.start[ring] : chains.stop[ring]]])
        _, vertex = expand(lines.start[roads], (lines.stop - lines.start)[roads])
        least = vertex[np.lexsort((lines.y[vertex], lines.x[vertex]))[0]]
        road[k], s[k] = lines.road[least], lines.s[least]
    return road, s


def add_visits(visits: Visits, road: Ints, s: Floats, xy: Floats) -> tuple[Visits, Ints]:
    """Add nodes in the middle of roads; a visit already there is used. Gives the visits and the nodes."""
    nodes = np.empty(len(road), dtype=np.int64)
    new_road: list[int] = []
    new_s: list[float] = []
    new_node: list[int] = []
    new_xy: list[Floats] = []
    start, stop = bounds(visits.road, int(visits.road.max()) + 1)
    for k in range(len(road)):
        own = slice(int(start[road[k]]), int(stop[road[k]]))
        near = np.abs(visits.s[own] - s[k])
        if float(near.min()) <= max(SAME_M, 1e-3):
            nodes[k] = visits.node[own][int(near.argmin())]
            continue
        nodes[k] = len(visits.node_xy) + len(new_xy)
        new_road.append(int(road[k]))
        new_s.append(float(s[k]))
        new_node.append(int(nodes[k]))
        new_xy.append(xy[k])
    if not new_road:
        return visits, nodes
    all_road = np.concatenate((visits.road, np.array(new_road, dtype=np.int64)))
    all_s = np.concatenate((visits.s, np.array(new_s)))
    all_node = np.concatenate((visits.node, np.array(new_node, dtype=np.int64)))
    order = np.lexsort((all_s, all_road))
    node_xy = np.concatenate((visits.node_xy, np.array(new_xy).reshape(-1, 2)))
    return Visits(road=all_road[order], s=all_s[order], node=all_node[order], node_xy=node_xy, free=visits.free), nodes
