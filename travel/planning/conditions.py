"""What must be true or done before or during the move."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from types import MappingProxyType

from travel.domain.field_words import field_words
from travel.domain.plan import Condition, Finding
from travel.domain.request import PlanRequest
from travel.domain.rules import Rulebook
from travel.domain.site import Weather


def conditions_of(
    findings: tuple[Finding, ...],
    request: PlanRequest,
    rulebook: Rulebook,
    weather: Weather,
    attitudes: Collection[str],
    kept_apart: Mapping[str, str] = MappingProxyType({}),
) -> tuple[Condition, ...]:
    """Give the pre-travel list, each control with its flags, each unknown, weather, hours, loosened limits.

    Args:
        findings: what the controls and unknowns belong to
        request, rulebook, weather: the question
        attitudes: in which the machine travels on any of the trips; routine points of other attitudes are left out
        kept_apart: by id of a people feature, what the site says keeps people apart from plant there
    """
    out = [
        Condition(
            id=control.id,
            kind="pre_travel",
            flags=(),
            text=control.text,
            owner=control.owner,
            due=control.due,
            evidence=control.evidence,
            acceptable=True,
        )
        for control in rulebook.controls.values()
        if control.pre_travel and control.when.get("attitude") in (None, *attitudes)
    ]
    out += _controls(findings, rulebook, kept_apart)
    out += _unknowns(findings)
    out += _circumstances(request, weather)
    out += [
        Condition(
            id=f"loosened-{limit.id}",
            kind="loosened",
            flags=(),
            acceptable=True,
            text=f"{limit.id} loosened to {limit.value:g} {limit.unit} by the {limit.layer} book: "
            f"{limit.override_reason}",
            owner="supervisor",
            due="before release",
            evidence="the reason, read and agreed",
        )
        for limit in rulebook.loosened
    ]
    return tuple(out)


def _controls(findings: tuple[Finding, ...], rulebook: Rulebook, kept_apart: Mapping[str, str]) -> list[Condition]:
    flags: dict[str, list[int]] = {}
    own: dict[str, dict[str, str]] = {}
    for finding in findings:
        if not finding.control:
            continue
        flags.setdefault(finding.control, []).append(finding.flag)
        feature = finding.where.feature or ""
        usual = finding.control == rulebook.rules[finding.rule].control
        if usual and finding.where.layer == "people" and kept_apart.get(feature):
            own.setdefault(finding.control, {})[feature] = kept_apart[feature]
    said = {control: "; ".join(f"{name}: {text}" for name, text in found.items()) for control, found in own.items()}
    return [
        Condition(
            id=control,
            kind="control",
            flags=tuple(numbers),
            text=rulebook.controls[control].text + (f"; the site's own – {said[control]}" if control in said else ""),
            owner=rulebook.controls[control].owner,
            due=rulebook.controls[control].due,
            evidence=rulebook.controls[control].evidence,
            acceptable=True,
        )
        for control, numbers in flags.items()
    ]


def _unknowns(findings: tuple[Finding, ...]) -> list[Condition]:
    out = []
    for finding in findings:
        if finding.verdict != "unknown":
            continue
        accepted = f" Accepted by the planner: {finding.accepted}" if finding.accepted else ""
        lacking = ", ".join(field_words(name) or name for name in finding.missing) or finding.reason.replace("_", " ")
        out.append(
            Condition(
                id=finding.id,
                kind="accepted_unknown" if finding.accepted else "unknown",
                flags=(finding.flag,),
                text=f"{finding.rule}: not known ({lacking}).{accepted}",
                owner="site planner",
                due="before release",
                evidence="survey" if not finding.acceptable else "survey, or acceptance by name and reason",
                acceptable=finding.acceptable,
            )
        )
    return out


def _freezing(weather: Weather) -> str:
    """Say what moist ground turns into; the grip of ice is asked for by its own state of the ground."""
    cold = weather.temperature_c is not None and weather.temperature_c <= 0.0
    if not cold or weather.ground not in ("damp", "wet", "mud", "thaw"):
        return ""
    return " At or below 0 °C moist ground may be ice: then it does not hold, plan again for ice."


def _circumstances(request: PlanRequest, weather: Weather) -> list[Condition]:
    words = [f"ground {weather.ground}"] if weather.ground else []
    words += [f"{weather.temperature_c:g} °C"] if weather.temperature_c is not None else []
    words += [f"wind up to {weather.wind_mps:g} m/s"] if weather.wind_mps is not None else []
    out = []
    if words:
        out.append(
            Condition(
                id="weather",
                kind="weather",
                flags=(),
                text=f"Holds for {', '.join(words)}.{_freezing(weather)}",
                owner="operator",
                due="on the day",
                evidence="seen on site",
                acceptable=True,
            )
        )
    if request.at is not None:
        out.append(
            Condition(
                id="hours",
                kind="hours",
                flags=(),
                text=f"Holds for a start at {request.at.isoformat()}.",
                owner="operator",
                due="on the day",
                evidence="clock",
                acceptable=True,
            )
        )
    if not request.with_return:
        out.append(
            Condition(
                id="no-return",
                kind="no_return",
                flags=(),
                acceptable=True,
                text="The way back was not planned: the machine may be stranded.",
                owner="site planner",
                due="before release",
                evidence="a plan for the way back",
            )
        )
    return out
