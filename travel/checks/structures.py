"""Under the machine: what a structure, a sign or a buried service allows."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.loads import Worst, tyre_lacks, worst_axle, worst_tyre
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.wheels import axle_band_ratio, grade, mass_band_ratio, slopes
from travel.mechanics.ground_load import standing_load
from travel.mechanics.structures import greatest_load_within

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Number = Floats | float

TOLD = ("told", "assumed")
SPANS = ("bridge", "culvert", "slab", "cover_plate")
BURIED = ("buried_service", "culvert")


def _posted(rows: Rows, case: Case, field: str, at: tuple[Worst, Worst], missing: Mapping[str, Bools]) -> Outcome:
    """Compare what the machine puts on it with what is allowed; the mass may be off by its tolerance.

    ``at`` is the most loaded on the slope as surveyed, and as steep as that may be.
    """
    allowed, (worst, steep) = rows.of_feature(field), at
    ratio = mass_band_ratio(case) if field == "gross_kg" else axle_band_ratio(case)[steep.axle]
    here = np.ones(allowed.shape, dtype=bool)
    return Outcome(
        demand=worst.load_kg,
        capacity=allowed,
        tolerance=np.maximum(steep.load_kg * (1.0 + ratio) - worst.load_kg, 0.0),
        caution=case.scalar("posted-load.caution"),
        applies=~np.isnan(allowed),
        missing={
            f"{field} told": rows.method_is(field, *TOLD),
            **missing,
            **dict.fromkeys(case.body.load_lacks, here),
        },
        terms=worst.terms,
        limit_source="site",
    )


@answers("posted-load", layer="limits")
def posted_gross(rows: Rows, case: Case) -> Outcome:
    """Gross against the posted gross; it is the same on any slope."""
    body = case.body
    terms: dict[str, Number] = {
        "axle_load_kg": body.mass_kg,
        "mass_kg": body.mass_kg,
        "arm_m": body.wheelbase_m,
        "cg_height_m": 0.0,
        "along_ratio": 0.0,
        "tyres_count": 1.0,
        "aside_m": 0.0,
        "track_m": float(body.track_m[0]),
    }
    gross = np.full(rows.piece.shape, standing_load(**terms))
    whole = Worst(load_kg=gross, axle=np.zeros(rows.piece.shape, dtype=np.int64), terms=terms)
    return _posted(rows, case, "gross_kg", (whole, whole), {})


@answers("posted-load", layer="limits")
def posted_axle(rows: Rows, case: Case) -> Outcome:
    """The most loaded axle on this grade against the posted axle load."""
    return _posted(rows, case, "axle_kg", (worst_axle(rows, case), worst_axle(rows, case, 1.0)), grade(rows))


@answers("posted-load", layer="limits")
def posted_wheel(rows: Rows, case: Case) -> Outcome:
    """The most loaded tyre on this slope against the posted wheel load."""
    lacks = slopes(rows) | {name: np.ones(rows.piece.shape, dtype=bool) for name in tyre_lacks(case)}
    return _posted(rows, case, "wheel_kg", (worst_tyre(rows, case), worst_tyre(rows, case, band=1.0)), lacks)


@answers("posted-load", layer="limits")
def posted_group(rows: Rows, case: Case) -> Outcome:
    """Where only an axle load is posted and several axles stand on the span at once, the gross must be known too.

    A structure of which no load at all is known is as unknown, and so is one whose span was only told or assumed.
    """
    span, gross = rows.of_feature("span_m"), rows.of_feature("gross_kg")
    axles = case.body.axle_load_kg
    spans, back = np.unique(np.nan_to_num(span), return_inverse=True)
    each = np.array([greatest_load_within(case.body.axle_x_m, axles, float(length)) for length in spans])
    at_once = each[back].reshape(span.shape)
    several = (at_once > axles.max()) & ~np.isnan(span) & np.isnan(gross)
    nothing = np.isnan(gross) & np.isnan(rows.of_feature("axle_kg")) & np.isnan(rows.of_feature("wheel_kg"))
    said = np.isnan(gross) & ~np.isnan(span) & rows.method_is("span_m", *TOLD)
    applies = rows.kind_is(*SPANS) & (several | nothing | said)
    return Outcome(
        applies=applies,
        missing={"gross_kg": several | nothing, "span_m told": said},
        permitted=np.ones(applies.shape, dtype=bool),
    )


@answers("buried-service", layer="limits")
def cover_over_service(rows: Rows, case: Case) -> Outcome:
    """Cover against the least cover for the heaviest axle, bands of mass and slope included, where nobody has said what
    load it takes.

    Where the owner has given an axle or wheel load ``posted-load`` judges by it, and the general table is silent.
    """
    cover, span = rows.of_feature("cover_m"), rows.of_feature("span_m")
    rated = ~np.isnan(rows.of_feature("axle_kg")) | ~np.isnan(rows.of_feature("wheel_kg"))
    heaviest = worst_axle(rows, case, 1.0)
    axle_kg = heaviest.load_kg * (1.0 + axle_band_ratio(case)[heaviest.axle])
    culvert = rows.kind_is("culvert")
    pipe = case.resolved("buried-service.cover_pipe", axle_kg=axle_kg, span_m=span)
    service = case.resolved("buried-service.cover_service", axle_kg=axle_kg)
    least = np.where(culvert, pipe.values, service.values)
    here = np.ones(cover.shape, dtype=bool)
    return Outcome(
        demand=least,
        capacity=cover,
        tolerance=case.survey.tolerance.height_m,
        caution=case.scalar("buried-service.caution"),
        applies=rows.kind_is(*BURIED) & ~rated,
        missing={
            "cover_m": np.isnan(cover),
            "cover_m told": rows.method_is("cover_m", *TOLD),
            "span_m": culvert & np.isnan(span),
            "span_m told": culvert & rows.method_is("span_m", *TOLD),
            **grade(rows),
            **dict.fromkeys(case.body.load_lacks, here),
        },
        outside=np.isnan(least) & ~(culvert & np.isnan(span)) & ~np.isnan(axle_kg),
        limit_source="site",
    )
