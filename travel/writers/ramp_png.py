"""The side view as a PNG, drawn by the setter from the same SVG: it needs no browser and no font from outside."""

from __future__ import annotations

from travel.domain.ramp import RampResult
from travel.writers.svg_ramp import WIDTH, side_view

DOTS_PER_INCH = 144.0
PT_PER_INCH = 72.0
_FAMILIES = "'DejaVu Sans',Verdana,Arial,sans-serif"
_OWN = "Roboto,'DejaVu Sans Mono'"
_PAGE = (
    "#set page(width: {width}pt, height: auto, margin: 0pt, fill: white)\n"
    '#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
)


def side_view_png(result: RampResult) -> bytes:
    """Give the side view as PNG, twice as many dots as the drawing has units; the same answer gives the same bytes."""
    import typst

    from travel.writers.paper_pdf import own_fonts

    svg = side_view(result, titled=True).replace(_FAMILIES, _OWN)
    png = typst.compile(
        _PAGE.format(width=WIDTH).encode("utf-8"),
        format="png",
        ppi=DOTS_PER_INCH,
        font_paths=own_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"svg": svg},
    )
    assert isinstance(png, bytes)
    return png
