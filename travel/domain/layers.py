"""What a surveyed site may hold: every layer, every column, its unit and what is allowed.

One table: readers check against it, ``travel schema site`` prints it, GeoPackage files are written by it.
Numbers outside ``low``–``high`` are faults; numbers outside ``doubt_low``–``doubt_high`` are possible but
suspicious. ``choices`` names a list of the rulebook's vocabulary.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FieldKind = Literal[
    "id", "text", "number", "integer", "flag", "choice", "road", "names", "time", "date", "clock", "days"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSpec:
    """One column of a layer. Numbers, integers and flags become float64 with NaN; the rest objects with None."""

    name: str
    kind: FieldKind
    about: str
    unit: str = ""
    needed: bool = False
    low: float | None = None
    high: float | None = None
    doubt_low: float | None = None
    doubt_high: float | None = None
    choices: str = ""

    @property
    def numeric(self) -> bool:
        """Whether the column is stored as float64 with NaN for missing."""
        return self.kind in ("number", "integer", "flag")


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSpec:
    """One layer: the geometry types it takes and its columns."""

    name: str
    geometry: tuple[str, ...]
    about: str
    fields: tuple[FieldSpec, ...]

    def field(self, name: str) -> FieldSpec | None:
        """Give the column's description, or None for a column that is kept and ignored."""
        return next((spec for spec in self.fields if spec.name == name), None)


def _number(
    name: str,
    unit: str,
    about: str,
    low: float | None = None,
    high: float | None = None,
    doubt: tuple[float | None, float | None] = (None, None),
    needed: bool = False,
) -> FieldSpec:
    return FieldSpec(
        name=name,
        kind="number",
        unit=unit,
        about=about,
        low=low,
        high=high,
        doubt_low=doubt[0],
        doubt_high=doubt[1],
        needed=needed,
    )


def _choice(name: str, choices: str, about: str, needed: bool = False) -> FieldSpec:
    return FieldSpec(name=name, kind="choice", choices=choices, about=about, needed=needed)


def _plain(name: str, kind: FieldKind, about: str, needed: bool = False) -> FieldSpec:
    return FieldSpec(name=name, kind=kind, about=about, needed=needed)


_ID = FieldSpec(name="id", kind="id", about="unique within the layer", needed=True)
_NAME = _plain("name", "text", "what people call it")
_HOURS = (
    _plain("from_time", "clock", "start of the daily hours (HH:MM, site time); blank = always"),
    _plain("until_time", "clock", "end of the daily hours (HH:MM, site time); blank = always"),
    _plain("days", "days", "days of the week, as in 'mon tue wed'; blank = every day"),
)
_GROUND = (
    _number("bearing_kpa", "kPa", "what the ground may carry now", 0, 20000, (20, 2000)),
    _number("bearing_wet_kpa", "kPa", "what it may carry when wet", 0, 20000, (10, 2000)),
    _number("cone_index_kpa", "kPa", "cone index of the critical layer", 0, 20000),
    FieldSpec(name="remoulding_index", kind="number", unit="-", about="remoulding index", low=0, high=2),
)
_LIE = (
    _number("slope_pct", "%", "slope of the ground along heading_deg, + rises", -100, 100, (-25, 25)),
    _number("cross_slope_pct", "%", "slope across heading_deg, + falls to its right", -100, 100, (-15, 15)),
    _number("heading_deg", "°", "grid heading clockwise from north", -360, 360),
)

LAYERS: dict[str, LayerSpec] = {
    spec.name: spec
    for spec in (
        LayerSpec(
            name="roads",
            geometry=("LineString",),
            about="centrelines",
            fields=(
                _ID,
                _NAME,
                _number("width_m", "m", "least width between what stops or drops a wheel", 0.5, 100, (2, 30)),
                _choice("surface", "surface", "what the wheels run on"),
                _choice("one_way", "one_way", "allowed direction; blank = no"),
                FieldSpec(
                    name="level",
                    kind="integer",
                    about="roads on different levels do not meet; blank = 0",
                    low=-10,
                    high=10,
                ),
                _choice("traffic", "traffic", "other traffic"),
                _number("other_width_m", "m", "width of the oncoming vehicle", 0.5, 10),
                _number("other_speed_kmh", "km/h", "speed of the oncoming vehicle", 0, 120),
                _number("speed_limit_kmh", "km/h", "posted or site limit; blank = none posted", 1, 130),
                _number("cross_slope_pct", "%", "+ falls to the right as drawn", -100, 100, (-15, 15)),
                _number("grade_pct", "%", "+ rises as drawn; used only without Z and terrain", -100, 100, (-30, 30)),
                FieldSpec(name="regraded", kind="flag", about="grade_pct holds instead of heights: regraded, or to be"),
                _choice("edge_left", "edge", "what is at the left edge as drawn"),
                _choice("edge_right", "edge", "what is at the right edge as drawn"),
                _number("roughness_m", "m", "height of single bumps", 0, 2, (None, 0.5)),
                *_GROUND,
                _number("proven_axle_kg", "kg", "axle load that has passed without damage", 0, 200000),
                _number("proven_gross_kg", "kg", "gross that has passed without damage", 0, 2000000),
                _number("sight_m", "m", "least sight distance", 0, 5000),
                FieldSpec(name="lit", kind="flag", about="lit at night"),
                FieldSpec(name="passes_done", kind="integer", about="passes of plant so far", low=0, high=10**7),
                _plain("not_looked_at", "names", "layers nobody looked at on this road"),
            ),
        ),
        LayerSpec(
            name="places",
            geometry=("Point",),
            about="named points",
            fields=(
                _ID,
                _choice("kind", "place", "what the place is", needed=True),
                _NAME,
                _number("turn_radius_m", "m", "radius of the ground there that is free to turn on", 0, 500),
                FieldSpec(name="may_stop", kind="flag", about="the machine may stand here; blank = no"),
                *_LIE,
            ),
        ),
        LayerSpec(
            name="overheads",
            geometry=("LineString", "Point", "Polygon"),
            about="whatever hangs over the ground",
            fields=(
                _ID,
                _choice("kind", "overhead", "unknown kind = wire", needed=True),
                _NAME,
                _plain("road", "road", "blank = every road below"),
                _number("clearance_m", "m", "lowest above the road, as measured", 0, 200, (2, 60)),
                _number("measured_at_c", "°C", "conductor temperature at the measurement", -60, 200),
                _number("attach_a_m", "m", "height of the first attachment, in height_datum", -500, 9000),
                _number("attach_b_m", "m", "height of the second attachment, in height_datum", -500, 9000),
                _number("sag_m", "m", "sag below the chord at mid-span", 0, 200),
                _number("at_temperature_c", "°C", "conductor temperature at which sag_m holds", -60, 200),
                _number("sag_max_m", "m", "owner's greatest sag", 0, 200),
                _number("half_spread_m", "m", "outer wire from the centre line", 0, 50),
                _number("voltage_kv", "kV", "nominal voltage; 0 counts as not known", 0, 1500, (0.02, None)),
                _number("owner_clearance_m", "m", "distance the owner asks for, in writing", 0, 100),
                _number("bar_height_m", "m", "height of the bar over the passage", 0, 50),
                _plain("owner", "text", "who owns it"),
                _number("conductor_max_c", "°C", "greatest conductor temperature", -60, 300),
                _number("expansion_per_k", "1/K", "coefficient of thermal expansion", 0, 1e-3),
                _number("weight_n_per_m", "N/m", "conductor weight per length", 0, 500),
                _number("stiffness_n", "N", "area × modulus", 0, 1e9),
                _plain("isolated_until", "time", "owner's written word: dead and earthed until"),
            ),
        ),
        LayerSpec(
            name="limits",
            geometry=("Point", "LineString", "Polygon"),
            about="what a structure or a sign allows",
            fields=(
                _ID,
                _choice("kind", "limit", "what sets the limit", needed=True),
                _NAME,
                _plain("road", "road", "road it stands on"),
                _number("width_m", "m", "clear width", 0.5, 100, (2, 30)),
                _number("narrow_to_m", "m", "height up to which width_m holds", 0, 20),
                _number("height_m", "m", "signed height", 0.5, 30, (2, 12)),
                _number("gross_kg", "kg", "greatest gross", 100, 2e6, (1000, 500000)),
                _number("axle_kg", "kg", "greatest axle load", 100, 200000, (500, 60000)),
                _number("wheel_kg", "kg", "greatest wheel load", 50, 100000),
                _number("speed_kmh", "km/h", "greatest speed", 1, 130),
                _number("cover_m", "m", "cover over the pipe or service", 0, 50),
                _number("span_m", "m", "span", 0, 500),
                *_HOURS,
                _plain("hours", "text", "hours on a sign, as written; read as a limit nobody has put into times yet"),
            ),
        ),
        LayerSpec(
            name="ground",
            geometry=("Polygon",),
            about="what the ground carries",
            fields=(
                _ID,
                _NAME,
                *_GROUND,
                _choice("surface", "surface", "what the wheels run on"),
                _plain("valid_until", "date", "when the values lapse"),
            ),
        ),
        LayerSpec(
            name="edges",
            geometry=("LineString",),
            about="crests of excavations, drops, water",
            fields=(
                _ID,
                _choice("kind", "edge_kind", "what lies beyond the crest", needed=True),
                _NAME,
                _number("depth_m", "m", "depth below the crest", 0, 200, (0.2, 60), needed=True),
                _choice("soil", "soil", "soil class of 29 CFR 1926 Subpart P, Appendix A; type_c is the weakest"),
                _number("batter_deg", "°", "slope of the face from the horizontal", 0, 90),
                FieldSpec(name="supported", kind="flag", about="the face is shored"),
                _number("surcharge_kpa", "kPa", "surcharge the support is designed for", 0, 1000),
                _number("berm_height_m", "m", "height of the berm along the crest", 0, 10),
                _plain("inspected_on", "date", "last inspection by a competent person"),
            ),
        ),
        LayerSpec(
            name="obstacles",
            geometry=("Point", "LineString", "Polygon"),
            about="things standing on the ground",
            fields=(_ID, _NAME, _number("height_m", "m", "height above the ground", 0, 300)),
        ),
        LayerSpec(
            name="people",
            geometry=("Polygon", "LineString"),
            about="where people walk or work",
            fields=(
                _ID,
                _choice("kind", "people", "who is there", needed=True),
                _NAME,
                *_HOURS,
                _plain("control", "text", "what keeps people apart from plant"),
            ),
        ),
        LayerSpec(
            name="closures",
            geometry=("Polygon", "LineString"),
            about="shut parts of the site",
            fields=(
                _ID,
                _NAME,
                _plain("closed_from", "time", "blank = already"),
                _plain("closed_until", "time", "blank = for good"),
                _plain("reason", "text", "why"),
            ),
        ),
        LayerSpec(
            name="areas",
            geometry=("Polygon",),
            about="ground for setting up, unloading, turning",
            fields=(
                _ID,
                _choice("use", "area", "what for", needed=True),
                _NAME,
                _choice("surface", "surface", "what the wheels run on"),
                _number("bearing_kpa", "kPa", "what the ground may carry", 0, 20000, (20, 2000)),
                *_LIE,
            ),
        ),
    )
}
