"""The side view: ground, ramps, trailer, machine at its tightest place and along the way, the gap in centimetres."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from travel.domain.ramp import CloseUp, Pose, RampResult, SideView
from travel.writers.ramp_words import centimetres, close_up_text, heading, outcome, sizes_text, tight_text
from travel.writers.text import plain

WIDTH = 1000.0
FRAME_M = 0.28
"""How deep the trailer's frame is drawn; a picture only."""
EYE_M = 0.75
"""How high a drawbar's eye is drawn at most; a picture only."""
LINE_PX, TITLE_LETTERS = 23.0, 100
ZOOM_M = (1.9, 1.25)
ZOOM_PX = (380.0, 250.0)
BIG_PX = 19.5
"""Width of a letter of the large label, roughly."""
Points = Sequence[tuple[float, float]]

STYLE = (
    ".rv text{font:16px 'DejaVu Sans',Verdana,Arial,sans-serif;fill:#1c1c1c}"
    ".rv .small{font-size:14px}.rv .big{font-size:30px;font-weight:700}"
    ".rv .halo{paint-order:stroke;stroke:#fff;stroke-width:5px;stroke-linejoin:round}"
    ".rv .ground{fill:#e4dcc6;stroke:#4a3f22;stroke-width:2}"
    ".rv .deck{fill:#b9c3cb;stroke:#27323a;stroke-width:2}.rv .ramp{fill:none;stroke:#27323a;stroke-width:7}"
    ".rv .ramp2{fill:none;stroke:#d8a02a;stroke-width:3}.rv .wheel{fill:#fff;stroke:#27323a;stroke-width:3}"
    ".rv .ghost{fill:none;stroke:#6b6b6b;stroke-width:1.1;stroke-dasharray:5 4}"
    ".rv .ghostw{fill:none;stroke:#8a8a8a;stroke-width:1}"
    ".rv .body{fill:#f3d98b;stroke:#1c1c1c;stroke-width:2.2;}"
    ".rv .tyre{fill:#3a3a3a;stroke:#1c1c1c;stroke-width:2}.rv .hub{fill:#fff}"
    ".rv .ring{fill:none;stroke:#8e0b25;stroke-width:3}.rv .gap{stroke:#8e0b25;stroke-width:3;fill:none}"
    ".rv .cap{fill:#8e0b25}.rv .lead{stroke:#8e0b25;stroke-width:1.6;stroke-dasharray:4 3}"
    ".rv .panel{fill:#fff;stroke:#1c1c1c;stroke-width:2}.rv .scale{stroke:#1c1c1c;stroke-width:2}"
    ".rv .b{font-weight:700}.rv .bar{fill:#1c1c1c}.rv .note{fill:#4a463c}.rv .air{fill:#fff}"
)


def side_view(result: RampResult, titled: bool = False) -> str:
    """Give the side view as SVG with a text alternative; ``titled``: with the answer in words over it."""
    view = result.side_view
    left, right, top = _box(view)
    scale = WIDTH / (right - left)
    over = LINE_PX * len(_title_lines(result)) + 20.0 if titled else 0.0
    base = top * scale + 16.0 + over
    height = base + 96.0

    def at(x: float, z: float) -> tuple[float, float]:
        return (x - left) * scale, base - z * scale

    body = [
        f'<rect class="air" x="0" y="0" width="{WIDTH:.0f}" height="{height:.0f}"/>',
        *_earth(at, left, right, height),
        *_trailer(result, view.profile_xz, at, scale),
        *[part for pose in view.poses if not pose.tight for part in _machine(pose, at, scale, ghost=True)],
        *[part for pose in view.poses if pose.tight for part in _machine(pose, at, scale, ghost=False)],
        *_ramp_front(view, view.profile_xz, at),
        *[part for pose in view.poses if pose.tight for part in _ends_named(result, pose, at)],
        *_labels(result, at),
        *_scale_bar(scale, height),
        *_tight_mark(result, at),
        *(_title(result) if titled else ()),
    ]
    said = f"{heading(result)}. {outcome(result)} {tight_text(result)} {_said(view)}"
    return (
        f'<svg class="rv" xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {WIDTH:.0f} {height:.0f}" '
        f'aria-label="{escape(plain(said))}"><style>{STYLE}</style>{"".join(body)}</svg>'
    )


def zoom_view(result: RampResult) -> str:
    """Give the tightest place enlarged, with the gap as a dimension; empty where it is not known."""
    return _zoomed(result, result.side_view.close_ups[0]) if result.side_view.close_ups else ""


def other_zooms(result: RampResult) -> list[tuple[str, str]]:
    """Give the tightest places of the machine's other parts as (caption, SVG)."""
    return [(close_up_text(result, part), _zoomed(result, part)) for part in result.side_view.close_ups[1:]]


def _zoomed(result: RampResult, part: CloseUp) -> str:
    view = result.side_view
    middle = [(a + b) / 2.0 for a, b in zip(part.tight_xz, part.touches_xz, strict=True)]
    scale = ZOOM_PX[0] / ZOOM_M[0]

    def at(x: float, z: float) -> tuple[float, float]:
        return (x - middle[0]) * scale + ZOOM_PX[0] / 2.0, ZOOM_PX[1] * 0.55 - (z - middle[1]) * scale

    a, b = at(*part.touches_xz), at(*part.tight_xz)
    body = [
        f'<rect class="air" width="{ZOOM_PX[0]:.0f}" height="{ZOOM_PX[1]:.0f}"/>',
        *_earth(at, middle[0] - 3.0, middle[0] + 3.0, ZOOM_PX[1] + 400.0),
        *_trailer(result, part.profile_xz, at, scale),
        *_machine(part.pose, at, scale, ghost=False),
        *_ramp_front(view, part.profile_xz, at),
        *_dimension(a, b, part.value_m),
        f'<rect x="1" y="1" width="{ZOOM_PX[0] - 2:.0f}" height="{ZOOM_PX[1] - 2:.0f}" fill="none" '
        'stroke="#1c1c1c" stroke-width="2"/>',
    ]
    said = f"Enlarged: {close_up_text(result, part)}"
    return (
        f'<svg class="rv" xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {ZOOM_PX[0]:.0f} '
        f'{ZOOM_PX[1]:.0f}" aria-label="{escape(plain(said))}"><style>{STYLE}</style>{"".join(body)}</svg>'
    )


def side_view_file(result: RampResult) -> str:
    """Give the side view as a file by itself."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + side_view(result, titled=True) + "\n"


def _box(view: SideView) -> tuple[float, float, float]:
    points = [point for pose in view.poses for point in (*pose.top_xz, *pose.under_xz)]
    right = max(view.deck_end_x, view.coupling_x or 0.0, *(x for x, _ in points), *view.bogie_xs) + 0.6
    return min(-2.0, min(x for x, _ in points) - 0.4), right, max(z for _, z in points) + 0.75


def _path(points: Iterable[tuple[float, float]], close: bool = True) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points) + ("z" if close else "")


def _earth(at: object, left: float, right: float, height: float) -> list[str]:
    assert callable(at)
    a, b = at(left, 0.0), at(right, 0.0)
    return [f'<path class="ground" d="M{a[0] - 9:.1f} {a[1]:.1f}H{b[0] + 9:.1f}V{height + 9:.1f}H{a[0] - 9:.1f}z"/>']


def _trailer(result: RampResult, profile: Points, at: object, scale: float) -> list[str]:
    """Draw the deck with a frame under it, wheels at the bogie, a neck or a drawbar to the coupling."""
    assert callable(at)
    view = result.side_view
    deck = [(x, z) for x, z in profile if x >= view.edge_x - 1e-6]
    under = [(x, max(z - FRAME_M, 0.12)) for x, z in reversed(deck)]
    out: list[str] = []
    for place in view.bogie_xs:
        radius = view.wheel_radius_m or 0.4
        x, y = at(place, radius)
        out.append(f'<circle class="wheel" cx="{x:.1f}" cy="{y:.1f}" r="{radius * scale:.1f}"/>')
        out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#27323a"/>')
    out.append(f'<path class="deck" d="{_path([at(*point) for point in (*deck, *under)])}"/>')
    if view.bogie_xs and max(view.bogie_xs) > view.deck_end_x:
        high, end, z = 2.0 * (view.wheel_radius_m or 0.4) + 0.08, max(view.bogie_xs) + 0.55, deck[-1][1]
        rear = [(view.deck_end_x, z), (view.deck_end_x, high + 0.16), (end, high + 0.16), (end, high),
                (view.deck_end_x + 0.16, high), (view.deck_end_x + 0.16, max(z - FRAME_M, 0.12)),
                (view.deck_end_x, max(z - FRAME_M, 0.12))]  # fmt: skip
        out.append(f'<path class="deck" d="{_path([at(*point) for point in rear])}"/>')
    if view.coupling_x is not None and view.coupling_x > view.deck_end_x:
        z = deck[-1][1]
        if result.trailer["kind"] in ("drawbar", "tilt_bed"):
            return out + _drawbar(view, z, at, scale)
        neck = [(view.deck_end_x, z), (view.deck_end_x, z + 0.42), (view.coupling_x + 0.6, z + 0.42),
                (view.coupling_x + 0.6, z + 0.20), (view.deck_end_x + 0.25, z + 0.20),
                (view.deck_end_x + 0.25, z - FRAME_M), (view.deck_end_x, z - FRAME_M)]  # fmt: skip
        out.append(f'<path class="deck" d="{_path([at(*point) for point in neck])}"/>')
        x, y = at(view.coupling_x, z + 0.20)
        out.append(f'<path d="M{x:.1f} {y:.1f}v{0.22 * scale:.1f}" stroke="#27323a" stroke-width="6"/>')
    return out


def _drawbar(view: SideView, deck_z: float, at: object, scale: float) -> list[str]:
    """Draw a drawbar from the deck's frame down to its eye; its height is not on the sheet, so it is a sign only."""
    assert callable(at)
    assert view.coupling_x is not None
    low = min(EYE_M, deck_z - 0.10)
    top, foot = deck_z - 0.04, max(deck_z - FRAME_M, 0.12)
    bar = [
        (view.deck_end_x, top),
        (view.coupling_x, low + 0.06),
        (view.coupling_x, low - 0.06),
        (view.deck_end_x, foot),
    ]
    x, y = at(view.coupling_x + 0.08, low)
    return [f'<path class="deck" d="{_path([at(*point) for point in bar])}"/>',
            f'<circle class="wheel" cx="{x:.1f}" cy="{y:.1f}" r="{0.09 * scale:.1f}"/>']  # fmt: skip


def _ramp_front(view: SideView, profile: Points, at: object) -> list[str]:
    """Draw the ramp before the machine, so that its upper face can be seen."""
    assert callable(at)
    ramp = [(x, z) for x, z in profile if x <= view.edge_x + 1e-6]
    if len(ramp) < 2 or ramp[0] == ramp[-1]:
        return []
    points = [(x, y + 3.5) for x, y in (at(*point) for point in ramp)]
    return [f'<path class="ramp" d="{_path(points, close=False)}"/>',
            f'<path class="ramp2" d="{_path(points, close=False)}"/>']  # fmt: skip


def _machine(pose: Pose, at: object, scale: float, ghost: bool) -> list[str]:
    assert callable(at)
    outline = _path([at(*point) for point in (*pose.top_xz, *reversed(pose.under_xz))])
    wheels = [(*at(x, z), r * scale) for x, z, r in pose.wheels_xzr]
    if ghost:
        tyres = "".join(f'<circle class="ghostw" cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}"/>' for x, y, r in wheels)
        return [f'<path class="ghost" d="{outline}"/>', tyres]
    tyres = "".join(
        f'<circle class="tyre" cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}"/><circle class="hub" cx="{x:.1f}" cy="{y:.1f}" '
        f'r="{r * 0.4:.1f}"/>'
        for x, y, r in wheels
    )
    return [f'<path class="body" d="{outline}"/>', tyres]


def _gap_label(value_m: float) -> str:
    return centimetres(value_m) if value_m >= 0.0 else f"cuts in {centimetres(-value_m)}"


def _dimension(a: tuple[float, float], b: tuple[float, float], value_m: float) -> list[str]:
    """Draw the gap between machine and ground as a dimension, its centimetres on the side that has room."""
    out = [f'<path class="gap" d="M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}"/>']
    out += [f'<circle class="cap" cx="{x:.1f}" cy="{y:.1f}" r="6"/>' for x, y in (a, b)]
    x, y, label = (a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0 + 11.0, _gap_label(value_m)
    wide = BIG_PX * len(label) + 14.0
    if x + wide < ZOOM_PX[0]:
        x, anchor = x + 14.0, "start"
    elif x - wide > 0.0:
        x, anchor = x - 14.0, "end"
    else:
        x, y, anchor = ZOOM_PX[0] / 2.0, ZOOM_PX[1] - 18.0, "middle"
    out.append(f'<text class="big halo" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{label}</text>')
    return out


def _tight_mark(result: RampResult, at: object) -> list[str]:
    """Ring the tightest place and lead down to its centimetres, which stand below the ground line."""
    assert callable(at)
    view, value = result.side_view, result.smallest_clearance.value_m
    if view.tight_xz is None or view.touches_xz is None or value is None:
        return []
    x, y = at(*[(a + b) / 2.0 for a, b in zip(view.tight_xz, view.touches_xz, strict=True)])
    label, ground = _gap_label(value), at(0.0, 0.0)[1]
    half = BIG_PX * len(label) / 2.0
    to_x = min(max(x, half + 130.0), WIDTH - half - 8.0)
    return [
        f'<circle class="ring" cx="{x:.1f}" cy="{y:.1f}" r="15"/>',
        f'<path class="lead" d="M{x:.1f} {y + 15:.1f}L{to_x:.1f} {ground + 52:.1f}"/>',
        f'<text class="big halo" x="{to_x:.1f}" y="{ground + 80:.1f}" text-anchor="middle">{label}</text>',
    ]


def _labels(result: RampResult, at: object) -> list[str]:
    """Name foot, edge and nose under the ground line, clear of the line that leads to the centimetres."""
    assert callable(at)
    view, out = result.side_view, []
    places = [(view.edge_x, "deck's edge")]
    if view.edge_x - view.foot_x > 0.05:
        places = [(view.foot_x, "ramp's foot"), *(places if view.edge_x - view.foot_x > 1.5 else [])]
    lead = at(*view.tight_xz)[0] if view.tight_xz is not None else -WIDTH
    for x, said in places:
        px, py = at(x, 0.0)
        half = 4.4 * len(said) + 6.0
        away = 0.0 if abs(px - lead) > half else (half + lead - px if px >= lead else -(half - lead + px))
        out.append(f'<path d="M{px:.1f} {py:.1f}v14" stroke="#1c1c1c" stroke-width="2"/>')
        out.append(f'<text x="{px + away:.1f}" y="{py + 31:.1f}" text-anchor="middle">{said}</text>')
    px, py = at(view.deck_end_x, 0.0)
    right = min(px, WIDTH - 34.0)
    out.append(f'<text x="{right:.1f}" y="{py + 31:.1f}" text-anchor="end">trailer\'s {view.inward}</text>')
    out.append(_arrow(right + 6.0, right + 26.0, py + 26.0))
    slope = float(result.request["ground_slope_pct"])
    if slope:
        word = "rises" if slope > 0 else "falls"
        said = f"the ground {word} {abs(slope):g} % towards the nose; drawn square to the ground"
        out.append(f'<text class="note" x="{WIDTH - 8:.0f}" y="{py + 54:.1f}" text-anchor="end">{said}</text>')
    return out


def _arrow(from_x: float, to_x: float, y: float) -> str:
    back = -8.0 if to_x > from_x else 8.0
    head = f"m{back:.0f} -5l{-back:.0f} 5l{back:.0f} 5"
    return f'<path class="scale" fill="none" d="M{from_x:.1f} {y:.1f}H{to_x:.1f}{head}"/>'


def _ends_named(result: RampResult, pose: Pose, at: object) -> list[str]:
    """Name front and rear on the machine, and show over it which way it drives."""
    assert callable(at)
    loads = result.request["move"] == "load"
    leads = "front" if loads == (result.request["first"] == "nose") else "rear"
    names = (leads, "rear" if leads == "front" else "front")
    out = []
    for name, (x, z, r) in zip(names, (pose.wheels_xzr[0], pose.wheels_xzr[-1]), strict=True):
        px, py = at(x, z + r + 0.22)
        out.append(f'<text x="{px:.1f}" y="{py:.1f}" text-anchor="middle">{name}</text>')
    left, top = min(x for x, _ in pose.top_xz), max(z for _, z in pose.top_xz)
    px, py = at(left, top + 0.34)
    px = max(px, 10.0)
    said = f"drives {'on' if loads else 'off'}, {result.request['first']} first"
    from_x, to_x = (px, px + 44.0) if loads else (px + 44.0, px)
    return [*out, _arrow(from_x, to_x, py - 5.0), f'<text class="halo b" x="{px + 52:.1f}" y="{py:.1f}">{said}</text>']


def _title_lines(result: RampResult) -> list[tuple[str, str]]:
    parts = [("", close_up_text(result, part)) for part in result.side_view.close_ups]
    return [("b", heading(result)), ("b", outcome(result)), *parts, ("", sizes_text(result))]


def _title(result: RampResult) -> list[str]:
    """Say over the drawing what was asked, the answer, what is left under each part, how long and high things are."""
    lines = _title_lines(result)
    out = [f'<rect class="bar" x="0" y="0" width="8" height="{LINE_PX * len(lines) + 12:.0f}"/>']
    for number, (kind, text) in enumerate(lines):
        said = plain(text)
        said = said if len(said) <= TITLE_LETTERS else said[: TITLE_LETTERS - 1] + "\u2026"
        out.append(f'<text class="{kind}" x="20" y="{24 + LINE_PX * number:.0f}">{escape(said)}</text>')
    return out


def _scale_bar(scale: float, height: float) -> list[str]:
    y = height - 16.0
    return [
        f'<path class="scale" d="M12 {y - 6:.1f}v12M{12 + scale:.1f} {y - 6:.1f}v12M12 {y:.1f}h{scale:.1f}"/>',
        f'<text x="{20 + scale:.1f}" y="{y + 5:.1f}">1 m</text>',
    ]


def _said(view: SideView) -> str:
    return (
        f"Ramp {view.edge_x - view.foot_x:.2f} m long in plan, deck to {view.deck_end_x:.2f} m from the ramp's foot; "
        f"the machine is drawn at its tightest position and dashed at {len(view.poses) - 1} others."
    )
