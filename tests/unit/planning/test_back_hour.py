"""An hour asked for the way back at which the way out cannot have ended is told; the plan is made all the same."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.planning import answer_of, plan_of
from tests.unit.planning.test_spans import MACHINE, NOON, ring
from travel.domain.request import TripConditions
from travel.writers.summary import summary_text

SITE = ring(NOON + dt.timedelta(hours=5))


@pytest.mark.parametrize(("late_s", "told"), [(-1, True), (1, False)])
def test_the_way_back_begins_when_the_way_out_has_ended(late_s: int, told: bool) -> None:
    out_s = plan_of(SITE, "G", "D", MACHINE, at=NOON).trips[0].time_s
    hour = NOON + dt.timedelta(seconds=out_s + late_s)
    answer = answer_of(SITE, "G", "D", MACHINE, at=NOON, back=TripConditions(at=hour), with_return=True)
    doubts = [text for text in answer.plan.doubts if "back › at" in text]
    assert len(doubts) == told
    if told:
        assert hour.isoformat() in doubts[0]
        assert (NOON + dt.timedelta(seconds=out_s)).replace(microsecond=0).isoformat()[:18] in doubts[0]
        assert "before the machine can be there" in " ".join(summary_text(answer.plan, answer.rulebook).split())


def test_without_hours_nothing_is_told() -> None:
    for asked in ({"at": NOON}, {"back": TripConditions(at=NOON)}, {}):
        plan = plan_of(SITE, "G", "A", MACHINE, with_return=True, **asked)
        assert not any("back › at" in text for text in plan.doubts)
