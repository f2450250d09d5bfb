"""A trailer brings the machine: the combination's way in, the place, the machine's ways, loading, the way off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from travel.checks import Case, make_body, make_configurations
from travel.checks.haul import HaulCase, Rig, haul_body, haul_machine, make_rig
from travel.checks.ramp_case import RampCase
from travel.checks.unloading_ground import Ground, grounds_of
from travel.domain.machine import Machine
from travel.domain.ramp import RampRequest
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.request_file import RampTable
from travel.domain.rules import Rulebook
from travel.domain.site import Weather
from travel.domain.trailer import Trailer
from travel.errors import Fault, InputError
from travel.planning import Prepared, Trip, TripRequest, out_and_back, prepare, search, solve
from travel.planning.haul import ANY, Haul, empty_answers
from travel.planning.haul_judge import (
    Candidate,
    End,
    HaulSheets,
    Move,
    heading_in,
    heading_out,
    judge_candidate,
    same_way,
)
from travel.readers.sheets import read_trailer
from travel.service.cases import Sheets, accepted_ids, make_case, merged_weather, trip_case
from travel.service.workspace import Progress, Workspace


def with_trailer(request: PlanRequest, sheets: Sheets, rulebook: Rulebook) -> Sheets:
    """Give the sheets with the trailer's that the request names.

    Raises:
        InputError: every fault of the trailer's sheet
    """
    if sheets.trailer is not None:
        return sheets
    assert request.trailer is not None
    trailer, doubts, record = read_trailer(request.trailer, rulebook.vocabulary)
    return replace(sheets, trailer=trailer, inputs=(*sheets.inputs, record), doubts=(*sheets.doubts, *doubts))


def trailer_json(request: PlanRequest) -> dict[str, Any]:
    """Give what a request says about its trailer."""
    assert request.trailer is not None
    ramp = None if request.ramp is None else request.ramp.model_dump(mode="json")
    return {"trailer": request.trailer.name, "unload": request.unload or ANY, "ramp": ramp}


def haul_request(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a plan's request said about a trailer, as arguments of a request."""
    if asked.get("trailer") is None:
        return {}
    ramp = asked.get("ramp")
    return {
        "trailer": Path(str(asked["trailer"])),
        "unload": asked.get("unload"),
        "ramp": None if ramp is None else RampTable.model_validate(ramp),
    }


def haul_case(request: PlanRequest, workspace: Workspace, sheets: Sheets, trip: str, horizon_s: float) -> HaulCase:
    """Give the case of the combination's trip: in laden, away laden where the machine goes back with it."""
    laden = trip == "arrive" or request.with_return
    return _case(request, workspace, sheets, trip, laden, horizon_s)


def any_case(request: PlanRequest, workspace: Workspace, sheets: Sheets, trip: str, horizon_s: float) -> Case:
    """Give the case of any trip of a request: arrive and leave are the combination's."""
    if trip in ("arrive", "leave"):
        return haul_case(request, workspace, sheets, trip, horizon_s)
    return trip_case(request, workspace, sheets, trip, horizon_s)


def _case(
    request: PlanRequest, workspace: Workspace, sheets: Sheets, trip: str, laden: bool, horizon_s: float
) -> HaulCase:
    rig, machine = _rig(sheets, workspace.rulebook, laden)
    away = trip == "leave" and request.with_return
    conditions = (request.back or TripConditions()) if away else TripConditions(at=request.at, weather=request.weather)
    weather = merged_weather(conditions.weather, request.weather if away else Weather(), workspace.site.header.weather)
    plain = make_case(
        workspace, sheets.machine, None, trip=trip, weather=weather, at=conditions.at, horizon_s=horizon_s
    )
    return HaulCase(
        trip=trip,
        machine=machine,
        body=haul_body(rig),
        load=None,
        rulebook=plain.rulebook,
        survey=plain.survey,
        configurations=make_configurations(machine),
        weather=weather,
        at=plain.at,
        until=plain.until,
        today=plain.today,
        times=request.times,
        delivered=True,
        rig=rig,
        laden=laden,
    )


def _rig(sheets: Sheets, rulebook: Rulebook, laden: bool) -> tuple[Rig, Machine]:
    case = _level(_trailer(sheets), sheets.machine, rulebook)
    rig = make_rig(case, laden)
    return rig, haul_machine(case, rig)


def _trailer(sheets: Sheets) -> Trailer:
    assert sheets.trailer is not None
    return sheets.trailer


def _level(trailer: Trailer, machine: Machine, rulebook: Rulebook) -> RampCase:
    body = make_body(machine, None)
    assert body is not None  # the reader insists on a stowed attitude
    return RampCase(machine=machine, body=body, trailer=trailer, request=RampRequest(), rulebook=rulebook)


def solve_haul(
    request: PlanRequest, workspace: Workspace, sheets: Sheets, horizon_s: float, tell: Progress
) -> tuple[list[Trip], Haul]:
    """Solve arrive, out, back and leave, and judge the place, with hours looked at over one span of time.

    Raises:
        InputError: the site has no place to unload at, or not the one that was asked for
    """
    return _Solver(request, workspace, sheets, horizon_s, tell).solved()


class _Solver:
    """One plan with a trailer, for one span of time."""

    def __init__(
        self, request: PlanRequest, workspace: Workspace, sheets: Sheets, horizon_s: float, tell: Progress
    ) -> None:
        self.request, self.workspace, self.sheets = request, workspace, sheets
        self.horizon_s, self.tell = horizon_s, tell
        self.accepted = accepted_ids(request)
        self.nodes = workspace.survey.network.place_node
        level = _level(_trailer(sheets), sheets.machine, workspace.rulebook)
        self.haul_sheets = HaulSheets(
            machine=sheets.machine,
            body=level.body,
            trailer=level.trailer,
            rulebook=workspace.rulebook,
            ramp=request.ramp or RampTable(),
        )

    def solved(self) -> tuple[list[Trip], Haul]:
        """Give the trips as far as they go, and what the trailer adds."""
        grounds, wanted = self._grounds()
        case = haul_case(self.request, self.workspace, self.sheets, "arrive", self.horizon_s)
        ready = prepare(case, self.accepted, self.request.aim, self._share("checking the way in", 0.15))
        cases = self._cases(case)
        candidates = tuple(self._judged(ground, ready, cases) for ground in grounds)
        allowed = [one for one in candidates if wanted in (ANY, one.ground.place, one.ground.area)]
        chosen = min(allowed, key=lambda candidate: candidate.rank)
        assert chosen.arrive is not None  # one with a place of the roads comes before those without
        trips = [chosen.arrive]
        if chosen.arrive.way is not None and not self._barred(chosen):
            trips += self._machine_trips(chosen)
            facing = self._facing(chosen, trips)
            if facing != {move: asked.facts.case.request.first for move, asked in chosen.moves.items()}:
                turned = judge_candidate(chosen.ground, chosen.arrive, self.haul_sheets, cases, facing)
                candidates = tuple(turned if one is chosen else one for one in candidates)
                chosen = turned
            if self._barred(chosen):
                trips = trips[:1]
            elif all(trip.way is not None for trip in trips):
                trips.append(self._leave(chosen))
        return trips, self._haul(candidates, chosen, wanted, trips)

    def _grounds(self) -> tuple[tuple[Ground, ...], str]:
        """Give every candidate, and the one that was asked for."""
        grounds, ramp = grounds_of(self.workspace.survey), self.haul_sheets.ramp
        named = {name for name in (self.request.unload, ramp.place) if name not in (None, ANY)}
        known = [name for ground in grounds for name in (ground.place, ground.area) if name]
        faults = [
            Fault(
                file="request", field="unload", value=name, message="is no place to unload at", allowed=", ".join(known)
            )
            for name in sorted(str(name) for name in named)
            if name not in known
        ]
        if len(named) > 1:
            both = " and ".join(sorted(str(name) for name in named))
            faults.append(Fault(file="request", field="unload", value=both, message="are two places", allowed="one"))
        wanted = [g for g in grounds if not named or g.place in named or g.area in named]
        if not faults and not any(ground.place for ground in wanted):
            message = "the site has no place of kind unloading, and no area of use unloading with a place in it"
            faults.append(Fault(file="request", field="unload", value=self.request.unload or ANY, message=message))
        if faults:
            raise InputError(faults)
        if (ramp.ground_slope_pct, ramp.ground_cross_slope_pct) != (None, None) and ramp.place is None:
            message = "says how one place slopes: name it"
            raise InputError([Fault(file="request", layer="ramp", field="place", message=message)])
        return grounds, next(iter(named), ANY) or ANY

    def _cases(self, arrive: HaulCase) -> dict[Move, Case]:
        """Give the combination's trip by move: it comes before unloading, and leaves after loading."""
        out: dict[Move, Case] = {"unload": arrive}
        if self.request.with_return:
            out["load"] = haul_case(self.request, self.workspace, self.sheets, "leave", self.horizon_s)
        return out

    def _judged(self, ground: Ground, ready: Prepared, cases: dict[Move, Case]) -> Candidate:
        arrive = None
        if ground.place is not None:
            arrive = search(ready, self._between(self.request.from_place, ground.place))
        return judge_candidate(ground, arrive, self.haul_sheets, cases, self._firsts({}))

    def _firsts(self, facing: dict[Move, End]) -> dict[Move, End]:
        """Give which end goes first: as asked; else as the machine stands; else in over its nose, out over its tail."""
        ramp = self.haul_sheets.ramp
        usual: dict[Move, End] = {"unload": "tail", "load": "nose"} if self.request.with_return else {"unload": "tail"}
        out = {move: facing.get(move, end) for move, end in usual.items()}
        if ramp.first is not None:
            out |= {move: ramp.first for move in out if ramp.move in (None, move)}
        return out

    def _facing(self, chosen: Candidate, trips: list[Trip]) -> dict[Move, End]:
        """Give the ends by how the machine drives off and comes back: facing the way the rig does, or not."""
        rig, found = heading_in(chosen.arrive), {}
        ahead = chosen.standing.ahead  # off forward over the trailer's front: what faces the rig's way is the other end
        out = next((trip for trip in trips if trip.case.trip == "out"), None)
        back = next((trip for trip in trips if trip.case.trip == "back"), None)
        if out is not None and out.way is not None:
            found["unload"] = "tail" if same_way(heading_out(out), rig) != ahead else "nose"
        if back is not None and back.way is not None:
            found["load"] = "nose" if same_way(heading_in(back), rig) != ahead else "tail"
        return self._firsts(found)  # type: ignore[arg-type]

    @staticmethod
    def _barred(candidate: Candidate) -> bool:
        return candidate.at_place.word == "blocked"

    def _between(self, start: str, goal: str, came: Any = None) -> TripRequest:
        return TripRequest(
            start=self.nodes[start],
            goal=self.nodes[goal],
            from_place=start,
            to_place=goal,
            came=came,
            accepted=self.accepted,
            aim=self.request.aim,
        )

    def _machine_trips(self, chosen: Candidate) -> list[Trip]:
        place, to_place = str(chosen.ground.place), self.request.to_place
        trips = []
        case = trip_case(self.request, self.workspace, self.sheets, "out", self.horizon_s)
        trips.append(solve(case, self._between(place, to_place), self._share("checking the way out", 0.35)))
        if self.request.with_return and trips[0].way is not None:
            case = trip_case(self.request, self.workspace, self.sheets, "back", self.horizon_s)
            came = trips[0].way.steps[-1] if trips[0].way.steps else None
            between = self._between(to_place, place, came)
            back = solve(case, between, self._share("checking the way back", 0.55))
            trips = list(out_and_back(trips[0], back))
        return trips

    def _leave(self, chosen: Candidate) -> Trip:
        case = haul_case(self.request, self.workspace, self.sheets, "leave", self.horizon_s)
        way = chosen.arrive.way if chosen.arrive else None
        came = way.steps[-1] if way and way.steps else None
        between = self._between(str(chosen.ground.place), self.request.from_place, came)
        return solve(case, between, self._share("checking the way off the site", 0.75))

    def _share(self, what: str, base: float) -> Any:
        return lambda share: self.tell(what, base + 0.15 * share)

    def _haul(self, candidates: tuple[Candidate, ...], chosen: Candidate, asked_for: str, trips: list[Trip]) -> Haul:
        reasons = {item.id: item.reason for item in self.request.accept_unknown}
        rigs = tuple(_rig(self.sheets, self.workspace.rulebook, laden)[0] for laden in (True, False))
        haul = Haul(
            sheets=self.haul_sheets,
            candidates=candidates,
            chosen=chosen,
            asked_for=asked_for,
            rigs=(rigs[0], rigs[1]),
            accepted=reasons,
        )
        worst: dict[str, Any] = {}
        found: list[Any] = []
        for trip in trips:
            if isinstance(trip.case, HaulCase) and trip.case.laden and self.request.with_return:
                name = trip.case.trip
                hollow = _case(self.request, self.workspace, self.sheets, name, False, self.horizon_s)
                worst[name], extra = empty_answers(trip, hollow, reasons)
                found += extra
        return replace(haul, empty=worst, empty_findings=tuple(found))
