"""With a load on: load uphill, the table while moving, wind, pace and the list before travel."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of
from tests.unit.checks.upright_cases import (
    AGAINST,
    ALONG,
    FORWARD,
    REVERSE,
    RULEBOOK,
    case_on,
    cells,
    forks,
    hook,
    missing,
    on_grid,
    outcome_of,
    road_case,
    sheet,
    value,
    verdict,
)
from travel.checks.answers import answers_for, at
from travel.checks.outcome import judge
from travel.checks.registry import parts
from travel.domain.machine import CarryingRow, Load
from travel.domain.request import PlanRequest
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.mechanics.formula import catalogue
from travel.planning.conditions import conditions_of
from travel.rulebook import load_rulebook

KNOWN = {"cg_in_load_xyz_m": (0.6, 0.15, 0.2)}
MINE = ("heavy-end-uphill", "carry-capacity", "wind", "hook-pace")


def table(*rows: tuple[str, float, float, float], **changes: object):
    """Give a machine with rows (how, slope %, distance, capacity) for moving on tyres over the front."""
    made = [
        CarryingRow.model_validate(
            {"support": "tyres_moving", "sector": "fore", "how": how, "slope_max_pct": slope, "capacity_kg": capacity,
             ("x_m" if how == "forks" else "radius_m"): distance} | changes
        )
        for how, slope, distance, capacity in rows
    ]  # fmt: skip
    return sheet().model_copy(update={"carrying": tuple(made)})


FORKS = table(("forks", 15.0, 1.6, 2200.0), ("forks", 15.0, 2.0, 1900.0), ("forks", 5.0, 2.0, 2100.0))
HOOK = table(("hook", 6.0, 5.5, 1900.0), ("hook", 6.0, 6.0, 1600.0), ("hook", 6.0, 7.0, 1200.0))


# -- load uphill


@pytest.mark.parametrize(
    ("jurisdiction", "grade_pct", "way", "config", "expected"),
    [
        ("us", -12.0, ALONG, FORWARD, Verdict.BLOCKED),  # the load looks downhill
        ("us", -12.0, ALONG, REVERSE, Verdict.CLEAR),  # backing down: the load looks uphill
        ("us", -12.0, AGAINST, FORWARD, Verdict.CLEAR),  # driving up
        ("us", -12.0, AGAINST, REVERSE, Verdict.BLOCKED),  # backing up: the load looks downhill
        ("us", -9.5, ALONG, FORWARD, Verdict.BLOCKED),  # 9.5 % and 1 % of half-band
        ("us", -5.0, ALONG, FORWARD, Verdict.CLEAR),
        ("none", -12.0, ALONG, FORWARD, Verdict.BLOCKED),
        ("none", -5.0, ALONG, FORWARD, Verdict.CLEAR),
        ("gb", -12.0, ALONG, FORWARD, Verdict.BLOCKED),
        ("gb", -5.0, ALONG, FORWARD, Verdict.CAUTION),  # any slope: a control
        ("gb", -5.0, ALONG, REVERSE, Verdict.CLEAR),
        ("gb", -0.5, ALONG, FORWARD, Verdict.CLEAR),  # level ground
    ],
)
def test_load_uphill(jurisdiction: str, grade_pct: float, way: int, config: int, expected: Verdict):
    case = road_case(load=forks(), jurisdiction=jurisdiction, grade_pct=grade_pct)
    assert verdict(case, "heavy-end-uphill", way, config) == expected


def test_load_behind_the_middle_is_the_other_way_round():
    case = road_case(load=forks(x_m=-4.5), jurisdiction="us", grade_pct=-12.0)
    assert verdict(case, "heavy-end-uphill", ALONG, FORWARD) == Verdict.CLEAR
    assert verdict(case, "heavy-end-uphill", ALONG, REVERSE) == Verdict.BLOCKED


def test_load_uphill_is_not_asked_of_a_stowed_machine():
    assert not np.any(outcome_of(road_case(jurisdiction="us", grade_pct=-20.0), "heavy-end-uphill").applies)


def test_both_rows_of_the_load_uphill_rule_are_kept():
    rows = {(r.source, r.value) for r in RULEBOOK.limits if r.id.startswith("heavy-end-uphill.")}
    assert {("cfr-1910-178", 10.0), ("cfr-56-16016", 10.0), ("hse-lift-card", 0.0)} <= rows


@pytest.mark.parametrize(("load", "name"), [(forks(x_m=None), "load.x_m"), (hook(radius_m=None), "load.radius_m")])
def test_load_uphill_without_a_place_is_unknown(load: object, name: str):
    case = road_case(load=load, grade_pct=-12.0)
    assert name in missing(case, "heavy-end-uphill")
    assert verdict(case, "heavy-end-uphill") == Verdict.UNKNOWN


# -- the table while moving


@pytest.mark.parametrize(
    ("mass_kg", "grade_pct", "capacity_kg", "expected"),
    [
        (1500.0, 0.0, 2100.0, Verdict.CLEAR),  # next longer row 2.0 m, holds up to 5 %
        (1500.0, 8.0, 1900.0, Verdict.CLEAR),  # 9.1 % with half-bands: the row up to 15 %
        (1800.0, 8.0, 1900.0, Verdict.CAUTION),  # 1900 − 1800 − 50 = 50
        (1880.0, 8.0, 1900.0, Verdict.UNKNOWN),  # within ± 50 kg
        (1980.0, 8.0, 1900.0, Verdict.BLOCKED),
        (1500.0, 17.0, 0.0, Verdict.BLOCKED),  # steeper than every row
    ],
)
def test_forks_against_the_table(mass_kg: float, grade_pct: float, capacity_kg: float, expected: Verdict):
    case = road_case(FORKS, forks(mass_kg=mass_kg), grade_pct=grade_pct)
    assert value(case, "carry-capacity", "capacity") == capacity_kg
    assert verdict(case, "carry-capacity") == expected


def test_load_farther_out_than_every_row_is_blocked():
    case = road_case(FORKS, forks(x_m=2.1))
    assert value(case, "carry-capacity", "capacity") == 0.0
    assert verdict(case, "carry-capacity") == Verdict.BLOCKED


def test_slope_is_grade_and_cross_slope_together():
    """13 % and 9 %, each with 1 % of half-band: sqrt(14² + 10²) = 17.2 %, beyond 15 %; surely 14.4 %: near, unknown."""
    case = road_case(FORKS, forks(), grade_pct=13.0, cross_slope_pct=9.0)
    assert "a slope surely within the table" in missing(case, "carry-capacity")
    assert verdict(case, "carry-capacity") == Verdict.UNKNOWN
    assert verdict(road_case(FORKS, forks(), grade_pct=14.0, cross_slope_pct=11.0), "carry-capacity") == Verdict.BLOCKED
    assert verdict(road_case(FORKS, forks(), grade_pct=10.0, cross_slope_pct=9.0), "carry-capacity") == Verdict.CLEAR


def test_hook_radius_leans_and_swings_out():
    """Slope sqrt(4² + 1²) = 4.123 % with the half-bands: cos = 0.999151; swing 4 × 0.050986 / 1.001299 = 0.203679 m.
    5 × 0.999151 + 5 × 0.04123 × 0.999151 + 2 × 0.203679 = 5.6091 m: the row of 6.0 m."""
    case = road_case(HOOK, hook(), grade_pct=3.0)
    assert float(
        on_grid(case, outcome_of(case, "carry-capacity").capacity_terms["distance_m"])[0, 0, 0]
    ) == pytest.approx(5.6091, abs=2e-4)
    assert value(case, "carry-capacity", "demand") == 1300.0
    assert value(case, "carry-capacity", "capacity") == 1600.0
    assert verdict(case, "carry-capacity") == Verdict.CLEAR


def test_steeper_or_farther_or_heavier_is_never_better():
    def allowed(load: object, **road: float) -> float:
        return value(road_case(HOOK, load, **road), "carry-capacity", "capacity")

    by_slope = [allowed(hook(), grade_pct=g) for g in (0.0, 2.0, 3.0, 4.0, 4.9, 5.5, 9.0)]
    by_radius = [allowed(hook(radius_m=r)) for r in (4.0, 5.0, 5.5, 6.0, 6.5, 7.0)]
    by_drop = [allowed(hook(drop_m=d)) for d in (1.0, 3.0, 5.0, 9.0)]
    for column in (by_slope, by_radius, by_drop):
        assert column == sorted(column, reverse=True)
        assert column[0] > column[-1]


@pytest.mark.parametrize(
    "machine",
    [
        sheet(),
        HOOK,
        table(("forks", 15.0, 2.0, 1900.0), support="tyres_standing"),
        table(("forks", 15.0, 2.0, 1900.0), sector="rear"),
        table(("forks", 15.0, 2.0, 1900.0), x_m=None),
    ],
    ids=["none", "another way of carrying", "standing", "another sector", "no distance"],
)
def test_without_a_table_for_moving_it_is_unknown(machine: object):
    case = road_case(machine, forks())
    assert "machine.carrying" in missing(case, "carry-capacity")
    assert verdict(case, "carry-capacity") == Verdict.UNKNOWN
    assert not RULEBOOK.rules["carry-capacity"].acceptable


@pytest.mark.parametrize(
    ("load", "road", "name"),
    [
        (forks(), {"grade_pct": None}, "grade"),
        (forks(), {"cross_slope_pct": None}, "cross_slope_pct"),
        (forks(), {"cross_slope_pct_method": "told"}, "cross_slope_pct told"),
        (forks(), {"grade_pct_method": "assumed"}, "grade_pct told"),
        (forks(x_m=None), {}, "load.x_m"),
        (forks(y_m=None), {}, "load.y_m"),
        (forks(how="deck"), {}, "load.how forks or hook"),
        (hook(radius_m=None), {}, "load.radius_m"),
        (hook(head_height_m=None), {}, "load.head_height_m"),
        (hook(drop_m=None), {}, "load.drop_m"),
        (hook(rigging_kg=None), {}, "load.rigging_kg"),
    ],
)
def test_table_without_a_value_is_unknown(load: object, road: dict[str, object], name: str):
    both = FORKS.model_copy(update={"carrying": FORKS.carrying + HOOK.carrying})
    case = road_case(both, load, **road)
    assert name in missing(case, "carry-capacity")
    assert verdict(case, "carry-capacity") == Verdict.UNKNOWN


@pytest.mark.parametrize(
    ("load", "name"),
    [
        (forks(y_m=None, **KNOWN), "load.y_m"),
        (forks(z_m=None, **KNOWN), "load.z_m"),
        (forks(), "load.cg_in_load_xyz_m"),
        (hook(radius_m=None, **KNOWN), "load.radius_m"),
        (hook(head_height_m=None, **KNOWN), "load.head_height_m"),
        (hook(drop_m=None, **KNOWN), "load.drop_m"),
    ],
)
def test_a_load_that_may_stand_anywhere_leaves_unknown_what_its_outline_decides(load: Load, name: str):
    road = {"id": "r", "xy": [(0, 0), (20, 0)], "surface": "asphalt", "width_m": 12.0, "traffic": "two_way",
            "grade_pct": 0.0, "cross_slope_pct": 0.0, "roughness_m": 0.01}  # fmt: skip
    over = [{"id": "pipe", "kind": "pipe", "xy": [(10, -5), (10, 5)], "clearance_m": 9.0},
            {"id": "wire", "kind": "power_line", "xy": [(11, -30), (11, 30)], "clearance_m": 15.0, "sag_max_m": 0.0,
             "sag_m": 0.0, "at_temperature_c": 15.0, "measured_at_c": 15.0, "voltage_kv": 11.0,
             "owner_clearance_m": 3.0}]  # fmt: skip
    site = make_site([road], overheads=over, people=[{"id": "p", "kind": "walkway", "xy": [(0, 6), (20, 6)]}])
    case = case_of(site, sheet(), load=load)
    piece = np.arange(len(case.survey.pieces))
    every = piece, np.ones_like(piece), np.zeros_like(piece)
    rules = ("width", "headroom", "line-clearance", "people", "underbody", "traffic")
    named: dict[str, set[str]] = {rule: set() for rule in rules}
    for answer in answers_for(case, *every, frozenset(rules)):
        unknown = np.flatnonzero(answer.verdict == Verdict.UNKNOWN).tolist()
        named[answer.rule].update(name for row in unknown for name in answer.missing(row))
    assert [rule for rule in rules if name not in named[rule]] == []


def test_mass_without_a_tolerance_takes_the_class_value():
    assert value(road_case(FORKS, forks(mass_tolerance_kg=None)), "carry-capacity", "tolerance") == pytest.approx(75.0)


def test_table_is_not_asked_of_a_stowed_machine():
    assert not np.any(outcome_of(road_case(FORKS), "carry-capacity").applies)


# -- wind


@pytest.mark.parametrize(
    ("wind_mps", "expected"), [(7.0, Verdict.CLEAR), (8.5, Verdict.CAUTION), (9.5, Verdict.BLOCKED)]
)
def test_wind_on_a_load(wind_mps: float, expected: Verdict):
    """1.5 t, 1.3 m²: 9.8 × sqrt(1.2 × 1.5 / (1.6 × 1.3)) = 9.8 × 0.93026 = 9.1165 m/s; caution below 1 m/s more."""
    case = road_case(load=forks(), weather=Weather(ground="dry", wind_mps=wind_mps))
    assert value(case, "wind", "capacity") == pytest.approx(9.1165, abs=1e-3)
    assert verdict(case, "wind") == expected


def test_wind_limit_falls_with_the_sail_and_never_rises_above_the_table():
    limits = [value(road_case(load=forks(sail_m2=a)), "wind", "capacity") for a in (0.0, 0.5, 1.5, 3.0, 9.0)]
    assert limits[0] == limits[1] == 9.8
    assert limits == sorted(limits, reverse=True)
    assert limits[-1] < 4.0


@pytest.mark.parametrize(
    ("load", "wind_mps", "name"), [(forks(), None, "weather.wind_mps"), (forks(sail_m2=None), 3.0, "load.sail_m2")]
)
def test_wind_without_a_value_is_unknown(load: object, wind_mps: float | None, name: str):
    case = road_case(load=load, weather=Weather(ground="dry", wind_mps=wind_mps))
    assert name in missing(case, "wind")
    assert verdict(case, "wind") == Verdict.UNKNOWN


def test_wind_stowed_is_asked_only_where_a_book_sets_a_limit(tmp_path):
    calm = Weather(ground="dry", wind_mps=14.0)
    assert not np.any(outcome_of(road_case(weather=calm), "wind").applies)
    book = tmp_path / "company.toml"
    book.write_text(
        'format = 1\nlayer = "company"\nname = "firm"\n[[limits]]\nid = "wind.limit"\nvalue = 12.5\nunit = "m/s"\n'
        'sense = "at_most"\nstatus = "practice"\nsource = "practice"\nwhen = { load_state = "none" }\n'
    )
    case = road_case(weather=calm, rulebook=load_rulebook((book,)))
    assert value(case, "wind", "capacity") == 12.5
    assert verdict(case, "wind") == Verdict.BLOCKED


# -- pace and the list before travel


def test_pace_with_a_load_on_the_hook():
    case = road_case(load=hook())
    assert value(case, "hook-pace", "cap_mps") == pytest.approx(1.4 / 3.6)
    assert verdict(case, "hook-pace") == Verdict.CLEAR
    for other in (road_case(), road_case(load=forks())):
        assert not np.any(outcome_of(other, "hook-pace").applies)


@pytest.mark.parametrize("drop_m", [1.5, 2.5, 4.0, 8.0])
def test_swing_taken_covers_a_dead_stop_at_that_pace(drop_m: float):
    """A pendulum set going at v swings out to l sin φ with v² = 2 g l (1 − cos φ), by its energy."""
    pace = road_case(load=hook()).scalar("hook-pace.limit")
    angle = np.arccos(1.0 - pace**2 / (2 * 9.80665 * drop_m))
    case = road_case(HOOK, hook(drop_m=drop_m, radius_m=5.0, head_height_m=0.0), grade_pct=0.0)
    looked_up = float(on_grid(case, outcome_of(case, "carry-capacity").capacity_terms["distance_m"])[0, 0, 0])
    assert looked_up - 5.0 >= drop_m * np.sin(angle) - 1e-3
    assert case.scalar("tip.braking") / 9.80665 >= np.tan(angle) - 1e-3


def _listed(*attitudes: str) -> set[str]:
    request = PlanRequest(site=Path(), machine=Path(), from_place="gate", to_place="pick")
    found = conditions_of((), request, RULEBOOK, Weather(), attitudes)
    return {item.id for item in found if item.kind == "pre_travel"}


def test_list_before_travel_is_that_of_the_attitudes():
    stowed, on_forks, on_hook = _listed("stowed"), _listed("forks"), _listed("hook")
    assert "stowed" in stowed
    assert not {"stowed", "hook-tied"} & (on_forks | on_hook)
    assert {"carry-on-forks"} == on_forks - on_hook
    assert {"carry-on-hook", "walk-the-load"} == on_hook - on_forks
    assert stowed & on_forks & on_hook >= {"pre-travel-list", "boom-suspension", "stop-and-hold"}
    assert _listed("hook", "stowed") == on_hook | stowed


# -- the same everywhere


def _roads():
    return [
        {"id": f"r{i}", "xy": [(0, 30 * i), (20, 30 * i)], "width_m": 5.0, "surface": "firm_earth", "roughness_m": 0.05,
         "grade_pct": 4.0 * i - 13.0, "cross_slope_pct": 4.0 - 2.0 * i}
        for i in range(7)
    ]  # fmt: skip


@pytest.mark.parametrize("load", [forks(), hook(), None], ids=["forks", "hook", "stowed"])
def test_list_of_cells_equals_grid_and_terms_give_the_numbers(load: object):
    machine = FORKS.model_copy(update={"carrying": FORKS.carrying + HOOK.carrying})
    case = case_on(_roads(), machine, load, jurisdiction="gb")
    rows = cells(case)
    for part in (p for p in parts() if p.rule in MINE):
        grid, listed = outcome_of(case, part.rule), part.check(rows, case)
        np.testing.assert_array_equal(
            on_grid(case, judge(grid)).ravel(), np.broadcast_to(judge(listed), rows.piece.shape)
        )
        formula, terms = case.rulebook.rules[part.rule].capacity_formula, listed.capacity_terms
        if formula and terms:
            given = {name: float(at(column, 0)) for name, column in terms.items()}
            assert catalogue()[formula](**given) == pytest.approx(float(at(listed.capacity, 0)))
