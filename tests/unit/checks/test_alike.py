"""Configurations asked together because a rule sees no difference in them."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from travel.checks import Outcome, answers_for, fold, parts
from travel.checks.alike import Alike
from travel.checks.fold import grid_rows, part_over

MODES = ("front", "all", "crab")


def case():
    road = {"id": "r", "xyz": [(0, 0, 0), (60, 0, 9), (90, 10, 6)], "width_m": 4.0, "surface": "compacted_gravel",
            "cross_slope_pct": 1.0, "traffic": "none", "bearing_kpa": 1800.0, "bearing_wet_kpa": 1500.0,
            "roughness_m": 0.03, "sight_m": 30.0, "lit": True, "passes_done": 20, "edge_left": "kerb",
            "edge_right": "verge"}  # fmt: skip
    return case_of(make_site([road], [{"id": "g", "xy": (0, 0), "kind": "gate"}]), sheet(), steering=MODES)


def test_groups_are_as_fine_as_what_was_looked_at():
    alike = Alike.all(4)
    assert alike.look(np.array([1.0, 1.0, 2.0, np.nan])).shape == (1, 1, 1)
    finer = alike.split()
    assert finer is not None
    assert finer.group.tolist() == [0, 0, 1, 2]
    assert finer.look(np.array([1.0, 1.0, 2.0, np.nan])).ravel()[:2].tolist() == [1.0, 2.0]
    assert finer.split() is None
    finer.look(np.array([[0, 1], [0, 2], [0, 0], [0, 0]]))
    assert finer.split().group.tolist() == [0, 1, 2, 3]


def test_nothing_reads_a_configuration_past_the_notes():
    one = case()
    rows = grid_rows(one, 0, 1, Alike.all(len(one.configurations)))
    with pytest.raises(IndexError):
        one.configurations.top_mps[rows.config]


def test_a_rule_is_asked_again_until_no_group_differs_in_anything_it_saw():
    one, asked = case(), []
    half = np.arange(len(one.configurations)) % 2

    def check(rows, case):
        asked.append(len(rows.alike))
        late = rows.by_config(half)
        return Outcome(permitted=(late == 0) & ~rows.reverse)

    part = dataclasses.replace(parts()[0], check=check, layer="")
    found = part_over(one, part, slice(0, 2))
    assert asked == [1, len(found.alike)]
    want = np.where((half == 0) & ~one.configurations.reverse, 0, 3)
    np.testing.assert_array_equal(found.verdict[found.alike.group, 0, 0], want)


def test_the_fold_is_the_worst_of_all_answers_in_every_configuration():
    one = case()
    folded = fold(one)
    shape = folded.worst.shape
    piece, way, config = (index.ravel() for index in np.indices(shape))
    worst, unknowns = np.zeros(piece.shape, dtype=np.uint8), np.zeros(piece.shape, dtype=np.int64)
    for answer in answers_for(one, piece, 1 - 2 * way, config):
        np.maximum.at(worst, answer.position, answer.verdict)
        np.add.at(unknowns, np.unique(answer.position[answer.verdict == 2]), 1)
    np.testing.assert_array_equal(folded.worst.ravel(), worst)
    np.testing.assert_array_equal(folded.unknowns.ravel(), unknowns)
    assert (unknowns.reshape(shape).min(axis=2) < unknowns.reshape(shape).max(axis=2)).any()


def test_the_cap_is_the_least_of_all_answers_in_every_configuration():
    one = case()
    folded = fold(one)
    piece, way, config = (index.ravel() for index in np.indices(folded.worst.shape))
    cap = one.configurations.top_mps[config]
    for answer in answers_for(one, piece, 1 - 2 * way, config):
        if answer.outcome.cap_mps is not None:
            held = np.where(answer.outcome.applies, answer.outcome.cap_mps, np.inf)
            np.fmin.at(cap, answer.position, np.broadcast_to(held, answer.position.shape))
    np.testing.assert_array_equal(folded.cap_mps.ravel(), cap)
    assert folded.rules.index("stopping") in folded.cap_rule
    assert (folded.cap_rule < 0).any()


def test_columns_of_a_grid_are_read_in_place_and_locked():
    one = case()
    rows = grid_rows(one, 2, 7)
    grade = one.window.grade_worst
    assert np.shares_memory(rows.grade, grade)
    np.testing.assert_array_equal(rows.grade, dataclasses.replace(rows, span=None).grade)
    with pytest.raises(ValueError, match="read-only"):
        rows.grade[...] = 0.0
    for span in (slice(1, 6), slice(2, 6), slice(2, 8)):
        with pytest.raises(ValueError, match="span"):
            dataclasses.replace(rows, span=span)
