"""The survey: a site cut into pieces, every quantity a column. It knows no machine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
from pyproj import Transformer

from travel.domain.site import Amendment, Doubt, Site
from travel.survey import columns
from travel.survey.ahead import Ends, free_ends, lengthened
from travel.survey.arrays import Bools, Floats, Ints, Objects
from travel.survey.fabric import Fabric
from travel.survey.joins import Ground, make_pairs
from travel.survey.network import weave
from travel.survey.profile import Heights
from travel.survey.records import Network, Pairs, Pieces, Tolerance, Windowed
from travel.survey.signs import Way, belong, stands_beyond, united
from travel.survey.slopes import across, cross_change, windowed

Value = TypeVar("Value")


@dataclass(frozen=True, eq=False, kw_only=True)
class Survey:
    """Columns over pieces, sorted by road and chainage. Practical units by :meth:`number`, SI by :meth:`si`."""

    site: Site
    network: Network
    pieces: Pieces
    tolerance: Tolerance
    cross_slope_ratio: Floats
    cross_slope_band: Floats
    height_source: Objects
    doubts: tuple[Doubt, ...]
    fabric: Fabric = field(repr=False)
    _cache: dict[Any, Any] = field(default_factory=dict, repr=False)

    @property
    def heights(self) -> Heights:
        """Heights along chains."""
        return self.fabric.heights

    @property
    def ranged(self) -> tuple[tuple[int, Amendment], ...]:
        """Changes of parts of roads, with the road's row."""
        return self.fabric.ranged

    def kept(self, key: tuple[object, ...], make: Callable[[], Value]) -> Value:
        """Give what is kept under a key, made the first time it is asked for."""
        if key not in self._cache:
            self._cache[key] = make()
        value: Value = self._cache[key]
        return value

    def number(self, name: str) -> Floats:
        """Give a road column by piece, in the unit of its name, NaN where missing."""
        return self.kept(
            ("number", name),
            lambda: _locked(columns.spread_number(self.site.layers["roads"], self.pieces, self.ranged, name)),
        )

    def si(self, name: str) -> Floats:
        """Give a road column by piece in SI: ``si("speed_limit_mps")`` reads ``speed_limit_kmh``."""
        return self.kept(("si", name), lambda: _locked(columns.to_si(name, self.number(columns.practical(name)))))

    def text(self, name: str) -> Objects:
        """Give a text road column by piece, None where missing."""
        return self.kept(
            ("text", name),
            lambda: _locked(columns.spread_text(self.site.layers["roads"], self.pieces, self.ranged, name)),
        )

    def text_code(self, name: str, words: tuple[str, ...]) -> Ints:
        """Give each piece's place of its text among the words, −1 where missing."""
        return self.kept(
            ("code", name, words),
            lambda: _locked(columns.spread_code(self.site.layers["roads"], self.pieces, self.ranged, name, words)),
        )

    def method(self, name: str) -> Objects:
        """Give by piece how a number was got."""
        return self.kept(
            ("method", name),
            lambda: _locked(columns.spread_method(self.site.layers["roads"], self.pieces, self.ranged, name)),
        )

    def windowed(self, window_m: float) -> Windowed:
        """Give the grades over all windows of one length that touch each piece's parent cell."""
        return self.kept(
            ("window", float(window_m)),
            lambda: windowed(
                self.fabric,
                self.pieces,
                self.tolerance,
                self.si("grade_ratio"),
                self.number("regraded") == 1,
                float(window_m),
            ),
        )

    def cross_change(self, base_m: float) -> Floats:
        """Give, anew, the greatest change of cross slope over a wheelbase touching each piece's parent cell."""
        return cross_change(self.fabric, self.pieces, self.cross_slope_ratio, float(base_m))

    def pairs(self, layer: str, body_m: float, beside_m: float | None = None) -> Pairs:
        """Give the features of a layer that each piece's stretch of body meets; None: those over the road itself."""
        key = ("pairs", layer, float(body_m), None if beside_m is None else float(beside_m))
        return self.kept(key, lambda: self._pairs(layer, float(body_m), beside_m))

    def _pairs(self, layer: str, body_m: float, beside_m: float | None) -> Pairs:
        features = self.fabric.features.get(layer)
        if features is None or not len(features):
            none = np.zeros(0, dtype=np.int64)
            return Pairs(piece=none, feature=none, distance_m=np.zeros(0), side=none, over=np.zeros(0, dtype=bool))
        fabric = self.fabric
        own = fabric.own[layer]
        way = Way(lines=fabric.lines, links=fabric.links, chains=fabric.chains, course=fabric.course)
        signs = layer == "limits"
        near = own if beside_m is None else belong(way, features, signs, beside_m)
        ahead = stands_beyond(way, self.ends, features, (signs, None, body_m))
        own = united(own, ahead)
        wide = ahead if beside_m is None else stands_beyond(way, self.ends, features, (signs, beside_m, body_m))
        near = united(near, wide)
        ground = Ground(
            course=fabric.course, ends=self.ends, cells=fabric.cells, order=fabric.order, pieces=self.pieces
        )
        return make_pairs(ground, features, own, near, body_m)

    @property
    def junction_steps_m(self) -> Floats:
        """Give by piece how far the road's end in its cell stands off in height from others that end at that node."""
        return self.kept(("steps",), lambda: _locked(self._junction_steps()))

    def _junction_steps(self) -> Floats:
        network, fabric = self.network, self.fabric
        road, ends = np.asarray(network.link_road), []
        for s in (np.asarray(network.link_from_m), np.asarray(network.link_to_m)):
            link = fabric.links.at(road, s)
            at = fabric.chains.position(fabric.links, link, s)
            ends.append(self.heights.at(fabric.link_row[link], at))
        node = np.concatenate((network.link_a, network.link_b))
        height = np.concatenate(ends)
        top, low = np.full(len(network.node_xy), -np.inf), np.full(len(network.node_xy), np.inf)
        known = ~np.isnan(height)
        np.maximum.at(top, node[known], height[known])
        np.minimum.at(low, node[known], height[known])
        off = np.where(known, np.fmax(top[node] - height, height - low[node]), 0.0)
        out = np.zeros(len(self.pieces))
        first, last = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop) - 1
        np.maximum.at(out, first, off[: len(road)])
        np.maximum.at(out, last, off[len(road) :])
        by_cell = np.zeros(len(fabric.cells))
        np.maximum.at(by_cell, self.pieces.cell, out)
        return by_cell[self.pieces.cell]

    @property
    def ends(self) -> Ends:
        """Where roads end with nothing after them."""
        fabric = self.fabric
        return self.kept(("ends",), lambda: free_ends(fabric.course, fabric.links, fabric.chains))

    def body_lines(self, piece: Ints, front_m: float, rear_m: float) -> Objects:
        """Give the centreline under a body on each piece's cell, as it faces along the chain, straight on past ends."""
        pieces = self.pieces
        low, high = pieces.cell_from_m[piece] - rear_m, pieces.cell_to_m[piece] + front_m
        return lengthened(self.fabric.course, self.ends, pieces.chain[piece], low, high)

    def looked_at(self, layer: str) -> Bools:
        """Say by piece whether anybody looked at a layer there."""
        return self.kept(("looked", layer), lambda: _locked(self._looked_at(layer)))

    def _looked_at(self, layer: str) -> Bools:
        note = self.site.note(layer)
        if note is None:
            return np.zeros(len(self.pieces), dtype=bool)
        roads = self.site.layers["roads"]
        named = np.array([not note.roads or road in note.roads for road in roads.ids], dtype=bool)[self.pieces.road]
        out: Bools = named & ~columns.left_out(roads, self.pieces, self.ranged, layer)
        return out

    def node_at(self, place: str) -> int:
        """Give the node of a place."""
        return self.network.place_node[place]

    @property
    def piece_ends(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Where every piece begins and ends: x and y of the one, x and y of the other."""
        of = self.pieces

        def look() -> tuple[Floats, Floats, Floats, Floats]:
            begins, ends = (self.fabric.lines.locate(of.road, at)[:2] for at in (of.from_m, of.to_m))
            return *begins, *ends

        return self.kept(("piece ends",), look)

    def xy(self, road: int, from_m: float, to_m: float) -> Floats:
        """Give the polyline of a road between two chainages, in the order asked for."""
        return self.fabric.lines.substring(road, from_m, to_m)[1]

    def xyz(self, road: int, from_m: float, to_m: float) -> Floats:
        """Give the same with heights, NaN where there are none."""
        at, xy = self.fabric.lines.substring(road, from_m, to_m)
        return np.column_stack((xy, self.heights_at(road, at)))

    def height_at(self, road: int, at_m: float) -> float:
        """Give the height at a chainage, NaN where there is none."""
        return float(self.heights_at(road, np.array([at_m]))[0])

    def heights_at(self, road: int, at_m: Floats) -> Floats:
        """Give heights at chainages of one road."""
        fabric = self.fabric
        roads = np.full(len(at_m), road, dtype=np.int64)
        link = fabric.links.at(roads, at_m)
        return fabric.heights.at(fabric.link_row[link], fabric.chains.position(fabric.links, link, at_m))

    def lonlat(self, xy: Floats) -> Floats:
        """Give longitude and latitude (WGS 84) of plan coordinates; further columns are kept."""
        lon, lat = _transformer(self.site.crs_wkt).transform(xy[:, 0], xy[:, 1])
        return np.column_stack((lon, lat, xy[:, 2:]))


Locked = TypeVar("Locked", Floats, Ints, Bools, Objects)


def _locked(values: Locked) -> Locked:
    values.setflags(write=False)
    return values


@lru_cache(maxsize=8)
def _transformer(wkt: str) -> Transformer:
    return Transformer.from_crs(wkt, "EPSG:4326", always_xy=True)


def build_survey(site: Site, tolerance: Tolerance, piece_m: float = 5.0) -> Survey:
    """Cut a site into pieces.

    Args:
        site: the site, with changes laid on (:func:`lay_on`)
        tolerance: resolved half-bands
        piece_m: greatest length of a piece [m]

    Raises:
        InputError: a road without length, or places off the network, all of them named.
    """
    fabric, network, pieces, doubts = weave(site, tolerance, piece_m)
    source = fabric.heights.source[pieces.road]
    slope, band = across(site, fabric, pieces, tolerance)
    return Survey(
        site=site,
        network=network,
        pieces=pieces,
        tolerance=tolerance,
        cross_slope_ratio=_locked(slope),
        cross_slope_band=_locked(band),
        height_source=_locked(source),
        doubts=doubts,
        fabric=fabric,
    )
