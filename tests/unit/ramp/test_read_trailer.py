"""Trailer sheets: the demo's read without a fault; every slip named with its key and what is allowed, all at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.builders import toml
from tests.unit.ramp.ramps import DEMO, RULEBOOK, sheet
from travel.errors import Fault, InputError
from travel.readers.sheets import read_trailer

WORDS = RULEBOOK.vocabulary


def faults(folder: Path, content: dict[str, Any]) -> tuple[Fault, ...]:
    path = folder / "trailer.toml"
    path.write_text(toml(content), encoding="utf-8")
    try:
        read_trailer(path, WORDS)
    except InputError as error:
        return error.faults
    return ()


@pytest.mark.parametrize("path", sorted((DEMO / "trailers").glob("*.toml")), ids=lambda path: path.stem)
def test_the_demo_has_no_fault(path: Path) -> None:
    _, _, record = read_trailer(path, WORDS)
    assert record.role == "trailer"


def test_the_demo_holds_every_kind() -> None:
    kinds = {read_trailer(path, WORDS)[0].kind for path in (DEMO / "trailers").glob("*.toml")}
    assert kinds == {"semitrailer", "drawbar", "rigid", "detachable_neck", "tilt_bed"}


PAIR = {"length_m": 3.2, "width_m": 0.85, "gap_m": 0.95}


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"ramps__0__length_m": 0.5}, "ramps[0].length_m", "shorter than the deck is high"),
        ({"ramps__0__length_m": 0.53}, "ramps[0].length_m", "shorter than the deck is high"),
        ({"deck__profile_xz_m": [[0.0, 0.5], [5.0, 0.9], [3.0, 0.9]]}, "deck.profile_xz_m[2]", "not in order"),
        ({"deck__profile_xz_m": [[0.4, 0.5], [5.0, 0.9]]}, "deck.profile_xz_m[0]", "datum"),
        ({"deck__profile_xz_m": [[0.0, -0.1], [5.0, 0.9]]}, "deck.profile_xz_m[0]", "below the ground"),
        ({"deck__height_loaded_m": 1.2}, "deck.height_loaded_m", "higher loaded"),
        ({"deck__height_loaded_m": 0.086}, "deck.height_loaded_m", "goes down 0.81 m"),
        ({"trailer__mass_kg": 12000.0}, "trailer.mass_kg", "add up to 10400 kg"),
        ({"towing__mass_kg": 12000.0}, "towing.mass_kg", "add up to 9100 kg"),
        ({"towing": None}, "towing", "is needed"),
        ({"ramps": []}, "ramps", "no ramps"),
        ({"ramps__0__side": "left"}, "ramps", "one ramp only"),
        ({"ramps": [PAIR | {"side": "left"}, PAIR | {"side": "right", "gap_m": 0.6}]}, "ramps", "one gap"),
        ({"deck__surface": "ice rink"}, "deck.surface", "not an allowed word"),
        ({"deck__contact": "butter"}, "deck.contact", "not an allowed word"),
        ({"tie_points__0__chain": "rope"}, "tie_points[0].chain", "not an allowed word"),
        ({"tie_points__1__name": "front left"}, "tie_points", "named twice"),
        ({"tie_points__0__y_m": 3.0}, "tie_points[0].y_m", "off the deck"),
        ({"towing__axles__2__x_m": -1.0}, "towing.axles", "front first"),
        ({"kind": "rigid"}, "towing", "tows nothing"),
    ],
)
def test_each_slip_is_named(tmp_path: Path, changes: dict[str, Any], field: str, words: str) -> None:
    found = faults(tmp_path, sheet("semi_low_loader", **changes))
    assert any(fault.field == field and words in fault.message for fault in found), [f.text() for f in found]


def test_all_slips_at_once(tmp_path: Path) -> None:
    content = sheet(
        "semi_low_loader", ramps__0__length_m=0.3, trailer__mass_kg=9.0e3, deck__surface="glass", towing__mass_kg=2.0e4
    )
    assert {fault.field for fault in faults(tmp_path, content)} >= {
        "ramps[0].length_m",
        "trailer.mass_kg",
        "deck.surface",
        "towing.mass_kg",
    }


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"towing__axles__1__parking_braked": None}, "parking brake"),
        ({"trailer__bogie_parking_braked": None}, "held standing"),
        ({"tie_points__0__rating_kg": None}, "what the point may take"),
        ({"ramps__0__rating_kg": None}, "what the ramp may carry"),
        ({"deck__height_loaded_m": None}, "with the machine on"),
        ({"deck__height_loaded_m": 0.6}, "goes down 0.30 m"),
        ({"towing__axles__1__parking_braked": False, "towing__axles__2__parking_braked": False}, "no axle is held"),
    ],
)
def test_what_is_not_stated_is_doubted_and_stays_unknown(tmp_path: Path, changes: dict[str, Any], words: str) -> None:
    path = tmp_path / "trailer.toml"
    path.write_text(toml(sheet("semi_low_loader", **changes)), encoding="utf-8")
    _, doubts, _ = read_trailer(path, WORDS)
    assert any(words in doubt.message for doubt in doubts)


def test_keys_nobody_knows_are_refused(tmp_path: Path) -> None:
    assert faults(tmp_path, sheet("semi_low_loader", deck__wdith_m=2.5))
