"""Distances from the room round a corner, many at once: against plain geometry; what is left out against all of it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from tests.planning import DEMO, case_of
from travel.checks import check_turns, corridors
from travel.checks.corridors import Corridors
from travel.checks.lies_beside import barred, beside_points, beside_things
from travel.checks.movers import movers
from travel.checks.strays import boxes_round
from travel.checks.sweep import Yard, body_points
from travel.checks.track import points_swept
from travel.checks.turns import Turns
from travel.domain.site import Weather
from travel.readers.sheets import read_machine
from travel.service.workspace import Workspace
from travel.survey.rooms import Room


def rooms(rng: np.random.Generator, count: int) -> list[Room]:
    """Draw rooms of one to seven corridors, some that go on past their ends less far, some with ground that is free."""
    out = []
    for number in range(count):
        count_here = 1 + number % 7
        reach = np.where(rng.uniform(size=(count_here, 2)) < 0.3, rng.uniform(0, 2, (count_here, 2)), np.inf)
        capsules = np.column_stack((rng.uniform(-20, 20, (count_here, 4)), rng.uniform(1, 4, count_here), reach))
        near = shapely.distance(shapely.linestrings(capsules[:, :4].reshape(-1, 2, 2)), shapely.Point(0, 0))
        order = np.argsort(near - capsules[:, 4])
        ground = (shapely.box(*rng.uniform(-9, 0, 2), *rng.uniform(1, 9, 2)),) if number % 3 == 0 else ()
        out.append(
            Room(
                capsules=capsules[order],
                link=np.zeros(len(order), dtype=np.int64),
                past=np.zeros(len(order), dtype=bool),
                near_m=(near - capsules[:, 4])[order],
                ground=ground,
                obstacles=np.empty((0, 3)),
                solid_m=np.empty(0),
            )
        )
    return out


def plain(room: Room, points: np.ndarray, reach_m: float) -> np.ndarray:
    """Give the distance of points from one room, by the library's own geometry."""
    out, where = np.full(points.shape[:-1], np.inf), shapely.points(points)
    for capsule in room.capsules[room.near_m < reach_m]:
        a, b = capsule[:2], capsule[2:4]
        gap = shapely.distance(shapely.LineString([a, b]), where) - capsule[4]
        for end, ahead, reach in ((a, a - b, capsule[5]), (b, b - a, capsule[6])):
            gap = np.maximum(gap, (points - end) @ ahead / np.hypot(*ahead) - reach)
        out = np.minimum(out, gap)
    for polygon in room.ground:
        sign = np.where(shapely.covers(polygon, where), -1.0, 1.0)
        out = np.minimum(out, sign * shapely.distance(shapely.boundary(polygon), where))
    return np.asarray(out)


@pytest.mark.parametrize("most_m", [-0.5, 0.0, 2.0])
def test_what_is_more_than_is_wanted_is_told_as_more(most_m: float) -> None:
    """Points close together, so that corridors far from them are left out."""
    rng = np.random.default_rng(4)
    every = Corridors(rooms(rng, 25))
    within = 0
    for row in rng.integers(0, 25, 200):
        points = rng.uniform(-20, 20, 2) + rng.uniform(-3, 3, (1, 6, 4, 2))
        whole = every.beyond(np.array([row]), points, np.array([np.inf]), -np.inf)
        found = every.beyond(np.array([row]), points, np.array([np.inf]), -np.inf, most_m)
        within += int((whole <= most_m).sum())
        np.testing.assert_array_equal(np.where(found > most_m, np.inf, found), np.where(whole > most_m, np.inf, whole))
    assert within > 100


def test_where_there_is_no_corridor_everything_is_more_than_is_wanted() -> None:
    (room,) = rooms(np.random.default_rng(5), 1)
    none = {name: getattr(room, name)[:0] for name in ("capsules", "link", "past", "near_m", "ground")}
    alone = Corridors([replace(room, **none)])
    assert np.isinf(alone.beyond(np.zeros(1, dtype=np.int64), np.zeros((1, 2, 4, 2)), np.ones(1), -1.0, 0.0)).all()


@pytest.mark.parametrize("each", [2, 3])
@pytest.mark.parametrize(("shape", "block"), [((40, 3, 4), 16384), ((40, 30, 4), 16384), ((40, 5, 4), 64)])
def test_distances_are_those_of_plain_geometry(
    shape: tuple[int, int, int], block: int, each: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(corridors, "BLOCK", block)
    rng = np.random.default_rng(3)
    every, rows = rooms(rng, 25), rng.integers(0, 25, shape[0])
    ends, reach = rng.uniform(-15, 15, (*shape[:2], shape[2] // 2, 2, 2)), rng.uniform(5, 25, shape[0])
    places = rng.uniform(0.0, 1.0, (each, 1))
    places[[0, -1]] = [[0.0], [1.0]]
    on = ends[..., :1, :] + np.sort(places, axis=0) * (ends[..., 1:, :] - ends[..., :1, :])
    points = on.reshape(*shape[:2], -1, 2)
    found = Corridors(every).beyond(rows, points, reach, -np.inf)
    for number, row in enumerate(rows.tolist()):
        assert found[number] == pytest.approx(plain(every[row], points[number], float(reach[number])), abs=1e-9)
    alike, most = Corridors(every).of_lines(rows, points, reach, -np.inf, each)
    assert np.array_equal(alike, found)
    share = np.linspace(0.0, 1.0, 9)[:, None]
    for number, row in enumerate(rows.tolist()):
        for line, part in np.ndindex(shape[2] // 2, each - 1):
            first, last = on[number, :, line, part, None], on[number, :, line, part + 1, None]
            between = plain(every[row], first + share * (last - first), float(reach[number]))
            assert (between.max(axis=1) <= most[number, :, line * (each - 1) + part] + 1e-9).all()


@cache
def demo() -> Turns:
    """Give the corners of the demo for its large machine."""
    machine = read_machine(DEMO / "machines/large.toml")[0]
    return check_turns(case_of(Workspace(path=DEMO / "site"), machine, steering=("front", "all")))


@pytest.mark.parametrize("steering", ["front", "all"])
@pytest.mark.parametrize("cut_m", [7.0, 12.0, 20.0])
def test_points_left_out_stick_out_less_than_others(steering: str, cut_m: float) -> None:
    turns = demo()
    rows, mover = np.arange(0, len(turns.corners), 3), movers(turns.case)[steering]
    yard, every = Yard(turns.corners, rows), np.arange(len(rows))
    cut = np.full(len(rows), cut_m)
    path, reach = yard.path(every, cut, mover), cut + mover.swept_m
    some = yard.of_body(every, path, body_points(mover), reach, -np.inf)
    full = yard.beyond(every, points_swept(path.xy, path.heading, body_points(mover)), reach, -np.inf)
    assert np.isneginf(some).mean() > 0.1
    assert np.array_equal(some.max(axis=(1, 2)), full.max(axis=(1, 2)))
    assert np.array_equal(some.reshape(len(rows), -1).argmax(axis=1), full.reshape(len(rows), -1).argmax(axis=1))


def test_boxes_hold_what_is_swept() -> None:
    turns = demo()
    state = turns.case.configurations.states.index(("forward", "low", "all", "four"))
    rows = np.arange(0, len(turns.corners), 5)
    cut = turns.swept(rows, np.array([state]))[1][:, 0]
    rows, cut = rows[~np.isnan(cut)], cut[~np.isnan(cut)]
    boxes = boxes_round(turns.corners, rows, cut, movers(turns.case)["all"])
    assert len(rows) > 30
    for row, box in zip(rows.tolist(), boxes, strict=True):
        area = turns._one_go(row, state)
        assert area is not None
        assert box.contains(area)


def test_what_lies_nearest_is_that_of_all_things() -> None:
    turns = demo()
    corners, things = turns.corners, beside_things(turns.case)
    points = shapely.points(corners.x_m, corners.y_m)
    nearest = np.min([shapely.distance(plan, points) - keep for plan, keep in things], axis=0)
    assert len(things) > 5
    assert beside_points(turns.case, corners.x_m, corners.y_m) == pytest.approx(nearest, abs=1e-9)


@pytest.mark.parametrize("ground", ["dry", "mud"])
def test_nothing_that_bars_is_left_out(ground: str) -> None:
    """Corners near nothing that would bar, wherever wheels ask most of the ground, against asking in all of them."""
    case = replace(demo().case, weather=Weather(ground=ground))
    turns, states = check_turns(case), np.array([case.configurations.states.index(("forward", "low", "front", "four"))])
    rows = np.flatnonzero(~turns.corners.returns)
    near = turns._beside(rows, states)
    some = barred(case, turns.corners, (rows, states), turns._one_go, near)
    every = barred(case, turns.corners, (rows, states), turns._one_go, np.ones_like(near))
    assert every
    assert not near.all()
    assert {name: where.tolist() for name, where in some.items()} == {n: where.tolist() for n, where in every.items()}
