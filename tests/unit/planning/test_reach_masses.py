"""Greatest gross and axle load are those of one machine, and that machine gets there: planned again."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from tests.planning import case_of
from tests.unit.planning.test_spans import MACHINE, NOON, ring
from travel.domain.layers import LAYERS
from travel.domain.plan import RemedyPart
from travel.domain.site import Site
from travel.planning.reach import PlaceReach, reach_of
from travel.planning.remedies import Question, plan_again
from travel.planning.trips import prepare

SHORT, LONG = {"xy": (0, 140), "road": "short"}, {"xy": (80, 140), "road": "out"}


def sited(*limits: dict[str, Any], **options: Any) -> Site:
    return ring(NOON + dt.timedelta(hours=5), limits=list(limits), **options)


def question_of(site: Site) -> Question:
    case = case_of(site, MACHINE, at=NOON, until=NOON + dt.timedelta(minutes=10), steering=("front", "all"))
    return Question(out=case, back=None, from_place="G", to_place="D")


def told_of(site: Site) -> PlaceReach:
    return next(row for row in reach_of(prepare(question_of(site).out), "G") if row.place == "D")


def gets_there(site: Site, gross_kg: float) -> bool:
    """Tell by planning again whether a machine of some gross does, its axles in the same shares."""
    part = RemedyPart(layer="machine", feature=MACHINE.name, field="mass_kg", old=None, value=gross_kg)
    trips = plan_again(question_of(site), (part,))
    return trips is not None and trips[0].worst <= 1


@pytest.mark.parametrize(
    ("short", "long"),
    [
        ({"gross_kg": 14_000.0}, {"axle_kg": 7_000.0}),
        ({"gross_kg": 30_000.0}, {"axle_kg": 9_000.0}),
        ({"wheel_kg": 3_000.0}, {"axle_kg": 5_000.0}),
        ({"gross_kg": 12_000.0, "axle_kg": 9_000.0}, {"wheel_kg": 4_500.0}),
    ],
)
def test_one_way_limits_the_gross_and_the_other_the_axles(short: dict[str, float], long: dict[str, float]) -> None:
    """No size is free there, though no size is limited on both ways."""
    site = sited({"id": "S", "kind": "posted", **SHORT, **short}, {"id": "L", "kind": "posted", **LONG, **long})
    greatest = told_of(site).greatest
    gross, axle = greatest["gross_kg"], greatest["axle_kg"]
    assert gross
    assert axle
    body = question_of(site).out.body
    assert axle / gross == pytest.approx(max(body.axle_load_kg) / body.mass_kg)
    assert gets_there(site, gross - 0.1)
    assert not gets_there(site, gross * 1.02)


def test_where_no_sign_limits_it_nothing_is_said() -> None:
    greatest = told_of(sited()).greatest
    assert (greatest["gross_kg"], greatest["axle_kg"]) == (None, None)


@pytest.mark.parametrize("told", [{"gross_kg_method": "told"}, {"gross_kg": None, "axle_kg": None}])
def test_what_nobody_measured_lets_no_mass_through_for_sure(told: dict[str, Any]) -> None:
    bridges = [{"id": name, "kind": "bridge", "gross_kg": 90_000.0, **where, **told} for name, where in
               (("S", SHORT), ("L", LONG))]  # fmt: skip
    greatest = told_of(sited(*bridges)).greatest
    assert (greatest["gross_kg"], greatest["axle_kg"]) == (0.0, 0.0)


def test_where_nobody_looked_for_limits_no_mass_is_known_to_get_there() -> None:
    looked = [name for name in LAYERS if name != "limits"]
    greatest = told_of(sited(surveyed=looked)).greatest
    assert (greatest["gross_kg"], greatest["axle_kg"]) == (0.0, 0.0)
