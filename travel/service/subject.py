"""What the register is told of a plan, read from the plan file itself."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

from travel.domain.decision import OpenUnknown, ReleaseCondition, Subject
from travel.domain.field_words import field_words
from travel.domain.plan import Finding, ReliedOn, TravelPlan
from travel.domain.what_if import wished
from travel.planning.relied import SURVEYED
from travel.service.plan import HORIZON_FACTOR
from travel.writers.plan_json import plan_from_bytes

ROUTINE = ("pre_travel", "weather", "hours")
"""Conditions of every move, or of its day: the operator confirms them when he accepts."""
UNKNOWNS = ("unknown", "accepted_unknown")
INSPECTION = "edge-standoff.inspection_age"


def subject_of(data: bytes, name: str) -> tuple[Subject, TravelPlan]:
    """Give what a decision has to know of a plan file, and the plan.

    Raises:
        InputError: the file is no plan
    """
    plan = plan_from_bytes(data, name)
    begins, ends = hours_of(plan)
    survey_ends, first = survey_end(plan)
    asked = plan.request
    return Subject(
        digest=hashlib.sha256(data).hexdigest(),
        plan_id=plan.plan_id,
        fingerprint=plan.fingerprint,
        title=f"{plan.machine['name']} on {plan.site['name']}, {asked['from']} → {asked['to']}",
        site=str(plan.site["name"]),
        roads=tuple(dict.fromkeys(leg.road for leg in plan.legs)),
        outcome=plan.outcome,
        verdict=plan.verdict,
        begins=begins,
        ends=ends,
        survey_ends=survey_ends,
        survey_first=first,
        conditions=_conditions(plan),
        unknowns=tuple(_unknown(finding) for finding in plan.findings if finding.verdict == "unknown"),
        faults=_faults(plan),
    ), plan


def same_words(told: Subject, own: Subject) -> bool:
    """Tell whether what was submitted says what the plan file says, but for sentences this program words itself.

    Args:
        told: what the plan file says
        own: what was submitted; hours that end before those of the file bar sooner, so they may stand
    """
    if told.ends is not None and own.ends is not None and own.ends < told.ends:
        own = replace(own, ends=told.ends)
    unknowns = [[(item.id, item.acceptable) for item in each.unknowns] for each in (told, own)]
    faults = [bool(each.faults) for each in (told, own)]
    cores = [replace(each, unknowns=(), faults=()) for each in (told, own)]
    return all(one == other for one, other in (unknowns, faults, cores))


def survey_end(plan: TravelPlan) -> tuple[dt.datetime | None, str]:
    """Give when the first survey the plan relies on is too old, and which: the end of its last day on the site.

    Every layer that was looked at counts, also one with nothing near the way: that there is nothing is relied on too.
    """
    zone = ZoneInfo(str(plan.site["timezone"]))
    ends = {row.feature: _last_day(row.values) for row in plan.relied_on if row.layer == SURVEYED}
    known = {layer: day for layer, day in ends.items() if day is not None}
    if not known:
        return None, ""
    first = min(known, key=lambda layer: (known[layer], layer))
    return dt.datetime.combine(known[first] + dt.timedelta(days=1), dt.time(), tzinfo=zone), first


def values_end(plan: TravelPlan) -> tuple[dt.datetime | None, str]:
    """Give when the first dated value beside the way no longer holds, and of which feature: ground said to hold until
    a day, an edge that is to be inspected again. None where there is none; what was too old already is in the findings.
    """
    zone = ZoneInfo(str(plan.site["timezone"]))
    asked = _time(plan.request.get("at")) or dt.datetime.fromisoformat(plan.created_at)
    age = _inspection_days(plan)
    days = {f"{row.layer} {row.feature}": _holds_through(row, age) for row in plan.relied_on}
    held = {name: day for name, day in days.items() if day is not None and day >= asked.astimezone(zone).date()}
    if not held:
        return None, ""
    first = min(held, key=lambda name: (held[name], name))
    return dt.datetime.combine(held[first] + dt.timedelta(days=1), dt.time(), tzinfo=zone), first


def _inspection_days(plan: TravelPlan) -> float | None:
    rows = [row.values for row in plan.relied_on if row.feature == INSPECTION]
    return min((float(v) for values in rows for key, v in values.items() if key != "unit"), default=None)


def _holds_through(row: ReliedOn, inspection_days: float | None) -> dt.date | None:
    if row.layer == "ground" and row.values.get("valid_until"):
        return dt.date.fromisoformat(str(row.values["valid_until"]))
    if row.layer == "edges" and row.values.get("inspected_on") and inspection_days is not None:
        return dt.date.fromisoformat(str(row.values["inspected_on"])) + dt.timedelta(days=int(inspection_days))
    return None


def _last_day(values: Mapping[str, Any]) -> dt.date | None:
    looked, limit, until = values.get("date"), values.get("age_limit_d"), values.get("until")
    days = [dt.date.fromisoformat(str(until))] if until else []
    if looked and limit is not None:
        days.append(dt.date.fromisoformat(str(looked)) + dt.timedelta(days=int(limit)))
    return min(days, default=None)


def hours_of(plan: TravelPlan) -> tuple[dt.datetime | None, dt.datetime | None]:
    """Give the span of the hours planned for: half as long again as the trips take, from the hour asked for to the
    latest departure.
    """
    start, back = _time(plan.request.get("at")), _time((plan.request.get("back") or {}).get("at"))
    if start is None:
        return None, None
    slack = {trip.trip: dt.timedelta(seconds=HORIZON_FACTOR * trip.time_s) for trip in plan.trips}
    end = start + sum(slack.values(), dt.timedelta())
    if back is not None:
        end = max(end, back + slack.get("back", dt.timedelta()))
    departure = plan.departure or {}
    late = {"limited": departure.get("latest"), "not_limited": departure.get("looked_until")}
    latest = _time(late.get(str(departure.get("state"))))
    return min(start, back or start), end if latest is None else end + max(latest - start, dt.timedelta())


def _time(text: Any) -> dt.datetime | None:
    return dt.datetime.fromisoformat(str(text)) if text else None


def _conditions(plan: TravelPlan) -> tuple[ReleaseCondition, ...]:
    found = [c for c in plan.conditions if c.kind not in ROUTINE and c.kind not in UNKNOWNS]
    ids = [c.id for c in found]
    return tuple(
        ReleaseCondition(
            id=c.id if ids.count(c.id) == 1 else f"{c.kind}-{c.id}",
            text=c.text,
            owner=c.owner,
            due=c.due,
            evidence=c.evidence,
        )
        for c in found
    )


def _unknown(finding: Finding) -> OpenUnknown:
    lacking = ", ".join(field_words(name) or name for name in finding.missing) or finding.reason.replace("_", " ")
    return OpenUnknown(
        id=finding.id,
        text=f"{finding.rule}: not known ({lacking})",
        acceptable=finding.acceptable,
        reason=finding.accepted,
    )


def _faults(plan: TravelPlan) -> tuple[str, ...]:
    if wished(plan):
        return ("it was planned on a changed copy of the site: make the change, survey it, plan on what is there",)
    return ()
