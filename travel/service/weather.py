"""A plan's verdict in other weather: which ground state, wind or hour fails first, and by which rule."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from travel.domain.plan import TravelPlan
from travel.domain.site import Weather
from travel.errors import Fault, InputError
from travel.planning.tightest import tightest
from travel.service.again import Now, request_again
from travel.service.formulas import read_plan
from travel.service.plan import make_plan
from travel.service.workspace import Workspace
from travel.writers.numbers import quantity

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


def weather_window(plan_file: Path, now: Now, tell: Tell | None = None) -> tuple[TravelPlan, tuple[WeatherRow, ...]]:
    """Plan again in each state of the ground, each temperature and each wind, one changed at a time.

    All else is as the plan was asked: its changes of the site, what was accepted, hours, loads, trailer.

    Raises:
        InputError: files that are not those of the plan, and every fault of them
    """
    plan = read_plan(plan_file)
    _sheets_fit(plan, now)
    request = request_again(plan, now)
    workspace = Workspace(path=now.site, rulebooks=now.rulebooks, amendments=request.amendments)
    own = Weather(**plan.weather)
    cases = [own.model_copy(update={"ground": g}) for g in workspace.rulebook.vocabulary.words("ground")]
    cases += [own.model_copy(update={"temperature_c": t}) for t in TEMPERATURES_C]
    cases += [own.model_copy(update={"wind_mps": w}) for w in WINDS_MPS]
    rows = []
    for number, weather in enumerate(cases):
        if tell:
            tell(f"planning in other weather: {_words(weather)}", number / len(cases))
        back = request.back and replace(request.back, weather=weather)
        answer = make_plan(replace(request, weather=weather, back=back), workspace, remedies="none", outlook=False)
        if number == 0:
            _same_inputs(plan, answer.plan)
        rows.append(_row(weather, answer.plan, plan))
    return plan, tuple(rows)


def _sheets_fit(plan: TravelPlan, now: Now) -> None:
    """Refuse a load or trailer the plan has not, and one it has that was not given."""
    asked = plan.request
    pairs = (
        ("--load", asked.get("load"), now.load),
        ("--back-load", (asked.get("back") or {}).get("load"), now.back_load),
        ("--trailer", asked.get("trailer"), now.trailer),
    )
    faults = [
        Fault(
            file="command",
            field=option,
            value=str(given or ""),
            message="does not fit the plan",
            allowed=str(had or "none"),
        )
        for option, had, given in pairs
        if bool(had) != (given is not None)
    ]
    if faults:
        raise InputError(faults)


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
    unsure = [row for row in rows if row.outcome == "way" and row.verdict == "unknown"]
    lines += ["", f"Fails in: {_each(worse, own)}"]
    if unsure:
        lines.append(f"Not known in: {_each(unsure, own)}")
    return "\n".join(lines)


def _each(rows: list[WeatherRow], own: Weather) -> str:
    return "; ".join(f"{_changed(row, own)} ({f'{row.binding} {row.at}'.strip()})" for row in rows) or "none of these"


def _words(weather: Weather) -> str:
    words = [weather.ground or "ground not stated"]
    words += [quantity(weather.temperature_c, "°C")] if weather.temperature_c is not None else []
    words += [f"wind {weather.wind_mps:g} m/s"] if weather.wind_mps is not None else []
    return ", ".join(words)


def _changed(row: WeatherRow, own: Weather) -> str:
    if row.ground != own.ground:
        return f"ground {row.ground}"
    if row.temperature_c != own.temperature_c:
        return quantity(row.temperature_c, "°C")
    return f"wind {row.wind_mps:g} m/s"
