"""A plan's verdict in other weather: which ground state, wind or hour fails first, and by which rule."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from travel.domain.plan import TravelPlan
from travel.domain.site import Weather
from travel.errors import Fault, InputError
from travel.service.again import Now, request_again
from travel.service.cases import merged_weather
from travel.service.formulas import read_plan
from travel.service.hours import hour_rows, hours_text, starts_of
from travel.service.plan import make_plan
from travel.service.weather_rows import WeatherRow, broken, row_of
from travel.service.workspace import Workspace
from travel.writers.numbers import quantity

Tell = Callable[[str, float], None]
TEMPERATURES_C = (-10.0, 0.0, 10.0, 30.0)
WINDS_MPS = (0.0, 5.0, 10.0, 15.0, 20.0)
HOURS_WEIGHT = 5
"""How much of the work the hours of a day are, in plans."""


def weather_window(
    plan_file: Path, now: Now, tell: Tell | None = None, on: dt.date | None = None
) -> tuple[TravelPlan, tuple[WeatherRow, ...]]:
    """Plan again in each state of the ground, each temperature, each wind and at each hour, one changed at a time.

    All else is as the plan was asked: its changes of the site, what was accepted, loads, trailer. The hours come last
    and carry their ``starts``.

    Args:
        plan_file: the plan
        now: the files it was made from
        tell: called with what is being done and the share done
        on: the day whose hours are asked about; None: that of the plan, and no hours where it states none

    Raises:
        InputError: files that are not those of the plan, and every fault of them
    """
    plan = read_plan(plan_file)
    _sheets_fit(plan, now)
    request = request_again(plan, now)
    workspace = Workspace(path=now.site, rulebooks=now.rulebooks, amendments=request.amendments)
    own, on_the_way_back = Weather(**plan.weather), _back(plan)
    cases: list[dict[str, Any]] = [{"ground": g} for g in workspace.rulebook.vocabulary.words("ground")]
    cases += [{"temperature_c": t} for t in TEMPERATURES_C] + [{"wind_mps": w} for w in WINDS_MPS]
    starts = starts_of(request, on, ZoneInfo(workspace.site.header.timezone))
    tell, rows = tell or (lambda what, share: None), []
    weight = len(cases) / (len(cases) + HOURS_WEIGHT) if starts else 1.0
    for number, changed in enumerate(cases):
        weather = own.model_copy(update=changed)
        tell(f"planning in other weather: {_words(weather)}", weight * number / len(cases))
        back = request.back and replace(request.back, weather=on_the_way_back.model_copy(update=changed))
        answer = make_plan(replace(request, weather=weather, back=back), workspace, remedies="none", outlook=False)
        if number == 0:
            _same_inputs(plan, answer.plan)
        rows.append(row_of(weather, answer.plan, plan, changed=next(iter(changed))))
    rows += hour_rows(request, workspace, plan, starts, lambda what, share: tell(what, weight + (1.0 - weight) * share))
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


def weather_text(plan: TravelPlan, rows: tuple[WeatherRow, ...], as_json: bool) -> str:
    """Give the tables, weather and hours, and what fails first."""
    if as_json:
        return json.dumps([asdict(row) for row in rows], indent=2, ensure_ascii=False)
    own, weathers = Weather(**plan.weather), [row for row in rows if not row.starts]
    back = f"; back for {_words(_back(plan))}" if _back(plan) != own else ""
    lines = [broken(f"Plan {plan.plan_id} in other weather (planned for {_words(own)}{back})"), ""]
    if back:
        lines += [broken("Each row sets one of the three, there and back; all else on the way back is as planned."), ""]
    names = [_words(_weather(row)) for row in weathers]
    wide = max(len(name) for name in names)
    for name, row in zip(names, weathers, strict=True):
        mark = row.mark(_planned(row, plan), plan.outcome == "way")
        lines.append(broken(row.said, f"  {name:<{wide}}  {row.verdict:<7}  {mark:<11}  "))
    unsure = [row for row in weathers if not row.fails and row.verdict == "unknown"]
    lines += ["", broken(f"Fails in: {_each([row for row in weathers if row.fails], plan)}")]
    lines += [broken(f"Not known in: {_each(unsure, plan)}")] if unsure else []
    lines += ["", *hours_text(plan, [row for row in rows if row.starts])]
    return "\n".join(lines)


def _back(plan: TravelPlan) -> Weather:
    """Give the weather the way back was planned for: what was said of it, else that of the way out."""
    return merged_weather(Weather(**(plan.request.get("back") or {}).get("weather", {})), Weather(**plan.weather))


def _planned(row: WeatherRow, plan: TravelPlan) -> bool:
    """Tell whether this is the weather planned for, there and back."""
    own, back = Weather(**plan.weather), _back(plan)
    return _weather(row) == own and getattr(back, row.changed, None) == getattr(own, row.changed, None)


def _weather(row: WeatherRow) -> Weather:
    return Weather(ground=row.ground, temperature_c=row.temperature_c, wind_mps=row.wind_mps)


def _each(rows: list[WeatherRow], plan: TravelPlan) -> str:
    return "; ".join(f"{_changed(row, plan)} ({row.because})" for row in rows) or "none of these"


def _words(weather: Weather) -> str:
    words = [weather.ground or "ground not stated"]
    words += [quantity(weather.temperature_c, "°C")] if weather.temperature_c is not None else []
    words += [f"wind {weather.wind_mps:g} m/s"] if weather.wind_mps is not None else []
    return ", ".join(words)


def _changed(row: WeatherRow, plan: TravelPlan) -> str:
    if _planned(row, plan):
        return "as planned"
    if row.changed == "ground":
        return f"ground {row.ground}"
    return quantity(row.temperature_c, "°C") if row.changed == "temperature_c" else f"wind {row.wind_mps:g} m/s"
