"""Remedies: the exact quantity opens, a hair less does not; nothing in a set can be left out; forbidden stays so."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.planning import DEMO, case_of, on_day, sheet, workspace_of
from tests.unit.planning.remedy_cases import FLAT, book, only, opens, question_of, site_with, straight
from travel.checks import answers_for
from travel.domain.machine import Load
from travel.domain.plan import RemedyPart
from travel.domain.site import Site, Weather
from travel.domain.verdict import Verdict
from travel.planning.remedies import Question, plan_again
from travel.planning.remedy_list import remedies_of

PIPE = {"id": "ov", "xy": [(50, -8), (50, 8)], "kind": "pipe", "road": "r1", "clearance_m": 2.6}
GATEWAY = {"id": "gw", "xy": (50, 0), "kind": "gateway", "road": "r1", "width_m": 2.3}
SLAB = {"id": "sl", "polygon": [(40, -5), (50, -5), (50, 5), (40, 5)], "kind": "slab", "gross_kg": 9000.0}

SINGLE: dict[str, tuple[Site, float]] = {
    "raise-overhead": (site_with(overheads=[PIPE]), 1e-6),
    "widen-gateway": (site_with(limits=[GATEWAY]), 1e-6),
    "strengthen-structure": (site_with(limits=[SLAB]), 1e-3),
    "widen-road": (site_with(straight(width_m=2.4)), 1e-6),
    "regrade": (site_with(straight(rise=36.0)), 1e-5),
    "level-across": (site_with(straight(cross_slope_pct=12.0)), 1e-5),
}


def moved(part: RemedyPart, hair: float) -> RemedyPart:
    """Give a part at its exact quantity, moved by a hair towards what is there now."""
    assert part.exact is not None
    return replace(part, value=part.exact + np.sign(part.old - part.exact) * hair)


@pytest.mark.parametrize("row", SINGLE)
def test_exact_quantity_opens_and_a_hair_less_does_not(row: str) -> None:
    site, hair = SINGLE[row]
    question = question_of(site)
    assert not opens(question, ())
    remedy = only(remedies_of(question), row)
    assert remedy.proven
    sized = [part for part in remedy.amendments if part.exact is not None]
    assert sized
    exact = tuple(replace(part, value=part.exact) for part in sized)
    trips = plan_again(question, exact)
    assert trips is not None
    for part in sized:
        short = tuple(moved(p, hair) if p is part else q for p, q in zip(sized, exact, strict=True))
        less = plan_again(question, short)
        assert less is None or still_open(question, short, row) == Verdict.UNKNOWN
    assert still_open(question, exact, row) <= Verdict.CAUTION


def still_open(question: Question, parts: tuple[RemedyPart, ...], row: str) -> Verdict:
    """Give the worst verdict of the rules a remedy row speaks of, on the way planned again."""
    rules = next(r.rules for r in question.out.rulebook.remedies if r.id == row)
    worst = Verdict.CLEAR
    for trip in plan_again(question, parts) or ():
        cells = trip.cells
        for answer in answers_for(trip.case, cells.piece, cells.sense, cells.config, frozenset(rules)):
            worst = max(worst, Verdict(int(answer.verdict.max(initial=0))))
    return worst


@pytest.mark.parametrize("row", SINGLE)
def test_shown_value_is_rounded_to_the_safe_side(row: str) -> None:
    question = question_of(SINGLE[row][0])
    remedy = only(remedies_of(question), row)
    step = next(r.step for r in question.out.rulebook.remedies if r.id == row)
    for part in (part for part in remedy.amendments if part.exact is not None):
        assert abs(part.value - part.old) >= abs(part.exact - part.old) - 1e-12
        assert abs(part.value - part.exact) < step
        assert part.value / step == pytest.approx(round(part.value / step), abs=1e-6)
        assert (part.value > part.old) == (part.exact > part.old)
    assert opens(question, remedy.amendments)


def test_slab_by_gross_and_axle_needs_both() -> None:
    site = site_with(limits=[SLAB | {"axle_kg": 5000.0}])
    question = question_of(site)
    remedy = only(remedies_of(question), "strengthen-structure")
    assert {part.field for part in remedy.amendments} == {"gross_kg", "axle_kg"}
    for part in remedy.amendments:
        assert not opens(question, tuple(p for p in remedy.amendments if p is not part))


def test_a_figure_that_is_high_enough_is_left_alone() -> None:
    question = question_of(site_with(limits=[SLAB | {"axle_kg": 60000.0}]))
    assert [p.field for p in only(remedies_of(question), "strengthen-structure").amendments] == ["gross_kg"]


def test_nothing_in_a_set_can_be_left_out() -> None:
    question = question_of(site_with(overheads=[PIPE], limits=[GATEWAY | {"xy": (70, 0)}, SLAB]))
    remedies = [r for r in remedies_of(question) if r.kind == "change"]
    assert remedies
    assert {part.feature for part in remedies[0].amendments} == {"ov", "gw", "sl"}
    for remedy in remedies:
        assert remedy.proven
        assert opens(question, remedy.amendments)
        for part in remedy.amendments:
            assert not opens(question, tuple(p for p in remedy.amendments if p is not part))


def test_a_road_that_is_levelled_is_widened_by_less() -> None:
    """A body leans less on it: the width of the set is sized upon the cross slope that goes with it."""
    question = question_of(site_with(straight(width_m=2.5, cross_slope_pct=13.0)))
    least = next(r for r in remedies_of(question) if {p.field for p in r.amendments} == {"width_m", "cross_slope_pct"})
    exact = tuple(replace(part, value=part.exact) for part in least.amendments)
    assert plan_again(question, exact) is not None
    for part in exact:
        short = tuple(moved(p, 1e-5) if p is part else p for p in exact)
        row = "widen-road" if part.field == "width_m" else "level-across"
        assert plan_again(question, short) is None or still_open(question, short, row) == Verdict.UNKNOWN


def test_a_feature_over_several_links_is_paid_once() -> None:
    roads = [
        {"id": "a", "xyz": [(0, 0, 10), (50, 0, 10)], **FLAT},
        {"id": "b", "xyz": [(50, 0, 10), (100, 0, 10)], **FLAT},
        {"id": "c", "xyz": [(50, 0, 10), (50, 60, 10)], **FLAT},
    ]
    slab = SLAB | {"polygon": [(40, -5), (60, -5), (60, 5), (40, 5)]}
    question = question_of(site_with(*roads, limits=[slab]))
    remedy = only(remedies_of(question), "strengthen-structure")
    row = next(r for r in question.out.rulebook.remedies if r.id == "strengthen-structure")
    (part,) = remedy.amendments
    assert remedy.cost == pytest.approx(row.price + row.price_per_unit * (part.value - part.old))


def test_the_cheaper_way_round_comes_first() -> None:
    round_ = {"id": "r2", "xyz": [(0, 0, 10), (50, 40, 10), (100, 0, 10)], **FLAT}
    tree = {"id": "tr", "xy": [(20, 10), (30, 30)], "kind": "tree", "road": "r2", "clearance_m": 2.0}
    remedies = remedies_of(question_of(site_with(straight(), round_, limits=[SLAB], overheads=[tree])))
    rows = [remedy.amendments[0].reason for remedy in remedies if remedy.kind == "change"]
    assert rows == ["prune-tree", "strengthen-structure"]
    assert [remedy.rank for remedy in remedies] == list(range(1, len(remedies) + 1))


def test_both_trips_are_opened_where_return_is_wanted() -> None:
    road = straight(one_way="along")
    assert opens(question_of(site_with(road), back=False), ())
    remedy = only(remedies_of(question_of(site_with(road))), "contraflow")
    assert [(p.field, p.value) for p in remedy.amendments] == [("one_way", "no")]


def test_closure_is_lifted_or_waited_for() -> None:
    shut = {
        "id": "cl", "polygon": [(40, -5), (60, -5), (60, 5), (40, 5)],
        "closed_from": "2026-03-01T00:00:00+00:00", "closed_until": "2026-03-05T06:00:00+00:00",
    }  # fmt: skip
    workspace = workspace_of(site_with(closures=[shut]), book())
    at = dt.datetime(2026, 3, 4, 6, tzinfo=dt.UTC)
    out = case_of(workspace, sheet(), at=at, until=at + dt.timedelta(hours=1))
    question = Question(out=out, back=None, from_place="gate", to_place="pick")
    remedies = remedies_of(question)
    lifted, later = only(remedies, "lift-closure"), only(remedies, "start-later")
    assert (lifted.amendments[0].field, lifted.amendments[0].value) == ("removed", True)
    assert later.amendments[0].value == "2026-03-05T06:00:00+00:00"
    assert later.cost < lifted.cost


@pytest.mark.parametrize("kind", ["power_line", "wire"])
def test_no_earth_is_moved_near_a_wire(kind: str) -> None:
    wire = {"id": "w", "xy": [(50, -20), (50, 20)], "kind": kind, "clearance_m": 60.0, "voltage_kv": 1.0}
    steep = straight(rise=36.0)
    assert any("regrade" in {p.reason for p in r.amendments} for r in remedies_of(question_of(site_with(steep))))
    for remedy in remedies_of(question_of(site_with(steep, overheads=[wire]))):
        assert not {p.reason for p in remedy.amendments} & {"regrade", "level-across", "widen-road", "better-surface"}


def test_tyres_are_never_softened_while_carrying() -> None:
    rulebook = book(lambda row: row.id == "lower-tyre-pressure")
    soft = site_with(straight(surface="clay", bearing_kpa=300.0, bearing_wet_kpa=300.0))
    stowed = remedies_of(question_of(soft, rulebook, back=False))
    assert [p.field for r in stowed for p in r.amendments if r.kind == "change"] == ["pressure_kpa"]
    load = Load.model_validate(
        {"format": 1, "name": "pallet", "mass_kg": 1500.0, "size_xyz_m": [1.2, 1.0, 1.0], "how": "forks",
         "x_m": 2.4, "y_m": 0.0, "z_m": 1.0}
    )  # fmt: skip
    stowed_row = sheet().attitudes[0]
    carrying = sheet().model_copy(update={"attitudes": (stowed_row, stowed_row.model_copy(update={"name": "forks"}))})
    out = case_of(workspace_of(soft, rulebook), carrying, load=load)
    assert out.body.attitude == "forks"
    question = Question(out=out, back=None, from_place="gate", to_place="pick")
    assert not opens(question, ())
    assert not [r for r in remedies_of(question) if r.kind == "change"]


def test_a_power_line_is_the_owners_alone() -> None:
    line = {"id": "pl", "xy": [(50, -20), (50, 20)], "kind": "power_line", "clearance_m": 2.5, "voltage_kv": 1.0}
    for remedy in remedies_of(question_of(site_with(overheads=[line]))):
        assert {p.reason for p in remedy.amendments} <= {"line-raised-by-owner", "measure-wire", "measure"}
        assert "owner" in remedy.who


def test_a_machine_that_is_smaller() -> None:
    question = question_of(SINGLE["widen-gateway"][0], book(lambda row: row.layer == "machine"))
    (part,) = only(remedies_of(question), "narrower-machine").amendments
    assert part.value < part.exact < part.old == question.out.body.width_m
    assert opens(question, (part,))
    wider = (replace(part, value=part.exact + 1e-6),)
    assert plan_again(question, wider) is None or still_open(question, wider, "narrower-machine") == Verdict.UNKNOWN


def test_wetter_ground_is_waited_out() -> None:
    slope = site_with(straight(rise=10.0, surface="clay"))
    workspace = workspace_of(slope, book(lambda row: row.layer == "weather"))
    out = case_of(workspace, sheet(), weather=Weather(ground="mud", temperature_c=5.0, wind_mps=1.0))
    question = Question(out=out, back=None, from_place="gate", to_place="pick")
    assert not opens(question, ())
    remedies = [r for r in remedies_of(question) if r.kind == "change"]
    assert remedies
    assert all(r.amendments[0].layer == "weather" and r.amendments[0].old == "mud" for r in remedies)


def test_unknown_on_the_least_way_is_to_be_measured() -> None:
    other = {"id": "ov2", "xy": [(80, -8), (80, 8)], "kind": "pipe", "road": "r1"}
    remedies = remedies_of(question_of(site_with(overheads=[PIPE, other])))
    assert only(remedies, "raise-overhead").verdict == "unknown"
    measured = [r for r in remedies if r.kind == "survey" and r.amendments[0].feature == "ov2"]
    assert [(r.amendments[0].field, r.proven) for r in measured] == [("clearance_m", False)]
    assert "never a staff or tape" in measured[0].text


def test_no_remedy_in_the_rulebook_no_remedy_in_the_list() -> None:
    question = question_of(SINGLE["raise-overhead"][0], book(lambda row: False))
    assert remedies_of(question) == ()


def test_roads_that_do_not_join_have_no_remedy() -> None:
    far = {"id": "r2", "xyz": [(60, 0, 10), (100, 0, 10)], **FLAT}
    near = {"id": "r1", "xyz": [(0, 0, 10), (40, 0, 10)], **FLAT}
    assert remedies_of(question_of(site_with(near, far))) == ()


def test_demo_large_machine_to_the_knoll() -> None:
    from travel.service.ask import plan_request
    from travel.service.remedy import find_remedies, remedy_code, remedy_text

    request = plan_request(
        site=DEMO / "site", machine=DEMO / "machines" / "large.toml", from_place="G1", to_place="P3",
        weather="ground=damp,temperature_c=8,wind_mps=4",
    )  # fmt: skip
    with on_day(dt.date(2026, 11, 25)):
        answer, _ = find_remedies(request)
    sets = [remedy for remedy in answer.plan.remedies if remedy.kind == "change"]
    assert len(sets) >= 2
    assert [s.cost for s in sets] == sorted(s.cost for s in sets)
    assert all(s.proven for s in sets)
    built: list[dict[str, Any]] = [{p.field: p.feature for p in s.amendments} for s in sets]
    assert {"width_m": "LM8", "gross_kg": "LM9", "axle_kg": "LM9"} in built
    assert remedy_code(answer) == 3
    assert "Widen LM8" in remedy_text(answer, None, as_json=False)
