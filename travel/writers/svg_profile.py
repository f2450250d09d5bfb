"""Height and grade along a trip, drawn by the program: a picture with a text alternative."""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from travel.domain.plan import ProfileTrip, TravelPlan
from travel.writers.geo import finding_driven
from travel.writers.map_way import stop_driven
from travel.writers.numbers import length, number, quantity, ranges
from travel.writers.text import plain
from travel.writers.together import marked
from travel.writers.words import TRIP_WORDS

WIDTH, HEIGHT = 1000.0, 272.0
LEFT, RIGHT = 66.0, 988.0
_TOP, _FOOT = 14.0, 138.0
_GRADE_TOP, _GRADE_FOOT = 152.0, 206.0
_BAND_TOP, _BAND_FOOT = 216.0, 240.0
_MARK_GAP_PCT = 6.0
MOST_DESCENTS = 4


@dataclass(frozen=True)
class ProfileMark:
    """A flag or stop above the profile: left edge in percent of the width, row in which it stands."""

    kind: str
    number: int
    left_pct: float
    row: int


@dataclass(frozen=True)
class ProfileDrawing:
    """One trip's profile: the SVG, the marks above it, and what it shows in words."""

    trip: str
    title: str
    total_m: float
    svg: str
    marks: tuple[ProfileMark, ...]
    rows: int
    said: str


def draw_profile(plan: TravelPlan, profile: ProfileTrip) -> ProfileDrawing | None:
    """Give the drawing of one trip, or None where there is nothing to draw."""
    if len(profile.distance_m) < 2 or profile.distance_m[-1] <= 0:
        return None
    total = profile.distance_m[-1]
    marks = _marks(plan, profile.trip, total)
    title = f"{TRIP_WORDS[profile.trip]}: height and grade"
    said = profile_said(plan, profile)
    body = [
        *_height_panel(profile, total),
        *_grade_panel(profile, total),
        *_band(plan, profile, total),
        *_distance_axis(total),
        *(
            f'<line class="stem" x1="{_pct_x(m.left_pct):.1f}" x2="{_pct_x(m.left_pct):.1f}" y1="0" y2="{_FOOT}"/>'
            for m in marks
        ),
        f'<line class="pointer" x1="{LEFT}" x2="{LEFT}" y1="0" y2="{_BAND_FOOT}" visibility="hidden"/>',
    ]
    svg = (
        f'<svg class="profile" role="img" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'aria-label="{escape(title)}. {escape(said)}">{"".join(body)}</svg>'
    )
    rows = 1 + max((mark.row for mark in marks), default=0)
    return ProfileDrawing(profile.trip, title, total, svg, marks, rows, said)


def profile_said(plan: TravelPlan, profile: ProfileTrip) -> str:
    """Give what the picture shows in words."""
    heights = [height for height in profile.height_m if height is not None]
    parts = [f"{length(profile.distance_m[-1])} long"]
    if heights:
        parts.append(f"height from {quantity(min(heights), 'm', 1)} to {quantity(max(heights), 'm', 1)}")
    if len(heights) < len(profile.height_m):
        parts.append("height not known on part of it")
    known = [
        (grade, row) for row, grade in enumerate(profile.grade_pct[: len(profile.distance_m) - 1]) if grade is not None
    ]
    for word, chosen in (("steepest climb", max(known, default=None)), ("steepest descent", min(known, default=None))):
        if chosen is not None and (chosen[0] > 0) == (word == "steepest climb") and chosen[0] != 0:
            begin, end = profile.distance_m[chosen[1]], profile.distance_m[chosen[1] + 1]
            parts.append(
                f"{word} {quantity(abs(chosen[0]), '%')} between {number(begin, 'm', 0)} and {number(end, 'm', 0)} m"
            )
    parts.extend(descents_said(profile))
    flags = [finding.flag for finding in plan.findings if finding.trip == profile.trip]
    parts.append(f"flags {ranges(flags)}" if flags else "no flags")
    return "; ".join(parts) + "."


def descents_said(profile: ProfileTrip) -> list[str]:
    """Give what brakes and drive line take up on the descents, the longest fall first; a few of them."""
    order = sorted(profile.descents, key=lambda one: (one.energy_mj is not None, -(one.energy_mj or 0.0)))
    said = []
    for one in order[:MOST_DESCENTS]:
        taken = "what brakes and drive line take up is not known"
        if one.energy_mj is not None:
            taken = f"brakes and drive line take up {quantity(one.energy_mj, 'MJ', 1)} at most"
        said.append(f"descent from {number(one.from_m, 'm', 0)} to {number(one.to_m, 'm', 0)} m: {taken}")
    if len(order) > MOST_DESCENTS:
        said.append(f"{len(order) - MOST_DESCENTS} lesser descents")
    return said


def x_of(distance_m: float, total_m: float) -> float:
    """Give the horizontal position of a distance driven."""
    return LEFT + (RIGHT - LEFT) * distance_m / total_m


def _pct_x(left_pct: float) -> float:
    return left_pct * WIDTH / 100.0


def _marks(plan: TravelPlan, trip: str, total: float) -> tuple[ProfileMark, ...]:
    found: list[tuple[float, str, int]] = []
    for stop in plan.stops:
        if stop.trip == trip:
            found.append((stop_driven(plan, trip, stop.before_leg), "stop", stop.stop))
    for finding in marked(plan):
        driven = finding_driven(plan, finding) if finding.trip == trip else None
        if driven is not None:
            found.append((driven, "flag", finding.flag))
    ends: list[float] = []
    marks = []
    for driven, kind, mark in sorted(found):
        left = 100.0 * x_of(min(driven, total), total) / WIDTH
        row = next((row for row, end in enumerate(ends) if left - end >= _MARK_GAP_PCT), len(ends))
        ends[row : row + 1] = [left]
        marks.append(ProfileMark(kind, mark, round(left, 2), row))
    return tuple(marks)


def _ticks(low: float, high: float, wanted: int) -> list[float]:
    span = max(high - low, 1e-9)
    step = 10.0 ** math.floor(math.log10(span / wanted))
    step = next(step * factor for factor in (1, 2, 5, 10) if span / (step * factor) <= wanted)
    first = math.ceil(low / step - 1e-9) * step
    return [round(first + step * k, 6) for k in range(int((high - first) / step + 1e-9) + 1)]


def _text(x: float, y: float, text: str, kind: str = "ax", anchor: str = "middle") -> str:
    return f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(plain(text))}</text>'


def _gap(x1: float, x2: float, top: float, foot: float) -> str:
    """Give a hatched box: not known here."""
    return f'<rect class="gap" x="{x1:.1f}" y="{top}" width="{x2 - x1:.1f}" height="{foot - top}"/>'


def _height_panel(profile: ProfileTrip, total: float) -> list[str]:
    known = [height for height in profile.height_m if height is not None]
    if not known:
        return [_gap(LEFT, RIGHT, _TOP, _FOOT),
                _text((LEFT + RIGHT) / 2, (_TOP + _FOOT) / 2, "height not known", "note")]  # fmt: skip
    low, high = min(known), max(known)
    room = max(high - low, 2.0)
    low, high = low - 0.08 * room, low + 1.08 * room

    def y_of(height: float) -> float:
        return _FOOT - (_FOOT - _TOP) * (height - low) / (high - low)

    out = [_text(8, _TOP + 2, "m", "ax", "start")]
    for tick in _ticks(low, high, 4):
        y = y_of(tick)
        out += [f'<line class="grid" x1="{LEFT}" x2="{RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>',
                _text(LEFT - 6, y + 4, f"{tick:g}", "ax", "end")]  # fmt: skip
    for begin, end in pairwise(range(len(profile.distance_m))):
        a, b = profile.height_m[begin], profile.height_m[end]
        x1, x2 = x_of(profile.distance_m[begin], total), x_of(profile.distance_m[end], total)
        if a is None or b is None:
            out.append(_gap(x1, x2, _TOP, _FOOT))
            continue
        out.append(f'<path class="earth" d="M{x1:.1f} {_FOOT}V{y_of(a):.1f}L{x2:.1f} {y_of(b):.1f}V{_FOOT}z"/>')
    return out + _height_lines(profile, total, y_of)


def _height_lines(profile: ProfileTrip, total: float, y_of: object) -> list[str]:
    """Give the height as one line for each run of one verdict, so that dashes run on."""
    assert callable(y_of)
    lines: list[tuple[str, list[str]]] = []
    for row in range(len(profile.distance_m) - 1):
        a, b = profile.height_m[row], profile.height_m[row + 1]
        if a is None or b is None:
            lines.append(("", []))
            continue
        verdict = profile.verdict[row] if row < len(profile.verdict) else "unknown"
        start = f"{x_of(profile.distance_m[row], total):.1f},{y_of(a):.1f}"
        end = f"{x_of(profile.distance_m[row + 1], total):.1f},{y_of(b):.1f}"
        if lines and lines[-1][0] == verdict:
            lines[-1][1].append(end)
        else:
            lines.append((verdict, [start, end]))
    return [f'<polyline class="v v-{verdict}" points="{" ".join(points)}"/>' for verdict, points in lines if points]


def _grade_panel(profile: ProfileTrip, total: float) -> list[str]:
    known = [abs(grade) for grade in profile.grade_pct if grade is not None]
    most = max([*known, 5.0]) * 1.1
    zero, scale = (_GRADE_TOP + _GRADE_FOOT) / 2, (_GRADE_FOOT - _GRADE_TOP) / 2 / most
    out = [f'<line class="axis" x1="{LEFT}" x2="{RIGHT}" y1="{zero}" y2="{zero}"/>',
           _text(8, zero + 4, "grade %", "ax", "start")]  # fmt: skip
    for begin, end, grade in _grade_runs(profile):
        x1, x2 = x_of(begin, total), x_of(end, total)
        if grade is None:
            out.append(_gap(x1, x2, _GRADE_TOP, _GRADE_FOOT))
            continue
        size = abs(grade) * scale
        top = zero - size if grade > 0 else zero
        out.append(f'<rect class="grade" x="{x1:.1f}" y="{top:.1f}" width="{x2 - x1:.1f}" height="{size:.1f}"/>')
        if x2 - x1 > 44 and abs(grade) >= 0.05:
            out.append(_text((x1 + x2) / 2, zero + (14 if grade > 0 else -6), number(grade, "%"), "val"))
    return out


def _grade_runs(profile: ProfileTrip) -> list[tuple[float, float, float | None]]:
    runs: list[tuple[float, float, float | None]] = []
    for row in range(len(profile.distance_m) - 1):
        grade = profile.grade_pct[row] if row < len(profile.grade_pct) else None
        shown = None if grade is None else round(grade, 1)
        if runs and runs[-1][2] == shown:
            runs[-1] = (runs[-1][0], profile.distance_m[row + 1], shown)
        else:
            runs.append((profile.distance_m[row], profile.distance_m[row + 1], shown))
    return runs


def _band(plan: TravelPlan, profile: ProfileTrip, total: float) -> list[str]:
    """Give the band of ranges and gears, one box a leg: low range hatched."""
    out = [_text(8, _BAND_FOOT - 8, "range", "ax", "start")]
    start = 0.0
    for leg in plan.legs:
        if leg.trip != profile.trip:
            continue
        x1, x2 = x_of(min(start, total), total), x_of(min(start + leg.length_m, total), total)
        start += leg.length_m
        box = f'x="{x1:.1f}" y="{_BAND_TOP}" width="{x2 - x1:.1f}" height="{_BAND_FOOT - _BAND_TOP}"'
        out.append(f'<rect class="r-{leg.range}" {box}/>')
        gear = leg.gear if leg.gear.startswith(leg.range) else f"{leg.range} {leg.gear}"
        reverse = " reverse" if leg.travel == "reverse" and "reverse" not in gear else ""
        for text in (f"leg {leg.leg}: {gear}{reverse}", f"{leg.leg}: {leg.range}", str(leg.leg)):
            if x2 - x1 > 7.6 * len(text) + 6:
                out.append(_text((x1 + x2) / 2, _BAND_FOOT - 7, text, "val halo"))
                break
    return out


def _distance_axis(total: float) -> list[str]:
    out = [_text(8, HEIGHT - 10, "driven", "ax", "start")]
    for tick in _ticks(0.0, total, 10):
        x = x_of(tick, total)
        said = number(tick, "m", 0) + (" m" if tick == 0 else "")
        out += [f'<line class="axis" x1="{x:.1f}" x2="{x:.1f}" y1="{_BAND_FOOT}" y2="{_BAND_FOOT + 5}"/>',
                _text(min(x, RIGHT - 10), HEIGHT - 10, said)]  # fmt: skip
    return out
