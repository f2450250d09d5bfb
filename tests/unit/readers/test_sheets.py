"""Machine and load sheets: what comes back, what is refused, what is doubted."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import pytest

from tests.builders import MACHINE, machine, toml, write_load, write_machine
from travel.domain.site import Weather
from travel.errors import Fault, InputError
from travel.readers.sheets import read_load, read_machine, read_toml_model


def faults_of(path: Path) -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        read_machine(path)
    return caught.value.faults


def test_a_good_sheet_comes_back(tmp_path: Path) -> None:
    path = write_machine(tmp_path / "m.toml")
    sheet, doubts, record = read_machine(path)
    assert doubts == ()
    assert [axle.x_m for axle in sheet.axles] == [0.0, -3.2]
    assert sheet.attitudes[0].top_xz_m[0] == (1.6, 1.2)
    assert (record.role, record.name) == ("machine", "m.toml")
    assert record.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


STOWED = MACHINE["attitudes"][0]
GEAR = MACHINE["gears"][0]
REVERSE = MACHINE["gears"][2]

# name: (changes, feature:field, part of the message, part of what is allowed)
ONE_FAULT: dict[str, tuple[dict[str, Any], str, str, str]] = {
    "newer format": ({"format": 2}, ":format", "written by a newer program", "1"),
    "older format": ({"format": 0}, ":format", "not an allowed value", "1"),
    "format a flag": ({"format": True}, ":format", "not an allowed value", "1"),
    "limit without unit": ({"limits__grade": 30}, ":limits.grade", "a key without a unit", "grade_deg or grade_pct"),
    "axle key without unit": ({"axles__1__track": 2.0}, "rear:axles[1].track", "without a unit", "track_m"),
    "one axle": ({"axles": MACHINE["axles"][:1]}, ":axles", "too few", "at least 2"),
    "misspelt key": ({"axles__0__tires": 2}, "front:axles[0].tires", "unknown key", "tyres"),
    "key of nothing": ({"qq": 2}, ":qq", "unknown key", "attitudes"),
    "text for a number": ({"axles__0__load_kg": "7000"}, "front:axles[0].load_kg", "text where a number is due", ""),
    "flag for a number": ({"axles__0__load_kg": True}, "front:axles[0].load_kg", "a number is due", ""),
    "number for a flag": ({"axles__0__driven": 1}, "front:axles[0].driven", "true or false", ""),
    "half a tyre": ({"axles__0__tyres": 2.5}, "front:axles[0].tyres", "a whole number", ""),
    "infinite": ({"axles__0__track_m": float("inf")}, "front:axles[0].track_m", "", ""),
    "not a number": ({"axles__0__track_m": float("nan")}, "front:axles[0].track_m", "", ""),
    "negative radius": ({"axles__0__loaded_radius_m": -0.6}, "front:axles[0].loaded_radius_m", "outside", "more than"),
    "needed key missing": ({"axles__0__track_m": None}, "front:axles[0].track_m", "is needed", ""),
    "unlisted steering": ({"steering__0__mode": "rear"}, ":steering[0].mode", "not an allowed", "'crab'"),
    "point of three": ({"gears__0__pull_kn": [[0, 1, 2]]}, "1:gears[0].pull_kn[0]", "", ""),
    "datum not in front": ({"axles__0__x_m": -0.2}, "front:axles[0].x_m", "the datum", "0"),
    "axles backwards": ({"axles__1__x_m": 0.0}, "rear:axles[1].x_m", "front first", "less than 0"),
    "axle named twice": ({"axles__1__name": "front"}, "front:axles", "named twice", ""),
    "narrower than track": (
        {"axles__0__over_tyres_m": 1.9}, "front:axles[0].over_tyres_m", "narrower than its track", "1.95"),
    "loads and mass apart": (
        {"attitudes__0__mass_kg": 14300.0}, "stowed:attitudes[0].mass_kg", "sum to 14000 kg, 2.1 % away", "2 %"),
    "no stowed": ({"attitudes__0__name": "forks"}, ":attitudes", "no attitude stowed", "stowed"),
    "attitude twice": ({"attitudes": [STOWED, STOWED]}, "stowed:attitudes", "named twice", ""),
    "percent and degrees": ({"limits__grade_deg": 12.0}, ":limits.grade_deg", "both given", "one of the two"),
    "percent and degrees on forks": (
        {"limits__forks": {"cross_slope_pct": 4.0, "cross_slope_deg": 2.0}},
        ":limits.forks.cross_slope_deg", "both", ""),
    "top under the belly": (
        {"attitudes__0__top_xz_m": [[1.6, 1.2], [-1.0, 0.4], [-4.6, 2.4]]}, "stowed:attitudes[0].top_xz_m",
        "below underside", ""),
    "top under the belly between points": (
        {"attitudes__0__under_xz_m": [[1.6, 1.0], [0.9, 2.1], [-4.6, 1.5]]}, "stowed:attitudes[0].top_xz_m",
        "below underside", ""),
    "outline there and back": (
        {"attitudes__0__top_xz_m": [[1.6, 1.2], [-4.6, 2.4], [0.0, 2.0]]}, "stowed:attitudes[0].top_xz_m",
        "order of x", ""),
    "narrower than tyres": (
        {"attitudes__0__width_z_m": [[0.0, 2.2], [2.0, 2.2]]}, "stowed:attitudes[0].width_z_m", "the tyres", "2.4"),
    "widths out of order": (
        {"attitudes__0__width_z_m": [[2.0, 2.4], [0.0, 2.4]]}, "stowed:attitudes[0].width_z_m", "not rising", ""),
    "belly in the tyre": (
        {"attitudes__0__under_xz_m": [[1.6, 0.7], [0.3, 0.5], [-4.6, 0.8]]}, "stowed:attitudes[0].under_xz_m[1]",
        "inside the tyre of axle front", ""),
    "gear twice": ({"gears__1__name": "1"}, "1:gears", "named twice", ""),
    "no forward gear": ({"gears": [REVERSE]}, ":gears", "no forward gear", ""),
    "pull backwards": (
        {"gears__0__pull_kn": [[8.0, 40.0], [0.0, 90.0]]}, "1:gears[0].pull_kn", "speeds not rising", ""),
    "pull at one speed twice": (
        {"gears__0__pull_kn": [[0.0, 90.0], [0.0, 40.0]]}, "1:gears[0].pull_kn", "speeds not rising", ""),
    "a top by powers of ten": (
        {"attitudes__0__top_xz_m": [[1.6, 1.2], [0.8, 2.2e18], [-4.6, 2.4]]}, "stowed:attitudes[0].top_xz_m[1][1]",
        "outside what is possible", "at most 100"),
    "a pull beyond all reckoning": (
        {"gears__0__pull_kn": [[0.0, 1e308]]}, "1:gears[0].pull_kn[0][1]", "outside what is possible", "at most 10000"),
    "negative pull": ({"gears__0__pull_kn": [[0.0, -1.0]]}, "1:gears[0].pull_kn", "below zero", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", ONE_FAULT)
def test_one_fault_is_named(tmp_path: Path, name: str) -> None:
    changes, where, message, allowed = ONE_FAULT[name]
    found = faults_of(write_machine(tmp_path / "m.toml", **changes))
    assert [f"{fault.feature}:{fault.field}" for fault in found] == [where]
    assert found[0].file == "m.toml"
    assert message in found[0].message
    assert allowed in found[0].allowed


@pytest.mark.parametrize(
    "changes", [{"size_xyz_m": [1e21, 1.0, 1.0]}, {"drop_m": 1e308}, {"radius_m": 1e308}, {"x_m": 1e21}]
)
def test_a_load_by_powers_of_ten_is_a_fault(tmp_path: Path, changes: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="at most 100"):
        read_load(write_load(tmp_path / "l.toml", **changes))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"mass_kg": 1.5}, "mass_kg"),  # tonnes
        ({"size_xyz_m": [47.0, 39.0, 39.0], "sail_m2": None}, "mass_kg"),  # inches
        ({"rigging_kg": 0.09}, "rigging_kg"),  # tonnes
        ({"sail_m2": 0.013}, "sail_m2"),
        ({"sail_m2": 1300.0}, "sail_m2"),
    ],
)
def test_a_load_in_another_unit_is_doubted(tmp_path: Path, changes: dict[str, Any], field: str) -> None:
    assert read_load(write_load(tmp_path / "l.toml"))[1] == ()
    assert [doubt.field for doubt in read_load(write_load(tmp_path / "l.toml", **changes))[1]] == [field]


DOUBTS: dict[str, tuple[dict[str, Any], str, str]] = {
    "no pivot": ({"axles__1__pivot_height_m": None}, "rear:axles[1].pivot_height_m", "oscillates"),
    "no stop": ({"axles__1__stop_deg": None}, "rear:axles[1].stop_deg", "oscillates"),
    "capability below permission": ({"capability__grade_pct": 29.0}, ":limits.grade_pct", "29.0 % is below"),
    "capability in degrees below": (
        {"capability": {"grade_deg": 16.0}}, ":limits.grade_pct", "28.7 % is below the permission 30.0 %"),
    "centre of gravity elsewhere": (
        {"attitudes__0__cg_x_m": -1.7}, "stowed:attitudes[0].cg_x_m", "x = -1.60 m, the sheet says -1.7 m"),
    "axle above rating": ({"axles__0__rating_kg": 6000.0}, "front:axles[0].load_kg", "rated 6000 kg"),
    "pressure in psi": ({"axles__0__pressure_kpa": 50.0}, "front:axles[0].pressure_kpa", "is it in kPa"),
    "pull in kgf": ({"gears__0__pull_kn": [[0.0, 9000.0]]}, "1:gears[0].pull_kn", "is it in kN"),
    "percent as degrees": (
        {"limits": {"grade_deg": 25.0, "cross_slope_pct": 8.0}, "capability": {}}, ":limits.grade_pct", "46.6 %"),
    "cross slope as the grade": (
        {"limits__cross_slope_pct": 25.0}, ":limits.cross_slope_pct", "more than makers permit"),
    "pull beyond top speed": ({"gears__0__top_kmh": 7.0}, "1:gears[0].pull_kn", "beyond the top speed"),
}  # fmt: skip


@pytest.mark.parametrize("name", DOUBTS)
def test_doubts_do_not_stop(tmp_path: Path, name: str) -> None:
    changes, where, says = DOUBTS[name]
    _, doubts, _ = read_machine(write_machine(tmp_path / "m.toml", **changes))
    assert [f"{doubt.feature}:{doubt.field}" for doubt in doubts] == [where]
    assert says in doubts[0].message


def test_at_the_edge_of_each_band_nothing_is_said(tmp_path: Path) -> None:
    """2 % of mass and 3 % of the wheelbase (0.096 m) are still within; so is a capability equal to the permission."""
    changes = {"attitudes__0__mass_kg": 14200.0, "attitudes__0__cg_x_m": -1.69, "capability__grade_pct": 30.0}
    assert read_machine(write_machine(tmp_path / "m.toml", **changes))[1] == ()


def test_all_faults_between_values_come_together(tmp_path: Path) -> None:
    changes = {
        "limits__grade_deg": 12.0,
        "attitudes__0__mass_kg": 20000.0,
        "gears__1__name": "1",
        "axles__0__x_m": -0.2,
    }
    found = faults_of(write_machine(tmp_path / "m.toml", **changes))
    assert {fault.field for fault in found} == {"limits.grade_deg", "attitudes[0].mass_kg", "gears", "axles[0].x_m"}


def test_all_faults_of_single_values_come_together(tmp_path: Path) -> None:
    content = machine(axles__0__load_kg="7000", limits__grade=30, steering__0__mode="rear", gears__0__top_kmh=-1)
    del content["name"]
    (tmp_path / "m.toml").write_text(toml(content))
    found = {fault.field for fault in faults_of(tmp_path / "m.toml")}
    assert found == {"axles[0].load_kg", "limits.grade", "steering[0].mode", "gears[0].top_kmh", "name"}


def test_outline_may_be_written_from_the_rear(tmp_path: Path) -> None:
    changes = {f"attitudes__0__{name}": STOWED[name][::-1] for name in ("top_xz_m", "under_xz_m")}
    assert read_machine(write_machine(tmp_path / "m.toml", **changes))[1] == ()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"format = 1\nname = \n", "not valid TOML at line 2, column 8"),
        (b"format = 1\nformat = 1\n", "line 2"),
        (b'name = "\xff"', "not UTF-8 text (line 1)"),
        (b"x = " + b"1" * 5000, "not valid TOML"),
        (b"x = " + b"[" * 5000, "not valid TOML"),
    ],
)
def test_a_file_that_is_no_toml(tmp_path: Path, content: bytes, says: str) -> None:
    (tmp_path / "m.toml").write_bytes(content)
    found = faults_of(tmp_path / "m.toml")
    assert [says in fault.message for fault in found] == [True]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert [fault.text() for fault in faults_of(tmp_path / "m.toml")] == ["m.toml: file not found"]
    (tmp_path / "middle.toml").write_text("format = 1")
    (tmp_path / "roads.geojson").write_text("{}")
    told = "m.toml: file not found; allowed: what is in that folder: middle.toml"
    assert [fault.text() for fault in faults_of(tmp_path / "m.toml")] == [told]
    assert [fault.text() for fault in faults_of(tmp_path)] == [f"{tmp_path.name}: a file is due, this is a folder"]


def test_a_load(tmp_path: Path) -> None:
    load, doubts, record = read_load(write_load(tmp_path / "l.toml"))
    assert (load.mass_kg, load.x_m, record.role, doubts) == (1500.0, 2.4, "load", ())


def test_mass_alone_is_no_load(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_load(write_load(tmp_path / "l.toml", size_xyz_m=None, how=None, mass="1.5 t"))
    assert {fault.field: fault.allowed for fault in caught.value.faults} == {
        "size_xyz_m": "",
        "how": "",
        "mass": "mass_kg or mass_tolerance_kg",
    }


def test_a_load_between_its_values(tmp_path: Path) -> None:
    _, doubts, _ = read_load(write_load(tmp_path / "l.toml", radius_m=4.0))
    assert [doubt.field for doubt in doubts] == ["radius_m"]
    with pytest.raises(InputError, match="outside the load along y"):
        read_load(write_load(tmp_path / "l.toml", cg_in_load_xyz_m=[0.0, 1.1, 0.0]))


def test_any_other_model(tmp_path: Path) -> None:
    (tmp_path / "w.toml").write_text('ground = "wet"\n')
    assert read_toml_model(tmp_path / "w.toml", Weather, "weather")[0] == Weather(ground="wet")
    (tmp_path / "w.toml").write_text("temperature_c = 200\nwind = 3\n")
    with pytest.raises(InputError) as caught:
        read_toml_model(tmp_path / "w.toml", Weather, "weather")
    assert [(f.field, f.allowed) for f in caught.value.faults] == [
        ("temperature_c", "at most 70"),
        ("wind", "wind_mps"),
    ]
