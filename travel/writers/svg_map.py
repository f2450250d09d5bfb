"""The site map for paper: the way by line pattern, numbered flags and stops; read without colour.

Drawn to a scale of its own in points of paper, grid north up. The same drawing stands in the PDF and in the page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

import numpy as np

from travel.domain.plan import TravelPlan, Where
from travel.domain.site import Site
from travel.writers.geo import Floats, Frame, TripPath, frame_of, stretch_xy, trip_path, where_xy
from travel.writers.map_features import labels_of, place_labels
from travel.writers.map_page import way_box, way_shape
from travel.writers.map_way import nearest_labels, runs_of
from travel.writers.numbers import length, number
from travel.writers.svg_map_site import DEFS, PT_PER_M, STYLE, View, line_path, site_drawing
from travel.writers.svg_marks import flag_svg, stop_svg
from travel.writers.svg_place import Box, Wish, place
from travel.writers.text import plain
from travel.writers.together import marked
from travel.writers.words import TRIP_WORDS

SCALES = (200, 250, 400, 500, 750, 1000, 1250, 1500, 2000, 2500, 3000, 4000, 5000, 7500)
"""Scales a map is drawn at; larger ways take these times ten, a hundred."""
_MARK_PT = 15.0
ROW_PT = 11.5
"""Height of one row of the legend; the scale has the last row."""
_APART_PT = 2.4
_TEXT_PT = 7.0
_LETTER_PT = 3.5


def paper_map(plan: TravelPlan, site: Site, width_pt: float, height_pt: float) -> str:
    """Give the map as SVG, exactly so large."""
    frame = frame_of(site)
    paths = [path for trip in plan.trips if (path := trip_path(plan, trip.trip, frame)) is not None]
    box = way_box(plan, site, frame, paths)
    legend = _legend_rows(width_pt - 4.0, any(path.trip in ("back", "leave") for path in paths))
    view, scale = view_of(box, width_pt, height_pt, 4.0 + ROW_PT * (len(legend) + 1))
    under, over = site_drawing(site, view, {leg.road for leg in plan.legs})
    offset_m = _APART_PT / view.pt_per_m if len(paths) > 1 else 0.0
    ways = _flagged(plan, site, view)
    for path in reversed(paths):
        ways += _way(plan, path, view, offset_m)
    west, south, east, north = view.corners_m
    seen = np.array([[west, south], [west, north], [east, south], [east, north]])
    marks = _marks(plan, site, frame, view, paths, seen)
    left, top, right, foot = view.box
    area = f'x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{foot - top:.1f}"'
    body = [
        f'<defs>{DEFS}<clipPath id="area"><rect {area}/></clipPath></defs><style>{STYLE}</style>',
        f'<g clip-path="url(#area)">{"".join(under)}{"".join(over)}{"".join(ways)}</g>',
        *marks,
        f'<rect class="frame" {area}/>',
        *north_and_scale(view, scale, 4.0 + ROW_PT * (len(legend) + 1)),
        *legend_of(view, legend),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_pt:.1f} {height_pt:.1f}" '
        f'width="{width_pt:.1f}pt" height="{height_pt:.1f}pt">{"".join(body)}</svg>'
    )


def map_said(plan: TravelPlan) -> str:
    """Give what the map shows in words: each trip's stretches by verdict, flags and stops."""
    parts = []
    for trip in plan.trips:
        name = TRIP_WORDS[trip.trip]
        legs = [leg for leg in plan.legs if leg.trip == trip.trip]
        if not trip.found:
            parts.append(f"{name}: no way found.")
            continue
        said = ", ".join(f"leg {leg.leg} on {plain(leg.road)} {leg.verdict}" for leg in legs)
        parts.append(f"{name}, {length(trip.length_m)}: {said}.")
    flags = ", ".join(f"{finding.flag} {finding.verdict}" for finding in plan.findings)
    parts.append(f"Flags: {flags}." if flags else "No flags.")
    return "Site map, grid north up. " + " ".join(parts)


def view_of(box: Floats, width_pt: float, height_pt: float, legend_pt: float) -> tuple[View, int]:
    """Give the view that shows a box [m] at the largest scale that fits, and the scale 1 : n."""
    low, high = box.min(axis=0), box.max(axis=0)
    room = (width_pt - 2.0, height_pt - 2.0 - legend_pt)
    span = np.maximum(high - low, 10.0)
    least = max(span[0] * PT_PER_M / room[0], span[1] * PT_PER_M / room[1])
    scale = next(
        int(base * factor) for factor in (1, 10, 100, 1000) for base in SCALES if base * factor >= min(least, 7.5e6)
    )
    pt_per_m = PT_PER_M / scale
    middle = (low + high) / 2
    west, north = middle[0] - room[0] / 2 / pt_per_m, middle[1] + room[1] / 2 / pt_per_m
    frame = (1.0, 1.0, width_pt - 1.0, height_pt - 1.0 - legend_pt)
    return View(west_m=float(west), north_m=float(north), pt_per_m=pt_per_m, box=frame), scale


def _way(plan: TravelPlan, path: TripPath, view: View, offset_m: float) -> list[str]:
    """Give one trip: a white casing, the pattern of each stretch's verdict, crosses where blocked, arrows."""
    profile = next((item for item in plan.profile if item.trip == path.trip), None)
    beside = path.beside(offset_m)
    casing, lines, crosses = [], [], []
    for begin, end, leg, verdict in _joined(runs_of(plan, path, profile)):
        d = line_path(view.to_pt(beside.part(begin, end)))
        casing.append(f'<path class="casing" d="{d}"/>')
        lines.append(f'<path class="v v-{verdict}" data-trip="{path.trip}" data-leg="{leg}" d="{d}"/>')
        crosses += _crosses(view.to_pt(beside.part(begin, end))) if verdict == "blocked" else []
    back = path.trip in ("back", "leave")
    return [*casing, *lines, *crosses, *_arrows(beside, view, back)]


def _joined(runs: list[tuple[float, float, int, str]]) -> list[tuple[float, float, int, str]]:
    """Give runs joined over legs of one verdict, so that dashes run on; the leg is the first one's."""
    joined: list[tuple[float, float, int, str]] = []
    for begin, end, leg, verdict in runs:
        if joined and joined[-1][3] == verdict:
            joined[-1] = (joined[-1][0], end, joined[-1][2], verdict)
        else:
            joined.append((begin, end, leg, verdict))
    return joined


def _flagged(plan: TravelPlan, site: Site, view: View) -> list[str]:
    """Give flagged stretches that no way runs over: what stops the machine."""
    out = []
    for finding in plan.findings:
        xy = stretch_xy(finding.where, site) if finding.leg is None else None
        if xy is None:
            continue
        points = view.to_pt(xy)
        d = line_path(points)
        out += [f'<path class="casing" d="{d}"/>', f'<path class="v v-{finding.verdict}" d="{d}"/>']
        out += _crosses(points) if finding.verdict == "blocked" else []
    return out


def _along(points: Floats, distance: Floats) -> Floats:
    driven = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return np.column_stack([np.interp(distance, driven, points[:, axis]) for axis in (0, 1)])


def _crosses(points: Floats) -> list[str]:
    """Give crosses about every 14 pt along a blocked stretch, at least one."""
    total = float(np.hypot(*np.diff(points, axis=0).T).sum())
    count = int(np.clip(round(total / 14.0), 1, 60))
    at = _along(points, (np.arange(count) + 0.5) * total / count)
    return [f'<path class="cross" d="M{x - 3:.1f} {y - 3:.1f}l6 6m0-6l-6 6"/>' for x, y in at]


def _arrows(beside: TripPath, view: View, back: bool) -> list[str]:
    """Give direction arrows about every 60 pt, those of the way back in the gaps."""
    total = float(beside.driven_m[-1])
    spacing = max(60.0 / view.pt_per_m, total / 40.0)
    if spacing > total:
        spacing = total
    out = []
    for distance in np.arange(spacing * (0.8 if back else 0.35), total, spacing):
        ends = np.clip(np.array([distance - 0.5, distance, distance + 0.5]), 0.0, total)
        before, here, after = view.to_pt(beside.at(ends))
        angle = math.degrees(math.atan2(after[1] - before[1], after[0] - before[0]))
        out.append(
            f'<path class="{"a-back" if back else "a-out"}" d="M5 0L-3.5 3.6L-1.8 0L-3.5 -3.6z" '
            f'transform="translate({here[0]:.1f} {here[1]:.1f}) rotate({angle:.1f})"/>'
        )
    return out


def _marks(plan: TravelPlan, site: Site, frame: Frame, view: View, paths: list[TripPath], seen: Floats) -> list[str]:
    """Give flags, stops, names of places and of what can stop the machine, each with a line to what it means."""
    items = [*_flag_items(plan, site, frame), *_stop_items(plan, site, frame)]
    items += _label_items(plan, site, frame, paths, seen)
    homes = view.to_pt(np.array([item[0] for item in items])) if items else np.empty((0, 2))
    inside = [_within(view.box, x, y) for x, y in homes]
    items = [item for item, keep in zip(items, inside, strict=True) if keep]
    homes = homes[np.array(inside, dtype=bool)] if len(homes) else homes
    wishes = [
        Wish(x=float(x), y=float(y), width=width, height=height, side_deg=-60.0 if kind == "flag" else 120.0)
        for (x, y), (_, kind, width, height, _) in zip(homes, items, strict=True)
    ]
    free: list[tuple[Box, float]] = []
    for path in paths:
        steps = np.arange(0.0, float(path.driven_m[-1]), 8.0 / view.pt_per_m)
        free += [((x - 4, y - 4, x + 4, y + 4), 1.5) for x, y in view.to_pt(path.at(steps))]
    free += [((x - 3, y - 3, x + 3, y + 3), 1.0) for x, y in homes]
    _, top, right, _ = view.box
    free.append(((right - 34, top, right, top + 40), 30.0))
    placed = place(wishes, free, view.box, (15.0, 24.0, 36.0, 50.0, 68.0))
    stems, drawn = [], []
    for wish, spot, (_, kind, _, _, body) in zip(wishes, placed, items, strict=True):
        if kind in ("place", "hazard") and spot.covers:
            stems += [f'<circle class="dot" cx="{wish.x:.1f}" cy="{wish.y:.1f}" r="1.8"/>'] if kind == "place" else []
            continue
        stems.append(f'<line class="stem" x1="{wish.x:.1f}" y1="{wish.y:.1f}" x2="{spot.x:.1f}" y2="{spot.y:.1f}"/>')
        if kind != "hazard":
            stems.append(f'<circle class="dot" cx="{wish.x:.1f}" cy="{wish.y:.1f}" r="1.8"/>')
        at = f"{spot.x - wish.width / 2:.1f} {spot.y - wish.height / 2:.1f}"
        drawn.append(f'<g transform="translate({at})">{body}</g>')
    return [*stems, *reversed(drawn)]


def _within(box: Box, x: float, y: float) -> bool:
    return box[0] <= x <= box[2] and box[1] <= y <= box[3]


Item = tuple[tuple[float, float], str, float, float, str]
"""Position [m], kind, width, height [pt], what is drawn."""


def _sized(svg: str) -> str:
    """Give a mark at the size it has on paper."""
    return svg.replace('width="32" height="32"', f'width="{_MARK_PT}" height="{_MARK_PT}"', 1)


def _flag_items(plan: TravelPlan, site: Site, frame: Frame) -> list[Item]:
    order = ("blocked", "unknown", "caution", "clear")
    found = sorted(marked(plan), key=lambda finding: (order.index(finding.verdict), finding.flag))
    return [
        (point, "flag", _MARK_PT, _MARK_PT, _sized(flag_svg(finding.flag, finding.verdict)))
        for finding in found
        if (point := where_xy(finding.where, site, frame)) is not None
    ]


def _stop_items(plan: TravelPlan, site: Site, frame: Frame) -> list[Item]:
    items: list[Item] = []
    for stop in plan.stops:
        where = Where(scope="stop", road=stop.road, at_m=stop.at_m, place=stop.place, lonlat=stop.lonlat)
        point = where_xy(where, site, frame)
        if point is not None:
            items.append((point, "stop", _MARK_PT, _MARK_PT, _sized(stop_svg(stop.stop))))
    return items


def _label_items(plan: TravelPlan, site: Site, frame: Frame, paths: list[TripPath], seen: Floats) -> list[Item]:
    places = {place for stop in plan.stops if (place := stop.place)} | {t.place for t in plan.turns if t.place}
    places |= {name for trip in plan.trips for name in (trip.from_place, trip.to_place)}
    labels = [
        *nearest_labels(plan, site, frame),
        *place_labels(site, frame, places),
        *labels_of(site, frame, seen, way_shape(plan, site, paths)),
    ]
    items: list[Item] = []
    for label in labels:
        if not label["text"] or label.get("far"):
            continue
        xy = frame.to_metres(np.array([label["lonlat"]], dtype=float))[0]
        text = str(label["text"])
        shown = text if len(text) <= 34 else text[:33] + "…"
        width, height = _LETTER_PT * len(shown) + 6.0, _TEXT_PT + 3.6
        kind = "hazard" if label["kind"] == "hazard" else "place"
        body = (
            f'<rect class="label {kind}" width="{width:.1f}" height="{height}" rx="1"/>'
            f'<text class="t" x="3" y="{_TEXT_PT + 0.6}">{escape(shown)}</text>'
        )
        items.append(((float(xy[0]), float(xy[1])), kind, width, height, body))
    return items


def north_and_scale(view: View, scale: int, legend_pt: float) -> list[str]:
    """Give the north arrow and the bar of the scale."""
    left, top, right, foot = view.box
    step = next(base * 10**power for power in range(6) for base in (1, 2, 5) if base * 10**power * view.pt_per_m >= 40)
    bar = step * view.pt_per_m
    said = f"{number(float(step), 'm', 0)} m, scale 1 : {number(float(scale), 'm', 0)}"
    x, y = left + 2.0, foot + legend_pt - 4.0
    return [
        f'<rect x="{right - 32:.1f}" y="{top + 1:.1f}" width="31" height="36" fill="#fff" fill-opacity="0.85"/>',
        f'<path d="M{right - 16:.1f} {top + 5:.1f}l6 18l-6 -4l-6 4z"/>',
        f'<text class="t" x="{right - 16:.1f}" y="{top + 33:.1f}" text-anchor="middle">grid N</text>',
        f'<path d="M{x:.1f} {y - 4:.1f}v4h{bar:.1f}v-4" fill="none" stroke="#000"/>',
        f'<text class="t" x="{x + bar + 4:.1f}" y="{y:.1f}">{said}</text>',
    ]


Sign = tuple[str, float, str]
"""What is drawn, how wide, what it means."""


def _legend_rows(width_pt: float, back: bool) -> list[list[Sign]]:
    """Give what lines, marks and shapes mean, in rows that fit the width."""
    cross = _crosses(np.array([[0.0, 0.0], [26.0, 0.0]]))[0]
    words = ("clear", "caution", "unknown", "blocked")
    signs: list[Sign] = [
        (f'<path class="v v-{w}" d="M0 0h26"/>{cross if w == "blocked" else ""}', 26.0, w) for w in words
    ]
    signs.append(('<path class="a-out" d="M8 0L0 3.6L1.7 0L0 -3.6z"/>', 8.0, "way out"))
    if back:
        signs.append(('<path class="a-back" d="M8 0L0 3.6L1.7 0L0 -3.6z"/>', 8.0, "way back"))
    marks = [(flag_svg(1, kind), f"flag {kind}") for kind in words[1:]] + [(stop_svg(1), "stop")]
    at = 'x="0" y="-5" width="10" height="10"'
    signs += [(mark.replace('width="32" height="32"', at, 1), 10.0, text) for mark, text in marks]
    return in_rows([*signs, *SITE_SIGNS], width_pt)


SITE_SIGNS: tuple[Sign, ...] = tuple(
    (f'<path class="{kind}" d="{d}"/>', 20.0, text)
    for kind, d, text in (
        ("road", "M0 -3h20v6h-20z", "paved road"), ("road unpaved", "M0 -3h20v6h-20z", "other road"),
        ("overheads", "M0 0h20", "overhead"), ("edges", "M0 0h20", "edge"), ("limits", "M7 -3h6v6h-6z", "limit"),
        ("obstacles", "M0 -3h20v6h-20z", "obstacle"), ("people", "M0 -3h20v6h-20z", "people"),
        ("closures", "M0 -3h20v6h-20z", "closed"), ("areas", "M0 -3h20v6h-20z", "area"),
    )
)  # fmt: skip
"""What the site is drawn with."""


def in_rows(signs: Sequence[Sign], width_pt: float) -> list[list[Sign]]:
    """Give signs in rows that fit a width."""
    rows: list[list[Sign]] = [[]]
    left = width_pt
    for sign in signs:
        if _room(sign) > left and rows[-1]:
            rows.append([])
            left = width_pt
        rows[-1].append(sign)
        left -= _room(sign)
    return rows


def _room(sign: Sign) -> float:
    return sign[1] + 3.0 + 3.9 * len(sign[2]) + 6.0


def legend_of(view: View, rows: list[list[Sign]]) -> list[str]:
    """Give the legend below a map."""
    out = []
    for row, signs in enumerate(rows):
        x, y = view.box[0] + 2.0, view.box[3] + 9.0 + row * ROW_PT
        for sign in signs:
            body, width, text = sign
            out.append(f'<g transform="translate({x:.1f} {y:.1f})">{body}</g>')
            out.append(f'<text class="t" x="{x + width + 3:.1f}" y="{y + 2.4:.1f}">{text}</text>')
            x += _room(sign)
    return out
