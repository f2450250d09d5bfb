"""Can this lifting machine get from the gate to the pick point and back, which way, and how.

The same answers as on the command line, in a few typed lines::

    import travel
    from pathlib import Path

    request = travel.PlanRequest(site=Path("demo_site/site"), machine=Path("demo_site/machines/middle.toml"),
                                 from_place="G1", to_place="P1")
    answer = travel.make_plan(request)
    print(answer.plan.verdict)
    travel.write_plan(answer, Path("maps"))
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from travel.domain.plan import TravelPlan
    from travel.domain.request import Acceptance, PlanRequest, TripConditions
    from travel.domain.site import Amendment, Weather
    from travel.errors import InputError, TravelError
    from travel.service import Answer, Workspace, exit_code, make_plan, write_plan

__version__ = "0.1.0"

_HOMES = {
    "TravelPlan": "travel.domain.plan",
    "Acceptance": "travel.domain.request",
    "Amendment": "travel.domain.site",
    "PlanRequest": "travel.domain.request",
    "TripConditions": "travel.domain.request",
    "Weather": "travel.domain.site",
    "InputError": "travel.errors",
    "TravelError": "travel.errors",
    "Answer": "travel.service",
    "Workspace": "travel.service",
    "exit_code": "travel.service",
    "make_plan": "travel.service",
    "write_plan": "travel.service",
}

__all__ = [
    "Acceptance",
    "Amendment",
    "Answer",
    "InputError",
    "PlanRequest",
    "TravelError",
    "TravelPlan",
    "TripConditions",
    "Weather",
    "Workspace",
    "exit_code",
    "make_plan",
    "write_plan",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'travel' has no attribute {name!r}")
