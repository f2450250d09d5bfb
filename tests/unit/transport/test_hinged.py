"""A rig in corners: towing vehicle and trailer on a hinge, against the stated tractrix and against another library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from tests.memory_site import ORIGIN, make_site
from tests.unit.checks.turn_cases import HEADER, ROAD, corner
from tests.unit.transport.hauls import case_on, ramp_case, yard
from travel.checks import check_turns
from travel.checks.haul import hinged, make_rig
from travel.checks.movers import movers
from travel.checks.sweep import Yard
from travel.mechanics.tractrix import trailing_axles

WIDE_M = 9.0


def crossing(width_m: float = WIDE_M):
    """Two roads that meet at a right angle."""
    lines = {"main": [(-80.0, 0.0), (80.0, 0.0)], "side": [(0.0, 0.0), (0.0, 80.0)]}
    roads = [ROAD | {"id": name, "xy": line, "width_m": width_m} for name, line in lines.items()]
    return make_site(roads, [{"id": "gate", "xy": (-80.0, 0.0), "kind": "gate"}], header=HEADER)


def test_lengths_of_the_demos_rig_by_hand():
    """Kingpin 3.75 m behind the steered axle, drive axles' middle 3.875 m, bogie 8.30 m behind the kingpin.

    Front corner of the trailer 1.60 m from the kingpin: with a width of 2.55 m (half 1.275) it is 0.967 m ahead.
    """
    rig = make_rig(ramp_case(), True)
    mover = hinged(rig)
    assert mover is not None
    assert mover.towed is not None
    assert mover.trail_m == pytest.approx(3.875)
    assert mover.towed.hitch_m == pytest.approx(3.75)
    assert mover.towed.drawbar_m == pytest.approx(8.30)
    assert mover.towed.front_x_m == pytest.approx(math.sqrt(1.60**2 - (rig.width_m / 2) ** 2))
    # both end where the rig ends
    assert mover.towed.hitch_m - mover.towed.rear_x_m + rig.front_x_m == pytest.approx(15.90, abs=0.01)
    # the outer front corner keeps to the 12.5 m of ground stated
    abreast = math.sqrt(mover.least_radius_m**2 - mover.trail_m**2) + rig.width_m / 2
    assert math.hypot(abreast, mover.trail_m + mover.front_x_m) == pytest.approx(12.5)


@pytest.mark.parametrize(
    "changes", [{"trailer__coupling_to_front_m": None}, {"towing__coupling_x_m": None}, {"towing": None}]
)
def test_a_sheet_that_does_not_tell_where_it_bends_is_swept_as_one_stiff_vehicle(changes):
    case = case_on(yard(), **changes)
    assert case.hinged is None
    assert movers(case)["front"].towed is None


def test_it_follows_the_stated_tractrix_and_stays_where_it_says():
    case = case_on(crossing())
    turns = check_turns(case)
    row = corner(turns, "main", "side", 1.0)
    outside, cut = (float(value[0, 0]) for value in turns.swept(np.array([row]), np.array([0])))
    mover = movers(case)["front"]
    assert mover.towed is not None
    path = Yard(turns.corners, np.array([row])).path(np.array([0]), np.array([cut]), mover, density=8)
    front, heading = path.xy[0], path.heading[0]
    units = trailing_axles(
        front,
        np.array([heading[0], path.drawn.heading[0, 0]]),
        np.array([mover.trail_m, mover.towed.drawbar_m]),
        np.array([mover.towed.hitch_m - mover.trail_m, 0.0]),
    )
    assert np.abs(units[0, :, 2] - heading).max() < 0.01
    assert np.abs(units[1, :, 2] - path.drawn.heading[0]).max() < 0.01
    # what both parts cover, against the ground of the roads in another library
    main, side = shapely.LineString([(-200, 0), (200, 0)]), shapely.LineString([(0, 0), (0, 200)])
    ground = shapely.union_all([road.buffer(WIDE_M / 2, quad_segs=64) for road in (main, side)])
    area = shapely.transform(turns.area(row, 0), lambda xy: xy - ORIGIN)
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(area, 0.05)))
    edge = np.asarray(shapely.distance(ground.boundary, points))
    off = np.where(shapely.covers(ground, points), -edge, edge).max()
    assert off == pytest.approx(outside, abs=0.05)
