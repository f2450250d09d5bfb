"""Planning one move: read, survey, solve out and back, compose, write."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import travel
from travel.checks.hours import clock
from travel.domain.plan import TravelPlan
from travel.domain.request import PlanRequest
from travel.domain.rules import Rulebook
from travel.domain.site import Doubt, Site
from travel.errors import Fault, InputError
from travel.planning import Trip, TripRequest, compose, out_and_back, solve
from travel.planning.compose import Facts
from travel.planning.outlook import outlook_of
from travel.routing import AIMS
from travel.service.cases import Sheets, accepted_ids, merged_weather, now, read_sheets, trip_case
from travel.service.workspace import Progress, Workspace, together
from travel.writers.files import write_whole
from travel.writers.map_page import map_page
from travel.writers.plan_json import plan_to_bytes

if TYPE_CHECKING:
    from travel.planning.haul import Haul
    from travel.service.remedies import RemedySearch

YEARS = range(1900, 2100)
"""Where the sun stands is told for two centuries: hours of these years alone are planned."""
HORIZON_FACTOR = 1.5
"""Closures and hours are looked at over this many times the plan's duration."""

Solved: TypeAlias = "tuple[list[Trip], Haul | None]"
"""The trips in the order driven, and what a trailer adds."""
Kept: TypeAlias = dict[tuple[object, ...], Trip]
"""Trips by which they are, how the machine stood before, and what the rules can tell of their hour."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Answer:
    """A plan with what it takes to write it."""

    plan: TravelPlan
    site: Site
    rulebook: Rulebook
    strict_doubts: tuple[Doubt, ...] = ()


def make_plan(
    request: PlanRequest,
    workspace: Workspace | None = None,
    progress: Progress | None = None,
    remedies: RemedySearch = "quick",
    sheets: Sheets | None = None,
    outlook: bool = True,
) -> Answer:
    """Give the plan for one request.

    Args:
        request: the question
        workspace: the site, where it is already read
        progress: called with what is being done and the share done
        remedies: what is looked for where there is no way: the first few changes of site or machine (``quick``),
            also other hours, weather and loads (``all``), or ``none``
        sheets: machine and loads, where they are already read
        outlook: whether other ways, turning back, single points and the latest departure are looked for

    Raises:
        InputError: every fault of files and options; with ``strict`` also every doubt
    """
    tell = progress or (lambda what, share: None)
    tell("reading the site", 0.0)
    workspace = workspace or Workspace(path=request.site, rulebooks=request.rulebooks, amendments=request.amendments)
    place, back_load = workspace, request.back.load if request.back else None
    site, rulebook, sheets, _ = together(
        lambda: place.site,
        lambda: place.rulebook,
        lambda: sheets or read_sheets(request.machine, request.load, back_load),
        lambda: check_request(request, place.site, place.rulebook),
    )
    assert sheets is not None
    if request.trailer is not None:
        from travel.service.haul import with_trailer

        sheets = with_trailer(request, sheets, rulebook)
    tell("surveying the roads", 0.1)
    survey = workspace.survey
    check_apart(request.from_place, request.to_place, survey.network.place_node)
    doubts = (*site.doubts, *survey.doubts, *sheets.doubts)
    if request.strict and doubts:
        raise InputError([_as_fault(doubt) for doubt in doubts])
    trips, haul = settled(request, lambda horizon: solve_for(request, workspace, sheets, horizon, tell))
    tell("putting the plan together", 0.9)
    plan = composed(request, workspace, sheets, (trips, haul))
    if outlook:
        plan = replace(plan, **outlook_of(trips, plan))
    if plan.outcome == "no_way" and remedies != "none":
        own = [trip for trip in trips if trip.case.vehicle == "machine"]
        if any(trip.way is None for trip in own):
            from travel.service.remedies import remedies_for

            asked = request if haul is None else replace(request, from_place=own[0].request.from_place)
            plan = replace(plan, remedies=remedies_for(asked, workspace, sheets, own, remedies, tell))
    return Answer(plan=plan, site=site, rulebook=rulebook)


def _as_fault(doubt: Doubt) -> Fault:
    return Fault(
        file=doubt.file,
        layer=doubt.layer,
        feature=doubt.feature,
        field=doubt.field,
        message=f"{doubt.message} (a doubt; faults under --strict)",
    )


def composed(request: PlanRequest, workspace: Workspace, sheets: Sheets, solved: Solved) -> TravelPlan:
    """Put solved trips together, without outlook and remedies."""
    site, survey = workspace.site, workspace.survey
    facts = Facts(
        request=request,
        request_json=_request_json(request, site),
        machine=sheets.machine,
        load=sheets.load,
        survey=survey,
        rulebook=workspace.rulebook,
        inputs=(*site.inputs, *sheets.inputs),
        doubts=(*site.doubts, *survey.doubts, *sheets.doubts),
        created_at=now().isoformat().replace("+00:00", "Z"),
        program={"name": "machine-travel", "version": travel.__version__},
        haul=solved[1],
    )
    return compose(solved[0], facts)


def check_request(
    request: PlanRequest, site: Site, rulebook: Rulebook, to_places: tuple[str, ...] | None = None
) -> None:
    """Refuse places, words and hours that cannot be meant; every fault at once.

    Args:
        request: the question
        site, rulebook: what it is asked of
        to_places: the places asked for, where it is not the one of the request
    """
    faults = []
    places = site.layers["places"].ids
    goals = (request.to_place,) if to_places is None else to_places
    for field, place in (("from", request.from_place), *(("to", goal) for goal in goals)):
        if place not in places:
            faults.append(
                Fault(
                    file="request",
                    field=field,
                    value=place,
                    message="is not a place of this site",
                    allowed=", ".join(places),
                )
            )
    for field, weather in (
        ("weather.ground", request.weather.ground),
        ("back.weather.ground", request.back.weather.ground if request.back else None),
    ):
        if weather is not None and weather not in rulebook.vocabulary.words("ground"):
            faults.append(
                Fault(
                    file="request",
                    field=field,
                    value=weather,
                    message="is not a state of the ground",
                    allowed=", ".join(rulebook.vocabulary.words("ground")),
                )
            )
    if request.aim not in AIMS:
        faults.append(
            Fault(file="request", field="aim", value=request.aim, message="is not an aim", allowed=", ".join(AIMS))
        )
    for field, at in (("at", request.at), ("back.at", request.back.at if request.back else None)):
        if at is not None and at.tzinfo is None:
            faults.append(
                Fault(
                    file="request",
                    field=field,
                    value=at.isoformat(),
                    message="has no offset",
                    allowed="RFC 3339 with offset, as in 2026-11-25T08:00:00+01:00",
                )
            )
        elif at is not None and at.year not in YEARS:
            allowed, found = f"from {YEARS[0]} to {YEARS[-1]}", at.isoformat()
            faults.append(
                Fault(file="request", field=field, value=found, message="is no hour to plan", allowed=allowed)
            )
    back = request.back.at if request.back else None
    if request.at is not None and back is not None and not faults and back < request.at:
        message, allowed = "is before the start of the way out", f"{request.at.isoformat()} or later"
        faults.append(Fault(file="request", field="back.at", value=back.isoformat(), message=message, allowed=allowed))
    if faults:
        raise InputError(faults)


def check_apart(start: str, goal: str, nodes: Mapping[str, int]) -> None:
    """Refuse a way of no length: nothing on it would be looked at, and it would read as clear."""
    if nodes[start] == nodes[goal]:
        message = f"stands at the same point of the roads as {start}, where the machine starts"
        raise InputError([Fault(file="request", field="to", value=goal, message=message)])


def solve_for(
    request: PlanRequest,
    workspace: Workspace,
    sheets: Sheets,
    horizon_s: float,
    tell: Progress,
    kept: Kept | None = None,
) -> Solved:
    """Solve out, then back from how the machine then stands, with a trailer the combination's trips too.

    Args:
        request, workspace, sheets: the question
        horizon_s: for how long after their start closures and hours are looked at
        tell: called with what is being done and the share done
        kept: trips of the machine solved before for the same question at other hours; those that are alike serve again
    """
    if sheets.trailer is not None:
        from travel.service.haul import solve_haul

        return solve_haul(request, workspace, sheets, horizon_s, tell)
    trips = [_trip(request, workspace, sheets, "out", horizon_s, None, tell, kept)]
    if request.with_return and trips[0].way is not None:
        back = _trip(request, workspace, sheets, "back", horizon_s, trips[0], tell, kept)
        trips = list(out_and_back(trips[0], back))
    return trips, None


def settled(request: PlanRequest, solve_over: Callable[[float], Solved]) -> Solved:
    """Solve again with a longer span until it covers the plan."""
    horizon = 0.0 if request.horizon_min is None else request.horizon_min * 60
    timed = request.at is not None or (request.back is not None and request.back.at is not None)
    while True:  # a longer span only ever shuts more, so the way settles
        solved = solve_over(horizon)
        needed = HORIZON_FACTOR * sum(trip.time_s for trip in solved[0])
        if not timed or needed <= horizon:
            return solved
        horizon = needed


def _trip(
    request: PlanRequest,
    workspace: Workspace,
    sheets: Sheets,
    name: str,
    horizon_s: float,
    before: Trip | None,
    tell: Any,
    kept: Kept | None,
) -> Trip:
    survey, back = workspace.survey, name == "back"
    case = trip_case(request, workspace, sheets, name, horizon_s)
    start, goal = (request.to_place, request.from_place) if back else (request.from_place, request.to_place)
    nodes = survey.network.place_node
    came = before.way.steps[-1] if before and before.way and before.way.steps else None
    key = (name, came, clock(case)) if kept is not None else ()
    if kept is not None and key in kept:
        return kept[key]
    trip_request = TripRequest(
        start=nodes[start],
        goal=nodes[goal],
        from_place=start,
        to_place=goal,
        came=came,
        accepted=accepted_ids(request),
        aim=request.aim,
    )
    base = 0.5 if back else 0.2
    trip = solve(
        case,
        trip_request,
        lambda share: tell(f"checking the way {name}", base + 0.2 * share),
        before,
        lambda count: tell(f"looking for the way {name}: {count} corners looked at", base + 0.2),
    )
    if kept is not None:
        kept[key] = trip
    return trip


def _request_json(request: PlanRequest, site: Site) -> dict[str, Any]:
    return {
        "from": request.from_place,
        "to": request.to_place,
        "at": request.at.isoformat() if request.at else None,
        "horizon_min": request.horizon_min,
        "return": request.with_return,
        "aim": request.aim,
        "load": request.load.name if request.load else None,
        "weather": merged_weather(request.weather, site.header.weather).model_dump(),
        "back": None
        if request.back is None
        else {
            "at": request.back.at.isoformat() if request.back.at else None,
            "load": request.back.load.name if request.back.load else None,
            "weather": request.back.weather.model_dump(),
        },
        "accept_unknown": [{"id": item.id, "reason": item.reason} for item in request.accept_unknown],
        "amendments": [
            {
                "layer": a.layer,
                "feature": a.feature,
                "field": a.field,
                "value": a.value,
                "from_m": a.from_m,
                "to_m": a.to_m,
                "reason": a.reason,
            }
            for a in request.amendments
        ],
        "strict": request.strict,
        **({"times": request.times} if request.times != 1 else {}),
        **_trailer_json(request),
    }


def _trailer_json(request: PlanRequest) -> dict[str, Any]:
    if request.trailer is None:
        return {}
    from travel.service.haul import trailer_json

    return trailer_json(request)


def write_plan(answer: Answer, folder: Path) -> tuple[Path, ...]:
    """Write ``plan.json`` and ``map.html`` whole into a folder and give their paths."""
    data = plan_to_bytes(answer.plan)
    page = map_page(answer.plan, answer.site, answer.rulebook).encode("utf-8")
    paths = (folder / "plan.json", folder / "map.html")
    before = paths[0].read_bytes() if paths[0].is_file() else None
    write_whole(paths[0], data)
    try:
        write_whole(paths[1], page)
    except InputError:
        if before is None:
            paths[0].unlink()
        else:
            write_whole(paths[0], before)
        raise
    return paths


def default_folder(answer: Answer, request: PlanRequest) -> Path:
    """Give ``maps/<site>-<machine>-<to>``."""
    site = request.site.stem if request.site.stem != "site" else request.site.resolve().parent.name
    return Path("maps") / "-".join(_safe(part) for part in (site, request.machine.stem, request.to_place))


def _safe(text: str) -> str:
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in text) or "_"


def exit_code(plan: TravelPlan) -> int:
    """Give the exit code: 0 yes and nothing open, 3 yes with something open, 1 an answered no."""
    if plan.outcome == "no_way" or plan.verdict == "blocked":
        return 1
    routine = {"pre_travel", "weather", "hours"}
    if plan.verdict != "clear" or any(c.kind not in routine for c in plan.conditions):
        return 3
    return 0
