"""What descents ask of brakes and drive line, told with the profile of each trip."""

from __future__ import annotations

import dataclasses

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of, sheet
from tests.unit.planning.test_outlook import place, road
from travel.domain.plan import TravelPlan
from travel.units import G_MPS2
from travel.writers.svg_profile import descents_said


def over_a_hill(fall_pct: float, **changes: object) -> TravelPlan:
    """100 m level, 60 m down, 100 m level; back up again."""
    line = {"xyz": [(0, 0, 50.0), (100, 0, 50.0), (160, 0, 50.0 - 0.6 * fall_pct), (260, 0, 50.0 - 0.6 * fall_pct)]}
    places = [place("G", 0, 0, "gate"), place("P", 260, 0, "pick_point", may_stop=True, turn_radius_m=15.0)]
    return plan_of(
        make_site([road("M", (0, 0), (260, 0)) | line], places, header={"tolerance": {"height_m": 0.0}}),
        "G",
        "P",
        sheet(retarding={"kind": "hydrostatic", "power_kw": 60.0}, **changes),
        with_return=True,
    )


def test_a_descent_takes_up_weight_times_fall_less_rolling() -> None:
    """By hand: m g (fall − c_rr · length), grade and mass at the bad end of their bands (a piece takes every window
    that touches it: up to one wheelbase and piece more at either end)."""
    plan = over_a_hill(10.0)
    out, back = plan.profile
    (one,) = out.descents
    assert back.descents == ()
    assert one.steepest_pct == pytest.approx(10.0, abs=0.01)
    assert (one.from_m, one.to_m) == (pytest.approx(100.0, abs=9.0), pytest.approx(160.0, abs=9.0))
    weight_n = plan.machine["gross_kg"] * G_MPS2
    least = weight_n * (0.10 * 60.0 - 0.012 * 60.0) / 1e6
    assert one.energy_mj is not None
    assert least <= one.energy_mj <= 1.25 * least


def test_a_slighter_descent_takes_up_less() -> None:
    steep, slight = (over_a_hill(fall).profile[0].descents[0].energy_mj for fall in (10.0, 6.0))
    assert steep is not None
    assert slight is not None
    assert slight == pytest.approx(steep * (6.0 - 0.8) / (10.0 - 0.8), rel=0.02)  # 0.8 % rolls on a hard road


def test_nothing_is_said_of_a_slight_descent() -> None:
    assert over_a_hill(2.0).profile[0].descents == ()


def test_words_tell_the_greatest_first_and_what_is_not_known() -> None:
    profile = over_a_hill(10.0).profile[0]
    (one,) = profile.descents
    said = descents_said(profile)
    assert said == [f"descent from {one.from_m:.0f} to {one.to_m:.0f} m: brakes and drive line take up "
                    f"{one.energy_mj:.1f} MJ at most"]  # fmt: skip
    unknown = dataclasses.replace(one, from_m=300.0, to_m=310.0, energy_mj=None)
    many = dataclasses.replace(profile, descents=(one, unknown, one, one, one, one))
    first, *_, last = descents_said(many)
    assert first.endswith("is not known")
    assert last == "2 lesser descents"
