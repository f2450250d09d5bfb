"""Road columns by piece: units, words, methods, who looked, changes of parts."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from tests.memory_site import DATE, EXACT, make_site
from travel.domain.site import Amendment, Site
from travel.errors import InputError
from travel.survey import build_survey, lay_on

ROADS: list[dict[str, Any]] = [
    {
        "id": "a",
        "xyz": [(0, 0, 0), (100, 0, 0)],
        "width_m": 6.0,
        "surface": "asphalt",
        "speed_limit_kmh": 18.0,
        "bearing_kpa": 150.0,
        "width_m_method": "told",
        "lit": True,
    },
    {
        "id": "b",
        "xyz": [(100, 0, 0), (200, 0, 0)],
        "width_m": None,
        "surface": "clay",
        "cross_slope_pct": -2.0,
        "not_looked_at": "overheads edges",
    },
]


def site(**rest: Any) -> Site:
    return make_site(ROADS, **rest)


def change(
    feature: str, field: str, value: Any, from_m: float | None = None, to_m: float | None = None, layer: str = "roads"
) -> Amendment:
    return Amendment(layer=layer, feature=feature, field=field, value=value, from_m=from_m, to_m=to_m)


def test_numbers_in_practical_units_and_si() -> None:
    survey = build_survey(site(), EXACT)
    a, b = survey.pieces.road == 0, survey.pieces.road == 1
    assert survey.number("speed_limit_kmh")[a] == pytest.approx(18.0)
    assert survey.si("speed_limit_mps")[a] == pytest.approx(5.0)
    assert survey.si("bearing_pa")[a] == pytest.approx(150e3)
    assert survey.si("cross_slope_ratio")[b] == pytest.approx(-0.02)
    assert survey.si("width_m")[a] == pytest.approx(6.0)
    assert survey.number("lit")[a] == pytest.approx(1.0)
    for missing in (survey.si("width_m")[b], survey.si("speed_limit_mps")[b], survey.number("proven_axle_kg")):
        assert np.isnan(missing).all()
    assert not survey.number("width_m").flags.writeable


def test_texts_codes_and_methods() -> None:
    survey = build_survey(site(), EXACT)
    a, b = survey.pieces.road == 0, survey.pieces.road == 1
    assert set(survey.text("surface")[a]) == {"asphalt"}
    assert set(survey.text_code("surface", ("clay", "asphalt"))[a]) == {1}
    assert set(survey.text_code("one_way", ("no", "along"))) == {-1}
    assert set(survey.method("width_m")[a]) == {"told"}
    assert set(survey.method("width_m")[b]) == {"measured"}


def test_looked_at_needs_a_declaration_that_covers_the_road() -> None:
    notes = {
        "roads": {"date": DATE},
        "overheads": {"date": DATE},
        "edges": {"date": DATE, "roads": ("a",)},
        "people": {"date": dt.date(2026, 1, 1), "roads": ("b",)},
    }
    survey = build_survey(site(surveyed=notes), EXACT)
    a, b = survey.pieces.road == 0, survey.pieces.road == 1
    looked = {
        layer: (survey.looked_at(layer)[a].all(), survey.looked_at(layer)[b].any())
        for layer in ("roads", "overheads", "edges", "people", "ground")
    }
    assert looked == {
        "roads": (True, True),
        "overheads": (True, False),
        "edges": (True, False),
        "people": (False, True),
        "ground": (False, False),
    }


def test_change_of_a_part_cuts_pieces_and_holds_there_only() -> None:
    laid = lay_on(
        site(),
        (
            change("a", "width_m", 3.0, 31.7, 42.2),
            change("a", "surface", "clay", 40.0, None),
            change("a", "width_m_method", "measured", 31.7, 42.2),
        ),
    )
    survey = build_survey(laid, EXACT)
    pieces, a = survey.pieces, survey.pieces.road == 0
    inside = a & (pieces.from_m >= 31.7 - 1e-9) & (pieces.to_m <= 42.2 + 1e-9)
    assert pieces.length_m[inside].sum() == pytest.approx(10.5)
    assert survey.number("width_m")[inside] == pytest.approx(3.0)
    assert survey.number("width_m")[a & ~inside] == pytest.approx(6.0)
    assert set(survey.method("width_m")[inside]) == {"measured"}
    assert set(survey.method("width_m")[a & ~inside]) == {"told"}
    assert set(survey.text("surface")[a & (pieces.from_m >= 40.0)]) == {"clay"}
    assert set(survey.text("surface")[a & (pieces.to_m <= 40.0 + 1e-9)]) == {"asphalt"}


def test_change_of_a_part_may_take_a_value_away() -> None:
    survey = build_survey(lay_on(site(), (change("a", "bearing_kpa", None, 0.0, 20.0),)), EXACT)
    missing = np.isnan(survey.number("bearing_kpa")) & (survey.pieces.road == 0)
    assert survey.pieces.length_m[missing].sum() == pytest.approx(20.0)


def test_later_change_wins() -> None:
    laid = lay_on(lay_on(site(), (change("a", "width_m", 3.0, 0.0, 50.0),)), (change("a", "width_m", 5.0, 20.0, 30.0),))
    survey = build_survey(laid, EXACT)
    middle = (survey.pieces.from_m + survey.pieces.to_m) / 2
    expected = np.where(middle > 50, 6.0, np.where((middle > 20) & (middle < 30), 5.0, 3.0))
    own = survey.pieces.road == 0
    assert survey.number("width_m")[own] == pytest.approx(expected[own])


def test_change_of_a_whole_feature_makes_a_new_layer_and_another_site() -> None:
    before = site(overheads=[{"id": "w", "kind": "wire", "xy": [(50, -9), (50, 9)], "clearance_m": 5.0}])
    after = lay_on(
        before,
        (
            change("w", "clearance_m", 6.5, layer="overheads"),
            change("b", "width_m", 4.0),
            change("w", "clearance_m_method", "told", layer="overheads"),
        ),
    )
    assert after.layers["overheads"].number("clearance_m").tolist() == [6.5]
    assert after.layers["overheads"].method("clearance_m").tolist() == ["told"]
    assert before.layers["overheads"].number("clearance_m").tolist() == [5.0]
    assert after.digest != before.digest
    assert not after.amendments
    assert set(build_survey(after, EXACT).number("width_m")) == {6.0, 4.0}


def test_whole_and_part_of_the_same_road_keep_apart() -> None:
    after = lay_on(site(), (change("a", "width_m", 5.0), change("a", "width_m", 5.0, 0.0, 9.0)))
    assert after.amendments == (change("a", "width_m", 5.0, 0.0, 9.0),)


BAD = {
    "no such layer": change("a", "width_m", 3.0, layer="rails"),
    "no such feature": change("zz", "width_m", 3.0),
    "no such field": change("a", "wideness_m", 3.0),
    "cannot be changed": change("a", "id", "c"),
    "not a number": change("a", "width_m", "wide"),
    "outside what is allowed": change("a", "width_m", 0.1),
    "not a whole number": change("a", "level", 0.5),
    "not true or false": change("a", "lit", 1.0),
    "not a text": change("a", "surface", 3.0),
    "not a method": change("a", "width_m_method", "guessed"),
    "no such road": change("w", "road", "zz", layer="overheads"),
    "only roads change in part": change("w", "clearance_m", 5.0, 0.0, 4.0, layer="overheads"),
    "holds for a whole road": change("a", "level", 1.0, 0.0, 4.0),
    "not a part of the road": change("a", "width_m", 4.0, 90.0, 130.0),
}


def test_every_fault_of_a_set_of_changes_is_listed() -> None:
    before = site(overheads=[{"id": "w", "kind": "wire", "xy": [(50, -9), (50, 9)]}])
    with pytest.raises(InputError) as caught:
        lay_on(before, tuple(BAD.values()))
    assert [fault.message for fault in caught.value.faults] == list(BAD)


@pytest.mark.parametrize("part", [(30.0, 20.0), (20.0, 20.0), (-1.0, 5.0)])
def test_parts_must_run_forward_within_the_road(part: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="not a part of the road"):
        lay_on(site(), (change("a", "width_m", 4.0, *part),))


def test_wider_part_widens_the_corridor() -> None:
    thing = [{"id": "t", "xy": (50, 5.0)}]
    assert len(build_survey(site(obstacles=thing), EXACT).pairs("obstacles", 2.0)) == 0
    wider = lay_on(site(obstacles=thing), (change("a", "width_m", 12.0, 40.0, 60.0),))
    assert len(build_survey(wider, EXACT).pairs("obstacles", 2.0)) > 0
