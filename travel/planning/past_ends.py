"""What is not known of the ground past the ends of a trip, as answers of the rule on width."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from travel.checks import Answer, Outcome, judge
from travel.planning.trips import Trip

RULE = "width"


@dataclass(frozen=True, eq=False, kw_only=True)
class PastEnd(Answer):
    """Something that lies under the machine past the node where a trip begins or ends."""

    def reasons(self, rows: np.ndarray) -> list[str]:
        """Give why: it lies there."""
        return ["lies_there"] * len(rows)


def past_end_answers(trip: Trip) -> Iterator[PastEnd]:
    """Give one answer for each end of a trip past which something lies under the machine."""
    for cell, name in trip.past_ends:
        where = np.ones(1, dtype=bool)
        outcome = Outcome(applies=where, missing={name: where})
        yield PastEnd(
            rule=RULE,
            position=np.array([cell]),
            feature=np.array([-1]),
            layer="",
            verdict=judge(outcome),
            outcome=outcome,
        )
