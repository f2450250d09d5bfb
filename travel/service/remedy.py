"""``travel remedy``: what would open a way, and the site with one of them done."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from travel.domain.layers import LAYERS
from travel.domain.plan import Remedy, RemedyPart
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.site import Amendment, Weather
from travel.domain.what_if import wished, wished_part
from travel.errors import Fault, InputError
from travel.service.convert import insist_free, site_books, site_header, site_terrain
from travel.service.plan import Answer, exit_code, make_plan
from travel.service.workspace import Progress, Workspace
from travel.survey import lay_on
from travel.survey.parts import in_parts
from travel.writers.files import write_whole
from travel.writers.plan_json import plain_json
from travel.writers.site_files import write_site_folder
from travel.writers.words import proof_text

_COPY = re.compile(r"(?m)^(# A changed copy: .*|changed_copy = .*)\n")
_COPY_SAID = (
    "# A changed copy: what is named here is wished for, not there. Once made and surveyed, take both lines away."
)
_ROADS = re.compile(r"""(?<![\w-])["']?roads["']?\s*=\s*\[[^\]]*\]""")


@dataclass(frozen=True, eq=False, kw_only=True)
class Applied:
    """A site written with a remedy done: the paths, what else is to be said when planning on it, and the proof."""

    paths: tuple[Path, ...]
    besides: tuple[str, ...]
    verdict: str


def find_remedies(request: PlanRequest, progress: Progress | None = None) -> tuple[Answer, Workspace]:
    """Give the plan with every remedy that is found, and the site as read."""
    workspace = Workspace(path=request.site, rulebooks=request.rulebooks, amendments=request.amendments)
    return make_plan(request, workspace, progress, remedies="all"), workspace


def remedy_code(answer: Answer) -> int:
    """Give the exit code: that of the plan where there is a way; 3 where one may be opened, 1 where none was found."""
    plan = answer.plan
    if plan.outcome == "way":
        return exit_code(plan)
    return 3 if any(remedy.kind == "change" for remedy in plan.remedies) else 1


def remedy_text(answer: Answer, applied: Applied | None, as_json: bool) -> str:
    """Give what ``travel remedy`` prints."""
    plan = answer.plan
    if as_json:
        content: dict[str, Any] = {
            "outcome": plan.outcome,
            "verdict": plan.verdict,
            "remedies": plan.remedies,
        }
        if applied:
            content["applied"] = {
                "written": [str(path) for path in applied.paths],
                "besides": list(applied.besides),
                "verdict": applied.verdict,
            }
        return json.dumps(plain_json(content), indent=2, ensure_ascii=False)
    asked = f"{plan.request['from']} → {plan.request['to']}"
    if plan.outcome == "way":
        lines = [f"{asked}: there is a way ({plan.verdict}); nothing has to be opened."]
    elif not plan.remedies:
        lines = [f"{asked}: no way, and no change in the rulebook's remedies was found that opens one."]
    else:
        lines = [f"{asked}: no way. Least found that would open one (costs compare, they are no estimate):"]
        lines += [line for remedy in plan.remedies for line in _lines(remedy)]
    return "\n".join([*lines, *(_applied_lines(applied) if applied else ())])


def _lines(remedy: Remedy) -> list[str]:
    lead = "" if remedy.lead_time_days is None else f"; {remedy.lead_time_days:g} days ahead"
    proof = proof_text(remedy) if remedy.proven else "not proven: the value is not known yet"
    out = [f"{remedy.rank}. {remedy.text}", f"   {remedy.who}{lead}; cost {remedy.cost:.1f}; {proof}"]
    exact = [_exact(part) for part in remedy.amendments if part.exact is not None]
    out += [f"   exactly: {'; '.join(exact)}"] if exact else []
    return [*out, f"   brings with it: {remedy.side_effects}"] if remedy.side_effects else out


def _exact(part: RemedyPart) -> str:
    return f"{part.feature} {part.field} {part.exact:.6g}"


def _applied_lines(applied: Applied) -> list[str]:
    return [
        "",
        *(f"written: {path}" for path in applied.paths),
        *(f"besides: {text}" for text in applied.besides),
        f"planned on it: {applied.verdict}",
    ]


def insist_applicable(number: int | None, target: Path | None) -> None:
    """Refuse what no answer could bring about, before it is looked for: no remedy has such a number, a full folder;
    nothing where nothing is to be written (None).

    Raises:
        InputError: every fault of the two
    """
    faults = []
    if number is not None and number < 1:
        allowed = "1 or more, as they are listed"
        faults.append(Fault(file="command", field="--apply", value=str(number), message="is not one", allowed=allowed))
    if target is not None and target.exists() and (target.is_file() or any(target.iterdir())):
        faults.append(Fault(file=str(target), message="exists already; nothing is overwritten"))
    if faults:
        raise InputError(faults)


def apply_remedy(request: PlanRequest, answer: Answer, workspace: Workspace, number: int, target: Path) -> Applied:
    """Write the site with one remedy done into a folder, and plan on it.

    A road that changes in part is written in parts: ``R12`` becomes ``R12~1``, ``R12~2`` and so on.

    Raises:
        InputError: no such remedy, nothing of it is in the site, or the folder is not empty
    """
    remedy = next((r for r in answer.plan.remedies if r.remedy == number and r.kind == "change"), None)
    if remedy is None:
        known = ", ".join(str(r.remedy) for r in answer.plan.remedies if r.kind == "change")
        fault = Fault(file="command", field="--apply", value=str(number), message="is not one", allowed=known or "none")
        raise InputError([fault])
    insist_applicable(number, target)
    changes = tuple(_amendment(part) for part in remedy.amendments if part.layer in LAYERS)
    site, split = in_parts(lay_on(workspace.site, changes))
    header = _marked(_with_parts(site_header(request.site), split), wished(answer.plan), remedy)
    terrain, books = site_terrain(request.site, site), site_books(request.site, site)
    insist_free({target / name: data for name, data in [*([terrain] if terrain else []), *books.items()]})
    paths = write_site_folder(site, target, header, terrain)
    for name, data in books.items():
        write_whole(target / name, data)
    besides = tuple(_besides(part) for part in remedy.amendments if part.layer not in LAYERS)
    if not changes:
        besides = ("this remedy changes nothing of the site: it is written as it was", *besides)
    if any(part.layer == "machine" for part in remedy.amendments):
        return Applied(paths=paths, besides=besides, verdict="not planned: it takes another machine's sheet")
    again = make_plan(_asked(replace(request, site=target, amendments=()), remedy), remedies="none")
    return Applied(paths=paths, besides=besides, verdict=f"{again.plan.outcome}, {again.plan.verdict}")


def _amendment(part: RemedyPart) -> Amendment:
    return Amendment(
        layer=part.layer,
        feature=part.feature,
        field=part.field,
        value=part.value,
        from_m=part.from_m,
        to_m=part.to_m,
        reason=part.reason,
    )


def _with_parts(header: bytes, split: dict[str, tuple[str, ...]]) -> bytes:
    """Name parts instead of roads in the header's ``roads`` lists of who looked where."""

    def named(found: re.Match[str]) -> str:
        text = found[0]
        for road, parts in split.items():
            text = re.sub(rf"([\"'])({re.escape(road)})\1", ", ".join(json.dumps(p) for p in parts), text)
        return text

    return _ROADS.sub(named, header.decode("utf-8")).encode("utf-8")


def _marked(header: bytes, before: tuple[str, ...], remedy: Remedy) -> bytes:
    """Name at the head of the file what is wished for and not there, so that no plan on this copy is released."""
    changes = (*before, *(wished_part(part) for part in remedy.amendments if part.layer in LAYERS))
    text = _COPY.sub("", header.decode("utf-8-sig"))
    if not changes:
        return text.encode("utf-8")
    return f"{_COPY_SAID}\nchanged_copy = {json.dumps(changes, ensure_ascii=False)}\n{text}".encode()


def _besides(part: RemedyPart) -> str:
    if part.layer == "machine":
        return f"another machine with {part.field} {part.value:g} instead of {part.old:g}"
    if part.layer == "weather" and part.feature != "back":
        return f"--weather {part.field}={part.value}"
    name = " ".join(word for word in (part.feature, part.field) if word)
    return f"{name}: {part.value if part.value is not None else 'none'}"


def _asked(request: PlanRequest, remedy: Remedy) -> PlanRequest:
    """Give the request with a remedy's changes of hour, weather and load, out or back."""
    for part in remedy.amendments:
        back = request.back or TripConditions()
        if part.layer == "weather":
            if part.feature != "back":
                request = replace(request, weather=_with(request.weather, part))
            if part.feature == "back" or getattr(back.weather, part.field) == part.old:
                request = replace(request, back=replace(back, weather=_with(back.weather, part)))
        elif part.layer == "request":
            at = dt.datetime.fromisoformat(str(part.value)) if part.field == "at" else None
            new: dict[str, Any] = {part.field: at}  # of a load: none
            request = replace(request, back=replace(back, **new)) if part.feature == "back" else replace(request, **new)
    return request


def _with(weather: Weather, part: RemedyPart) -> Weather:
    return Weather.model_validate({**weather.model_dump(), part.field: part.value})
