"""A two-axle body rolled over a profile: arithmetic shared by the formulas of ``rolling`` and by the checks.

The profile is a polyline, x ascending, in the last axis of its arrays; everything else broadcasts against the axes
before it, so that each case, and each position of one case, may have a profile of its own. The body has its leading
axle at x = 0 of its own axes, the trailing one at −wheelbase, z up from the ground under level tyres. Tyres are
circles of their loaded radius; their centres rest on the profile's offset line.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUNDS = 60
"""Most steps of the search for the trailing wheel; the bracket halves at least every other one."""
CLOSE_M2, NEAR_M2 = 1e-12, 1e-6
"""How near the squared distance of the wheel centres comes to the wheelbase's: at last, and where places are sought."""
SLACK_M = 1e-5
"""More than the search's nearness can shift a plumb distance."""
ROWS = 12_000
"""Positions worked on at once: their columns stay in the processor's cache."""
STEEPEST_SIN = 0.9
"""Bound of the pitch while it is looked for."""
FINE = 21
REFINED = 4
"""Rounds of ``FINE`` positions round the tightest one; 10 mm become a micrometre."""


@dataclass(frozen=True, eq=False, slots=True)
class Stand:
    """How the body stands: wheel centres, its pitch, and the slope of the ground line where each tyre touches it."""

    lead_x: Floats
    lead_z: Floats
    trail_x: Floats
    trail_z: Floats
    cos: Floats
    sin: Floats
    lead_tan: Floats
    trail_tan: Floats


@dataclass(frozen=True, eq=False, slots=True)
class Gap:
    """Smallest clearance: its value, the point of the body (own axes) and of the profile between which it lies."""

    value: Floats
    body_x: Floats
    body_z: Floats
    profile_x: Floats
    profile_z: Floats


def offset_line(px: Floats, pz: Floats, x: Floats, radius: Floats | float) -> tuple[Floats, Floats]:
    """Give height and slope of the line a wheel's centre follows; NaN beyond the profile's ends."""
    shape = np.broadcast_shapes(np.shape(x), px.shape[:-1], np.shape(radius))
    outside = (x < px[..., 0]) | (x > px[..., -1])
    px, pz = about(px, pz, x, np.max(radius))
    best, tan = np.full(shape, -np.inf), np.zeros(shape)
    squared = np.square(radius)
    for v in range(px.shape[-1] - 1):
        run, rise = px[..., v + 1] - px[..., v], pz[..., v + 1] - pz[..., v]
        length = np.hypot(run, rise)
        flat = run > 0.0
        slope = rise / np.where(flat, run, 1.0)
        whole = np.where(length > 0.0, length, 1.0)
        foot = x + radius * rise / whole
        over = flat & (foot >= px[..., v]) & (foot <= px[..., v + 1])
        if not over.any():
            continue
        height = pz[..., v] + (foot - px[..., v]) * slope + radius * run / whole
        take = over & (height > best)
        np.copyto(best, height, where=take)
        np.copyto(tan, slope, where=take)
    for v in range(px.shape[-1]):
        away = x - px[..., v]
        room = squared - away * away
        near = room >= 0.0
        if not near.any():
            continue
        up = np.sqrt(np.maximum(room, 0.0))
        height = pz[..., v] + up
        take = near & (height > best)
        np.copyto(best, height, where=take)
        np.copyto(tan, -away / np.where(up > 0.0, up, 1.0), where=take)
    outside = outside | np.isinf(best)
    return np.where(outside, np.nan, best), np.where(outside, np.nan, tan)


def about(px: Floats, pz: Floats, x: Floats, beside: Floats | float = 0.0) -> tuple[Floats, Floats]:
    """Give of every profile those corners alone that lie about its own places, and the next one on either side."""
    ahead = (1,) * max(np.ndim(x) + 1 - px.ndim, 0)
    px, pz = px.reshape(*ahead, *px.shape), pz.reshape(*ahead, *pz.shape)
    places = np.broadcast_to(x, np.broadcast_shapes(np.shape(x), px.shape[:-1]))
    shared = tuple(axis for axis, many in enumerate(px.shape[:-1]) if many == 1)
    low, high = np.fmin.reduce(places, axis=shared, keepdims=True), np.fmax.reduce(places, axis=shared, keepdims=True)
    first = np.maximum((px < (low - beside)[..., None]).sum(axis=-1) - 1, 0)
    last = (px <= (high + beside)[..., None]).sum(axis=-1)
    count = np.max(last - first, initial=0) + 1
    corner = np.minimum(first[..., None] + np.arange(count), px.shape[-1] - 1)
    return np.take_along_axis(px, corner, axis=-1), np.take_along_axis(pz, corner, axis=-1)


def stand(
    px: Floats,
    pz: Floats,
    lead_x: Floats,
    radii: tuple[Floats | float, Floats | float],
    base: Floats | float,
    close_m2: float = CLOSE_M2,
) -> Stand:
    """Stand the body with its leading wheel's centre at ``lead_x``; ``radii`` of the leading and the trailing tyres.

    The trailing centre is found by Newton steps inside a bracket that is halved where a step would leave it.
    """
    lead_r, trail_r = radii
    lead_z, lead_tan = offset_line(px, pz, lead_x, lead_r)
    span = np.hypot(base, np.asarray(lead_r) - trail_r)
    low, high = np.zeros_like(lead_z), np.broadcast_to(span, lead_z.shape).astype(float)
    run = high.copy()
    for _ in range(ROUNDS):
        height, tan = offset_line(px, pz, lead_x - run, trail_r)
        rise = lead_z - height
        excess = run * run + rise * rise - span * span
        far = np.abs(excess) > close_m2
        if not np.any(far):
            break
        over = excess > 0.0
        low, high = np.where(over, low, run), np.where(over, run, high)
        fall = 2.0 * (run + rise * tan)
        step = run - excess / np.where(np.abs(fall) > 1e-9, fall, np.inf)
        good = (step >= low) & (step <= high)
        run = np.where(far, np.where(good, step, (low + high) / 2.0), np.where(np.isnan(excess), np.nan, run))
    trail_x = lead_x - run
    trail_z, trail_tan = offset_line(px, pz, trail_x, trail_r)
    rise = lead_z - trail_z
    lean = np.asarray(lead_r) - trail_r
    cos = (run * base + rise * lean) / span**2
    sin = (rise * base - run * lean) / span**2
    return Stand(np.asarray(lead_x + 0.0 * run), lead_z, trail_x, trail_z, cos, sin, lead_tan, trail_tan)


def stand_sprung(px: Floats, pz: Floats, lead_x: Floats, rest_x: Floats, rest_r: Floats) -> Stand:
    """Stand a body on more than two axles, a like plumb spring in each: the least squares of what they give way.

    ``rest_x`` and ``rest_r`` (…, n): places from the leading axle and radii, leading first. Loads are those of level
    ground plus what the ground's unevenness adds, so that what the springs give way sums to nothing, and so do its
    moments: the line of the axles is the straight line of least squares through the wheels' centres.
    """
    lead_r, count = rest_r[..., 0], rest_x.shape[-1]
    lead_z, lead_tan = offset_line(px, pz, lead_x, lead_r)
    sin, cos = np.zeros_like(lead_z), np.ones_like(lead_z)
    middle = rest_x.mean(axis=-1)
    off = rest_x - middle[..., None]
    square = (off * off).sum(axis=-1)
    for _ in range(ROUNDS):
        high = []
        for n in range(count):
            lean = rest_r[..., n] - lead_r
            x = lead_x + rest_x[..., n] * cos - lean * sin
            high.append(offset_line(px, pz, x, rest_r[..., n])[0] - lean * cos)
        old, mean = sin, sum(high) / count
        sin = np.clip(sum(off[..., n] * high[n] for n in range(count)) / square, -STEEPEST_SIN, STEEPEST_SIN)
        lead_z, cos = mean - middle * sin, np.sqrt(1.0 - sin * sin)
        if not np.any(np.abs(sin - old) > CLOSE_M2):
            break
    lean = rest_r[..., -1] - lead_r
    trail_x, trail_z = lead_x + rest_x[..., -1] * cos - lean * sin, lead_z + rest_x[..., -1] * sin + lean * cos
    trail_tan = offset_line(px, pz, trail_x, rest_r[..., -1])[1]
    return Stand(np.asarray(lead_x + 0.0 * sin), lead_z, trail_x, trail_z, cos, sin, lead_tan, trail_tan)


def placed(at: Stand, lead_r: Floats | float, x: Floats | float, z: Floats | float) -> tuple[Floats, Floats]:
    """Give where points of the body are; ``x`` and ``z`` broadcast against the positions."""
    up = z - np.asarray(lead_r)
    return at.lead_x + x * at.cos - up * at.sin, at.lead_z + x * at.sin + up * at.cos


def vertical_gap(px: Floats, pz: Floats, at: Stand, lead_r: Floats | float, under: tuple[Floats, Floats]) -> Gap:
    """Give the smallest plumb distance from underbody to profile, negative where they overlap."""
    count, corners = under[0].shape[-1], px.shape[-1]
    points = [placed(at, lead_r, under[0][..., u], under[1][..., u]) for u in range(count)]
    best = Gap(*(np.full(at.lead_x.shape, fill) for fill in (np.inf, np.nan, np.nan, np.nan, np.nan)))
    for u, (x, z) in enumerate(points):
        floor = floor_height(px, pz, x)
        best = _smaller(best, z - floor, (under[0][..., u], under[1][..., u], x, floor))
    for v in range(1, corners - 1):
        ceiling, share = np.full(at.lead_x.shape, np.inf), [np.full(at.lead_x.shape, np.nan)] * 2
        for u in range(count - 1):
            (x0, z0), (x1, z1) = points[u], points[u + 1]
            run = x1 - x0
            along = (px[..., v] - x0) / np.where(run != 0.0, run, np.inf)
            height = z0 + along * (z1 - z0)
            take = (along >= 0.0) & (along <= 1.0) & (run != 0.0) & (height < ceiling)
            ceiling = np.where(take, height, ceiling)
            own = [part[..., u] + along * (part[..., u + 1] - part[..., u]) for part in under]
            share = [np.where(take, new, old) for new, old in zip(own, share, strict=True)]
        best = _smaller(best, ceiling - pz[..., v], (share[0], share[1], px[..., v], pz[..., v]))
    return best


def floor_height(px: Floats, pz: Floats, x: Floats) -> Floats:
    """Give the profile's height at x, at a step the upper end; NaN beyond its ends."""
    out = np.full(np.broadcast_shapes(np.shape(x), px.shape[:-1]), -np.inf)
    px, pz = about(px, pz, x)
    for v in range(px.shape[-1] - 1):
        run = px[..., v + 1] - px[..., v]
        slope = (pz[..., v + 1] - pz[..., v]) / np.where(run > 0.0, run, np.inf)
        height = np.where(run > 0.0, pz[..., v] + (x - px[..., v]) * slope, np.maximum(pz[..., v], pz[..., v + 1]))
        inside = (x >= px[..., v]) & (x <= px[..., v + 1])
        out = np.where(inside & (height > out), height, out)
    return np.where(np.isinf(out), np.nan, out)


def _smaller(best: Gap, value: Floats, where: tuple[Floats, ...]) -> Gap:
    take = value < best.value
    old = (best.body_x, best.body_z, best.profile_x, best.profile_z)
    return Gap(np.where(take, value, best.value), *(np.where(take, n, o) for n, o in zip(where, old, strict=True)))


def least_distance(px: Floats, pz: Floats, at: Stand, lead_r: Floats | float, under: tuple[Floats, Floats]) -> Gap:
    """Give the shortest distance between the underbody's line and the profile's where they do not overlap.

    It runs from a corner of one line to a segment of the other, so all of these are tried.
    """
    count, corners = under[0].shape[-1], px.shape[-1]
    points = [placed(at, lead_r, under[0][..., u], under[1][..., u]) for u in range(count)]
    best = Gap(*(np.full(at.lead_x.shape, fill) for fill in (np.inf, np.nan, np.nan, np.nan, np.nan)))
    for u, (x, z) in enumerate(points):
        for v in range(corners - 1):
            ends = ((px[..., v], pz[..., v]), (px[..., v + 1], pz[..., v + 1]))
            away, share = _to_segment(x, z, *ends)
            foot = [a + share * (b - a) for a, b in zip(*ends, strict=True)]
            best = _smaller(best, away, (under[0][..., u], under[1][..., u], foot[0], foot[1]))
    for v in range(1, corners - 1):
        for u in range(count - 1):
            away, share = _to_segment(px[..., v], pz[..., v], points[u], points[u + 1])
            own = [part[..., u] + share * (part[..., u + 1] - part[..., u]) for part in under]
            best = _smaller(best, away, (own[0], own[1], px[..., v], pz[..., v]))
    return best


def _to_segment(x: Floats, z: Floats, a: tuple[Floats, Floats], b: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    run, rise = b[0] - a[0], b[1] - a[1]
    length = run * run + rise * rise
    share = ((x - a[0]) * run + (z - a[1]) * rise) / np.where(length > 0.0, length, np.inf)
    share = np.minimum(np.maximum(share, 0.0), 1.0)
    return np.hypot(a[0] + share * run - x, a[1] + share * rise - z), share


def smallest_gap(px: Floats, pz: Floats, at: Stand, lead_r: Floats | float, under: tuple[Floats, Floats]) -> Gap:
    """Give the smallest clearance: shortest distance, or minus the greatest plumb overlap where there is one."""
    plumb = vertical_gap(px, pz, at, lead_r, under)
    short = least_distance(px, pz, at, lead_r, under)
    hit = ~(plumb.value > 0.0)
    lost = np.isnan(at.cos)
    value = np.where(lost, np.nan, np.where(hit, plumb.value, short.value))
    parts = ("body_x", "body_z", "profile_x", "profile_z")
    return Gap(value, *(np.where(hit, getattr(plumb, name), getattr(short, name)) for name in parts))


@dataclass(frozen=True, eq=False, slots=True)
class Rolled:
    """The tightest place of each case: the clearance there, the leading wheel's place, and the two points."""

    lead_x: Floats
    gap: Gap


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class RollCase:
    """Cases to be rolled, one a row of every array.

    ``profile_x``, ``profile_z`` (c, V); ``under_x``, ``under_z`` (c, U); ``lead_r``, ``trail_r``, ``base`` (c,);
    ``from_x``, ``to_x`` (c,): the leading wheel's centre runs from one to the other. Shorter lines are padded by
    repeating their last point. ``rest_x``, ``rest_r`` (c, n): axles of a body that stands on more than two.
    """

    profile_x: Floats
    profile_z: Floats
    under_x: Floats
    under_z: Floats
    lead_r: Floats
    trail_r: Floats
    base: Floats
    from_x: Floats
    to_x: Floats
    rest_x: Floats | None = None
    rest_r: Floats | None = None

    def stood(self, row: Ints | tuple[Ints, None], at: Floats, close_m2: float = CLOSE_M2) -> Stand:
        """Stand the bodies of these rows at these places."""
        px, pz = self.profile_x[row], self.profile_z[row]
        if self.rest_x is not None and self.rest_r is not None:
            return stand_sprung(px, pz, at, self.rest_x[row], self.rest_r[row])
        return stand(px, pz, at, (self.lead_r[row], self.trail_r[row]), self.base[row], close_m2)

    def rows(self, row: Ints, at: Floats) -> tuple[Floats, Floats, Stand, Floats, tuple[Floats, Floats]]:
        """Give profile, stand, radius and underbody of (case, position) pairs."""
        px, pz = self.profile_x[row], self.profile_z[row]
        lead_r = self.lead_r[row]
        return px, pz, self.stood(row, at), lead_r, (self.under_x[row], self.under_z[row])


def roll(cases: RollCase, step: float) -> Rolled:
    """Roll many cases and give the tightest place of each.

    Plumb distances are taken every ``step``; a distance is no shorter than the plumb one times the cosine of the
    profile's steepest part, so only positions that may be the tightest are measured exactly, and the tightest one
    between its neighbours ever finer. The value at the step's own positions is exact; between them it is found as
    long as it lies beside the tightest of these.
    """
    count = len(cases.base)
    number = int(np.ceil(float((cases.to_x - cases.from_x).max(initial=0.0)) / step)) + 1
    block = max(1, ROWS // number)
    at = np.zeros(count)
    for start in range(0, count, block):
        chosen = np.arange(start, min(start + block, count))
        at[chosen] = _tightest(cases, chosen, number)
    wide = np.full(count, step)
    found = at
    for _ in range(REFINED):
        found = _finer(cases, found, wide)
        wide = wide * 2.0 / (FINE - 1)
    return Rolled(found, smallest_gap(*cases.rows(np.arange(count), found)))


def _tightest(cases: RollCase, chosen: Ints, number: int) -> Floats:
    share = np.linspace(0.0, 1.0, number)
    at = cases.from_x[chosen, None] + share * (cases.to_x - cases.from_x)[chosen, None]
    px, pz = cases.profile_x[chosen, None], cases.profile_z[chosen, None]
    lead_r = cases.lead_r[chosen, None]
    under = (cases.under_x[chosen, None], cases.under_z[chosen, None])
    stood = cases.stood((chosen, None), at, NEAR_M2)
    plumb = vertical_gap(px, pz, stood, lead_r, under).value
    run = np.diff(px, axis=-1)
    slope = np.abs(np.diff(pz, axis=-1)) / np.where(run > 0.0, run, np.inf)
    step = (run <= 0.0) & (np.diff(pz, axis=-1) != 0.0)
    steepest = np.where(step, np.inf, slope).max(axis=-1)
    cosine = 1.0 / np.sqrt(1.0 + steepest**2)
    least = np.nanmin(plumb, axis=1, keepdims=True)
    maybe = np.where(least > 0.0, plumb * cosine, plumb) <= least + SLACK_M
    maybe |= np.isnan(plumb)
    row, column = np.nonzero(maybe)
    gap = smallest_gap(*cases.rows(chosen[row], at[row, column]))
    value = np.full(at.shape, np.inf)
    value[row, column] = np.where(np.isnan(gap.value), -np.inf, gap.value)
    return np.asarray(at[np.arange(len(chosen)), np.argmin(value, axis=1)])


def _finer(cases: RollCase, at: Floats, wide: Floats) -> Floats:
    count = len(at)
    near = at[:, None] + np.linspace(-1.0, 1.0, FINE) * wide[:, None]
    near = np.clip(near, cases.from_x[:, None], cases.to_x[:, None])
    out = at.copy()
    for start in range(0, count, ROWS // FINE):
        row = np.arange(start, min(start + ROWS // FINE, count))
        gap = smallest_gap(*cases.rows(np.repeat(row, FINE), near[row].ravel())).value.reshape(-1, FINE)
        out[row] = near[row, np.argmin(np.where(np.isnan(gap), -np.inf, gap), axis=1)]
    return out


def roll_plumb(cases: RollCase, step: float) -> tuple[Floats, Floats]:
    """Roll many cases and give the smallest plumb distance of each and where: cheaper than the shortest distance.

    Taken every ``step`` and once more finely round the smallest; NaN where some position runs off the profile.
    """
    count = len(cases.base)
    number = int(np.ceil(float((cases.to_x - cases.from_x).max(initial=0.0)) / step)) + 1
    value, at = np.full(count, np.nan), cases.from_x.copy()
    for start in range(0, count, ROWS // FINE):
        row = np.arange(start, min(start + ROWS // FINE, count))
        share = np.linspace(0.0, 1.0, number)
        places = cases.from_x[row, None] + share * (cases.to_x - cases.from_x)[row, None]
        for wide in (step, 0.0):
            parts = [places[:, first : first + FINE] for first in range(0, places.shape[1], FINE)]
            gap = np.concatenate([_plumb(cases, row, part) for part in parts], axis=1)
            best = np.argmin(np.where(np.isnan(gap), -np.inf, gap), axis=1)
            at[row] = places[np.arange(len(row)), best]
            value[row] = gap[np.arange(len(row)), best]
            places = np.clip(
                at[row, None] + np.linspace(-wide, wide, FINE), cases.from_x[row, None], cases.to_x[row, None]
            )
    return value, at


def _plumb(cases: RollCase, row: Ints, at: Floats) -> Floats:
    """Give the smallest plumb distance at every place, without the points between which it lies."""
    px, pz = cases.profile_x[row, None], cases.profile_z[row, None]
    lead_r = cases.lead_r[row, None]
    stood = cases.stood((row, None), at, NEAR_M2)
    under_x, under_z = cases.under_x[row, None], cases.under_z[row, None]
    points = [placed(stood, lead_r, under_x[..., u], under_z[..., u]) for u in range(under_x.shape[-1])]
    gap = np.full(at.shape, np.inf)
    for x, z in points:
        gap = np.fmin(gap, z - floor_height(px, pz, x))
    for (x0, z0), (x1, z1) in pairwise(points):
        run = x1 - x0
        near_x, near_z = about(px, pz, np.concatenate((x0, x1), axis=-1))
        for v in range(1, near_x.shape[-1] - 1):
            along = (near_x[..., v] - x0) / np.where(run != 0.0, run, np.inf)
            over = z0 + along * (z1 - z0) - near_z[..., v]
            gap = np.fmin(gap, np.where((along >= 0.0) & (along <= 1.0) & (run != 0.0), over, np.inf))
    return np.where(np.isnan(stood.cos), np.nan, gap)
