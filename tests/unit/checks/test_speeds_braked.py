"""Speeds that can be stopped and held downhill, by hand, from a published table, and in the fold."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from tests.unit.checks.motion_cases import (
    AGAINST,
    ALONG,
    HIGH,
    LOW,
    REVERSE,
    RULEBOOK,
    on_grid,
    on_list,
    outcome_of,
    road_case,
    sheet,
    value,
    verdict,
)
from travel.checks.braking import delay_s
from travel.checks.fold import fold
from travel.domain.verdict import Verdict
from travel.mechanics.braking import stopping_distance, stopping_distance_coasting
from travel.mechanics.formula import catalogue
from travel.rulebook import load_rulebook
from travel.survey import Tolerance

KMH = 1 / 3.6
EXACTLY = Tolerance(height_m=0.0, width_m=0.0, grade_ratio=0.0, cross_slope_ratio=0.0, plan_m=0.0)


def test_stopping_by_hand():
    """Level, dry rolled gravel, 20 m of sight, bands 1 % and 1 %, mass 1.43 % up: brake 3.5 / 1.0142857 = 3.450704.

    Grip 9.80665 × sqrt((0.35 × 0.9999)² − 0.0099985²) = 3.430583, the less; down 1 %: 3.430583 − 0.098062 = 3.332521.
    Delay 2.5 + 0.4 s; down 1 % nothing has to be held: sqrt(9.664311² + 2 × 3.332521 × 20) − 9.664311 = 5.39224 m/s.
    """
    case = road_case()
    assert value(case, "stopping", "cap_mps") == pytest.approx(5.39224, abs=2e-5)
    assert value(case, "stopping", "demand") / KMH == pytest.approx(1.0)
    assert verdict(case, "stopping") == Verdict.CLEAR
    assert stopping_distance(5.39224, 2.5, 0.4, 3.332521) == pytest.approx(20.0, abs=1e-3)


def test_downhill_the_drive_line_holds_it_in_the_delay_or_it_coasts():
    """12 % down (13 %), 1 %: grip 9.80665 × sqrt((0.35 × 0.991607)² − 0.0098333²) = 3.402153, less 9.80665 × 0.128916
    = 1.264227: 2.137927. 20 m: sqrt(6.199987² + 2 × 2.137927 × 20) − 6.199987 = 4.93361 m/s, but 60 kW hold 3.6822 m/s.
    Without a retarder it gains 1.264227 m/s² for 2.9 s: room 25.31607 m, sqrt(6.199987² + 2 × 2.137927 × 25.31607)
    − 6.199987 − 3.666257 = 2.24522 m/s.
    """
    held = value(road_case(grade_pct=12.0), "stopping", "cap_mps", AGAINST)
    assert held == pytest.approx(3.6822, abs=2e-4)
    strong = road_case(sheet(retarding={"kind": "hydrostatic", "power_kw": 200.0}), grade_pct=12.0)
    assert value(strong, "stopping", "cap_mps", AGAINST) == pytest.approx(4.93361, abs=2e-4)
    free = value(road_case(sheet(retarding=None), grade_pct=12.0), "stopping", "cap_mps", AGAINST)
    assert free == pytest.approx(2.24522, abs=2e-4)
    assert stopping_distance_coasting(2.24522, 2.9, 1.264227, 2.137927) == pytest.approx(20.0, abs=1e-3)


@pytest.mark.parametrize(
    ("grade_pct", "way", "power_kw", "expected"),
    # downhill with grip 0.35: at 34 % and 1 % more nothing is left to stop with; 33 % leaves 0.1 m/s² after the bands,
    # enough from a held speed, but without a retarder the machine gains 9 m/s in the delay
    [
        (20.0, AGAINST, 60.0, Verdict.CLEAR),
        (34.0, AGAINST, 60.0, Verdict.BLOCKED),
        (33.0, AGAINST, 60.0, Verdict.CLEAR),
        (33.0, AGAINST, None, Verdict.BLOCKED),
        (34.0, ALONG, 60.0, Verdict.CLEAR),
    ],
)
def test_stopping_verdicts(grade_pct: float, way: int, power_kw: float | None, expected: Verdict):
    of = sheet(retarding={"kind": "hydrostatic", "power_kw": power_kw} if power_kw else None)
    assert verdict(road_case(of, grade_pct=grade_pct, sight_m=8.0), "stopping", way) == expected


def test_without_deceleration_no_speed_can_be_stopped():
    case = road_case(grade_pct=40.0)
    assert value(case, "stopping", "capacity", AGAINST) == 0.0
    assert math.isnan(value(case, "stopping", "cap_mps", AGAINST))


def test_sight_not_known_or_only_assumed_counts_as_the_least():
    """10 m stand in for it; a shorter assumed one counts as it is."""
    least = value(road_case(sight_m=10.0), "stopping", "cap_mps")
    for road in ({"sight_m": None}, {"sight_m_method": "told"}, {"sight_m_method": "assumed"}):
        case = road_case(**road)
        assert value(case, "stopping", "cap_mps") == pytest.approx(least)
        _, answer = on_list(case, "stopping")
        assert answer.limit is not None
        assert answer.limit.rows[int(answer.limit.row[0])].id == "stopping.sight_assumed"
    short = value(road_case(sight_m=6.0, sight_m_method="told"), "stopping", "cap_mps")
    assert short == pytest.approx(value(road_case(sight_m=6.0), "stopping", "cap_mps"))
    assert short < least


@pytest.mark.parametrize(("mass_kg", "lag_s"), [(14000.0, 0.5), (24000.0, 1.0), (40000.0, 1.5)])
def test_lag_by_class_of_mass_where_the_sheet_has_none(mass_kg: float, lag_s: float):
    """30 CFR 56.14101: 0.5 s to 36,000 lb (16.3 t), 1.0 s to 70,000 lb (31.8 t), 1.5 s to 140,000 lb."""
    heavy = sheet(attitudes__0__mass_kg=mass_kg, brakes__lag_s=None)
    assert delay_s(road_case(heavy)) == pytest.approx(2.5 + lag_s)
    assert delay_s(road_case()) == pytest.approx(2.9)


def test_every_source_of_the_reaction_time_is_a_row():
    rows = {row.source: row.value for row in RULEBOOK.limits if row.id == "stopping.reaction"}
    assert rows == {"cfr-56-14101": 1.0, "ic-8758": 1.5, "aashto": 2.5}


def test_braked_axle_with_the_load_its_own_braking_moves():
    """Level, no bands, concrete wet 0.4, brakes strong. Front braked forward: share 0.5 / (1 − 0.4 × 0.375), in
    reverse 0.5 / (1 + 0.15); less 0.1 / 3.2 for the centre of gravity; deceleration = share × 0.4 g.
    """
    front = sheet(axles__1__braked=False, brakes__service_mps2=9.0)
    case = road_case(front, ground="wet", surface="concrete", tolerance=EXACTLY)
    _, answer = on_list(case, "stopping")
    decel = np.asarray(answer.capacity_terms["decel_mps2"]).reshape(-1, 2, 3)[0, ALONG]
    assert decel[LOW] == pytest.approx((0.5 / 0.85 - 0.1 / 3.2) * 0.4 * 9.80665)
    assert decel[REVERSE] == pytest.approx((0.5 / 1.15 - 0.1 / 3.2) * 0.4 * 9.80665)


@pytest.mark.parametrize(
    ("mph", "printed_ft"),
    [(10, 34), (11, 38), (12, 43), (13, 48), (14, 53), (15, 59), (16, 64), (17, 70), (18, 76), (19, 83), (20, 89)],
)
def test_30_cfr_56_14101_table_m_1(tmp_path: Path, mph: int, printed_ft: int):
    """Row to 36,000 lb: 1 s of the operator, 0.5 s of the system, 9.66 ft/s². The table rounds feet up."""
    book = tmp_path / "site.toml"
    book.write_text(
        'format = 1\nlayer = "site"\n[[limits]]\nid = "stopping.reaction"\nvalue = 1.0\nunit = "s"\n'
        'sense = "at_least"\nstatus = "site"\nsource = "cfr-56-14101"\n'
    )
    brake = {"brakes__service_mps2": 9.66 * 0.3048, "brakes__lag_s": 0.5, "attitudes__0__mass_tolerance_kg": 0.0}
    own = {"rulebook": load_rulebook((book,)), "tolerance": EXACTLY, "surface": "concrete"}
    speed = [value(road_case(sheet(**brake), sight_m=(printed_ft - cut) * 0.3048, **own), "stopping", "cap_mps")
             for cut in (0.0, 1.5)]  # fmt: skip
    assert speed[1] / 0.44704 < mph <= speed[0] / 0.44704


# --- retard ----------------------------------------------------------------------------------------------------


def test_retard_by_hand():
    """12 % down, 13 % with the band, 1.43 % more mass: 139 254 × (0.13 − 0.012) / sqrt(1.0169) = 16 295 N:
    60 000 / 16 295 = 3.6822 m/s."""
    case = road_case(grade_pct=12.0)
    assert value(case, "retard", "cap_mps", AGAINST) == pytest.approx(3.6822, abs=2e-4)
    assert verdict(case, "retard", AGAINST) == Verdict.CLEAR


def test_retard_is_silent_uphill_and_on_gentle_descents():
    for grade_pct, way, applies in ((12.0, ALONG, False), (4.5, AGAINST, True), (3.9, AGAINST, False)):
        assert bool(value(road_case(grade_pct=grade_pct), "retard", "applies", way)) is applies


def test_a_high_gear_does_not_hold_what_it_cannot_pull():
    """38 kN at 1 km/h in the high gear: 30 % down needs 139 254 × (0.31 − 0.012) / sqrt(1.0961) = 39 637 N."""
    case = road_case(grade_pct=30.0)
    assert verdict(case, "retard", AGAINST, HIGH) == Verdict.BLOCKED
    assert verdict(case, "retard", AGAINST, LOW) == Verdict.CLEAR
    assert value(case, "retard", "cap_mps", AGAINST, LOW) == pytest.approx(60e3 / 39637.0, rel=1e-4)


def test_a_weak_retarder_is_no_speed_at_all():
    """1.5 kW against 16 295 N: 0.092 m/s, below the least steady 1 km/h."""
    weak = sheet(retarding={"kind": "engine brake", "power_kw": 1.5})
    assert verdict(road_case(weak, grade_pct=12.0), "retard", AGAINST) == Verdict.BLOCKED


# --- the speed shown -------------------------------------------------------------------------------------------


def test_the_least_cap_is_the_speed_shown_with_its_rule():
    """Down 12 % with 60 kW: retarder 13.3 km/h; sight of 5 m: less. Up 10 %: the pull of the high gear, 10.3 km/h."""
    shown = {}
    for name, road, way in (
        ("retard", {"grade_pct": 12.0, "sight_m": 80.0}, AGAINST),
        ("stopping", {"grade_pct": 12.0, "sight_m": 5.0}, AGAINST),
        ("pull", {"grade_pct": 10.0, "sight_m": 80.0}, ALONG),
    ):
        case = road_case(**road)
        folded = fold(case)
        shown[name] = folded.rules[int(folded.cap_rule[0, way, HIGH])]
        caps = [
            np.nan_to_num(on_grid(case, outcome_of(case, rule).cap_mps)[0, way, HIGH], nan=np.inf)
            for rule in ("pull", "stopping", "retard")
            if bool(on_grid(case, outcome_of(case, rule).applies)[0, way, HIGH])
        ]
        assert folded.cap_mps[0, way, HIGH] == pytest.approx(min(caps))
    assert shown == {"retard": "retard", "stopping": "stopping", "pull": "pull"}


def test_numbers_of_the_caps_give_them_again():
    for rule, name in (("stopping", "speed_stopped_in_sight"), ("retard", "speed_retarded")):
        rows, answer = on_list(road_case(grade_pct=12.0, cross_slope_pct=2.0), rule)
        again = catalogue()[name](**answer.capacity_terms)
        shape = rows.piece.shape
        np.testing.assert_allclose(np.broadcast_to(again, shape), np.broadcast_to(answer.capacity, shape))


def test_bands_are_taken_on_the_bad_side_and_only_once():
    wide = Tolerance(height_m=0.05, width_m=0.05, grade_ratio=0.03, cross_slope_ratio=0.03, plan_m=0.1)
    case, coarse = road_case(grade_pct=12.0), road_case(grade_pct=12.0, tolerance=wide)
    for rule in ("stopping", "retard"):
        assert value(coarse, rule, "cap_mps", AGAINST) < value(case, rule, "cap_mps", AGAINST)
        assert outcome_of(case, rule).tolerance == 0.0
