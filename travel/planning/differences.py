"""What differs between two sets of rows relied on, and between two plans."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from travel.domain.changes import Change, Comparison, FieldChange, FindingChange
from travel.domain.plan import Condition, Finding, ReliedOn, TravelPlan
from travel.planning.relied import MM, fingerprint

SAME_M = 2 * 10**-MM
"""Coordinates nearer than this are the same: each is kept to 1 mm."""
DIGITS = 5
"""Judged numbers are the same to this many digits; they are written to six."""
_JUDGED = ("demand", "capacity", "margin", "tolerance")
AGE = "survey-age"
SAME_DEG = 1e-6
"""Longitudes and latitudes nearer than this, about a decimetre, are the same; they are written to seven decimals."""
_PLACES = ("lonlat",)


def relied_changes(old: Sequence[ReliedOn], new: Sequence[ReliedOn]) -> tuple[Change, ...]:
    """Give every row that is new, gone or differs, field by field."""
    was = {(row.layer, row.feature): row for row in old}
    now = {(row.layer, row.feature): row for row in new}
    out = [
        Change(layer=layer, feature=feature, kind="gone", fields=_all(row.values, gone=True))
        for (layer, feature), row in was.items()
        if (layer, feature) not in now
    ]
    for (layer, feature), row in now.items():
        before = was.get((layer, feature))
        if before is None:
            out.append(Change(layer=layer, feature=feature, kind="new", fields=_all(row.values, gone=False)))
            continue
        fields = tuple(field_changes(before.values, row.values))
        if fields:
            out.append(Change(layer=layer, feature=feature, kind="changed", fields=fields))
    return tuple(out)


def field_changes(old: Mapping[str, Any], new: Mapping[str, Any], before: str = "") -> Iterator[FieldChange]:
    """Give every value that differs, with its dotted name."""
    for key in dict.fromkeys([*old, *new]):
        a, b = old.get(key), new.get(key)
        if isinstance(a, Mapping) and isinstance(b, Mapping):
            yield from field_changes(a, b, f"{before}{key}.")
        elif a is not None and b is not None and _rows(a) and _rows(b) and len(a) == len(b):
            for number, (one, other) in enumerate(zip(a, b, strict=True), 1):
                yield from field_changes(one, other, f"{before}{key} {number}.")
        elif not (_near(a, b) if key in ("coordinates", "polygons") else a == b):
            yield FieldChange(field=f"{before}{key}", old=a, new=b)


def _rows(value: Any) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and all(isinstance(item, Mapping) for item in value)


def _near(a: Any, b: Any) -> bool:
    if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)):
        return len(a) == len(b) and all(_near(one, other) for one, other in zip(a, b, strict=True))
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return bool(abs(a - b) <= SAME_M)
    return bool(a == b)


def _all(values: Mapping[str, Any], gone: bool) -> tuple[FieldChange, ...]:
    return tuple(
        FieldChange(field=key, old=value if gone else None, new=None if gone else value)
        for key, value in values.items()
        if key != "id"
    )


def finding_changes(old: Sequence[Finding], new: Sequence[Finding]) -> tuple[FindingChange, ...]:
    """Give the findings that are new, gone, or judged by other numbers."""
    was, now = {f.id: f for f in old}, {f.id: f for f in new}
    out = [FindingChange(kind="gone", old=f, new=None) for name, f in was.items() if name not in now]
    for name, finding in now.items():
        before = was.get(name)
        if before is None:
            out.append(FindingChange(kind="new", old=None, new=finding))
        elif _judged(before) != _judged(finding):
            out.append(FindingChange(kind="changed", old=before, new=finding))
    return tuple(out)


def _judged(finding: Finding) -> tuple[Any, ...]:
    numbers = [getattr(finding, name) for name in _JUDGED]
    rounded = tuple(None if v is None else f"{v:.{DIGITS}g}" for v in numbers)
    return (finding.verdict, finding.reason, finding.missing, finding.control, bool(finding.accepted), rounded)


def compare_plans(old: TravelPlan, new: TravelPlan) -> Comparison:
    """Give what differs between two plans."""
    was, now = {_key(c): c for c in old.conditions}, {_key(c): c for c in new.conditions}
    return Comparison(
        same_way=_way(old) == _way(new),
        findings=finding_changes(old.findings, new.findings),
        new_conditions=tuple(c for key, c in now.items() if key not in was),
        gone_conditions=tuple(c for key, c in was.items() if key not in now),
        relied_on=relied_changes(old.relied_on, new.relied_on),
        request=tuple(field_changes(old.request, new.request)),
    )


def _key(condition: Condition) -> tuple[str, str]:
    return condition.kind, condition.id


def _way(plan: TravelPlan) -> list[tuple[str, ...]]:
    legs = [
        (leg.trip, leg.road, leg.direction, leg.travel, leg.range, leg.steering, leg.drive, leg.attitude)
        for leg in plan.legs
    ]
    return [leg for number, leg in enumerate(legs) if not number or leg != legs[number - 1]]


def told_otherwise(plan: TravelPlan, again: TravelPlan, compared: Comparison) -> tuple[str, ...]:
    """Name the parts of a plan that the same question, asked again on the same facts, answers otherwise.

    How old a survey is changes by the day; only its verdict counts. Left out is what also tells of places beside the
    way (other ways, points that strand the machine, doubts): what changes there voids nothing.
    """
    aged = [f for f in compared.findings if f.old and f.new and f.either.rule == AGE and f.old.verdict == f.new.verdict]
    parts = {
        "findings": len(aged) < len(compared.findings) or _differ(_findings(plan), _findings(again)),
        "conditions": _said(plan) != _said(again),
        "answer": (plan.outcome, plan.verdict) != (again.outcome, again.verdict) or _differ(plan.trips, again.trips),
        "way": not compared.same_way or _differ(_drawn(plan), _drawn(again)),
        "speeds": not _alike(_speeds(plan), _speeds(again)),
        "stops": _stops(plan) != _stops(again) or _differ(plan.stops, again.stops),
        "corners": _differ(plan.turns, again.turns),
        "hours": _differ((plan.departure, plan.latest_departure), (again.departure, again.latest_departure)),
        "when it was made": dt.datetime.fromisoformat(plan.created_at) > dt.datetime.fromisoformat(again.created_at),
        "profile": _differ(plan.profile, again.profile),
        "trailer and ramps": _differ(_rig(plan), _rig(again)),
        "what was checked": _differ(_checked(plan), _checked(again)),
        "cautions": plan.cautions != again.cautions,
        "rules and sources": _differ((plan.rules, plan.sources), (again.rules, again.sources)),
        "what it is about": _differ(_about(plan), _about(again))
        or plan.fingerprint != fingerprint(again.relied_on, plan.request),  # which names files as they were called
    }
    return tuple(name for name, differs in parts.items() if differs)


def _differ(old: Any, new: Any, place: bool = False) -> bool:
    """Tell whether two parts of plans differ by more than the digits they are written to."""
    if dataclasses.is_dataclass(old) and type(old) is type(new):
        names = [field.name for field in dataclasses.fields(old)]
        return any(_differ(getattr(old, n), getattr(new, n), n.endswith(_PLACES)) for n in names)
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        return old.keys() != new.keys() or any(_differ(old[key], new[key], key.endswith(_PLACES)) for key in old)
    if isinstance(old, (list, tuple)) and isinstance(new, (list, tuple)):
        return len(old) != len(new) or any(_differ(a, b, place) for a, b in zip(old, new, strict=True))
    if isinstance(old, (int, float)) and isinstance(new, (int, float)):
        return not math.isclose(old, new, rel_tol=0.0 if place else 10**-DIGITS, abs_tol=SAME_DEG)
    return bool(old != new)


def _findings(plan: TravelPlan) -> list[Any]:
    age = [(f.flag, f.id, f.trip, f.where, f.verdict, f.missing, f.acceptable) for f in plan.findings if f.rule == AGE]
    return [*age, *(f for f in plan.findings if f.rule != AGE)]


def _drawn(plan: TravelPlan) -> list[Any]:
    """Give the legs but for other configurations and what they say of speed, which is asked apart."""
    return [dataclasses.replace(leg, because=(), speeds=(), speed_kmh=None) for leg in plan.legs]


def _checked(plan: TravelPlan) -> list[Any]:
    return [dataclasses.replace(c, smallest_margin=None, at=None) if c.rule == AGE else c for c in plan.checked]


def _rig(plan: TravelPlan) -> tuple[Any, ...]:
    return plan.trailer, plan.unloading, plan.transport, plan.setup


def _about(plan: TravelPlan) -> tuple[Any, ...]:
    site = [plan.site.get(name) for name in ("name", "crs", "timezone", "jurisdiction", "height_datum", "changed_copy")]
    return plan.schema, site, plan.machine, plan.load, plan.weather


def _said(plan: TravelPlan) -> set[tuple[str, ...]]:
    return {(c.kind, c.id, c.text, c.owner, c.due, c.evidence, str(c.acceptable)) for c in plan.conditions}


def _speeds(plan: TravelPlan) -> list[float]:
    told = [(leg.from_m, leg.to_m, leg.speed_kmh, *(s.speed_kmh for s in leg.speeds)) for leg in plan.legs]
    return [-1.0 if value is None else value for leg in told for value in leg]


def _alike(old: Sequence[float], new: Sequence[float]) -> bool:
    return len(old) == len(new) and all(
        math.isclose(a, b, rel_tol=10**-DIGITS, abs_tol=SAME_M) for a, b in zip(old, new, strict=True)
    )


def _stops(plan: TravelPlan) -> list[tuple[Any, ...]]:
    return [(s.trip, s.place, s.road, s.kind, tuple((c.what, c.old, c.new) for c in s.changes)) for s in plan.stops]


def with_findings(
    changes: Sequence[Change], findings: Sequence[FindingChange]
) -> tuple[tuple[Change, ...], tuple[FindingChange, ...]]:
    """Deal the findings out to the changes they belong to; give the changes with theirs, and the findings left over."""
    left = list(findings)
    out = []
    for change in changes:
        own = [item for item in left if _belongs(item.either, change)]
        left = [item for item in left if item not in own]
        out.append(
            Change(
                layer=change.layer, feature=change.feature, kind=change.kind, fields=change.fields, findings=tuple(own)
            )
        )
    return tuple(out), tuple(left)


def _belongs(finding: Finding, change: Change) -> bool:
    if change.layer == "rulebook":
        return change.feature.partition(".")[0] == finding.rule
    if change.layer == "roads":
        return finding.where.feature is None and finding.where.road == change.feature
    return (finding.where.layer, finding.where.feature) == (change.layer, change.feature)
