"""Ground under the belly: the machine rolled over the road's own profile, humps, crests and kerbs included.

First a bound that needs no rolling: between contacts the road rises over the chord by no more than L d / 4, under an
overhang e by e d, with d the range of the road's slopes under the body; round tyres add no more than r d² / 2. Only
where that leaves doubt the body is rolled over the profile's own corners.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import Body
from travel.checks.case import Case
from travel.checks.knots import knots_past, knots_round, slopes_round
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.stated_grades import slopes_about
from travel.checks.told import YES, told
from travel.checks.tops import bumps, own_height_band
from travel.mechanics.roll_engine import RollCase, roll_plumb
from travel.survey import Onward, past_ends, ways_onward
from travel.survey.terrain import half_cell_m

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STEP_M = 0.1
SAME_M = 1e-6
"""Knots no further apart are a step: where two chains meet their chainages differ by rounding."""
COVERAGE = 1.96
"""Two-sided 95 % of a normal distribution, as in the survey."""
_KEPT: WeakKeyDictionary[Case, tuple[Floats, Floats]] = WeakKeyDictionary()
_ENOUGH: WeakKeyDictionary[Case, Floats] = WeakKeyDictionary()


@answers("underbody")
def underbody(rows: Rows, case: Case) -> Outcome:
    """Smallest clearance over the piece, either way round, less a bump under the belly."""
    clear, band = clearances(case)
    return Outcome(
        demand=case.scalar("underbody.least"),
        capacity=rows.column(clear),
        tolerance=rows.column(band),
        caution=case.scalar("underbody.caution"),
        missing={
            "grade": np.isnan(rows.column(clear)),
            "roughness_m": np.isnan(rows.si("roughness_m")),
            **dict.fromkeys(case.body.shape_lacks, YES),
            **told(rows, case, "roughness_m", "grade_pct"),
        },
        outside=len(case.belly.axle_x_m) != 2,
        limit=case.resolved("underbody.least"),
        limit_source="computed",
    )


def clearances(case: Case) -> tuple[Floats, Floats]:
    """Give clearance and its 95 % half-band by piece; NaN where no height is known."""
    if case not in _KEPT:
        clear = _rolled(case) - bumps(case, np.arange(len(case.survey.pieces)))
        _KEPT[case] = clear, _band(case)
    return _KEPT[case]


def _band(case: Case) -> Floats:
    """Half-band: the machine's own heights, and the ground under the belly against the ground under two wheels.

    Errors of heights a spacing s apart bend the ground by √6 sd / s at a height, a quarter of the wheelbase times that
    under the belly: √6 L sd / (4 s), and no more than √1.5 sd of three heights alone. Vertices may lie at any spacing.
    """
    survey = case.survey
    terrain = survey.site.terrain
    spacing = 2.0 * half_cell_m(terrain) if terrain is not None else 0.0
    three = np.sqrt(1.5)
    grid = min(three, np.sqrt(6.0) * case.belly.wheelbase_m / (4.0 * spacing)) if spacing else three
    share = np.where(survey.height_source == "terrain", grid, three)
    piece = np.arange(len(survey.pieces))
    middle = (survey.pieces.cell_from_m + survey.pieces.cell_to_m) / 2.0
    sd = survey.heights.sd_m[survey.fabric.course.row_at(survey.pieces.chain[piece], middle)]
    ground = np.where(survey.height_source == "grade", 0.0, COVERAGE * share * sd)
    return np.asarray(np.hypot(own_height_band(case), ground))


def _rolled(case: Case) -> Floats:
    """Give the smallest clearance by piece: by the bound where it is enough, or no heights are known, else rolled."""
    survey, body = case.survey, case.belly
    pieces = survey.pieces
    level = float(body.under_xz_m[:, 1].min())
    out = np.full(len(pieces), np.nan)
    reach = body.length_m + body.wheelbase_m
    out[survey.height_source == "grade"] = level
    about = slopes_about(survey, reach)
    met = np.flatnonzero(about.mixed)
    by_grades = _bound(body, about.low[met], about.high[met])
    middle = (pieces.cell_from_m + pieces.cell_to_m) / 2.0
    run = survey.heights.run[survey.fabric.course.row_at(pieces.chain, middle)]
    known = np.flatnonzero((run >= 0) & np.isin(survey.height_source.astype(object), ("z", "terrain")))
    if not len(known) or len(body.axle_x_m) != 2:
        out[met] = np.minimum(out[met], by_grades)
        return out
    first, last, low, high, even = slopes_round(survey, known, run[known], reach)
    bound = _bound(body, low, high)
    out[known] = np.where(even, level, bound)
    enough = enough_m(case)
    thin = ~even & ~(bound >= enough[known])
    if thin.any():
        # out and back, laden or not, the same body over the same pieces is rolled once
        key = ("rolled", *_shape(body), known[thin].tobytes())
        rolled = (known[thin], run[known[thin]], first[thin], last[thin])
        out[known[thin]] = survey.kept(key, lambda: _exact(case, *rolled))
    _past_ends(case, out, enough, known)
    out[met] = np.minimum(out[met], by_grades)
    return out


def _past_ends(case: Case, out: Floats, enough: Floats, known: Ints) -> None:
    """Lower the clearances of pieces from which the body goes straight on past the end of their chain."""
    row, _, clear = over_ends(case, known, ways_onward(case.survey), enough)
    np.minimum.at(out, known[row], clear)


def enough_m(case: Case) -> Floats:
    """Give the clearance by piece, bumps included, that no margin makes thin, once."""
    if case not in _ENOUGH:
        bumped = _band(case) + bumps(case, np.arange(len(case.survey.pieces)))
        _ENOUGH[case] = bumped + case.scalar("underbody.least") + case.scalar("underbody.caution")
    return _ENOUGH[case]


def over_ends(case: Case, piece: Ints, onward: Onward, enough: Floats) -> tuple[Ints, Ints, Floats]:
    """Give the clearance of pieces from which the body goes on past the end of their chain, bumps left out.

    Args:
        case: the trip
        piece: pieces
        onward: the ways past ends of chains
        enough: by piece of the site, the clearance from which on a bound will do

    Returns:
        rows of ``piece``, ways, clearance; nothing where a height is not known on both or all is even
    """
    survey, body = case.survey, case.belly
    reach = body.length_m + body.wheelbase_m
    row, way = past_ends(survey, piece, reach, onward)
    if not len(row) or len(body.axle_x_m) != 2:
        return row[:0], way[:0], np.zeros(0)
    found, x, z = knots_past(survey, piece[row], onward.some(way), reach + 1.0)
    told = ~np.isnan(z).any(axis=1)  # where no height is known the other road says so itself
    row, way, x, z = row[found][told], way[found][told], x[told], z[told]
    slope = _slopes_between(x, z)
    some = ~np.isnan(slope)
    low, high = np.min(slope, axis=1, initial=np.inf, where=some), np.max(slope, axis=1, initial=-np.inf, where=some)
    clear = _bound(body, low, high)
    thin = ~((low == high) | (clear >= enough[piece[row]]))
    if thin.any():
        rolled, by = piece[row][thin], onward.some(way[thin])
        key = (rolled, by.chain, by.far, by.to_chain, by.to_far)
        clear[thin] = survey.kept(
            ("rolled", *_shape(body), *(column.tobytes() for column in key)),
            lambda: _roll(case, rolled, (x[thin], z[thin])),
        )
    bent = low != high
    return row[bent], way[bent], clear[bent]


def _shape(body: Body) -> tuple[bytes | float, ...]:
    """Give all that rolling looks at of a body, to tell two of them apart."""
    arrays = (body.under_xz_m, body.axle_x_m, body.radius_m)
    return (*(values.tobytes() for values in arrays), body.wheelbase_m, body.length_m)


def _bound(body: Body, low: Floats, high: Floats) -> Floats:
    """Give a clearance that no position falls below, from the range of slopes alone."""
    x, z = body.under_xz_m.T
    front, rear = float(body.axle_x_m[0]), float(body.axle_x_m[-1])
    base, radius = front - rear, float(body.radius_m.max())
    order = np.argsort(x, kind="stable")
    ends = np.interp([rear, front], x[order], z[order])
    known = np.isfinite(low) & np.isfinite(high)
    bend = np.where(known, high - np.where(known, low, 0.0), 0.0)
    steep = np.where(known, np.maximum(np.abs(low), np.abs(high)), 0.0)
    inside = z[(x >= rear) & (x <= front)]
    belly = float(min([*inside, *ends])) - base * bend / 4.0 - radius * bend**2 / 2.0
    beyond = np.maximum(np.maximum(x - front, rear - x), 0.0)
    leaned = beyond[:, None] + z[:, None] * steep  # a pitched body carries its points that much further out
    hung = z[:, None] - leaned * bend - radius * bend**2 / 2.0 * (1.0 + beyond[:, None] / base)
    out = np.minimum(belly, np.where(beyond[:, None] > 0.0, hung, np.inf).min(axis=0))
    step = np.isinf(low) | np.isinf(high)
    return np.where(known, out / np.sqrt(1.0 + steep**2), np.where(step, -np.inf, np.nan))


def _exact(case: Case, piece: Ints, run: Ints, first: Ints, last: Ints) -> Floats:
    """Roll the body over the profile's own corners, either way round."""
    reach = case.belly.length_m + case.belly.wheelbase_m + 1.0
    return _roll(case, piece, knots_round(case.survey, piece, run, first, last, reach))


def _roll(case: Case, piece: Ints, knots: tuple[Floats, Floats]) -> Floats:
    """Give the smallest clearance of each piece over a profile from its cell's start, carried on at both ends."""
    survey, body, (x, z) = case.survey, case.belly, knots
    from_x, n = np.zeros(len(piece)), len(piece)
    length = (survey.pieces.cell_to_m - survey.pieces.cell_from_m)[piece]
    under = body.under_xz_m[np.argsort(body.under_xz_m[:, 0], kind="stable")]
    cases = RollCase(
        profile_x=np.vstack((x, -x[:, ::-1])),
        profile_z=np.vstack((z, z[:, ::-1])),
        under_x=np.tile(under[:, 0] - body.axle_x_m[0], (2 * n, 1)),
        under_z=np.tile(under[:, 1], (2 * n, 1)),
        lead_r=np.full(2 * n, body.radius_m[0]),
        trail_r=np.full(2 * n, body.radius_m[-1]),
        base=np.full(2 * n, body.wheelbase_m),
        from_x=np.concatenate((from_x, -length)),
        to_x=np.concatenate((length, from_x)),
    )
    plumb = roll_plumb(cases, STEP_M)[0].reshape(2, n).min(axis=0)
    slope = np.abs(_slopes_between(x, z))
    slope = np.where(np.isinf(slope), np.nan, slope)
    steep = np.max(slope, axis=1, initial=0.0, where=~np.isnan(slope))
    steep[np.isnan(slope).all(axis=1)] = np.nan  # no height is known there
    return np.asarray(np.where(plumb > 0.0, plumb / np.sqrt(1.0 + steep**2), plumb))


def _slopes_between(x: Floats, z: Floats) -> Floats:
    """Give the slope between a profile's knots but for what is carried on: infinite at a step, NaN between knots that
    are one and where no height is known."""
    own = x[:, 2:-1] < x[:, -1:]
    run, rise = np.diff(x[:, 1:-1], axis=1), np.diff(z[:, 1:-1], axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.where(own, rise / np.where(run > SAME_M, run, np.nan), np.nan)
    return np.where(own & (run <= SAME_M) & (rise != 0.0) & ~np.isnan(rise), np.inf, slope)
