"""People beside the way, and driving backwards."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.edges import each_edge_reach, edge_reach, near_edge
from travel.checks.facing import distance_as_faced_m
from travel.checks.hours import active, dark
from travel.checks.lane import body_out_m, sweep_terms
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.room_to_stop import brakes
from travel.checks.rows import Rows
from travel.domain.site import Layer
from travel.mechanics.beside import body_gap, keep_clear, swept_width
from travel.mechanics.formula import holds

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NOT_IN_THE_WAY = ("public", "work_area")
"""Kinds of people that may not be where the machine sweeps unless something named keeps them out."""
RIGHT_DEG, LEFT_DEG, REAR_DEG, TURN_DEG = 90.0, 270.0, 180.0, 360.0


def people_reach(case: Case) -> float:
    """Give how far from the centreline people can still matter [m]."""
    return body_out_m(case) + float(keep_clear(**_fall_zone(case))) + case.survey.tolerance.plan_m


def _fall_zone(case: Case) -> dict[str, float]:
    return {
        "height_m": case.body.height_m,
        "height_ratio": case.scalar("people.height_ratio"),
        "margin_m": case.scalar("people.margin"),
    }


def _gap(rows: Rows, case: Case) -> tuple[dict[str, Floats | float], Bools]:
    """Give the arguments of ``body_gap``, and where they are outside what the formulas hold for."""
    sweep = sweep_terms(rows, case, case.body.width_m)
    terms = {
        "distance_m": distance_as_faced_m(rows, case),
        "swept_width_m": swept_width(**sweep),
        "body_width_m": case.body.width_m,
        "wander_m": case.scalar("piece.wander"),
    }
    return terms, ~holds(swept_width, **sweep)


def _here(rows: Rows, case: Case) -> Bools:
    """Tell where people may be at the hour of the trip."""
    assert rows.layer is not None
    return np.asarray(active(rows.layer, case)[rows.feature])


def _named(rows: Rows) -> Bools:
    """Tell where the feature names what keeps people apart."""
    assert rows.layer is not None
    return _controlled(rows.layer)[rows.feature]


def _controlled(layer: Layer) -> Bools:
    return np.array([bool(text) for text in layer.text("control")], dtype=bool)


def bar_the_way(case: Case) -> Bools:
    """Tell, by feature, whether people there bar a way that sweeps over them at the hour of the trip."""
    layer = case.survey.site.layers["people"]
    return np.isin(layer.text("kind").astype(object), NOT_IN_THE_WAY) & ~_controlled(layer) & active(layer, case)


@answers("people", layer="people", beside_m=people_reach)
def people_beside(rows: Rows, case: Case) -> Outcome:
    """People are kept out of the fall zone; where they may stand in the way it is driven at a speed that stops short.

    Public or a work area in the swept width bars the way unless the feature names what keeps people out of it.
    """
    zone, (terms, outside) = _fall_zone(case), _gap(rows, case)
    demand, gap = float(keep_clear(**zone)), body_gap(**terms)
    sure, here = gap - case.survey.tolerance.plan_m, _here(rows, case)
    in_way = sure < 0.0
    stop = brakes(rows, case)
    cap = np.where(in_way, stop.speed_within(demand), np.inf)
    barred = in_way & rows.kind_is(*NOT_IN_THE_WAY) & ~_named(rows)
    everywhere = np.ones(rows.piece.shape, dtype=bool)
    return Outcome(
        demand=demand,
        capacity=gap,
        tolerance=case.survey.tolerance.plan_m,
        permitted=~barred & ~(cap < case.scalar("stopping.least_speed")),
        applies=here,
        missing={name: where & in_way for name, where in stop.missing.items()}
        | {"machine.height": np.isnan(demand) & everywhere}
        | {name: everywhere for name in (*case.body.load_lacks, *case.body.shape_lacks)},
        outside=outside,
        controlled=sure < demand,
        cap_mps=cap,
        terms=zone,
        capacity_terms=terms,
        limit=case.resolved("people.height_ratio"),
    )


@answers("people", layer="people", beside_m=people_reach)
def people_unseen(rows: Rows, case: Case) -> Outcome:
    """People in the fall zone on a side the driver does not see plainly are watched by a spotter; those who may be on
    the way itself come from either side."""
    terms, _ = _gap(rows, case)
    near = body_gap(**terms) - case.survey.tolerance.plan_m < keep_clear(**_fall_zone(case))
    side = rows.side * np.where(rows.sense > 0, 1, -1) * np.where(rows.reverse, -1, 1)
    left, right = (_sees(case, middle) for middle in (LEFT_DEG, RIGHT_DEG))
    on_it = rows.distance_m <= 0.0
    unseen = ((on_it | (side > 0)) & (not left)) | ((on_it | (side < 0)) & (not right))
    return Outcome(
        permitted=np.ones(unseen.shape, dtype=bool),
        applies=_here(rows, case) & near & unseen,
        controlled=True,
        control="spotter",
    )


def _sees(case: Case, middle_deg: float) -> bool:
    """Tell whether the driver plainly sees the whole sector round a direction; a sheet without sectors says no."""
    half = np.degrees(case.scalar("reverse.sector_half"))
    step = case.scalar("reverse.sector_half") / np.ceil(half)
    angles = np.arange(middle_deg - half, middle_deg + half + np.degrees(step) / 2.0, np.degrees(step))
    seen = np.zeros(len(angles), dtype=bool)
    for sector in case.machine.view:
        first, last = sector.sector_deg
        inside = (angles - first) % TURN_DEG <= (last - first) % TURN_DEG
        seen = (seen | inside) if sector.kind == "clear" else seen
    return bool(seen.all())


@answers("reverse")
def reversing(rows: Rows, case: Case) -> Outcome:
    """Backwards at walking pace, with a spotter wherever the driver does not plainly see behind."""
    pace, back = case.scalar("reverse.speed"), rows.reverse
    return Outcome(
        permitted=np.full(back.shape, not pace < case.scalar("stopping.least_speed")),
        applies=back,
        missing={"machine.view": np.full(back.shape, not case.machine.view)},
        controlled=not _sees(case, REAR_DEG),
        cap_mps=pace,
        exposed=back,
        limit=case.resolved("reverse.speed"),
    )


@answers("reverse")
def reversing_in_the_dark(rows: Rows, case: Case) -> Outcome:
    """Backwards where it may be dark: lit, or lights."""
    lit = rows.si("lit")
    return Outcome(
        permitted=np.ones(lit.shape, dtype=bool),
        applies=rows.reverse & dark(case),
        missing={"lit": np.isnan(lit)},
        controlled=lit != 1.0,
        control="lights",
        exposed=rows.reverse,
    )


@answers("reverse", layer="people", beside_m=people_reach)
def reversing_near_people(rows: Rows, case: Case) -> Outcome:
    """Backwards with people in the fall zone: a spotter, however well the driver sees."""
    terms, _ = _gap(rows, case)
    near = np.asarray(body_gap(**terms) - case.survey.tolerance.plan_m < keep_clear(**_fall_zone(case)))
    return Outcome(
        permitted=np.ones(near.shape, dtype=bool),
        applies=rows.reverse & _here(rows, case) & near,
        controlled=True,
        exposed=rows.reverse,
    )


@answers("reverse", layer="edges", beside_m=edge_reach, each_m=each_edge_reach)
def reversing_near_an_edge(rows: Rows, case: Case) -> Outcome:
    """Backwards near a crest: a spotter, however well the driver sees."""
    near = near_edge(rows, case)
    return Outcome(
        permitted=np.ones(near.shape, dtype=bool),
        applies=rows.reverse & near,
        controlled=True,
        exposed=rows.reverse,
    )
