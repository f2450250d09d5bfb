"""Distance of the outer wheel to the crest of an excavation, drop, water or trench; the berm along it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hours import age_of
from travel.checks.lane import gap_terms, wheel_out_m
from travel.checks.loads import tyre_lacks, worst_tyre
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.mechanics.beside import edge_standoff, support_standoff, wheel_gap
from travel.mechanics.contact import tyre_contact_area_least
from travel.mechanics.edges import batter_angle, crest_standoff_by_line
from travel.mechanics.formula import holds
from travel.rulebook import Axis, LimitColumn
from travel.units import PA_PER_KPA, kg_to_n

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

VERTICAL_RAD = np.pi / 2
TOLD = ("told", "assumed")
SAID = ("soil", "supported", "surcharge_kpa")
"""What lets a wheel come nearer than the flattest line would."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Faces:
    """By feature: line from the toe by soil, stand-off by the flattest line of any soil, how far it can matter."""

    line: LimitColumn
    flattest_m: Floats
    reach_m: Floats


@lru_cache(maxsize=16)
def faces(case: Case) -> Faces:
    """Give what is the same for every row of a feature. Without a soil the flattest line says how far it matters; a
    depth that was only told makes that no less than none does."""
    layer = case.survey.site.layers["edges"]
    words = case.rulebook.vocabulary.words("soil")
    named = {word: number for number, word in enumerate(words)}
    by_soil = case.resolved("edge-standoff.line_run", soil=Axis(np.append(np.arange(len(words)), -1), words))
    soil = np.array([named.get(word, -1) for word in layer.text("soil")], dtype=np.int64)
    wettest = int(np.nanargmax(np.append(by_soil.values[:-1], -np.inf)))
    solid = by_soil.values[soil] == 0.0
    soil = np.where((layer.text("kind") == "water") & (soil >= 0) & ~solid, wettest, soil)
    depth, batter = layer.number("depth_m"), np.radians(layer.number("batter_deg"))
    flat = batter_angle(by_soil.values[wettest])
    farthest = np.asarray(crest_standoff_by_line(depth, VERTICAL_RAD, flat))
    beyond = case.survey.tolerance.plan_m + case.scalar("edge-standoff.caution")
    least = case.scalar("edge-standoff.least")
    near = np.maximum(np.maximum(farthest, least) + beyond, case.scalar("edge-standoff.berm_within"))
    unknown = case.scalar("edge-standoff.reach_unknown")
    unsure = np.isnan(near) | np.isin(layer.method("depth_m").astype(object), TOLD)
    return Faces(
        line=LimitColumn(values=by_soil.values[soil], row=by_soil.row[soil], rows=by_soil.rows),
        flattest_m=np.asarray(crest_standoff_by_line(depth, batter, flat)),
        reach_m=wheel_out_m(case) + np.where(unsure, np.fmax(near, unknown), near),
    )


def crest_standoffs(case: Case) -> Floats:
    """Give by feature what a wheel keeps from its crest: behind the line of its soil, or of the flattest where soil or
    table do not tell; where it is supported as far as the support asks of twice the tyre's level load, which is all of
    its axle on one side; NaN where depth or face are not measured [m]."""
    face, layer, least = faces(case), case.survey.site.layers["edges"], case.scalar("edge-standoff.least")
    depth, batter = layer.number("depth_m"), np.radians(layer.number("batter_deg"))
    told = {name: np.isin(layer.method(name).astype(object), TOLD) for name in ("depth_m", "batter_deg", *SAID)}
    by_soil = np.asarray(crest_standoff_by_line(depth, batter, batter_angle(face.line.values)))
    no_soil = np.isnan(by_soil) | told["soil"] | (depth > case.scalar("edge-standoff.table_depth"))
    line = np.where(told["depth_m"] | told["batter_deg"], np.nan, np.where(no_soil, face.flattest_m, by_soil))
    surcharge = layer.number("surcharge_kpa") * PA_PER_KPA
    supported = (layer.number("supported") == 1.0) & (surcharge > 0.0) & ~told["supported"] & ~told["surcharge_kpa"]
    asked = np.minimum(line, _support_at_most_m(case, np.where(supported, surcharge, np.nan)))
    return np.where(supported, np.maximum(asked, least), np.maximum(line, least))


def _support_at_most_m(case: Case, surcharge_pa: Floats) -> Floats:
    """Give the most a support asks for under any tyre: twice its level load, the whole axle on one side."""
    body, wall = case.body, case.scalar("bearing.wall_ratio")
    load = kg_to_n(2.0 * body.axle_load_kg / body.tyres)
    length = np.asarray(tyre_contact_area_least(load, body.pressure_pa, wall)) / body.section_m
    asked = support_standoff(load[:, None], body.section_m[:, None], length[:, None], surcharge_pa)
    return np.asarray(np.max(asked, axis=0))


def each_edge_reach(case: Case) -> Floats:
    """Give how far from the centreline each edge can still matter [m]."""
    return faces(case).reach_m


def edge_reach(case: Case) -> float:
    """Give how far from the centreline an edge can still matter, over all edges of the site [m]."""
    return float(np.max(faces(case).reach_m, initial=wheel_out_m(case)))


@answers("edge-standoff", layer="edges", beside_m=edge_reach, each_m=each_edge_reach)
def wheel_to_crest(rows: Rows, case: Case) -> Outcome:
    """The outer wheel stays behind the line from the toe, or as far off as the support is designed for."""
    face, least = faces(case), case.resolved("edge-standoff.least")
    depth, batter = rows.of_feature("depth_m"), np.radians(rows.of_feature("batter_deg"))
    line = LimitColumn(face.line.values[rows.feature], face.line.row[rows.feature], face.line.rows)
    line_rad = batter_angle(line.values)
    line_m = np.asarray(crest_standoff_by_line(depth, batter, line_rad))
    supported = rows.of_feature("supported") == 1.0
    support_m, lacking = _support(rows, case, line_m, supported)
    beside = gap_terms(rows, case, rows.distance_m)
    gap, caution = wheel_gap(**beside), case.scalar("edge-standoff.caution")
    sure = gap - case.survey.tolerance.plan_m
    # behind the line from the toe nothing presses on a support: what is not known of it does not count there
    free = np.zeros(np.shape(sure), dtype=bool)
    for where in lacking.values():
        free = free | where
    free = free & (sure >= np.fmax(line_m, least.values))
    supported, lacking = supported & ~free, {name: where & ~free for name, where in lacking.items()}
    terms = {
        "depth_m": depth,
        "batter_rad": batter,
        "line_rad": line_rad,
        "least_m": least.values,
        "support_m": np.where(free, line_m, support_m),
    }
    demand = edge_standoff(**terms)
    deep = (depth > case.scalar("edge-standoff.table_depth")) & ~supported
    return Outcome(
        demand=demand,
        capacity=gap,
        tolerance=case.survey.tolerance.plan_m,
        caution=caution,
        applies=rows.distance_m <= face.reach_m[rows.feature],
        missing={**_missing(rows, line), **lacking},
        outside=~holds(edge_standoff, **terms)
        | ~holds(wheel_gap, **beside)
        | (deep & (sure < face.flattest_m[rows.feature])),
        controlled=(sure < demand + caution) & ~_inspected(rows, case),
        terms=terms,
        capacity_terms=beside,
        limit=_governing(least, line, demand > least.values),
    )


def _missing(rows: Rows, line: LimitColumn) -> dict[str, Bools]:
    assert rows.layer is not None
    no_soil = np.array([word is None for word in rows.layer.text("soil")], dtype=bool)[rows.feature]
    out = {"soil": no_soil, "rulebook.edge-standoff.line_run": np.isnan(line.values) & ~no_soil}
    for field in ("depth_m", "batter_deg"):
        out[field] = np.isnan(rows.of_feature(field))
    for field in ("depth_m", "batter_deg", "soil"):
        out[f"{field} told"] = rows.method_is(field, *TOLD)
    return out


def _support(rows: Rows, case: Case, line_m: Floats, supported: Bools) -> tuple[Floats, dict[str, Bools]]:
    """Give the distance a support asks for under the worst wheel; as far as the line where there is none."""
    if not supported.any():
        return line_m, {}
    body, surcharge = case.body, rows.of_feature("surcharge_kpa") * 1000.0
    wheel = worst_tyre(rows, case)
    load = kg_to_n(wheel.load_kg)
    width, inflation = body.section_m[wheel.axle], body.pressure_pa[wheel.axle]
    length = tyre_contact_area_least(load, inflation, case.scalar("bearing.wall_ratio")) / width
    with np.errstate(divide="ignore", invalid="ignore"):
        asked = support_standoff(load, width, length, surcharge)
    missing = {
        "surcharge_kpa": supported & ~(surcharge > 0.0),
        "surcharge_kpa told": supported & rows.method_is("surcharge_kpa", *TOLD),
        "supported told": supported & rows.method_is("supported", *TOLD),
        "machine.axles.pressure_kpa": supported & np.isnan(inflation),
        "grade": supported & np.isnan(rows.grade),
        "cross_slope_pct": supported & np.isnan(rows.cross),
    }
    missing |= {name: supported for name in (*body.load_lacks, *tyre_lacks(case))}
    return np.where(supported, asked, line_m), missing


def _inspected(rows: Rows, case: Case) -> Bools:
    """Tell where a competent person looked at the edge no longer ago than the rulebook allows."""
    assert rows.layer is not None
    most = case.scalar("edge-standoff.inspection_age")
    ages = [age_of(case, day) for day in rows.layer.text("inspected_on")]
    fresh = [age is not None and 0.0 <= age.total_seconds() <= most for age in ages]
    return np.array(fresh, dtype=bool)[rows.feature]


def _governing(first: LimitColumn, second: LimitColumn, take_second: Bools) -> LimitColumn:
    """Give the row of the rulebook that set the demand."""
    return LimitColumn(
        values=np.where(take_second, second.values, first.values),
        row=np.where(take_second & (second.row >= 0), second.row + len(first.rows), first.row),
        rows=first.rows + second.rows,
    )


@answers("edge-standoff", layer="edges", beside_m=edge_reach, each_m=each_edge_reach)
def berm(rows: Rows, case: Case) -> Outcome:
    """Near a drop a berm stands at least as high as the middle of the wheel, or a barrier does its work."""
    height, depth = rows.of_feature("berm_height_m"), rows.of_feature("depth_m")
    share = case.scalar("edge-standoff.berm_share")
    needed = np.fmax(2.0 * float(case.body.radius_m.max()) * share, case.scalar("edge-standoff.berm_least"))
    gap = wheel_gap(**gap_terms(rows, case, rows.distance_m)) - case.survey.tolerance.plan_m
    near = (gap < case.scalar("edge-standoff.berm_within")) & (depth > case.scalar("edge-standoff.berm_depth"))
    return Outcome(
        demand=needed,
        capacity=height,
        tolerance=case.survey.tolerance.height_m,
        permitted=np.ones(near.shape, dtype=bool),
        applies=near,
        missing={"berm_height_m": np.isnan(height), "berm_height_m told": rows.method_is("berm_height_m", *TOLD)},
        controlled=~(height - case.survey.tolerance.height_m >= needed),
        control="edge-barrier",
    )


def near_edge(rows: Rows, case: Case) -> Bools:
    """Tell where the outer wheel comes so near to a crest that a berm would be asked for."""
    gap = wheel_gap(**gap_terms(rows, case, rows.distance_m)) - case.survey.tolerance.plan_m
    return np.asarray(gap < case.scalar("edge-standoff.berm_within"))
