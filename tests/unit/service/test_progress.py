"""What a person is told while a plan is made."""

from __future__ import annotations

from tests.planning import DEMO, MILD
from travel.domain.request import PlanRequest
from travel.service.plan import make_plan


def test_corners_are_counted_while_the_way_is_looked_for() -> None:
    """A search that looks at many corners takes long: how far it has come is told, and never less than before."""
    told: list[tuple[str, float]] = []
    request = PlanRequest(
        site=DEMO / "site", machine=DEMO / "machines" / "middle.toml", from_place="G1", to_place="P1", weather=MILD
    )
    make_plan(request, progress=lambda what, share: told.append((what, share)))
    counts = [int(what.split(":")[1].split()[0]) for what, _ in told if what.startswith("looking for the way out")]
    assert counts
    assert counts == sorted(counts)
    assert counts[0] > 0
    shares = [share for _, share in told]
    assert shares == sorted(shares)
