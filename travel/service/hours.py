"""A plan's question asked at every hour of a day: hours the rules cannot tell apart are solved once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from travel.checks.hours import clock
from travel.domain.plan import TravelPlan
from travel.domain.request import PlanRequest
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.errors import Fault, InputError
from travel.service.cases import Sheets, read_sheets, trip_case
from travel.service.plan import YEARS, Kept, Solved, composed, settled, solve_for
from travel.service.weather_rows import WeatherRow, broken, row_of
from travel.service.workspace import Workspace
from travel.writers.numbers import duration

Tell = Callable[[str, float], None]
HOUR = dt.timedelta(hours=1)
LONGEST_DAY = 26
"""Hours looked through on either side: a day with its clock put back has 25."""


def day_of(text: str) -> dt.date:
    """Give the day named on the command line.

    Raises:
        InputError: it is none
    """
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.year not in YEARS:
        message, allowed = "is not a day", f"as in 2026-11-26, from {YEARS.start} to {YEARS.stop - 1}"
        raise InputError([Fault(file="command", field="--on", value=text, message=message, allowed=allowed)])
    return day


def starts_of(request: PlanRequest, on: dt.date | None, zone: ZoneInfo) -> tuple[dt.datetime, ...]:
    """Give the hours asked about, in the site's time: those of one day at the minute of the plan's own start.

    A plan that states an hour for its way back alone is moved by that. Hours are counted as they pass: a day on which
    the clock is changed has 23 or 25.

    Args:
        request: the plan's question
        on: the day; None: that of the plan's own hour, and none where it states no hour
        zone: the site's
    """
    own = _own_hour(request)
    if own is None and on is None:
        return ()
    local = None if own is None else own.astimezone(zone)
    day = on or (local.date() if local else None)
    if local is None or local.date() != day:
        assert day is not None
        local = dt.datetime.combine(day, local.time() if local else dt.time(), tzinfo=zone)
    middle = local.astimezone(dt.UTC)
    all_hours = ((middle + HOUR * number).astimezone(zone) for number in range(-LONGEST_DAY, LONGEST_DAY + 1))
    return tuple(hour for hour in all_hours if hour.date() == day)


def _own_hour(request: PlanRequest) -> dt.datetime | None:
    return request.at or (request.back.at if request.back else None)


def moved(request: PlanRequest, start: dt.datetime) -> PlanRequest:
    """Give the request begun at another hour; a way back with an hour of its own moves by as much."""
    own = _own_hour(request)
    if own is None:
        return replace(request, at=_after(start, dt.timedelta()))
    shift = start.astimezone(dt.UTC) - own.astimezone(dt.UTC)
    at = None if request.at is None else _after(request.at, shift)
    back = request.back
    if back is not None and back.at is not None:
        back = replace(back, at=_after(back.at, shift))
    return replace(request, at=at, back=back)


def _after(moment: dt.datetime, shift: dt.timedelta) -> dt.datetime:
    """Give a moment so much later as time passes, in UTC: within one zone times are added by the clock."""
    return moment.astimezone(dt.UTC) + shift


def hour_rows(
    request: PlanRequest, workspace: Workspace, plan: TravelPlan, starts: Sequence[dt.datetime], tell: Tell
) -> Iterator[WeatherRow]:
    """Give the answer at each of some hours, consecutive ones that say the same as one row.

    Args:
        request: the plan's question
        workspace: its site
        plan: the plan, for which way is its own
        starts: the hours
        tell: called with what is being done and the share of the hours done
    """
    hours, weather = _Hours(request, workspace), Weather(**plan.weather)
    last: WeatherRow | None = None
    for number, start in enumerate(starts):
        tell(f"planning at other hours: {start:%H:%M}", number / len(starts))
        row = row_of(weather, hours.plan_at(moved(request, start)), plan, (start.isoformat(),))
        if last is not None and _said(row) == _said(last):
            last = replace(last, starts=(*last.starts, *row.starts))
            continue
        if last is not None:
            yield last
        last = row
    if last is not None:
        yield last


def _said(row: WeatherRow) -> WeatherRow:
    return replace(row, starts=(), time_s=None if row.time_s is None else round(row.time_s))


class _Hours:
    """One question at many hours; what the rules cannot tell apart is taken over whole."""

    def __init__(self, request: PlanRequest, workspace: Workspace) -> None:
        self._workspace, self._sheets = workspace, _sheets(request, workspace)
        self._case = trip_case(request, workspace, self._sheets, "out", 0.0)
        self._solved: dict[tuple[object, ...], Solved] = {}
        self._trips: Kept = {}
        self._plans: dict[int, TravelPlan] = {}

    def plan_at(self, request: PlanRequest) -> TravelPlan:
        """Give the plan for a request that differs from the first by its hours alone, but for its texts about them."""
        solved = settled(request, lambda horizon: self._solve(request, horizon))
        key = id(solved)  # kept above, so that no other has its number
        if key not in self._plans:
            self._plans[key] = composed(request, self._workspace, self._sheets, solved)
        return self._plans[key]

    def _solve(self, request: PlanRequest, horizon_s: float) -> Solved:
        """Solve for one span, or take over where every trip's clock says the same."""
        key = tuple(self._clock(at, horizon_s) for at in (request.at, request.back.at if request.back else None))
        if key not in self._solved:
            self._solved[key] = solve_for(request, self._workspace, self._sheets, horizon_s, _untold, self._trips)
        return self._solved[key]

    def _clock(self, at: dt.datetime | None, horizon_s: float) -> tuple[object, ...]:
        until = None if at is None else at + dt.timedelta(seconds=horizon_s)
        return clock(replace(self._case, at=at, until=until))


def _untold(what: str, share: float) -> None:
    """The hours tell how far they are by the hour."""


def _sheets(request: PlanRequest, workspace: Workspace) -> Sheets:
    sheets = read_sheets(request.machine, request.load, request.back.load if request.back else None)
    if request.trailer is None:
        return sheets
    from travel.service.haul import with_trailer

    return with_trailer(request, sheets, workspace.rulebook)


# --- in words -------------------------------------------------------------------------------------------------------


def hours_text(plan: TravelPlan, rows: Sequence[WeatherRow]) -> list[str]:
    """Give the table of the hours and what fails first before and after the plan's own.

    Args:
        plan: the plan
        rows: those with hours, in order
    """
    hours = [(dt.datetime.fromisoformat(text), row) for row in rows for text in row.starts]
    if not hours:
        said = "The plan states no hour: every closure and all hours were taken to hold, and it was taken to be dark."
        return [broken(f"{said} For the hours of one day give it, as in --on {plan.created_at[:10]}.")]
    day, label = hours[0][0], _labels([hour for hour, _ in hours])
    own = next((number for number, (hour, _) in enumerate(hours) if hour == _planned(plan)), None)
    zone, names = plan.site["timezone"], [_span(row.starts, label) for row in rows]
    lines = [broken(f"At other hours of {day:%A} {day:%Y-%m-%d} ({zone}), weather as planned"), ""]
    wide = max(len(name) for name in names)
    for name, row in zip(names, rows, strict=True):
        mark = row.mark(own is not None and hours[own][1] is row, plan.outcome == "way")
        time = duration(row.time_s) if row.time_s is not None else "–"
        lines.append(broken(row.said, f"  {name:<{wide}}  {row.verdict:<7}  {mark:<11}  {time:<12}  "))
    unsure = [row for row in rows if not row.fails and row.verdict == "unknown"]
    said_below = [f"Fails at: {_each([row for row in rows if row.fails], label) or 'none of these'}"]
    said_below += [f"Not known at: {_each(unsure, label)}"] if unsure else []
    said_below += _first(hours, own, label) if own is not None else []
    return [*lines, "", *(broken(text) for text in (*said_below, *_hourless(plan)))]


def _planned(plan: TravelPlan) -> dt.datetime | None:
    text = plan.request.get("at") or (plan.request.get("back") or {}).get("at")
    return dt.datetime.fromisoformat(text) if text else None


def _labels(hours: Sequence[dt.datetime]) -> Callable[[dt.datetime], str]:
    """Give how hours are written: with their offset on a day on which that changes."""
    both = len({hour.utcoffset() for hour in hours}) > 1
    return lambda hour: f"{hour:%H:%M}{hour.isoformat()[-6:] if both else ''}"


def _span(starts: Sequence[str], label: Callable[[dt.datetime], str]) -> str:
    first, last = (label(dt.datetime.fromisoformat(starts[end])) for end in (0, -1))
    return first if first == last else f"{first}–{last}"


def _each(rows: Sequence[WeatherRow], label: Callable[[dt.datetime], str]) -> str:
    """Give when and why; hours that follow each other with the same reason are one."""
    runs: list[tuple[str, list[str]]] = []
    for row in rows:
        follows = runs and runs[-1][0] == row.said and _next(runs[-1][1][-1], row.starts[0])
        if not follows:
            runs.append((row.said, []))
        runs[-1][1].extend(row.starts)
    return "; ".join(f"{_span(starts, label)} ({said})" for said, starts in runs)


def _next(one: str, other: str) -> bool:
    return dt.datetime.fromisoformat(other) - dt.datetime.fromisoformat(one) == HOUR


def _first(
    hours: Sequence[tuple[dt.datetime, WeatherRow]], own: int, label: Callable[[dt.datetime], str]
) -> Iterator[str]:
    """Say which hour fails first before and after the plan's own, and which first asks more without failing.

    Where the plan's own fails, say which does not.
    """
    at, planned = label(hours[own][0]), hours[own][1]

    def nearest(wanted: Callable[[WeatherRow], bool]) -> str:
        found = [
            next((f"{label(hour)} ({row.verdict}: {row.said})" for hour, row in side if wanted(row)), "none")
            for side in (hours[:own][::-1], hours[own + 1 :])
        ]
        return "" if found == ["none", "none"] else f"{at}: {found[0]}; after: {found[1]}"

    if planned.fails:
        yield f"Nearest that does not fail, before {nearest(lambda row: not row.fails) or f'or after {at}: none'}"
        return
    fails = nearest(lambda row: row.fails)
    more = nearest(lambda row: not row.fails and (_rank(row) > _rank(planned) or bool(row.more)))
    yield from (f"Fails first before {fails}",) if fails else ()
    yield from (f"Asks more first before {more}",) if more else ()


def _rank(row: WeatherRow) -> int:
    return int(Verdict[row.verdict.upper()])


def _hourless(plan: TravelPlan) -> Iterator[str]:
    """Say which way is judged at any hour in every row."""
    asked, back = plan.request, plan.request.get("back") or {}
    way = (
        "out"
        if asked.get("at") is None and back.get("at")
        else "back"
        if asked["return"] and not back.get("at")
        else ""
    )
    if way:
        yield (
            f"The way {way} states no hour: in every row all closures and hours are taken to hold on it, "
            "and it is taken to be dark."
        )
