"""Where marks and labels go on a drawing, so that they do not cover each other or what they mean."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""
_AROUND_DEG = (0, 45, -45, 90, -90, 135, -135, 180)
_COVERED = 10.0
_OUTSIDE = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is to be placed: size, the point it means, and the side it would rather stand on [degrees]."""

    x: float
    y: float
    width: float
    height: float
    side_deg: float = -60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """The middle of what was placed, and whether it covers something."""

    x: float
    y: float
    covers: bool


def place(
    wishes: Sequence[Wish], keep_free: Sequence[tuple[Box, float]], frame: Box, reaches: Sequence[float]
) -> list[Placed]:
    """Give a place for each wish in order, the nearest that covers least.

    Args:
        wishes: what is to be placed, the most important first
        keep_free: boxes with the cost of covering each
        frame: what everything should stay inside
        reaches: distances from the point meant, the nearest first
    """
    taken = list(keep_free)
    out = []
    for wish in wishes:
        cost, x, y = min(_tries(wish, taken, frame, reaches))
        taken.append((_box(wish, x, y), _COVERED))
        out.append(Placed(x=x, y=y, covers=cost >= _COVERED))
    return out


def _tries(
    wish: Wish, taken: Sequence[tuple[Box, float]], frame: Box, reaches: Sequence[float]
) -> list[tuple[float, float, float]]:
    found: list[tuple[float, float, float]] = []
    for reach in reaches:
        for degrees in _AROUND_DEG:
            angle = math.radians(degrees + wish.side_deg)
            x = wish.x + math.cos(angle) * (reach + max(0.0, wish.width / 2 - 8.0))
            y = wish.y + math.sin(angle) * reach
            box = _box(wish, x, y)
            cost = reach / 1000.0 + sum(weight for other, weight in taken if _meet(box, other))
            if box[0] < frame[0] or box[1] < frame[1] or box[2] > frame[2] or box[3] > frame[3]:
                cost += _OUTSIDE
            found.append((cost, x, y))
        if min(found)[0] < 1.0:
            break
    return found


def _box(wish: Wish, x: float, y: float) -> Box:
    return (x - wish.width / 2, y - wish.height / 2, x + wish.width / 2, y + wish.height / 2)


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and one[2] > other[0] and one[1] < other[3] and one[3] > other[1]
