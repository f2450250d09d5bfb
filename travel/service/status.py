"""Whether a plan still holds, and whether the machine may move on it."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from travel.domain.changes import Comparison, Validity
from travel.domain.decision import Standing, why_not_go
from travel.domain.plan import TravelPlan
from travel.errors import Fault, InputError
from travel.planning.differences import compare_plans
from travel.readers.files import read_bytes
from travel.readers.notes import Notes
from travel.service.again import Now, still_valid
from travel.service.cases import clock_told
from travel.service.cases import now as clock
from travel.service.formulas import read_plan
from travel.service.register import Place
from travel.service.subject import hours_of, survey_end, values_end
from travel.service.workspace import Progress, Workspace
from travel.writers.changes_text import comparison_text, no_way, status_text, status_word
from travel.writers.compare_page import comparison_page
from travel.writers.files import write_whole
from travel.writers.plan_json import plan_from_bytes
from travel.writers.register_text import OVER, standing_json
from travel.writers.words import moment


@dataclass(frozen=True, eq=False, kw_only=True)
class Status:
    """Where a plan stands: whether it holds, what was decided, what else has to be said; ``lapsed``: too old."""

    plan: TravelPlan
    validity: Validity
    standing: Standing | None
    notes: tuple[str, ...]
    strange: bool
    lapsed: bool

    @property
    def code(self) -> int:
        """The exit code: 0 go; 3 not yet, or not everything compared; 1 no."""
        state = self.standing.state if self.standing else "draft"
        if self.validity.void or self.strange or self.lapsed or state in OVER or no_way(self.plan):
            return 1
        if self.standing is None or why_not_go(self.standing) or self.validity.not_compared:
            return 3
        return 0


def status(plan_file: Path, now: Now, place: Place, progress: Progress | None = None) -> Status:
    """Tell whether a plan holds on what is there now, and where it stands in the register.

    A file no register holds is planned again in any case: it may have been changed by hand.

    Raises:
        Tampered: the register does not hold together
        InputError: files that cannot be read
    """
    notes_ = Notes(file=plan_file.name)
    read = read_bytes(plan_file, "plan", notes_)
    if read is None:
        raise InputError(notes_.faults)
    plan = plan_from_bytes(read[0], plan_file.name)
    at, notes, strange, standing = clock(), [], False, None
    if place.there():
        standings = place.open().standings(at)
        digest = hashlib.sha256(read[0]).hexdigest()
        standing = next((s for s in standings if s.subject.digest == digest), None)
        strange = standing is None and any(s.subject.plan_id == plan.plan_id for s in standings)
        if strange:
            notes.append("This is not the file submitted under its number: it was changed since, or planned again.")
        elif standing is None:
            notes.append("DRAFT: it was never submitted to this register.")
    else:
        notes.append("No register was asked: this tells nothing about a release.")
    if clock_told():
        notes.append(f"Today is taken from {clock_told()}, not from this computer's clock.")
    held, lapsed = _how_long(plan, at)
    notes += held
    return Status(
        plan=plan,
        validity=still_valid(plan, now, progress, to_the_letter=standing is None),
        standing=standing,
        notes=tuple(notes),
        strange=strange,
        lapsed=lapsed,
    )


def _how_long(plan: TravelPlan, at: dt.datetime) -> tuple[list[str], bool]:
    """Give until when hours, survey and dated values hold, in words, and whether any of them is over."""
    over = hours_of(plan)[1] if plan.outcome == "way" else None
    notes = [] if over is None or at < over else [f"The hours planned for ended at {moment(over.isoformat())}."]
    ends, first = survey_end(plan)
    last, feature = values_end(plan)
    if ends is None:
        notes.append("Until when the survey holds is not known.")
    else:
        notes.append(f"The survey of {first} {_held(ends, at)} until {moment(ends.isoformat())}.")
    if last is not None:
        notes.append(f"What is said of {feature} {_held(last, at)} until {moment(last.isoformat())}.")
    return notes, ends is None or any(end is not None and at >= end for end in (over, ends, last))


def _held(end: dt.datetime, at: dt.datetime) -> str:
    return "held" if at >= end else "holds"


def said(found: Status, as_json: bool) -> str:
    """Give what ``travel status`` prints."""
    if not as_json:
        return status_text(found.plan, found.validity, found.standing, found.lapsed, found.notes)
    content = {
        "plan_id": found.plan.plan_id,
        "fingerprint": found.plan.fingerprint,
        "answer": status_word(found.plan, found.validity, found.standing, found.lapsed).lower(),
        "void": found.validity.void,
        "changes": [asdict(change) for change in found.validity.changes],
        "findings": [asdict(change) for change in found.validity.findings],
        "otherwise": list(found.validity.otherwise),
        "not_compared": list(found.validity.not_compared),
        "lapsed": found.lapsed,
        "standing": standing_json(found.standing) if found.standing else None,
        "notes": list(found.notes),
    }
    return json.dumps(content, indent=2, ensure_ascii=False, default=str)


def compare(
    a: Path, b: Path, as_json: bool = False, site: Path | None = None, out: Path | None = None
) -> tuple[str, bool]:
    """Give two plans side by side, and whether their answers are alike.

    Args:
        a, b: plan files
        as_json: as JSON instead of in words
        site, out: the site to draw both ways on, and the page to write; both or neither
    """
    if (site is None) != (out is None):
        message = "go together: the map is drawn on a site and written into a file"
        raise InputError([Fault(file="command", field="--site, --out", message=message)])
    old, new = read_plan(a), read_plan(b)
    compared = compare_plans(old, new)
    told = _comparison_json(old, new, compared) if as_json else comparison_text(old, new, compared)
    if site is not None and out is not None:
        drawn_on = Workspace(path=site).site
        write_whole(out, comparison_page(old, new, compared, drawn_on).encode("utf-8"))
        told += "" if as_json else f"\nwritten: {out}"
    return told, compared.alike


def _comparison_json(old: TravelPlan, new: TravelPlan, compared: Comparison) -> str:
    content = {"a": old.plan_id, "b": new.plan_id, "alike": compared.alike, **asdict(compared)}
    return json.dumps(content, indent=2, ensure_ascii=False, default=str)
