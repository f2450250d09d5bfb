"""Greatest height and width: a machine of that size gets there by the rule, with its own outline; one that gets there
itself is told no less than its own."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import DEMO, case_of, day_of, on_day, sheet
from travel.checks import Case
from travel.domain.site import Site
from travel.planning.reach import PlaceReach, reach_of
from travel.planning.remedy_machine import changed_body
from travel.planning.trips import prepare
from travel.readers.sheets import read_machine

PLACES = [
    {"id": name, "xy": at, "kind": "turning", "may_stop": True} for name, at in (("gate", (0, 0)), ("pick", (120, 0)))
]
ROAD = {
    "surface": "asphalt", "traffic": "none", "edge_left": "kerb", "edge_right": "kerb", "roughness_m": 0.005,
    "sight_m": 80.0, "lit": True, "cross_slope_pct": 0.0,
}  # fmt: skip
WAVES = np.column_stack((np.linspace(0, 120, 25), np.zeros(25), 0.6 * np.sin(np.linspace(0, 18, 25))))


def sited(width_m: float = 8.0, line: Any = ((0, 0, 0), (120, 0, 0)), cross: float = 0.0, **layers: Any) -> Site:
    road = {"id": "r", "xyz": np.array(line, dtype=float), "width_m": width_m} | ROAD | {"cross_slope_pct": cross}
    return make_site([road], PLACES, **layers)


def hung(at_m: float, clearance_m: float, **more: Any) -> dict[str, Any]:
    return {"id": "o", "kind": "structure", "xy": [(at_m, -8), (at_m, 8)], "clearance_m": clearance_m} | more


def reached(case: Case) -> PlaceReach:
    return next(row for row in reach_of(prepare(case), "gate") if row.place == "pick")


def told_again(site: Site, name: str, own: Case) -> tuple[float, float]:
    """Give what is told, and what is told again of a machine of that size."""
    told = reached(own).greatest[name]
    assert told is not None
    assert told > 0.5
    again = reached(replace(own, body=changed_body(own.body, name, told))).greatest[name]
    assert again is not None
    return told, again


@pytest.mark.parametrize("at_m", [20.0, 31.0, 47.0, 63.0, 80.0, 101.0])
@pytest.mark.parametrize("clearance_m", [2.7, 3.1, 3.5, 4.6])
def test_a_machine_of_the_height_told_gets_under_what_hangs_over_waves(at_m: float, clearance_m: float) -> None:
    """Cut to that height, or raised to it: where the tail rises, cutting the top off is not enough."""
    site = sited(line=WAVES, overheads=[hung(at_m, clearance_m)])
    with on_day(day_of(site)):
        told, again = told_again(site, "height_m", case_of(site))
    assert again >= told - 1e-6


@pytest.mark.parametrize("width_m", [2.5, 2.8, 3.2, 4.0])
def test_a_machine_cut_to_the_width_told_leans_no_farther_than_there_is_room(width_m: float) -> None:
    site = sited(width_m=width_m, cross=7.0)
    with on_day(day_of(site)):
        told, again = told_again(site, "width_m", case_of(site))
    assert again >= told - 1e-6


def test_the_height_under_a_high_line_leaves_the_distance_to_keep() -> None:
    """The machine itself stays so far below that no bar is asked for; one as high as the wire does not."""
    line = hung(60.0, 14.0, kind="power_line", voltage_kv=20.0, sag_max_m=0.0, owner_clearance_m=3.0, half_spread_m=1.0)
    site = sited(overheads=[line])
    with on_day(day_of(site)):
        told = reached(case_of(site)).greatest["height_m"]
    assert told is not None
    assert 5.0 < told < 11.0


def test_a_way_in_another_steering_mode_counts() -> None:
    """In a long curve all wheels steered need less of the road than the front ones alone."""
    turned = np.linspace(0.0, np.pi / 2, 40)
    curve = np.column_stack((60 * np.sin(turned), 60 - 60 * np.cos(turned), np.zeros(40)))
    road = {"id": "r", "xyz": curve, "width_m": 4.4} | ROAD
    site = make_site([road], [PLACES[0], PLACES[1] | {"xy": (60, 60)}])
    with on_day(day_of(site)):
        front, every, both = (
            reached(case_of(site, sheet(), steering=modes)).greatest["width_m"] or 0.0
            for modes in (("front",), ("all",), ("front", "all"))
        )
    assert 1.0 < front < every - 0.01
    assert both == every


def test_what_gets_there_itself_is_told_no_less_than_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where it only does by changing its steering on the way, which no width is looked at for."""
    site = sited()
    none = {name: dict.fromkeys(range(2), 0.0) for name in ("height_m", "width_m", "gross_kg", "axle_kg")}
    monkeypatch.setattr("travel.planning.reach.greatest_sizes", lambda *_: none)
    with on_day(day_of(site)):
        case = case_of(site, read_machine(DEMO / "machines" / "middle.toml")[0])
        row = reached(case)
    assert row.verdict in ("clear", "caution")
    body = case.body
    assert row.greatest == {"height_m": body.height_m, "width_m": body.width_m, "gross_kg": body.mass_kg,
                            "axle_kg": max(body.axle_load_kg)}  # fmt: skip


def test_an_outline_is_cut_level() -> None:
    body = case_of(sited()).body
    low = changed_body(body, "height_m", 2.6)
    order = np.argsort(body.top_xz_m[:, 0])
    x, z = body.top_xz_m[order].T
    at = np.linspace(x[0], x[-1], 400)
    assert np.interp(at, *low.top_xz_m.T) == pytest.approx(np.minimum(np.interp(at, x, z), 2.6))


def test_no_height_is_known_beside_a_line_nobody_measured() -> None:
    line = {"id": "o", "kind": "power_line", "xy": [(10, 6), (110, 6)]}
    with on_day(day_of(site := sited(overheads=[line]))):
        assert reached(case_of(site)).greatest["height_m"] == 0.0
