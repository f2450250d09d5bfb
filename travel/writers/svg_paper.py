"""Drawings made for the page, set for paper: styles and signs written into them, black and white."""

from __future__ import annotations

from travel.domain.plan import TravelPlan
from travel.writers.svg_marks import flag_svg, stop_svg
from travel.writers.svg_profile import HEIGHT, WIDTH, ProfileDrawing

_STYLE = """
text { font: 13px Roboto, "DejaVu Sans", Verdana, Arial, sans-serif; fill: #000; }
.ax, .val, .note { font-size: 13px; font-family: Roboto, "DejaVu Sans", Verdana, Arial, sans-serif; }
.halo { paint-order: stroke; stroke: #fff; stroke-width: 4px; }
.grid { stroke: #ccc; } .axis { stroke: #333; } .earth { fill: #ebebeb; stroke: #ebebeb; stroke-width: 0.6px; }
.grade { fill: #bdbdbd; stroke: #333; stroke-width: 0.6px; } .gap { fill: url(#gap); }
.r-high { fill: #fff; stroke: #333; } .r-low { fill: url(#low); stroke: #333; }
.stem { stroke: #333; stroke-dasharray: 2 3; } .pointer { display: none; }
.v { fill: none; stroke: #000; } .v-clear { stroke-width: 2.4px; }
.v-caution { stroke-width: 5px; stroke-dasharray: 13 6; }
.v-unknown { stroke-width: 5px; stroke-dasharray: 0.1 9; stroke-linecap: round; } .v-blocked { stroke-width: 2px; }
.m-blocked { fill: #000; } .t-blocked { fill: #fff; }
.m-unknown { fill: #fff; stroke: #000; stroke-width: 2.6px; stroke-dasharray: 3.4 2; }
.m-caution, .m-stop { fill: #fff; stroke: #000; stroke-width: 2.6px; }
.mark text { font-weight: 700; }
"""
_DEFS = (
    '<pattern id="gap" width="8" height="8" patternUnits="userSpaceOnUse">'
    '<path d="M0 0l8 8" stroke="#000" stroke-width="1.4"/></pattern>'
    '<pattern id="low" width="6" height="6" patternUnits="userSpaceOnUse">'
    '<rect width="6" height="6" fill="#fff"/><path d="M0 6L6 0" stroke="#777" stroke-width="1.2"/></pattern>'
)
_ROW = 36.0


def paper_profile(plan: TravelPlan, drawing: ProfileDrawing) -> str:
    """Give a trip's profile with its flags and stops standing above it, as a picture of its own."""
    verdicts = {finding.flag: finding.verdict for finding in plan.findings}
    above = drawing.rows * _ROW
    marks, stems = [], []
    for mark in drawing.marks:
        sign = stop_svg(mark.number) if mark.kind == "stop" else flag_svg(mark.number, verdicts[mark.number])
        x, y = mark.left_pct * WIDTH / 100.0 - 16.0, above - (mark.row + 1) * _ROW
        marks.append(sign.replace("<svg ", f'<svg x="{x:.1f}" y="{y:.1f}" ', 1))
        stems.append(f'<line class="stem" x1="{x + 16:.1f}" x2="{x + 16:.1f}" y1="{y + 32:.1f}" y2="{above:.1f}"/>')
    inner = drawing.svg[drawing.svg.index(">") + 1 : drawing.svg.rindex("</svg>")]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT + above:.0f}" '
        f'width="{WIDTH:.0f}" height="{HEIGHT + above:.0f}"><defs>{_DEFS}</defs><style>{_STYLE}</style>'
        f'{"".join(stems)}<g transform="translate(0 {above:.0f})">{inner}</g>{"".join(marks)}</svg>'
    )
