"""Sharp bends inside roads and where two roads join: where the heading changes much within a short length, along whole
chains."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from travel.survey.arrays import Floats, Ints
from travel.survey.survey import Survey

MOST_RAD = float(np.radians(200.0))
"""A bend that turns more than this is cut into several."""
SLIGHT = 0.01
"""Share of all a bend turns that its ends do not count with; common practice, no source."""
NODE_M = 1.0
"""A bend this near a joint of two links is a corner between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """One sharp bend, driven from one edge (2 · link, + 1 against the road as drawn) into another, or the same one.

    ``at_m`` the chainage of its middle on its road, NaN at a joint of two links; ``half_m`` half its length, and as
    much more as its middle is off the joint; ``angle_rad`` its change of heading, + to the left; ``apart_m`` the
    straight between it and the nearest other bend, infinite without one.
    """

    edge_in: int
    edge_out: int
    at_m: float
    half_m: float
    angle_rad: float
    apart_m: float


def find_bends(survey: Survey, window_m: float, least_rad: float) -> Iterator[Bend]:
    """Give the bends where the heading changes by ``least_rad`` or more within ``window_m``, chain by chain."""
    chains, links = survey.fabric.chains, survey.fabric.links
    for chain in _worth_a_look(survey, window_m, least_rad).tolist():
        members = chains.order[chains.start[chain] : chains.stop[chain]]
        at, turn = _turns(survey, members)
        runs = [_without_slight_ends(turn, *run) for run in _groups(at, turn, window_m, least_rad)]
        between = np.array([np.inf, *(at[b[0]] - at[a[1]] for a, b in pairwise(runs)), np.inf])
        for (first, last), apart in zip(runs, np.minimum(between[:-1], between[1:]).tolist(), strict=False):
            middle, half = (at[first] + at[last]) / 2.0, (at[last] - at[first]) / 2.0
            angle = float(turn[first : last + 1].sum())
            low = chains.offset[members]
            high = low + links.to_m[members] - links.from_m[members]
            edges = 2 * members + (chains.sign[members] < 0)
            off = np.abs(low[1:] - middle)
            joint = int(np.argmin(off)) if len(off) else 0
            if len(off) and off[joint] <= NODE_M:
                yield Bend(
                    edge_in=int(edges[joint]),
                    edge_out=int(edges[joint + 1]),
                    at_m=np.nan,
                    half_m=float(half + off[joint]),
                    angle_rad=angle,
                    apart_m=max(apart - 2.0 * float(off[joint]), 0.0),
                )
                continue
            number = min(int(np.searchsorted(high, middle)), len(members) - 1)
            s = chains.chainage(links, members[[number]], np.array([middle]))
            edge = int(edges[number])
            yield Bend(
                edge_in=edge, edge_out=edge, at_m=float(s[0]), half_m=float(half), angle_rad=angle, apart_m=apart
            )


def _worth_a_look(survey: Survey, window_m: float, least_rad: float) -> Ints:
    """Give the chains that may bend sharply: of several roads, or of one that turns enough in all within a window."""
    lines, chains, links = survey.fabric.lines, survey.fabric.chains, survey.fabric.links
    dx, dy = np.diff(lines.x), np.diff(lines.y)
    inside = lines.road[1:] == lines.road[:-1]
    heading = np.arctan2(dy, dx)
    turn = np.zeros(len(lines.x))
    turn[1:-1] = np.where(inside[1:] & inside[:-1], np.abs((np.diff(heading) + np.pi) % (2 * np.pi) - np.pi), 0.0)
    apart = 2.0 * (float(lines.length.max()) + window_m)
    at, amount = lines.s + apart * lines.road, np.r_[0.0, np.cumsum(turn)]
    within = amount[np.searchsorted(at, at + window_m + 1e-6, side="right")] - amount[:-1]
    hot = np.zeros(len(lines), dtype=bool)
    hot[lines.road[within >= least_rad - 1e-9]] = True
    hot[lines.road[1:][inside & (np.hypot(dx, dy) <= 1e-6)]] = True
    low, high = np.full(len(chains.length), len(lines)), np.full(len(chains.length), -1)
    np.minimum.at(low, chains.chain, links.road)
    np.maximum.at(high, chains.chain, links.road)
    wanted = low != high
    wanted[chains.chain[hot[links.road]]] = True
    return np.flatnonzero(wanted)


def _turns(survey: Survey, members: Ints) -> tuple[Floats, Floats]:
    """Give chain chainage and change of heading of every vertex of a chain, its ends left out."""
    chains, links, lines = survey.fabric.chains, survey.fabric.links, survey.fabric.lines
    parts, ats = [], []
    for link in members.tolist():
        ends = (float(links.from_m[link]), float(links.to_m[link]))
        ends = ends if chains.sign[link] > 0 else ends[::-1]
        s, xy = lines.substring(int(links.road[link]), *ends)
        parts.append(xy)
        ats.append(chains.offset[link] + np.abs(s - ends[0]))
    xy, at = np.vstack(parts), np.concatenate(ats)
    keep = np.r_[True, np.hypot(*np.diff(xy, axis=0).T) > 1e-6]
    xy, at = xy[keep], at[keep]
    if len(at) < 3:
        return np.empty(0), np.empty(0)
    heading = np.arctan2(*np.diff(xy, axis=0).T[::-1])
    return at[1:-1], (np.diff(heading) + np.pi) % (2 * np.pi) - np.pi


def _groups(at: Floats, turn: Floats, window_m: float, least_rad: float) -> list[tuple[int, int]]:
    """Give first and last vertex of each bend: vertices of windows that turn enough, joined while they touch."""
    if not len(at):
        return []
    total = np.r_[0.0, np.cumsum(turn)]
    amount = np.r_[0.0, np.cumsum(np.abs(turn))]
    stop = np.searchsorted(at, at + window_m, side="right")
    runs: list[tuple[int, int]] = []
    for first in np.flatnonzero(amount[stop] - amount[:-1] >= least_rad).tolist():
        change = total[first + 1 : stop[first] + 1] - total[first]
        last = first + int(np.argmax(np.abs(change)))
        if abs(change[last - first]) < least_rad:
            continue
        if runs and first <= runs[-1][1]:
            begin, end = runs[-1][0], max(last, runs[-1][1])
            whole = total[end + 1] - total[begin]
            if np.sign(whole) == np.sign(change[last - first]) and abs(whole) <= MOST_RAD:
                runs[-1] = (begin, end)
                continue
        first = max(first, runs[-1][1] + 1) if runs else first  # what one bend has is no part of the next
        if first <= last:
            runs.append((first, last))
    return runs


def _without_slight_ends(turn: Floats, first: int, last: int) -> tuple[int, int]:
    """Give first and last vertex of a bend without those before and after it that hardly turn: where a road is split,
    a place lies on it, or one more vertex was drawn on the straight, the bend stays where it is."""
    amount = np.cumsum(np.abs(turn[first : last + 1]))
    begin = int(np.searchsorted(amount, SLIGHT * amount[-1], side="right"))
    end = int(np.searchsorted(amount, (1.0 - SLIGHT) * amount[-1]))
    return first + begin, first + max(begin, end)
