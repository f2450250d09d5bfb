"""How a GIS draws our layers: verdicts by line pattern and shape as well as colour, in both of its style languages."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal
from xml.sax.saxutils import escape, quoteattr

from travel.writers.map_way import COLOURS

Kind = Literal["line", "marker", "fill"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """One sign: colour of line or outline, width or size in millimetres, dashes, shape, filling ("" = none)."""

    kind: Kind
    colour: str
    size_mm: float = 0.5
    dash: tuple[float, ...] = ()
    shape: str = "circle"
    fill: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """A layer's style in the languages QML and SLD 1.0."""

    qml: str
    sld: str


_WAY = {
    "clear": Symbol(kind="line", colour=COLOURS["clear"], size_mm=0.8),
    "caution": Symbol(kind="line", colour=COLOURS["caution"], size_mm=1.3, dash=(4.0, 1.8)),
    "unknown": Symbol(kind="line", colour=COLOURS["unknown"], size_mm=1.3, dash=(0.8, 1.6)),
    "blocked": Symbol(kind="line", colour=COLOURS["blocked"], size_mm=1.0, dash=(1.6, 1.0, 0.4, 1.0)),
}
_SHAPES = {"clear": "circle", "caution": "triangle", "unknown": "diamond", "blocked": "cross2"}
_MARKS = {
    word: Symbol(kind="marker", colour=colour, size_mm=4.5, shape=_SHAPES[word], fill="#ffffff" * (word != "blocked"))
    for word, colour in COLOURS.items()
}
_STOP = Symbol(kind="marker", colour="#1c1c1c", size_mm=4.5, shape="square", fill="#ffffff")
_SITE = {
    "roads": Symbol(kind="line", colour="#8a8577", size_mm=1.0),
    "places": Symbol(kind="marker", colour="#1c1c1c", size_mm=2.4, fill="#ffffff"),
    "overheads": Symbol(kind="line", colour="#14142b", size_mm=0.6, dash=(5.0, 1.5, 0.6, 1.5)),
    "limits": Symbol(kind="marker", colour="#3f3a00", size_mm=3.0, shape="square", fill="#f2e9a0"),
    "ground": Symbol(kind="fill", colour="#6b5a3a", size_mm=0.3, dash=(0.8, 1.6)),
    "edges": Symbol(kind="line", colour="#6d3208", size_mm=0.9, dash=(4.0, 1.0, 1.0, 1.0)),
    "obstacles": Symbol(kind="fill", colour="#333333", size_mm=0.4, fill="#777777"),
    "people": Symbol(kind="fill", colour="#0b5d57", size_mm=0.6, dash=(1.4, 1.0)),
    "closures": Symbol(kind="fill", colour="#3b0d0d", size_mm=0.9),
    "areas": Symbol(kind="fill", colour="#5c6b2e", size_mm=0.4, dash=(2.0, 1.0)),
}


def kind_of(geometry: Any) -> Kind:
    """Give what a geometry is drawn with."""
    name = str(geometry.geom_type)
    return "marker" if "Point" in name else "fill" if "Polygon" in name else "line"


def style_of(layer: str, kind: Kind | None = None) -> Style | None:
    """Give a layer's style, its symbol of the kind its geometries are drawn with; None for a layer nobody styled."""
    if layer in ("legs", "stretches"):
        return _by_verdict(_WAY, label="")
    if layer in ("flags", "places_reached"):
        return _by_verdict(_MARKS, label="flag" if layer == "flags" else "place")
    if layer == "stops":
        return _single(_STOP, label="stop")
    if layer not in _SITE:
        return None
    return _single(replace(_SITE[layer], kind=kind or _SITE[layer].kind), label="name" if layer == "places" else "")


def _by_verdict(symbols: dict[str, Symbol], label: str) -> Style:
    categories = "".join(
        f'<category render="true" symbol="{n}" value="{word}" label="{word}"/>' for n, word in enumerate(symbols)
    )
    drawn = "".join(_qml_symbol(symbol, str(n)) for n, symbol in enumerate(symbols.values()))
    renderer = (
        '<renderer-v2 type="categorizedSymbol" attr="verdict" symbollevels="0" enableorderby="0" forceraster="0">'
        f"<categories>{categories}</categories><symbols>{drawn}</symbols></renderer-v2>"
    )
    rules = "".join(
        f"<Rule><Name>{word}</Name><Filter xmlns={_OGC}><PropertyIsEqualTo><PropertyName>verdict</PropertyName>"
        f"<Literal>{word}</Literal></PropertyIsEqualTo></Filter>{_sld_symbol(symbol)}</Rule>"
        for word, symbol in symbols.items()
    )
    return Style(qml=_qml(renderer, label), sld=_sld(rules))


def _single(symbol: Symbol, label: str) -> Style:
    renderer = (
        '<renderer-v2 type="singleSymbol" symbollevels="0" enableorderby="0" forceraster="0">'
        f"<symbols>{_qml_symbol(symbol, '0')}</symbols></renderer-v2>"
    )
    return Style(qml=_qml(renderer, label), sld=_sld(f"<Rule>{_sld_symbol(symbol)}</Rule>"))


def _qml(renderer: str, label: str) -> str:
    labels = ""
    if label:
        labels = (
            f'<labeling type="simple"><settings><text-style fieldName={quoteattr(label)} fontSize="9" '
            'textColor="0,0,0,255" isExpression="0"><text-buffer bufferDraw="1" bufferSize="0.8" '
            'bufferColor="255,255,255,255"/></text-style><placement placement="6" dist="1"/></settings></labeling>'
        )
    return (
        f'<qgis version="3.22.0" styleCategories="Symbology|Labeling" labelsEnabled="{1 if label else 0}">'
        f"{renderer}{labels}</qgis>"
    )


def _rgb(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5)) + ",255"


def _qml_symbol(symbol: Symbol, name: str) -> str:
    dash = ";".join(f"{length:g}" for length in symbol.dash)
    custom = {"use_custom_dash": "1", "customdash": dash, "customdash_unit": "MM"} if dash else {}
    if symbol.kind == "line":
        kind, properties = "SimpleLine", {
            "line_color": _rgb(symbol.colour), "line_width": f"{symbol.size_mm:g}", "line_width_unit": "MM",
            "capstyle": "flat", **custom,
        }  # fmt: skip
    elif symbol.kind == "marker":
        kind, properties = "SimpleMarker", {
            "name": symbol.shape, "size": f"{symbol.size_mm:g}", "size_unit": "MM", "outline_width": "0.6",
            "outline_color": _rgb(symbol.colour), "color": _rgb(symbol.fill or symbol.colour),
        }  # fmt: skip
    else:
        kind, properties = "SimpleFill", {
            "outline_color": _rgb(symbol.colour), "outline_width": f"{symbol.size_mm:g}", "outline_width_unit": "MM",
            "outline_style": "dash" if dash else "solid", "style": "solid" if symbol.fill else "no",
            "color": _rgb(symbol.fill or symbol.colour),
        }  # fmt: skip
    found = "".join(f"<prop k={quoteattr(key)} v={quoteattr(value)}/>" for key, value in properties.items())
    return (
        f'<symbol type="{symbol.kind}" name="{name}" alpha="1" clip_to_extent="1" force_rhr="0">'
        f'<layer class="{kind}" enabled="1" locked="0" pass="0">{found}</layer></symbol>'
    )


_OGC = '"http://www.opengis.net/ogc"'
_PX_PER_MM = 1 / 0.28
"""A pixel of SLD is 0.28 mm (OGC 05-077r4, Symbology Encoding 1.1, clause 11)."""


def _sld(rules: str) -> str:
    return (
        '<StyledLayerDescriptor version="1.0.0" xmlns="http://www.opengis.net/sld"><NamedLayer><Name>layer</Name>'
        f"<UserStyle><FeatureTypeStyle>{rules}</FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>"
    )


def _css(name: str, value: str) -> str:
    return f'<CssParameter name="{name}">{escape(value)}</CssParameter>'


def _sld_symbol(symbol: Symbol) -> str:
    width = f"{symbol.size_mm * _PX_PER_MM:.2f}"
    dash = " ".join(f"{length * _PX_PER_MM:.1f}" for length in symbol.dash)
    dashes = _css("stroke-dasharray", dash) if dash else ""
    stroke = f"<Stroke>{_css('stroke', symbol.colour)}{_css('stroke-width', width)}{dashes}</Stroke>"
    fill = f"<Fill>{_css('fill', symbol.fill)}</Fill>" if symbol.fill else ""
    if symbol.kind == "line":
        return f"<LineSymbolizer>{stroke}</LineSymbolizer>"
    if symbol.kind == "fill":
        return f"<PolygonSymbolizer>{fill}{stroke}</PolygonSymbolizer>"
    shape = {"diamond": "square", "cross2": "x"}.get(symbol.shape, symbol.shape)
    turned = "<Rotation>45</Rotation>" if symbol.shape == "diamond" else ""
    thin = f"<Stroke>{_css('stroke', symbol.colour)}{_css('stroke-width', '2')}</Stroke>"
    return (
        f"<PointSymbolizer><Graphic><Mark><WellKnownName>{shape}</WellKnownName>{fill}{thin}</Mark>"
        f"<Size>{width}</Size>{turned}</Graphic></PointSymbolizer>"
    )
