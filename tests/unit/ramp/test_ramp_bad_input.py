"""Bad sheets through the command line: each fault named, nothing guessed, no traceback, nothing written."""

from __future__ import annotations

import json
import math
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.builders import toml
from tests.unit.ramp.ramps import DEMO, asked, changed, ramp_case, sheet
from travel.checks.ramp import RampFacts
from travel.domain.ramp import RampRequest
from travel.domain.verdict import Verdict
from travel.errors import InputError
from travel.planning.ramp import ask_ramp
from travel.service.ramp import make_ramp, ramp_request

RAMP = {"length_m": 3.2, "width_m": 0.85, "gap_m": 1.0, "rating_kg": 12000, "surface": "steel_plate"}
NAN = float("nan")
BAD: dict[str, tuple[dict[str, Any], dict[str, Any], str, str]] = {
    "ramp shorter than the deck is high": ({"ramps__0__length_m": 0.5}, {}, "ramps[0].length_m", "shorter than"),
    "underbody inside a tyre": (
        {},
        {"attitudes__0__under_xz_m": [[-4.25, 1.05], [0.2, 0.1], [2.95, 0.62]]},
        "attitudes[0].under_xz_m[1]",
        "inside the tyre",
    ),
    "deck points out of order": (
        {"deck__profile_xz_m": [[0.0, 0.3], [3.0, 0.9], [2.0, 0.9], [9.0, 0.9]]},
        {},
        "deck.profile_xz_m[2]",
        "not in order",
    ),
    "tare that does not add up": ({"trailer__mass_kg": 20000.0}, {}, "trailer.mass_kg", "add up to 10400"),
    "a length that is no number": ({"ramps__0__length_m": NAN}, {}, "ramps[0].length_m", "finite"),
    "a negative length": ({"ramps__0__length_m": -3.0}, {}, "ramps[0].length_m", "outside what is possible"),
    "a ramp's width in centimetres": ({"ramps__0__width_m": 85.0}, {}, "ramps[0].width_m", "outside what is possible"),
    "a leg's pad in square centimetres": ({"trailer__leg_pad_m2": 900.0}, {}, "trailer.leg_pad_m2", "outside what is"),
    "a tyre in centimetres": ({"combination__tyre_section_m": 30.0}, {}, "combination.tyre_section_m", "outs"),
    "a tyre in bar": ({"combination__tyre_pressure_kpa": 8.5}, {}, "combination.tyre_pressure_kpa", "outside"),
    "a ramp of no length": ({"ramps__0__length_m": 0.0}, {}, "ramps[0].length_m", "outside what is possible"),
    "one ramp only": ({"ramps__0__side": "left"}, {}, "ramps", "one ramp only"),
    "no ramps": ({"ramps": []}, {}, "ramps", "no ramps"),
    "no deck": ({"deck": None}, {}, "deck", "is needed"),
    "a deck of one point": ({"deck__profile_xz_m": [[0.0, 0.9]]}, {}, "deck.profile_xz_m", "too few"),
    "a deck below the ground": ({"deck__profile_xz_m": [[0.0, -0.3], [9.0, 0.9]]}, {}, "deck.profile_xz_m[0]", "below"),
    "a tie-down point off the deck": ({"tie_points__0__x_m": 99.0}, {}, "tie_points[0].x_m", "off the deck"),
    "no towing vehicle": ({"towing": None}, {}, "towing", "is needed"),
    "a foot that sinks out of reach": ({"ramps__0__foot_sink_m": 5.0}, {}, "ramps[0].length_m", "shorter than"),
}  # fmt: skip


def files(folder: Path, trailer: dict[str, Any], own: dict[str, Any]) -> tuple[Path, Path]:
    content = changed(tomllib.loads((DEMO / "machines" / "middle.toml").read_text("utf-8")), own)
    paths = folder / "machine.toml", folder / "trailer.toml"
    for path, table in zip(paths, (content, sheet("semi_low_loader", **trailer)), strict=True):
        path.write_text(toml(table), encoding="utf-8")
    return paths


@pytest.mark.parametrize("name", BAD)
def test_each_is_named(tmp_path: Path, name: str) -> None:
    trailer, own, field, words = BAD[name]
    with pytest.raises(InputError) as found:
        make_ramp(*files(tmp_path, trailer, own), RampRequest(surface="asphalt", ground="wet", jurisdiction="gb"))
    assert any(fault.field == field and words in fault.message for fault in found.value.faults), str(found.value)


@pytest.mark.parametrize("name", ["ramp shorter than the deck is high", "a length that is no number", "no deck"])
def test_the_command_says_so_and_writes_nothing(tmp_path: Path, name: str) -> None:
    trailer, own, field, words = BAD[name]
    ran = command(tmp_path, trailer, own)
    assert ran.returncode == 2
    assert field in ran.stderr
    assert words in ran.stderr
    assert "Traceback" not in ran.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("trailer", "rule"), [
    ({"deck__width_m": 2.2} | {f"tie_points__{n}__y_m": 1.0 for n in range(6)}, "ramp-width"),
    ({"deck__profile_xz_m": [[0.0, 0.5], [2.6, 0.5]], "deck__height_loaded_m": 0.46, "tie_points": []},
     "deck-position"),
])  # fmt: skip
def test_a_machine_too_wide_or_long_for_the_deck_is_an_answered_no(
    tmp_path: Path, trailer: dict[str, Any], rule: str
) -> None:
    ran = command(tmp_path, trailer, {})
    assert ran.returncode == 1, ran.stderr
    assert rule in {f["rule"] for f in json.loads(ran.stdout)["findings"] if f["verdict"] == "blocked"}


def command(folder: Path, trailer: dict[str, Any], own: dict[str, Any]) -> subprocess.CompletedProcess[str]:
    machine, of = files(folder, trailer, own)
    sheets = ["--machine", str(machine), "--trailer", str(of), "--out", str(folder / "out")]
    asked_of = ["--surface", "asphalt", "--weather", "ground=wet", "--jurisdiction", "gb", "--json"]
    line = [sys.executable, "-m", "travel", "ramp", *sheets, *asked_of]
    return subprocess.run(line, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("trailer", "rule", "named"),
    [
        ({f"towing__axles__{n}__parking_braked": False for n in range(3)}, "rig-hold", "towing.axles.parking_braked"),
        ({"tie_points__0__rating_kg": None}, "tie-down", "tie_points.front left.rating_kg"),
    ],
)
def test_what_is_lacking_is_unknown_and_nobody_drives_on(
    tmp_path: Path, trailer: dict[str, Any], rule: str, named: str
) -> None:
    ran = command(tmp_path, trailer, {})
    assert ran.returncode == 3
    found = json.loads(ran.stdout)
    assert found["verdict"] == "unknown"
    (finding,) = (f for f in found["findings"] if f["rule"] == rule and f["verdict"] == "unknown")
    assert any(named in name for name in finding["missing"])


@pytest.mark.parametrize(
    ("asked_of", "named"),
    [({"surface": None}, "surface of the ground"), ({"ground": None}, "state (dry, damp, wet, …) of the ground")],
)
def test_what_is_missing_of_the_ground_under_the_rig_is_named(asked_of: dict[str, None], named: str) -> None:
    (hold,) = (f for f in asked(request=asked_of).findings if f.rule == "rig-hold")
    assert [name.startswith(named) for name in hold.missing] == [True]


def test_a_rig_no_axle_of_which_is_braked_may_not_be_accepted() -> None:
    off = {f"towing__axles__{n}__parking_braked": False for n in range(3)}
    answer = asked(**off)
    (hold,) = (a for a in answer.answers if a.rule == "rig-hold")
    assert hold.verdict == Verdict.UNKNOWN
    assert not answer.facts.case.rulebook.rules["rig-hold"].acceptable


def test_unequal_ramps_count_each_for_itself() -> None:
    pair = [RAMP | {"side": "left", "length_m": 4.0}, RAMP | {"side": "right", "length_m": 3.2}]
    both = RampFacts(case=ramp_case(ramps=[RAMP | {"side": "both"}])).rolling
    facts = RampFacts(case=ramp_case(ramps=pair))
    turned = RampFacts(case=ramp_case(ramps=pair[::-1]))
    assert facts.rolling.tightest().value <= both.tightest().value + 1e-6
    assert turned.rolling.tightest().value == pytest.approx(facts.rolling.tightest().value, abs=1e-6)
    assert facts.ramp_n["left"].max() != pytest.approx(facts.ramp_n["right"].max(), rel=1e-3)


@pytest.mark.parametrize("length_m", [12.0, 30.0, 60.0])
def test_a_very_long_ramp_is_rolled_like_any_other(length_m: float) -> None:
    answer = asked(ramps__0__length_m=length_m)
    value = answer.facts.rolling.tightest().value
    assert math.isfinite(value)
    assert value > asked().facts.rolling.tightest().value


@pytest.mark.parametrize(("given", "unknown"), [
    ({}, {"ramp-angle", "ramp-rating", "nose-lift", "rig-hold", "deck-slide"}),
    ({"cross_slope": 0.0}, {"ramp-angle", "ramp-rating", "nose-lift", "rig-hold", "deck-slide"}),
    ({"ground_slope": 0.0}, {"ramp-angle", "ramp-rating", "deck-slide"}),
    ({"ground_slope": 0.0, "cross_slope": 0.0}, set()),
])  # fmt: skip
def test_a_slope_nobody_stated_is_unknown_and_never_level(given: dict[str, float], unknown: set[str]) -> None:
    request = ramp_request(surface="asphalt", weather="ground=wet", jurisdiction="gb", **given)
    case = replace(ramp_case(), request=request)
    found = ask_ramp(case).findings
    lacking = {f.rule for f in found if f.verdict == "unknown" and any("slope of the ground" in m for m in f.missing)}
    assert lacking == unknown


def test_slopes_of_a_request_file_are_stated_where_it_says_them(tmp_path: Path) -> None:
    path = tmp_path / "request.toml"
    path.write_text("format = 1\n[ramp]\nground_slope_pct = 0.0\n", "utf-8")
    assert ramp_request(file=path).not_stated == ("ground_cross_slope_pct",)
    assert ramp_request(file=path, cross_slope=1.0).not_stated == ()
