"""The rows a rule is asked about: a grid (configurations × directions × pieces) or a list of the cells of a way.

A rule is written once: in the grid its columns have shapes (C, 1, 1), (1, 2, 1) and (1, 1, n) and broadcast only over
what it uses, the long axis last, where array arithmetic is fast; in a list every column has the length of the list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.alike import Alike
from travel.checks.case import Case
from travel.domain.site import Layer
from travel.rulebook import Axis, LimitColumn
from travel.survey import Pairs, change_of_cross_slope

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Objects = NDArray[np.object_]
Kind = TypeVar("Kind", bound=np.generic)
_IS_ONE: WeakKeyDictionary[Layer, dict[tuple[str, tuple[str, ...], str], Bools]] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False, kw_only=True)
class Rows:
    """Cells to be judged. ``sense`` +1 along the road as drawn, −1 against; ``pair`` rows of ``pairs`` if any.

    Where ``alike`` is set the first axis is its groups of configurations: only :meth:`by_config` reads by them.
    ``span``: the pieces of a grid that follow each other, so that columns are read in place and not copied.
    """

    case: Case
    piece: Ints
    sense: Ints
    config: Ints
    pairs: Pairs | None = None
    pair: Ints | None = None
    layer: Layer | None = None
    alike: Alike | None = None
    span: slice | None = None

    def __post_init__(self) -> None:
        """Refuse a span of other pieces than those of the rows."""
        if self.span is not None:
            start, stop = self.span.start, self.span.stop
            ends = self.piece.ravel()[[0, -1]].tolist() if self.piece.size else [start, stop - 1]
            if self.piece.shape != (1, 1, stop - start) or ends != [start, stop - 1]:
                raise ValueError("the span is not that of the pieces")

    # -- columns of the road
    def at(self, values: NDArray[Kind]) -> NDArray[Kind]:
        """Give a per-piece column at these rows, not to be written to."""
        if self.span is None:
            return np.asarray(values[self.piece])
        here = values[self.span].reshape(1, 1, -1)
        here.flags.writeable = False
        return here

    def column(self, values: NDArray[np.float64]) -> Floats:
        """Give a per-piece column of numbers at these rows."""
        return self.at(values)

    def si(self, field: str) -> Floats:
        """Give a road column in SI at these rows."""
        return self.at(self.case.survey.si(field))

    def limit(self, limit_id: str) -> LimitColumn:
        """Give a limit by surface at these rows, in SI."""
        column = self.case.column(limit_id)
        if np.ndim(column.values) == 0:
            return column
        return LimitColumn(values=self.at(column.values), row=self.at(column.row), rows=column.rows)

    @property
    def surface(self) -> Axis:
        """Surface at these rows."""
        return Axis(self.at(self.case.surface.codes), self.case.surface.words)

    # -- slope
    @property
    def grade(self) -> Floats:
        """Worst windowed grade, + rises as drawn [ratio]."""
        return self.column(self.case.window.grade_worst)

    @property
    def uphill(self) -> Floats:
        """Steepest climb in the sense of travel (negative where it only falls) [ratio]."""
        return np.where(
            self.sense > 0, self.column(self.case.window.grade_max), -self.column(self.case.window.grade_min)
        )

    @property
    def downhill(self) -> Floats:
        """Steepest fall in the sense of travel, positive downhill [ratio]."""
        return np.where(
            self.sense > 0, -self.column(self.case.window.grade_min), self.column(self.case.window.grade_max)
        )

    @property
    def grade_band(self) -> Floats:
        """95 % half-band of the windowed grade [ratio]."""
        return self.column(self.case.window.half_band)

    @property
    def cross(self) -> Floats:
        """Cross slope, + falls to the right as drawn [ratio]."""
        return self.column(self.case.survey.cross_slope_ratio)

    @property
    def cross_band(self) -> Floats:
        """95 % half-band of the cross slope [ratio]."""
        return self.column(self.case.survey.cross_slope_band)

    def cross_change(self, base_m: float) -> Floats:
        """Give the greatest change of cross slope over a wheelbase, also straight on past a junction [ratio]."""
        return self.column(change_of_cross_slope(self.case.survey, base_m))

    @property
    def change_band(self) -> Floats:
        """95 % half-band of the change of cross slope: that of both cross slopes [ratio]."""
        return np.asarray(np.sqrt(2.0) * self.column(self.case.survey.cross_slope_band))

    @property
    def across_mps2(self) -> Floats:
        """Acceleration across, + towards the left in the sense of travel: none, for what a bend asks caps the speed."""
        return np.zeros(())

    # -- configuration
    def by_config(self, values: NDArray[Any]) -> NDArray[Any]:
        """Give a per-configuration column at these rows."""
        return np.asarray(values[self.config] if self.alike is None else self.alike.look(values))

    @property
    def reverse(self) -> Bools:
        """Where the machine drives in reverse."""
        return self.by_config(self.case.configurations.reverse)

    @property
    def low(self) -> Bools:
        """Where the machine drives in the low range."""
        return self.by_config(self.case.configurations.low)

    # -- the feature of a pair
    @property
    def feature(self) -> Ints:
        """Row of the feature in its layer."""
        assert self.pairs is not None
        assert self.pair is not None
        return np.asarray(self.pairs.feature[self.pair])

    @property
    def distance_m(self) -> Floats:
        """Least plan distance from the centreline to the feature."""
        assert self.pairs is not None
        assert self.pair is not None
        return np.asarray(self.pairs.distance_m[self.pair])

    @property
    def side(self) -> Ints:
        """Give the side the feature lies on as the road is drawn: +1 left, −1 right, 0 on the centreline."""
        assert self.pairs is not None
        assert self.pair is not None
        return np.asarray(self.pairs.side[self.pair])

    def of_feature(self, field: str) -> Floats:
        """Give a number of the feature, in the file's unit."""
        assert self.layer is not None
        return np.asarray(self.layer.number(field)[self.feature])

    def kind_is(self, *kinds: str, field: str = "kind") -> Bools:
        """Give where the feature's kind is one of these."""
        assert self.layer is not None
        return np.asarray(_is_one(self.layer, field, kinds, Layer.text)[self.feature])

    def method_is(self, field: str, *methods: str) -> Bools:
        """Give where the feature's number was got by one of these methods."""
        assert self.layer is not None
        return np.asarray(_is_one(self.layer, field, methods, Layer.method)[self.feature])


def _is_one(layer: Layer, field: str, words: tuple[str, ...], column: Callable[[Layer, str], Objects]) -> Bools:
    """Give which features of a layer have one of some words in a column; kept, for block after block asks."""
    kept, key = _IS_ONE.setdefault(layer, {}), (field, words, column.__name__)
    if key not in kept:
        kept[key] = np.isin(column(layer, field).astype(object), list(words))
    return kept[key]
