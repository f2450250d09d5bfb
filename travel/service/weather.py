"""A plan's verdict in other weather: which ground state, wind or hour fails first, and by which rule."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from travel.domain.plan import TravelPlan
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.site import Weather
from travel.errors import Fault, InputError
from travel.planning.tightest import tightest
from travel.service.formulas import read_plan
from travel.service.plan import make_plan
from travel.service.workspace import Workspace

Tell = Callable[[str, float], None]
TEMPERATURES_C = (-10.0, 0.0, 10.0, 30.0)
WINDS_MPS = (0.0, 5.0, 10.0, 15.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherRow:
    """The answer in one other weather: outcome, verdict, whether the same roads are taken, the tightest finding."""

    ground: str | None
    temperature_c: float | None
    wind_mps: float | None
    outcome: str
    verdict: str
    same_way: bool
    binding: str
    at: str


def weather_window(
    plan_file: Path,
    site: Path,
    machine: Path,
    load: Path | None = None,
    rulebooks: tuple[Path, ...] = (),
    tell: Tell | None = None,
) -> tuple[TravelPlan, tuple[WeatherRow, ...]]:
    """Plan again in each state of the ground, each temperature and each wind, one changed at a time.

    Raises:
        InputError: files that are not those of the plan, and every fault of them
    """
    plan = read_plan(plan_file)
    workspace = Workspace(path=site, rulebooks=rulebooks)
    request = _request(plan, site, machine, load, rulebooks)
    own = Weather(**plan.weather)
    cases = [own.model_copy(update={"ground": g}) for g in workspace.rulebook.vocabulary.words("ground")]
    cases += [own.model_copy(update={"temperature_c": t}) for t in TEMPERATURES_C]
    cases += [own.model_copy(update={"wind_mps": w}) for w in WINDS_MPS]
    rows = []
    for number, weather in enumerate(cases):
        if tell:
            tell("planning in other weather", number / len(cases))
        back = request.back and replace(request.back, weather=weather)
        answer = make_plan(replace(request, weather=weather, back=back), workspace, remedies="none", outlook=False)
        if number == 0:
            _same_inputs(plan, answer.plan)
        rows.append(_row(weather, answer.plan, plan))
    return plan, tuple(rows)


def _request(
    plan: TravelPlan, site: Path, machine: Path, load: Path | None, rulebooks: tuple[Path, ...]
) -> PlanRequest:
    asked = plan.request
    if bool(asked.get("load")) != (load is not None):
        raise InputError(
            [
                Fault(
                    file="command",
                    field="--load",
                    value=str(load),
                    message="does not fit the plan",
                    allowed=str(asked.get("load") or "none"),
                )
            ]
        )
    back = TripConditions() if asked.get("back") else None
    return PlanRequest(
        site=site,
        machine=machine,
        from_place=str(asked["from"]),
        to_place=str(asked["to"]),
        load=load,
        with_return=bool(asked["return"]),
        aim=str(asked["aim"]),
        rulebooks=rulebooks,
        back=back,
    )


def _same_inputs(old: TravelPlan, new: TravelPlan) -> None:
    """Refuse files that are not those the plan was made from."""
    had = {(row["role"], row["sha256"]) for row in old.inputs}
    faults = [
        Fault(file=row["name"], field=row["role"], message="is not the file this plan was made from")
        for row in new.inputs
        if (row["role"], row["sha256"]) not in had
    ]
    if faults:
        raise InputError(faults)


def _row(weather: Weather, plan: TravelPlan, old: TravelPlan) -> WeatherRow:
    binding = tightest(list(plan.findings))
    where = " ".join(p for p in (binding.where.road, binding.where.feature) if p) if binding else ""
    same = [(leg.road, leg.direction) for leg in plan.legs] == [(leg.road, leg.direction) for leg in old.legs]
    return WeatherRow(
        **weather.model_dump(),
        outcome=plan.outcome,
        verdict=plan.verdict,
        same_way=same,
        binding=binding.rule if binding else "",
        at=where,
    )


def weather_text(plan: TravelPlan, rows: tuple[WeatherRow, ...], as_json: bool) -> str:
    """Give the table and what fails first."""
    if as_json:
        return json.dumps([asdict(row) for row in rows], indent=2, ensure_ascii=False)
    own = Weather(**plan.weather)
    lines = [f"Plan {plan.plan_id} in other weather (planned for {_words(own)})", ""]
    for row in rows:
        weather = Weather(ground=row.ground, temperature_c=row.temperature_c, wind_mps=row.wind_mps)
        mark = (
            "as planned"
            if weather == own
            else "same way"
            if row.same_way
            else "another way"
            if row.outcome == "way"
            else "no way"
        )
        lines.append(f"  {_words(weather):<40} {row.verdict:<8} {mark:<12} {row.binding} {row.at}".rstrip())
    worse = [row for row in rows if row.outcome == "no_way"]
    lines += [
        "",
        "Fails in: "
        + ("; ".join(f"{_changed(row, own)} ({row.binding} {row.at})" for row in worse) or "none of these"),
    ]
    return "\n".join(lines)


def _words(weather: Weather) -> str:
    words = [weather.ground or "ground not stated"]
    words += [f"{weather.temperature_c:g} °C"] if weather.temperature_c is not None else []
    words += [f"wind {weather.wind_mps:g} m/s"] if weather.wind_mps is not None else []
    return ", ".join(words)


def _changed(row: WeatherRow, own: Weather) -> str:
    if row.ground != own.ground:
        return f"ground {row.ground}"
    if row.temperature_c != own.temperature_c:
        return f"{row.temperature_c:g} °C"
    return f"wind {row.wind_mps:g} m/s"
