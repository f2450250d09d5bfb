"""Law and size on the road by hand: groups of axles, vehicles, kingpin, overhangs, notice, categories, tie-downs."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.ramp.ramps import ramp_case, verdicts
from travel.checks.ramp import RampAnswer, RampCase, RampFacts, ramp_answers
from travel.checks.ramp_axles import RoadAxle, _groups_us
from travel.checks.ramp_notice import escorts, notices, special_category
from travel.checks.ramp_road import overall, placed_on_deck, rigid_length
from travel.checks.ramp_ties import ties
from travel.domain.verdict import Verdict
from travel.planning.ramp import ask_ramp, checked_ramp, earliest_move
from travel.writers.law_words import height_text, law_rows

LB, IN, DAY = 0.45359237, 0.0254, 86400.0
CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED


def parts(case: RampCase, rule: str) -> dict[str, RampAnswer]:
    return {a.part: a for a in ramp_answers(RampFacts(case=case), frozenset({rule}))}


def value(answer: RampAnswer, name: str) -> float:
    return float(np.asarray(getattr(answer.outcome, name)))


def us(*places_in: float) -> dict[str, float]:
    """Give the limit of every run of axles [lb]."""
    axles = tuple(RoadAxle(name=str(n), behind_m=x * IN, load_kg=1.0, driven=False, towed=True)
                  for n, x in enumerate(places_in))  # fmt: skip
    return {name: limit.value / LB for name, _, limit in _groups_us(ramp_case(request={"jurisdiction": "us"}), axles)}


def test_axles_apart_by_more_than_six_feet_are_still_a_tandem_in_the_us() -> None:
    assert us(0.0, 90.0) == pytest.approx({"axles 0 to 1 (as a tandem)": 34000.0}, abs=0.5)


def test_three_axles_within_eight_feet_are_one_tandem() -> None:
    found = us(0.0, 47.0, 94.0)
    assert found["axles 0 to 2 (as a tandem)"] == pytest.approx(34000.0, abs=0.5)
    assert us(0.0, 20.0, 39.0)["axles 0 to 2 (as one axle)"] == pytest.approx(20000.0, abs=0.5)
    assert us(0.0, 54.0, 108.0)["axles 0 to 2 (bridge formula)"] == pytest.approx(42500.0, abs=0.5)


def test_two_tandems_36_ft_apart_carry_34_000_lb_each() -> None:
    found = us(0.0, 50.0, 382.0, 432.0)
    assert found["axles 0 to 3 (two tandems)"] == pytest.approx(68000.0, abs=0.5)


def test_a_close_group_over_the_cap_is_told() -> None:
    """Three axles 1.2 m apart are 94.5 in from end to end: 34 000 lb, 15 422 kg."""
    found = parts(ramp_case(request={"jurisdiction": "us"}, trailer__bogie_spacing_m=1.2), "axle-law")
    group = found["axles bogie 1 to bogie 3 (as a tandem)"]
    assert group.verdict == CAUTION
    assert value(group, "capacity") == pytest.approx(15422.0, abs=0.5)


def test_a_group_without_a_general_limit_is_unknown_however_light() -> None:
    """The Directive has no row for three axles 1.5 m apart."""
    found = parts(ramp_case(request={"jurisdiction": "eu"}, trailer__bogie_spacing_m=1.5), "axle-law")
    assert found["tridem bogie 1 to bogie 3"].verdict == UNKNOWN


def test_eu_a_trailer_on_a_drawbar_counts_by_itself() -> None:
    case = ramp_case("short_ramps_drawbar", request={"jurisdiction": "eu"})
    mass = case.trailer.trailer.mass_kg + case.body.mass_kg
    light = parts(case, "axle-law")["trailer"]
    assert (value(light, "demand"), light.verdict) == (mass, CLEAR)
    assert "trailer" not in parts(ramp_case(request={"jurisdiction": "eu"}), "axle-law")
    heavy = {"trailer__mass_kg": 8000.0, "trailer__bogie_kg": 7300.0, "trailer__bogie_rating_kg": 30000.0}
    found = parts(ramp_case("short_ramps_drawbar", request={"jurisdiction": "eu"}, **heavy), "axle-law")["trailer"]
    assert (value(found, "demand"), value(found, "capacity")) == (mass + 2400.0, 24000.0)
    assert found.verdict == CAUTION


def test_eu_a_rigid_vehicle_on_four_axles_has_32_t_not_the_36_of_a_combination() -> None:
    more = {"trailer__mass_kg": 16000.0, "trailer__coupling_kg": 9500.0, "trailer__bogie_kg": 6500.0,
            "trailer__bogie_rating_kg": 26000.0}  # fmt: skip
    found = parts(ramp_case("rigid_beavertail", request={"jurisdiction": "eu"}, **more), "axle-law")
    assert value(found["rigid vehicle"], "capacity") == 32000.0
    assert found["rigid vehicle"].verdict == CAUTION
    assert parts(ramp_case("rigid_beavertail"), "axle-law").keys().isdisjoint({"rigid vehicle"})


def test_eu_kingpin_distances() -> None:
    case = ramp_case(request={"jurisdiction": "eu"})
    found = parts(case, "road-size")
    body = case.trailer.trailer
    assert body.coupling_to_bogie_m is not None
    assert body.hinge_behind_bogie_m is not None
    rear = found["kingpin to the rear"]
    assert value(rear, "demand") == pytest.approx(body.coupling_to_bogie_m + body.hinge_behind_bogie_m)
    assert rear.verdict == CLEAR
    assert found["kingpin to the front"].verdict == CLEAR
    deemed = next(a for name, a in found.items() if name.startswith("kingpin to the bogie"))
    assert (value(deemed, "capacity"), deemed.verdict) == (pytest.approx(8.135, abs=5e-4), CAUTION)
    other = parts(ramp_case(request={"jurisdiction": "eu"}, trailer__coupling_to_front_m=2.1), "road-size")
    assert other["kingpin to the front"].verdict == CAUTION
    missing = parts(ramp_case(request={"jurisdiction": "eu"}, trailer__coupling_to_front_m=None), "road-size")
    assert missing["kingpin to the front"].verdict == UNKNOWN
    assert "kingpin to the rear" not in parts(ramp_case(), "road-size")


def test_kingpin_to_the_rear_reaches_to_the_rig_s_end_where_its_lengths_say_so() -> None:
    """15.9 m less 1.4 m of front overhang less 3.75 m to the kingpin: 10.75 m, less than the deck's 10.90 m."""
    same = ramp_case(request={"jurisdiction": "eu"}, combination__front_overhang_m=1.4)
    assert value(parts(same, "road-size")["kingpin to the rear"], "demand") == pytest.approx(10.90)
    more = ramp_case(request={"jurisdiction": "eu"}, combination__front_overhang_m=1.0)
    assert value(parts(more, "road-size")["kingpin to the rear"], "demand") == pytest.approx(11.15)


def test_longest_stiff_part() -> None:
    case = ramp_case()
    assert rigid_length(case) == pytest.approx(1.60 + 8.30 + 2.60)
    assert rigid_length(ramp_case(trailer__coupling_to_front_m=None)) == case.trailer.combination.length_m
    drawbar = ramp_case("short_ramps_drawbar")
    assert rigid_length(drawbar) == pytest.approx(6.20 + 2.90)
    assert rigid_length(ramp_case("rigid_beavertail")) == pytest.approx(11.70)


def test_a_machine_behind_the_bed_but_over_the_bogie_stands_over_nothing() -> None:
    """The low bed ends 1.6 m ahead of the middle of its bogie; the last axle is 1.36 m behind it."""
    case = ramp_case("detachable_neck")
    assert overall(case).overhang_m == 0.0
    best = placed_on_deck(case).best
    assert best is not None
    assert case.body.front_x_m > best  # past the bed
    ahead = ramp_case("detachable_neck", trailer__hinge_behind_bogie_m=1.40)
    at = placed_on_deck(ahead).best
    assert at is not None
    assert overall(ahead).overhang_m == pytest.approx(max(ahead.body.front_x_m - at, 0.0))


def test_overhang_behind_the_deck() -> None:
    """Driven on tail first the front points back: it stands over the rear edge by what its axle is nearer to it."""
    case = ramp_case(request={"first": "tail"})
    best = placed_on_deck(case).best
    assert best is not None
    assert overall(case).overhang_m == pytest.approx(max(case.body.front_x_m - best, 0.0))
    long = replace(case, body=replace(case.body, front_x_m=best + 3.2))
    assert placed_on_deck(long).best == pytest.approx(best)
    assert overall(long).overhang_m == pytest.approx(3.2)
    found = parts(long, "road-size")["machine over the vehicle's end"]
    assert (value(found, "capacity"), found.verdict) == (3.05, CAUTION)
    assert notices(long, overall(long))["overhang"] == 2.0 * DAY


def test_side_overhang_is_of_each_side() -> None:
    case = ramp_case()
    wide = replace(case, body=replace(case.body, width_m=3.30))
    assert overall(wide).side_overhang_m == pytest.approx((3.30 - 2.55) / 2.0)
    assert parts(wide, "road-size")["machine over the vehicle's side"].verdict == CAUTION
    assert notices(wide, overall(wide))["side overhang"] == 2.0 * DAY


def carried(gross_kg: float) -> RampCase:
    """Give a case with a machine so heavy that the rig has this gross, on axles and places that may carry it."""
    ratings = {f"towing__axles__{n}__rating_kg": 900000.0 for n in range(3)}
    case = ramp_case(trailer__bogie_rating_kg=900000.0, trailer__coupling_rating_kg=900000.0, **ratings)
    axles = ("axle-law.axle", "axle-law.driving_axle", "axle-law.special_axle")
    limits = tuple(replace(row, value=1e6) if row.id in axles else row for row in case.rulebook.limits)
    body = replace(case.body, mass_kg=case.body.mass_kg + gross_kg - overall(case).gross_kg)
    return replace(case, body=body, rulebook=replace(case.rulebook, limits=limits))


@pytest.mark.parametrize(
    ("gross", "category"),
    [
        (43900.0, None),
        (46000.0, "category_1"),
        (50000.0, "category_1"),
        (50100.0, "category_2"),
        (72100.0, "category_3"),
    ],
)
def test_special_types(gross: float, category: str | None) -> None:
    """Six axles; kingpin to last axle 9.61 m: no more than 72 075 kg in category 2."""
    case = carried(gross)
    assert special_category(case, overall(case)) == category


def test_beyond_every_category_and_not_known() -> None:
    case = carried(160000.0)
    assert special_category(case, overall(case)) == "beyond"
    overloaded = ramp_case(trailer__bogie_axles=1, trailer__bogie_rating_kg=30000.0)  # 19 t on one axle, under 44 t
    assert special_category(overloaded, overall(overloaded)) == "beyond"
    lacking = ramp_case(trailer__bogie_axles=None)
    assert special_category(lacking, overall(lacking)) == "unknown"
    assert special_category(ramp_case(request={"jurisdiction": "us"}), overall(ramp_case())) is None


def test_an_axle_over_its_limit_asks_for_notice_below_44_t() -> None:
    case = ramp_case(trailer__bogie_axles=1, trailer__bogie_rating_kg=30000.0)
    found = notices(case, overall(case))
    assert found["gross mass"] == 0.0
    assert found["axle load"] == 2.0 * DAY


def test_what_is_not_known_of_the_notice_is_named() -> None:
    today = dt.date(2026, 11, 25)
    case = ramp_case(combination__length_m=None)
    told = earliest_move(case, today, overall(case))
    assert told["unknown"] == ["length"]
    assert ("Notice before the move", "not known, it may ask for more: length") in law_rows({}, told)
    known = earliest_move(ramp_case(), today, overall(ramp_case()))
    assert (known["working_days"], known["date"], known["unknown"]) == (0.0, "2026-11-25", [])
    assert law_rows({}, known) == []
    elsewhere = earliest_move(ramp_case(request={"jurisdiction": "eu"}), today, overall(ramp_case()))
    assert (elsewhere["working_days"], elsewhere["unknown"]) == (None, [])


@pytest.mark.parametrize(("width_m", "count"), [(3.6, 0), (3.7, 1), (4.3, 2)])
def test_escorts_by_the_example(width_m: float, count: int) -> None:
    case = ramp_case(request={"jurisdiction": "us"})
    size = replace(overall(case), width_m=width_m)
    assert escorts(case, size) == count
    assert escorts(case, replace(size, width_m=2.5, height_m=4.5)) == 1
    assert escorts(case, replace(size, width_m=2.5, length_m=29.0)) == 1
    assert escorts(ramp_case(), size) is None


def test_headroom_without_a_sign() -> None:
    gb, us_case, eu = (overall(ramp_case(request={"jurisdiction": j})) for j in ("gb", "us", "eu"))
    assert gb.unsigned_headroom_m == 5.03
    assert gb.sag_loss_m is not None
    assert gb.unsigned_left_m == pytest.approx(5.03 - gb.height_m - gb.sag_loss_m)
    assert us_case.unsigned_headroom_m == pytest.approx(14.5 * 0.3048)
    assert eu.unsigned_headroom_m is None
    text = height_text({"height_m": 4.06, "sag_loss_m": 0.02, "sag_radius_m": 500.0, "cab_notice_m": 3.0,
                        "unsigned_headroom_m": 5.03, "unsigned_left_m": 0.95})  # fmt: skip
    assert "shown in the cab" in text
    assert "should leave 5.03 m" in text
    assert gb.cab_notice_m == 3.0


# -- tie-downs


def test_393_forces_are_a_caution_beside_number_and_limits() -> None:
    case = ramp_case(request={"jurisdiction": "us"})
    assert verdicts(case, "tie-down")["tie-down"] == CLEAR
    steep = {f"tie_points__{n}__{key}": v for n, (x, y) in enumerate(((6.6, 1.0), (6.6, -1.0), (2.4, 1.0), (2.4, -1.0),
             (3.6, 1.1), (3.6, -1.1))) for key, v in (("x_m", x), ("y_m", y))}  # fmt: skip
    found = parts(ramp_case(request={"jurisdiction": "us"}, **steep), "tie-down")
    short = [name for name, answer in found.items() if "forces of 393.102" in name and answer.verdict == CAUTION]
    assert short
    assert all(found[name].outcome.control == "tie-down-directions" for name in short)


def test_393_forces_are_silent_without_the_angles() -> None:
    found = parts(ramp_case(request={"jurisdiction": "us"}, tie_points__0__to_xyz_m=None), "tie-down")
    assert not any("393.102" in name for name in found)


def test_held_down_by_the_sine_of_each_lashing() -> None:
    case = ramp_case(request={"jurisdiction": "us"})
    found = parts(case, "tie-down")["against lifting, forces of 393.102"]
    mass = case.body.mass_kg + case.body.mass_tolerance_kg
    assert value(found, "demand") == pytest.approx(0.2 * mass)
    front, total = placed_on_deck(case).best, 0.0
    assert front is not None
    for tied in ties(case):
        assert tied.point.to_xyz_m is not None
        x, y, z = tied.point.to_xyz_m
        chord = np.array([tied.point.x_m - front - x, tied.point.y_m - y, -z])
        total += tied.limit_kg * z / float(np.linalg.norm(chord))
    assert value(found, "capacity") == pytest.approx(total)


def test_australia_counts_no_friction_and_asks_to_hold_down() -> None:
    gb, au = (parts(ramp_case(request={"jurisdiction": j}), "tie-down") for j in ("gb", "au"))
    mass = ramp_case().body.mass_kg + ramp_case().body.mass_tolerance_kg
    assert value(au["against moving forward"], "demand") == pytest.approx(0.8 * mass)
    assert value(gb["against moving forward"], "demand") == pytest.approx((0.8 - 0.75 * 0.3) * mass)
    assert "against lifting" in au
    assert "against lifting" not in gb


@pytest.mark.parametrize(
    ("contact", "ground", "mu"),
    [(None, "dry", 0.3), (None, None, 0.3), ("rubber_mat", "dry", 0.6), ("rubber_mat", "wet", 0.3),
     (None, "hard_ice", 0.2), ("rubber_mat", "hard_ice", 0.2), ("rubber_mat", "mud", 0.3),
     ("planed_stainless", "dry", 0.2)],
)  # fmt: skip
def test_friction_by_what_it_stands_on_and_the_weather(contact: str | None, ground: str | None, mu: float) -> None:
    case = (
        ramp_case(request={"ground": ground}, deck__contact=contact)
        if contact
        else ramp_case(request={"ground": ground})
    )
    mass = case.body.mass_kg + case.body.mass_tolerance_kg
    found = parts(case, "tie-down")["against moving forward"]
    assert value(found, "demand") == pytest.approx((0.8 - 0.75 * mu) * mass)


def test_four_tie_downs_whatever_the_mass() -> None:
    """393.130 begins at 10 000 lb (4 536 kg), the North American standard at 4 500 kg: four are always asked for."""
    case = ramp_case(request={"jurisdiction": "us"})
    light = replace(case, body=replace(case.body, mass_kg=3000.0))
    two = light.trailer.model_copy(update={"tie_points": light.trailer.tie_points[:2]})
    found = parts(replace(light, trailer=two), "tie-down")
    assert found["number of tie-downs: 2 of 4"].verdict == BLOCKED


def test_the_smallest_margin_of_what_is_over_is_negative() -> None:
    rows = {row.rule: row for row in checked_ramp(ask_ramp(ramp_case(request={"jurisdiction": "eu"})))}
    assert rows["road-size"].verdict == "caution"
    assert rows["road-size"].smallest_margin == pytest.approx(8.135 - 8.30, abs=1e-3)


def test_a_cab_higher_than_the_machine_on_the_deck_is_the_height_on_the_road() -> None:
    """And a height or width that nobody stated of the rig is unknown, unless the machine is over the limit anyway."""
    low = ramp_case(request={"jurisdiction": "eu"}, deck__height_loaded_m=0.5, combination__height_m=4.20)
    assert overall(low).height_m == pytest.approx(4.20 + low.scalar("ramp-crest.height_tolerance"))
    assert parts(low, "road-size")["height"].verdict == CAUTION
    under = {"deck__height_loaded_m": 0.5, "request": {"jurisdiction": "eu"}}
    assert parts(ramp_case(**under), "road-size")["height"].verdict == CLEAR
    for part, key in (("height", "combination.height_m"), ("width", "trailer.width_m")):
        lost = ramp_case(**under, **{key.replace(".", "__"): None})
        answer = parts(lost, "road-size")[part]
        assert answer.verdict == UNKNOWN
        assert set(answer.outcome.missing) == {key}
    over = ramp_case(request={"jurisdiction": "eu"}, combination__height_m=None)
    assert parts(over, "road-size")["height"].verdict == CAUTION
