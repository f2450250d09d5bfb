"""Plans and cases for sites in memory and for the demo site, without writing a site to files.

case = case_of(make_site(...), machine=sheet())
plan = plan_of(make_site(...), machine=sheet(), start="gate", goal="pick")
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tests import builders
from travel.checks import Case, make_configurations
from travel.domain.machine import Load, Machine
from travel.domain.plan import TravelPlan
from travel.domain.request import PlanRequest
from travel.domain.rules import Rulebook
from travel.domain.site import Site, Weather
from travel.routing.cornering import CornerCosts
from travel.service.cases import make_case
from travel.service.plan import Answer, make_plan
from travel.service.remedies import RemedySearch
from travel.service.workspace import Workspace

ROOT = Path(builders.__file__).resolve().parent.parent
DEMO = ROOT / "demo_site"
MILD = Weather(ground="dry", temperature_c=15.0, wind_mps=2.0)


def sheet(**changes: Any) -> Machine:
    """Give the baseline machine of the builders with changes by key path."""
    return Machine.model_validate(builders.machine(**changes))


def workspace_of(site: Site, rulebook: Rulebook | None = None) -> Workspace:
    """Give a workspace that holds a site which stands in no file."""
    workspace = Workspace(path=Path("memory"))
    workspace.__dict__["_read"] = site
    if rulebook is not None:
        workspace.__dict__["rulebook"] = rulebook
    return workspace


def day_of(site: Site) -> dt.date:
    """Give the day after the last survey of a site: what an answer of these tests is made on."""
    dates = [site.header.surveyed_on, *(note.date for note in site.header.surveyed.values())]
    return max(dates) + dt.timedelta(days=1)


@contextlib.contextmanager
def on_day(day: dt.date) -> Iterator[None]:
    """Let answers be made on a given day."""
    noon = dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC)
    old = os.environ.get("SOURCE_DATE_EPOCH")
    os.environ["SOURCE_DATE_EPOCH"] = str(int(noon.timestamp()))
    try:
        yield
    finally:
        os.environ.pop("SOURCE_DATE_EPOCH")
        if old is not None:
            os.environ["SOURCE_DATE_EPOCH"] = old


def case_of(
    site: Site | Workspace,
    machine: Machine | None = None,
    *,
    load: Load | None = None,
    weather: Weather = MILD,
    at: dt.datetime | None = None,
    until: dt.datetime | None = None,
    steering: tuple[str, ...] = ("front",),
    trip: str = "out",
) -> Case:
    """Give one trip's case, as the service would make it, on the day after the survey."""
    workspace = site if isinstance(site, Workspace) else workspace_of(site)
    machine = machine or sheet()
    hours = (until - at).total_seconds() if at and until else None
    with on_day(day_of(workspace.site)):
        case = make_case(workspace, machine, load, trip=trip, weather=weather, at=at, horizon_s=hours)
    return dataclasses.replace(case, configurations=make_configurations(machine, steering))


def answer_of(
    site: Site,
    start: str,
    goal: str,
    machine: Machine | Mapping[str, Any] | None = None,
    remedies: RemedySearch = "quick",
    *,
    rulebook: Rulebook | None = None,
    **request: Any,
) -> Answer:
    """Ask the service about a site in memory; ``machine`` as a sheet or as the content of one."""
    if machine is None:
        machine = builders.machine()
    content = machine.model_dump(mode="json", exclude_none=True) if isinstance(machine, Machine) else machine
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "machine.toml"
        path.write_text(builders.toml(content), encoding="utf-8")
        asked = PlanRequest(
            site=Path("memory"),
            machine=path,
            from_place=start,
            to_place=goal,
            **({"weather": MILD, "with_return": False} | request),
        )
        with on_day(day_of(site)):
            return make_plan(asked, workspace_of(site, rulebook), remedies=remedies)


def plan_of(site: Site, start: str, goal: str, machine: Any = None, **request: Any) -> TravelPlan:
    """Give the plan of :func:`answer_of`."""
    return answer_of(site, start, goal, machine, **request).plan


def settle_all(corners: CornerCosts) -> None:
    """Look at every corner in every state."""
    corners.settle((row, state) for row, costs in enumerate(corners.cost) for state in range(len(costs)))
