"""How high the body stands above the road while it drives over a piece: rigid, with both axles on the real profile.

The body is cut into boxes: level k reaches up to ``level_m[k]`` with half the greatest width found from the level
below it upwards. The machine may face either way; the worse counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import Body
from travel.checks.case import Case
from travel.checks.ground_line import heights_past, heights_round
from travel.checks.stated_grades import slopes_about
from travel.mechanics.passing import height_passing_under
from travel.survey import past_ends, ways_onward

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STEP_M = 0.1
"""Spacing of positions and of the profile; what it may miss at a kink is added (``_worst``)."""
OUTLINE_M = 1.0
"""Greatest spacing of points along the outline from above."""
LEAN_RATIO = 0.4
"""How far along the road the top may lean, as a part of its height; the grid reaches that much further."""
BLOCK = 2048

NOT_IN_THE_WAY = ("load.rigging_kg",)
"""What a load's sheet may lack without leaving its outline open."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Tops:
    """Heights of the levels above the road (p, k), and per level the numbers of the point that governs."""

    piece: Ints
    level_m: Floats
    half_width_m: Floats
    height_m: Floats
    point_m: Floats
    grade_ratio: Floats
    rise_m: Floats
    lever_ratio: Floats
    bump_m: Floats
    cross_ratio: Floats
    overshoot_ratio: float
    steepest_ratio: Floats

    def row(self, piece: Ints) -> Ints:
        """Give the rows of pieces (any shape)."""
        return np.asarray(np.searchsorted(self.piece, piece))

    def highest(self) -> Ints:
        """Give the level that stands highest, by row (0 where nothing is known)."""
        return np.asarray(np.argmax(np.nan_to_num(self.height_m, nan=-np.inf), axis=1))

    def terms(self, row: Ints) -> dict[str, Floats | float]:
        """Give the arguments of ``height_passing_under`` at rows, for the level that stands highest."""
        level = self.highest()[row]
        return {
            "top_height_m": self.point_m[row, level],
            "body_width_m": 2.0 * self.half_width_m[level],
            "grade_ratio": self.grade_ratio[row, level],
            "cross_slope_ratio": self.cross_ratio[row],
            "profile_rise_m": self.rise_m[row, level],
            "bump_m": self.bump_m[row],
            "lever_ratio": self.lever_ratio[row, level],
            "overshoot_ratio": self.overshoot_ratio,
        }


def tops_of(case: Case, piece: Ints) -> Tops:
    """Give how high the body stands over some pieces (sorted, unique)."""
    level, half = levels(case.body)
    point_x, point_z, lever = _outline(case.body)
    base, grade = _risen(case, piece, point_x, point_z, lever)
    bump, overshoot = bumps(case, piece), case.scalar("headroom.overshoot")
    clipped = np.minimum(point_z[None, :], level[:, None])
    cut = point_z[None, :] - clipped
    bounce = bump[:, None] * lever * (1.0 + overshoot)
    score = (base + bounce)[:, None, :] - cut
    index = np.argmax(np.nan_to_num(score, nan=-np.inf), axis=2)
    rows, k = np.arange(len(piece))[:, None], np.arange(len(level))[None, :]
    height = clipped[k, index]
    sloped = height * np.sqrt(1.0 + grade[rows, index] ** 2)
    rise = base[rows, index] - cut[k, index] - sloped
    cross = case.survey.cross_slope_ratio[piece]
    total = height_passing_under(
        height, 2.0 * half, grade[rows, index], cross[:, None], rise, bump[:, None], lever[index], overshoot
    )
    unknown = np.asarray(np.isnan(base).any(axis=1))
    return Tops(
        piece=piece,
        level_m=level,
        half_width_m=half,
        height_m=np.where(unknown[:, None], np.nan, total),
        point_m=height,
        grade_ratio=grade[rows, index],
        rise_m=rise,
        lever_ratio=lever[index],
        bump_m=bump,
        cross_ratio=cross,
        overshoot_ratio=overshoot,
        steepest_ratio=np.max(np.abs(grade), axis=1, initial=0.0),
    )


def body_lacks(case: Case, tops: Tops, row: Ints) -> dict[str, Bools]:
    """Name what the height of the body lacks at rows."""
    piece = tops.piece[row]
    grade, cross = np.asarray(np.isnan(tops.steepest_ratio)), np.asarray(np.isnan(case.survey.cross_slope_ratio))
    out: dict[str, Bools] = {"grade": grade[row], "cross_slope_pct": cross[piece]}
    by_grade = case.survey.height_source[tops.piece] == "grade"
    for field, counts in (("cross_slope_pct", True), ("grade_pct", by_grade)):
        method = case.survey.method(field)[tops.piece].astype(object)
        out[f"{field} told"] = np.asarray(np.isin(method, ("told", "assumed")) & counts)[row]
    for name in (*case.body.load_lacks, *case.body.shape_lacks):
        if name not in NOT_IN_THE_WAY:
            out[name] = np.ones(np.shape(row), dtype=bool)
    return out


def own_height_band(case: Case) -> float:
    """Give the 95 % half-band of the machine's own heights [m]."""
    own = case.body.height_tolerance_m
    return own if not np.isnan(own) else case.tolerance("height_m")


def levels(body: Body) -> tuple[Floats, Floats]:
    """Give the top and half width of every box; a height that is not known is taken as the body's own."""
    top = body.height_m
    heights = np.minimum(np.nan_to_num(body.width_z_m[:, 0], nan=top), top)
    level = np.unique(np.append(heights[heights > 0], top))
    below = np.append(0.0, level[:-1])
    half = np.array([body.width_z_m[heights >= z, 1].max(initial=0.0) for z in below]) / 2.0
    return level, half


def bumps(case: Case, piece: Ints) -> Floats:
    """Give the bump to reckon with: as measured; else the rulebook's least by surface, a larger told one instead."""
    given = case.survey.si("roughness_m")[piece]
    least = case.column("headroom.bump").values[piece]
    sure = np.asarray(case.survey.method("roughness_m")[piece] == "measured", dtype=bool)
    return np.where(sure & ~np.isnan(given), given, np.fmax(given, least))


def _outline(body: Body) -> tuple[Floats, Floats, Floats]:
    """Give x from the front axle and z of points along the outline from above, and the lever of a bump."""
    order = np.argsort(body.top_xz_m[:, 0], kind="stable")
    x, z = body.top_xz_m[order].T
    parts = [np.linspace(0.0, 1.0, max(int(np.ceil(run / OUTLINE_M)), 1), endpoint=False) for run in np.diff(x)]
    own = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    share = np.concatenate(parts) if parts else np.zeros(0)
    px = np.append(x[own] + share * (x[own + 1] - x[own]), x[-1])
    pz = np.append(z[own] + share * (z[own + 1] - z[own]), z[-1])
    base = body.wheelbase_m
    lever = np.maximum(1.0, np.maximum(np.abs(px + base), np.abs(px)) / base)
    return px, pz, lever


def _risen(case: Case, piece: Ints, x: Floats, z: Floats, lever: Floats) -> tuple[Floats, Floats]:
    """Give the greatest height of every point above the road under it, and the grade of the body there: (p, i)."""
    survey = case.survey
    height, grade = np.full((len(piece), len(x)), np.nan), np.full((len(piece), len(x)), np.nan)
    given = survey.height_source[piece] == "grade"
    steep = case.window.grade_worst[piece]
    height[given] = z * np.sqrt(1.0 + steep[given, None] ** 2)
    grade[given] = steep[given, None]
    rest = np.flatnonzero(~given)
    for start in range(0, len(rest), BLOCK):
        chosen = rest[start : start + BLOCK]
        height[chosen], grade[chosen] = _worst(case, piece[chosen], x, z, lever)
    about = slopes_about(survey, _look_m(case))
    met = np.flatnonzero(about.mixed[piece])
    most, steepest = _bounded(case.body, (about.low[piece[met]], about.high[piece[met]]), x, z)
    higher = most > height[met]  # what is not known stays so
    height[met], grade[met] = np.where(higher, most, height[met]), np.where(higher, steepest, grade[met])
    return height, grade


def _look_m(case: Case) -> float:
    """Give how far beyond a piece the road may lie under the body, or under what leans out of it."""
    return max(case.body.reach_m, case.body.wheelbase_m) + LEAN_RATIO * float(np.nan_to_num(case.body.height_m))


def _bounded(body: Body, slopes: tuple[Floats, Floats], x: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Give heights above the road that no position passes where its slopes lie in a range, and the steepest: (p, i).

    A point e beyond an axle leans out by its height as well; between the axles the road falls away from the chord by
    no more than a quarter of the wheelbase times the range.
    """
    low, high = (column[:, None] for column in slopes)
    bend, steepest = high - low, np.maximum(np.abs(low), np.abs(high))
    beyond = np.maximum(np.maximum(x, -body.wheelbase_m - x), 0.0)
    off = np.where(beyond > 0.0, beyond, body.wheelbase_m / 4.0) + z * steepest
    return z * np.sqrt(1.0 + steepest**2) + off * bend, np.broadcast_to(steepest, (len(bend), len(x)))


def _worst(case: Case, piece: Ints, x: Floats, z: Floats, lever: Floats) -> tuple[Floats, Floats]:
    """Give the same where there are heights, kept with the survey: of lines, heights and the body's outline alone."""
    body = case.body
    outline = (x.tobytes(), z.tobytes(), lever.tobytes(), body.reach_m, body.wheelbase_m, body.height_m)
    key = ("rolled", "under what hangs", *outline, piece.tobytes())
    return case.survey.kept(key, lambda: _found(case, piece, x, z, lever))


def _found(case: Case, piece: Ints, x: Floats, z: Floats, lever: Floats) -> tuple[Floats, Floats]:
    """Roll the body over the profile, also on to each chain that goes straight on past the end of its own.

    Between the grid's points a profile with a kink may stand higher than read, and a position between two tried may be
    worse: both together by no more than the lever times the largest second difference of the grid, which is added.
    """
    reach = _look_m(case)
    line = heights_round(case.survey, piece, reach, STEP_M)
    best, grade = _rolled(case, piece, line, (x, z, lever), reach)
    row, way = past_ends(case.survey, piece, reach, ways_onward(case.survey))
    if len(row):
        line = heights_past(case.survey, piece[row], way, (reach, STEP_M))
        other, steep = _rolled(case, piece[row], line, (x, z, lever), reach)
        nth = np.arange(len(row)) - np.searchsorted(row, row)
        for number in range(int(nth.max()) + 1):  # several ways may go straight on
            own, pick = row[nth == number], nth == number
            more = (other[pick] > best[own]) | np.isnan(other[pick])
            best[own], grade[own] = np.where(more, other[pick], best[own]), np.where(more, steep[pick], grade[own])
    return best, grade


def _rolled(
    case: Case, piece: Ints, line: Floats, outline: tuple[Floats, Floats, Floats], reach: float
) -> tuple[Floats, Floats]:
    """Give the same on a given grid of heights; ``outline``: x and z of points, and the lever of a bump."""
    (x, z, lever), body, pieces = outline, case.body, case.survey.pieces
    length = (pieces.cell_to_m - pieces.cell_from_m)[piece]
    count = int(np.ceil(float(length.max()) / STEP_M)) + 1
    front = reach + np.minimum(STEP_M * np.arange(count), length[:, None])
    best, grade = np.full((len(piece), len(x)), -np.inf), np.zeros((len(piece), len(x)))
    for facing in (1.0, -1.0):
        z_front, rise, run = _stand(line, front, facing * body.wheelbase_m)
        chord = np.hypot(run, rise)
        cos, sin = run / chord, rise / chord
        for i, (along, up) in enumerate(zip(x, z, strict=True)):
            under = _read(line, front + facing * (along * cos - up * sin))
            over = z_front + along * sin + up * cos - under
            worst = np.argmax(over, axis=1)[:, None]
            value = np.take_along_axis(over, worst, axis=1)[:, 0]
            more = (value > best[:, i]) | np.isnan(value)
            best[more, i] = value[more]
            grade[more, i] = np.take_along_axis(rise / run, worst, axis=1)[more, 0]
    bend = np.abs(np.diff(line, n=2, axis=1)).max(axis=1)
    return best + lever * bend[:, None], grade


def _stand(line: Floats, front: Floats, base: float) -> tuple[Floats, Floats, Floats]:
    """Give the height under the front axle, and rise and run from the rear axle to it (run along the facing)."""
    z_front = _read(line, front)
    run = np.full_like(front, abs(base))
    for _ in range(2):
        rise = z_front - _read(line, front - np.sign(base) * run)
        run = np.sqrt(np.maximum(base**2 - rise**2, (base / 2.0) ** 2))
    return z_front, z_front - _read(line, front - np.sign(base) * run), run


def _read(line: Floats, at: Floats) -> Floats:
    """Read the grid between its points (p, f); beyond its ends straight on."""
    place = at / STEP_M
    below = np.clip(np.floor(np.nan_to_num(place)).astype(np.int64), 0, line.shape[1] - 2)
    share = place - below
    first = np.take_along_axis(line, below, axis=1)
    second = np.take_along_axis(line, below + 1, axis=1)
    return np.asarray(first + share * (second - first))
