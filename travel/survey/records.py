"""What the survey is made of: columns of equal length, read only by convention."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from travel.survey.arrays import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """95 % half-bands of the survey, resolved by the caller, SI."""

    height_m: float
    width_m: float
    grade_ratio: float
    cross_slope_ratio: float
    plan_m: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Network:
    """Nodes, and links between them. A link is a stretch of one road between consecutive nodes.

    Links are sorted by road and chainage, ``link_a`` at ``link_from_m`` and ``link_b`` at ``link_to_m``; the pieces of
    a link are ``link_piece_start`` … ``link_piece_stop``, ascending in chainage.
    """

    node_xy: Floats
    node_degree: Ints
    place_node: Mapping[str, int]
    node_places: Mapping[int, tuple[str, ...]]
    link_road: Ints
    link_from_m: Floats
    link_to_m: Floats
    link_a: Ints
    link_b: Ints
    link_chain: Ints
    link_piece_start: Ints
    link_piece_stop: Ints

    @property
    def n_links(self) -> int:
        """How many links there are."""
        return len(self.link_road)

    @property
    def n_nodes(self) -> int:
        """How many nodes there are."""
        return len(self.node_xy)


@dataclass(frozen=True, eq=False, kw_only=True)
class Pieces:
    """Pieces sorted by road and chainage. ``cell_*`` are the chain chainages of the parent cell.

    ``sign`` is +1 where the road is drawn along its chain, −1 against; ``heading_rad`` is the grid bearing clockwise
    from north, as the road is drawn, at the midpoint.
    """

    road: Ints
    link: Ints
    chain: Ints
    cell: Ints
    from_m: Floats
    to_m: Floats
    length_m: Floats
    cell_from_m: Floats
    cell_to_m: Floats
    sign: Ints
    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    curvature_per_m: Floats

    def __len__(self) -> int:
        return len(self.road)


@dataclass(frozen=True, eq=False, kw_only=True)
class Windowed:
    """Grades over one window length, as drawn along the road; ratio, NaN where heights are missing."""

    grade_max: Floats
    grade_min: Floats
    grade_worst: Floats
    half_band: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class Pairs:
    """Piece × feature, sorted by piece, then feature.

    ``distance_m`` is the least plan distance from the stretch of centreline the body may cover to the footprint;
    ``side`` +1 where the footprint lies left as drawn, −1 right, 0 on the centreline; ``over`` tells whether the
    footprint overlaps the road itself.
    """

    piece: Ints
    feature: Ints
    distance_m: Floats
    side: Ints
    over: Bools

    def __len__(self) -> int:
        return len(self.piece)
