"""A shunt, or turning round in moves, seen from above: what is swept, and the numbered moves.

Forwards is drawn through, backwards dashed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from travel.domain.plan import ShuntMove, TravelPlan, Turn
from travel.writers.numbers import quantity

Floats = NDArray[np.float64]

WIDTH_PT, HEIGHT_PT, EDGE_PT = 300.0, 190.0, 16.0
BAR_M = 5.0
FULL_PCT = 99.0
M_PER_DEGREE = 111_320.0
"""Length of a degree of latitude [m]; for the size of a sketch."""
_STYLE = (
    "text{font:700 11px sans-serif}.way{fill:none;stroke:#777;stroke-width:1;stroke-dasharray:1 3}"
    ".swept{fill:#e4e4e4;stroke:#1c1c1c;stroke-width:1}.forward,.reverse{fill:none;stroke:#000;stroke-width:2.2}"
    ".reverse{stroke-dasharray:5 3}.end{fill:#000}.no{fill:#fff;stroke:#000;stroke-width:1}"
    ".bar{fill:none;stroke:#000;stroke-width:1.4}"
)


def move_text(move: ShuntMove) -> str:
    """Give one move in words."""
    way = "FORWARD" if move.travel == "forward" else "BACK"
    lock = "full lock" if move.lock_pct > FULL_PCT else f"about {round(move.lock_pct, -1):.0f} % of full lock"
    return f"{way} {move.length_m:.1f} m, wheels {move.side.upper()}, {lock}"


def begin_text(turn: Turn) -> str:
    """Give where the first move begins; nothing where that is not known."""
    if turn.begin_m is None:
        return ""
    side = "past" if turn.begin_m >= 0.0 else "before"
    where = "place" if turn.kind == "turn_round" else "corner"
    return f"Straight on until the front axle is {abs(turn.begin_m):.1f} m {side} the middle of the {where}; stop"


def moves_text(turn: Turn) -> str:
    """Give a shunt in one sentence."""
    moves = (f"{number} {move_text(move)}" for number, move in enumerate(turn.moves, start=1))
    return "; ".join(filter(None, (begin_text(turn), *moves)))


def shunt_svg(plan: TravelPlan, turn: Turn) -> str:
    """Give the picture of a shunt, north up; nothing where no moves are known."""
    if not turn.moves or len(turn.swept_lonlat) < 3:
        return ""
    sketch = _Sketch(np.array(turn.swept_lonlat))
    legs = [leg for leg in plan.legs if leg.trip == turn.trip and turn.after_leg <= leg.leg <= turn.after_leg + 1]
    body = [f'<path class="way" d="{sketch.path([p[:2] for p in leg.path_lonlat])}"/>' for leg in legs]
    body.append(f'<path class="swept" d="{sketch.path(turn.swept_lonlat)}Z"/>')
    for move in turn.moves:
        points = sketch.points(move.path_lonlat)
        body.append(f'<path class="{move.travel}" d="{_line(points)}"/>')
        body.append(_arrow(points))
    body += _numbers([sketch.points(move.path_lonlat) for move in turn.moves])
    body.append(sketch.bar())
    said = f"Seen from above, north up: {moves_text(turn)}."
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH_PT:g} {HEIGHT_PT:g}" width="{WIDTH_PT:g}pt" '
        f'height="{HEIGHT_PT:g}pt" role="img"><title>{said}</title><style>{_STYLE}</style>{"".join(body)}</svg>'
    )


class _Sketch:
    """From longitude and latitude to points of the sketch."""

    def __init__(self, swept: Floats) -> None:
        self._origin = swept.mean(axis=0)
        self._per_degree = M_PER_DEGREE * np.array([math.cos(math.radians(float(self._origin[1]))), 1.0])
        own = self._metres(swept)
        low, high = own.min(axis=0) - 1.0, own.max(axis=0) + 1.0
        room = np.array([WIDTH_PT - 2 * EDGE_PT, HEIGHT_PT - 2 * EDGE_PT])
        self.pt_per_m = float((room / (high - low)).min())
        self._middle = (low + high) / 2.0

    def _metres(self, lonlat: Floats) -> Floats:
        return np.asarray((lonlat - self._origin) * self._per_degree)

    def points(self, lonlat: Iterable[Iterable[float]]) -> Floats:
        own = self._metres(np.array([list(point) for point in lonlat])) - self._middle
        return np.column_stack((WIDTH_PT / 2 + own[:, 0] * self.pt_per_m, HEIGHT_PT / 2 - own[:, 1] * self.pt_per_m))

    def path(self, lonlat: Iterable[Iterable[float]]) -> str:
        return _line(self.points(lonlat))

    def bar(self) -> str:
        x, y, long = EDGE_PT, HEIGHT_PT - 6.0, BAR_M * self.pt_per_m
        line = f'<path class="bar" d="M{x:.1f} {y - 4:.1f}v4h{long:.1f}v-4"/>'
        return f'{line}<text x="{x + long + 4:.1f}" y="{y:.1f}">{quantity(BAR_M, "m")}</text>'


def _line(points: Floats) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _arrow(points: Floats) -> str:
    """Give the head at the end of a move."""
    step = points[-1] - points[max(len(points) - 6, 0)]
    angle = math.degrees(math.atan2(step[1], step[0]))
    x, y = points[-1]
    return f'<path class="end" d="M4 0L-5 4.5L-5 -4.5z" transform="translate({x:.1f} {y:.1f}) rotate({angle:.1f})"/>'


def _numbers(paths: list[Floats]) -> list[str]:
    """Give the number of each move beside its middle, clear of the moves and of each other."""
    out: list[str] = []
    taken = np.concatenate(paths)
    for number, points in enumerate(paths, start=1):
        at = len(points) // 2
        step = points[min(at + 1, len(points) - 1)] - points[at - 1]
        aside = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-9)
        spots = [points[at] + aside * off for off in (14.0, -14.0, 24.0, -24.0, 34.0, -34.0)]
        room = [float(np.hypot(*(taken - spot).T).min()) for spot in spots]
        spot = next((spot for spot, free in zip(spots, room, strict=True) if free >= 12.0), spots[0])
        taken = np.concatenate((taken, spot + np.array([(x, y) for x in (-6, 0, 6) for y in (-6, 0, 6)])))
        x, y = spot
        out.append(f'<circle class="no" cx="{x:.1f}" cy="{y:.1f}" r="8"/>')
        out.append(f'<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">{number}</text>')
    return out
