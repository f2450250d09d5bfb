"""Clearance, axle loads and grip by position, and the deck from above with its tie-downs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from travel.domain.ramp import RampResult
from travel.domain.trailer import Trailer
from travel.writers.numbers import number, quantity
from travel.writers.ramp_words import centimetres, start_text
from travel.writers.text import plain

WIDTH, HEIGHT = 1000.0, 236.0
LEFT, RIGHT, TOP, FOOT = 84.0, 988.0, 30.0, 184.0
Row = Sequence[float | None]

STYLE = (
    ".rc text{font:15px 'DejaVu Sans',Verdana,Arial,sans-serif;fill:#1c1c1c}"
    ".rc .grid{stroke:#dcd8cc}.rc .axis{stroke:#55503f;stroke-width:1.5}.rc .zone{stroke:#55503f;stroke-dasharray:3 4}"
    ".rc .limit{stroke:#8e0b25;stroke-width:2;stroke-dasharray:9 5}"
    ".rc .l0{fill:none;stroke:#0f5470;stroke-width:3}"
    ".rc .l1{fill:none;stroke:#9a4a00;stroke-width:3;stroke-dasharray:12 5}"
    ".rc .l2{fill:none;stroke:#5e2a8c;stroke-width:3;stroke-dasharray:3 4}"
    ".rc .dot{fill:#8e0b25}.rc .halo{paint-order:stroke;stroke:#fff;stroke-width:5px;stroke-linejoin:round}"
    ".rc .deck{fill:#eef1f3;stroke:#27323a;stroke-width:2}.rc .rampp{fill:#d9cfae;stroke:#27323a;stroke-width:1.5}"
    ".rc .mach{fill:#f3d98b;fill-opacity:.75;stroke:#1c1c1c;stroke-width:2}.rc .tie{stroke:#8e0b25;stroke-width:3}"
    ".rc .fall{fill:#f7e9ec;stroke:#8e0b25;stroke-width:2;stroke-dasharray:10 6}"
    ".rc .ring{fill:#fff;stroke:#8e0b25;stroke-width:3}.rc .b{font-weight:700}"
)


@dataclass(frozen=True)
class Line:
    """One line of a chart: name and values."""

    name: str
    values: Row


def charts(result: RampResult) -> list[tuple[str, str]]:
    """Give the charts as (title, SVG)."""
    count = len(result.axle_loads_kg)
    names = ["front", *(f"{axle}." for axle in range(2, count)), "rear"]
    loads = [Line(f"{name} axle", row) for name, row in zip(names, result.axle_loads_kg, strict=True)]
    if any(value is not None for value in result.coupling_by_position_kg):
        loads.append(Line("coupling", result.coupling_by_position_kg))
    lines = [Line("needed", result.grip_needed_ratio), Line("there", result.grip_available_ratio)]
    return [
        ("Clearance under the machine", _chart(result, "m", [Line("clearance", result.clearance_m)], least=0.03)),
        ("Axle loads on the slope, and load left on the coupling", _chart(result, "kg", loads)),
        ("Grip over the machine's weight", _chart(result, "-", lines)),
    ]


def _chart(result: RampResult, unit: str, lines: list[Line], least: float | None = None) -> str:
    at = result.positions_m
    known = [value for line in lines for value in line.values if value is not None]
    if not known:
        return '<p class="said">Not known.</p>'
    low, high = min(0.0, *known), max(known) * 1.06

    def x_of(position: float) -> float:
        return LEFT + (RIGHT - LEFT) * (position - at[0]) / (at[-1] - at[0])

    def y_of(value: float) -> float:
        return FOOT - (FOOT - TOP) * (value - low) / (high - low)

    out = _frame(result, unit, low, high, x_of, y_of)
    if least is not None:
        out.append(f'<line class="limit" x1="{LEFT}" x2="{RIGHT}" y1="{y_of(least):.1f}" y2="{y_of(least):.1f}"/>')
        out.append(f'<text class="halo" x="{RIGHT}" y="{y_of(least) - 6:.1f}" text-anchor="end">'
                   f"least wanted {centimetres(least)}</text>")  # fmt: skip
    for n, line in enumerate(lines):
        out += [f'<polyline class="l{n}" points="{run}"/>' for run in _runs(at, line.values, x_of, y_of)]
    out += _legend(lines) if len(lines) > 1 else _lowest(at, lines[0].values, x_of, y_of)
    said = "; ".join(_said(at, line, unit) for line in lines)
    return (
        f'<svg class="rc" xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'aria-label="{escape(plain(said))}"><style>{STYLE}</style>{"".join(out)}</svg>'
    )


def _frame(result: RampResult, unit: str, low: float, high: float, x_of: object, y_of: object) -> list[str]:
    assert callable(x_of)
    assert callable(y_of)
    at, view, out = result.positions_m, result.side_view, []
    for tick in _ticks(low, high, 4):
        y = y_of(tick)
        out.append(f'<line class="grid" x1="{LEFT}" x2="{RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>')
        text = number(tick, "kg", 0) if unit == "kg" else f"{tick:g}"
        out.append(f'<text x="{LEFT - 8}" y="{y + 5:.1f}" text-anchor="end">{text}</text>')
    out.append(f'<text x="6" y="18">{"of weight" if unit == "-" else unit}</text>')
    foot = [(0.0, "ramp's foot")] if result.trailer["ramp_length_m"] else []
    for place, said in (*foot, (view.edge_x, "deck's edge")):
        if at[0] < place < at[-1]:
            x = x_of(place)
            out.append(f'<line class="zone" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP - 8}" y2="{FOOT}"/>')
            out.append(f'<text x="{x:.1f}" y="{TOP - 12}" text-anchor="middle">{said}</text>')
    out.append(f'<line class="axis" x1="{LEFT}" x2="{RIGHT}" y1="{FOOT}" y2="{FOOT}"/>')
    for tick in _ticks(at[0], at[-1], 14):
        x = x_of(tick)
        out.append(f'<line class="axis" x1="{x:.1f}" x2="{x:.1f}" y1="{FOOT}" y2="{FOOT + 6}"/>')
        out.append(f'<text x="{x:.1f}" y="{FOOT + 23}" text-anchor="middle">{number(tick, "m", 0)}</text>')
    out.append(f'<text x="{RIGHT}" y="{HEIGHT - 8}" text-anchor="end">leading axle past {start_text(result)}, m</text>')
    return out


def _ticks(low: float, high: float, wanted: int) -> list[float]:
    span = max(high - low, 1e-9)
    step = 10.0 ** math.floor(math.log10(span / wanted))
    step = next(step * factor for factor in (1, 2, 5, 10) if span / (step * factor) <= wanted)
    first = math.ceil(low / step - 1e-9) * step
    return [round(first + step * k, 6) for k in range(int((high - first) / step + 1e-9) + 1)]


def _runs(at: Sequence[float], values: Row, x_of: object, y_of: object) -> list[str]:
    """Give the line in pieces, broken where a value is not known."""
    assert callable(x_of)
    assert callable(y_of)
    runs: list[list[str]] = [[]]
    for position, value in zip(at, values, strict=True):
        if value is None:
            runs.append([])
        else:
            runs[-1].append(f"{x_of(position):.1f},{y_of(value):.1f}")
    return [" ".join(run) for run in runs if len(run) > 1]


def _lowest(at: Sequence[float], values: Row, x_of: object, y_of: object) -> list[str]:
    assert callable(x_of)
    assert callable(y_of)
    known = [(value, position) for value, position in zip(values, at, strict=True) if value is not None]
    value, position = min(known)
    x, y = x_of(position), y_of(value)
    anchor, shift = ("start", 10) if x < WIDTH / 2 else ("end", -10)
    return [f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="6"/>',
            f'<text class="halo b" x="{x + shift:.1f}" y="{y - 8:.1f}" text-anchor="{anchor}">'
            f"{centimetres(value)}</text>"]  # fmt: skip


def _legend(lines: list[Line]) -> list[str]:
    out, x = [], LEFT + 8
    for n, line in enumerate(lines):
        out.append(f'<line class="l{n}" x1="{x}" x2="{x + 46}" y1="{HEIGHT - 13}" y2="{HEIGHT - 13}"/>')
        out.append(f'<text x="{x + 54}" y="{HEIGHT - 8}">{line.name}</text>')
        x += 80 + 10 * len(line.name)
    return out


def _said(at: Sequence[float], line: Line, unit: str) -> str:
    known = [(value, position) for value, position in zip(line.values, at, strict=True) if value is not None]
    if not known:
        return f"{line.name} not known"
    least, most = min(known), max(known)
    return (
        f"{line.name} from {quantity(least[0], unit)} with the leading axle {quantity(least[1], 'm')} past the ramp's "
        f"foot to {quantity(most[0], unit)} at {quantity(most[1], 'm')}"
    )


def deck_plan(result: RampResult, trailer: Trailer) -> str:
    """Give the deck from above: ramps, where the machine stands best, tie-down points numbered as in the list."""
    length = float(result.trailer["deck_length_m"])
    ramp = max((r.length_m for r in trailer.ramps), default=0.0)
    front = trailer.kind == "detachable_neck"
    ends = _machine_ends(result) or (0.0, length)
    low, high = min(0.0 if front else -ramp, ends[0]), max(length + ramp if front else length, ends[1])
    scale = 960.0 / (high - low + 0.4)
    middle = trailer.deck.width_m * scale / 2.0 + 34.0
    x0 = 20.0 - low * scale
    height = 2.0 * middle + 16.0

    def at(x: float, y: float) -> tuple[float, float]:
        return x0 + x * scale, middle - y * scale

    out = [_rect("deck", at(0.0, trailer.deck.width_m / 2), length * scale, trailer.deck.width_m * scale)]
    out += _ramps_above(trailer, at, length, scale)
    out += _machine_above(result, at, scale)
    for n, tied in enumerate(result.tie_downs):
        x, y = at(tied.x_m, tied.y_m)
        side = -20.0 if tied.y_m > 0 else 32.0
        out.append(f'<circle class="ring" cx="{x:.1f}" cy="{y:.1f}" r="7"/>')
        out.append(f'<text class="b" x="{x:.1f}" y="{y + side:.1f}" text-anchor="middle">{n + 1}</text>')
    out.append(f'<text x="{at(length, 0)[0] - 6:.1f}" y="{middle + 5:.1f}" text-anchor="end">nose →</text>')
    said = (
        f"Deck from above, {quantity(length, 'm')} by {quantity(trailer.deck.width_m, 'm')}, {len(result.tie_downs)} "
    )
    said += "tie-down points; " + _place_said(result)
    return (
        f'<svg class="rc" xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {WIDTH:.0f} {height:.0f}" '
        f'aria-label="{escape(plain(said))}"><style>{STYLE}</style>{"".join(out)}</svg>'
    )


def fall_zone_plan(result: RampResult, trailer: Trailer) -> str:
    """Give the rig from above with the zone that is kept free of people while the machine goes on or off."""
    length, width = float(result.trailer["deck_length_m"]), trailer.deck.width_m
    beside, before = result.fall_zone.get("beside_m"), result.fall_zone.get("before_edge_m")
    if beside is None or before is None:
        return '<p class="said">Not known.</p>'
    ramp = max((r.length_m for r in trailer.ramps), default=0.0)
    front = trailer.kind == "detachable_neck"
    reach = max(before, ramp + 1.0)
    scale = min(960.0 / (length + reach + beside), 300.0 / (width + 2.0 * beside))
    middle, x0 = (width / 2.0 + beside) * scale + 10.0, 20.0 + (0.0 if front else reach * scale)
    if front:
        x0 += beside * scale

    def at(x: float, y: float) -> tuple[float, float]:
        return x0 + x * scale, middle - y * scale

    ends = (-beside, length + reach) if front else (-reach, length + beside)
    zone = at(ends[0], width / 2.0 + beside)
    out = [_rect("fall", zone, (ends[1] - ends[0]) * scale, (width + 2.0 * beside) * scale)]
    out.append(_rect("deck", at(0.0, width / 2.0), length * scale, width * scale))
    out += _ramps_above(trailer, at, length, scale)
    x, y = at(length * 0.35, width / 2.0)
    out.append(f'<path class="tie" d="M{x:.1f} {y:.1f}V{zone[1]:.1f}"/>')
    out.append(f'<text class="b halo" x="{x + 8:.1f}" y="{(y + zone[1]) / 2.0 + 5:.1f}">{quantity(beside, "m")}</text>')
    edge, far = (length, length + reach) if front else (0.0, -reach)
    (ax, ay), (bx, _) = at(edge, -width / 2.0 - beside * 0.45), at(far, 0.0)
    out.append(f'<path class="tie" d="M{ax:.1f} {ay:.1f}H{bx:.1f}"/>')
    out.append(f'<text class="b halo" x="{(ax + bx) / 2.0:.1f}" y="{ay + 20:.1f}" text-anchor="middle">'
               f"{quantity(before, 'm')}</text>")  # fmt: skip
    x, y = at(length * 0.62, 0.0)
    out.append(f'<text class="b halo" x="{x:.1f}" y="{y + 5:.1f}" text-anchor="middle">nobody in here</text>')
    height = 2.0 * middle
    said = (
        f"The rig from above with the zone kept free of people: {quantity(beside, 'm')} beside it, "
        f"{quantity(before, 'm')} before the deck's edge."
    )
    return (
        f'<svg class="rc" xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {WIDTH:.0f} {height:.0f}" '
        f'aria-label="{escape(plain(said))}"><style>{STYLE}</style>{"".join(out)}</svg>'
    )


def _place_said(result: RampResult) -> str:
    if result.deck_window_m is None or result.best_position_m is None:
        return "no place for the machine within the ratings"
    return f"front axle best {quantity(result.best_position_m, 'm')} from the rear edge"


def _rect(kind: str, corner: tuple[float, float], width: float, height: float) -> str:
    return f'<rect class="{kind}" x="{corner[0]:.1f}" y="{corner[1]:.1f}" width="{width:.1f}" height="{height:.1f}"/>'


def _ramps_above(trailer: Trailer, at: object, length: float, scale: float) -> list[str]:
    assert callable(at)
    out = []
    for ramp in trailer.ramps:
        inner = (ramp.gap_m or 0.0) / 2.0
        start = length if trailer.kind == "detachable_neck" else -ramp.length_m
        for side in ("left", "right") if ramp.side == "both" else (ramp.side,):
            top = inner + ramp.width_m if side == "left" else -inner
            out.append(_rect("rampp", at(start, top), ramp.length_m * scale, ramp.width_m * scale))
    return out


def _machine_ends(result: RampResult) -> tuple[float, float] | None:
    """Give the machine's ends at its best place, from the deck's rear edge; None where it has no place [m]."""
    place, best = result.machine.get("plan"), result.best_position_m
    if place is None or best is None or result.deck_window_m is None:
        return None
    sign = 1.0 if place["faces_nose"] else -1.0
    low, high = sorted((best + sign * place["rear_x_m"], best + sign * place["front_x_m"]))
    return low, high


def _machine_above(result: RampResult, at: object, scale: float) -> list[str]:
    """Draw the machine as a box over its wheels at its best place, with the front axle marked, and the window."""
    assert callable(at)
    place, best, window, ends = (
        result.machine.get("plan"), result.best_position_m, result.deck_window_m, _machine_ends(result)
    )  # fmt: skip
    if place is None or best is None or window is None or ends is None:
        return []
    sign = 1.0 if place["faces_nose"] else -1.0
    width = place["width_m"]
    out = [_rect("mach", at(ends[0], width / 2), (ends[1] - ends[0]) * scale, width * scale)]
    for name, x in (("front axle", best), ("rear axle", best - sign * place["wheelbase_m"])):
        a, b = at(x, width / 2), at(x, -width / 2)
        out.append(f'<line class="axis" x1="{a[0]:.1f}" x2="{b[0]:.1f}" y1="{a[1]:.1f}" y2="{b[1]:.1f}"/>')
        out.append(f'<text class="halo" x="{a[0] + 6:.1f}" y="{(a[1] + b[1]) / 2 - 10:.1f}">{name}</text>')
    a, b = at(window[0], -0.18), at(window[1], -0.18)
    out.append(f'<path class="tie" d="M{a[0]:.1f} {a[1] - 8:.1f}v16M{b[0]:.1f} {b[1] - 8:.1f}v16M{a[0]:.1f} {a[1]:.1f}'
               f'H{b[0]:.1f}"/>')  # fmt: skip
    out.append(f'<text class="halo b" x="{(a[0] + b[0]) / 2:.1f}" y="{a[1] + 26:.1f}" text-anchor="middle">'
               f"front axle {number(window[0], 'm')}–{number(window[1], 'm')} m from the rear edge</text>")  # fmt: skip
    return out
