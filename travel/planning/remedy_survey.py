"""What is unknown on a way, as remedies: somebody looks or measures. None is proven before the value is known."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from travel.checks import Case
from travel.checks.lies_beside import lies_there
from travel.domain.field_words import field_words
from travel.domain.plan import Finding, Remedy, RemedyPart
from travel.domain.rules import RemedyRow, Rulebook
from travel.planning.remedy_words import WORDS, named

SURVEYED = "surveyed."
Place = tuple[str, str, str]

MOST_NAMED = 6
"""Features named in one sentence; the amendments list all."""


def survey_remedies(findings: Iterable[Finding], case: Case, first: int) -> tuple[Remedy, ...]:
    """Give what is to be measured so that nothing unknown is left, what nobody may accept first, then by cost.

    Args:
        findings: of the way; unknown ones that nobody accepted count
        case: the trip, for its rulebook and names
        first: number of the first remedy
    """
    wanted: dict[tuple[str, str], dict[Place, None]] = {}
    rows: dict[tuple[str, str], RemedyRow] = {}
    must: dict[tuple[str, str], bool] = {}
    for finding in findings:
        if finding.verdict != "unknown" or finding.accepted:
            continue
        for name in finding.missing or (finding.reason,):
            if finding.reason == "corners_close" or (finding.reason == "lies_there" and lies_there(name)):
                continue  # nothing to be measured takes it away
            field = name.removesuffix(" told").removesuffix(" assumed").removesuffix(" lapsed")
            row = _row(case.rulebook, finding.rule, field)
            if row is None:
                continue
            key = (row.id, SURVEYED if field.startswith(SURVEYED) else field)
            if field == "within_tolerance":
                key = (row.id, f"more exactly what “{case.rulebook.rules[finding.rule].title}” rests on")
            where = finding.where
            layer = (where.layer or "roads") if where.feature else "roads"
            wanted.setdefault(key, {})[layer, where.feature or where.road or "", field] = None
            rows[key], must[key] = row, must.get(key, False) or not finding.acceptable
    made = [_remedy(rows[key], key[1], tuple(places), case) for key, places in wanted.items()]
    order = sorted(range(len(made)), key=lambda n: (not list(must.values())[n], made[n].cost))
    return tuple(_numbered(made[n], first + k) for k, n in enumerate(order))


def _row(rulebook: Rulebook, rule: str, field: str) -> RemedyRow | None:
    """Give the row for a missing value: of the rule before general ones, by the longest name the value starts with."""
    best: tuple[bool, int] | None = None
    found = None
    for row in rulebook.remedies:
        if row.layer != "survey" or row.forbidden or (row.rules and rule not in row.rules):
            continue
        length = max((len(f) for f in row.fields if field.startswith(f)), default=0 if not row.fields else -1)
        if length >= 0 and (best is None or (length > 0 and bool(row.rules), length) > best):
            best, found = (length > 0 and bool(row.rules), length), row
    return found


def _remedy(row: RemedyRow, field: str, places: tuple[Place, ...], case: Case) -> Remedy:
    spots = dict.fromkeys((layer, feature) for layer, feature, _ in places)
    names = [named(case, layer, feature) for layer, feature in spots if feature]
    more = len(names) - MOST_NAMED
    said = ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
    what = field
    if field == SURVEYED:
        what = ", ".join(dict.fromkeys(name.removeprefix(SURVEYED) for _, _, name in places))
    return Remedy(
        remedy=0,
        rank=0,
        amendments=tuple(
            RemedyPart(layer=layer, feature=feature, field=name, old=None, value=None, reason=row.id)
            for layer, feature, name in places
        ),
        cost=row.price * max(len(spots), 1),
        who=row.who,
        lead_time_days=row.lead_time_days,
        side_effects=row.side_effects,
        proven=False,
        text=row.text.format_map(
            {
                "what": field_words(what) or WORDS.get(what, what.replace("_", " ")),
                "feature": said or "the site",
                "how": _how(case, field),
            }
        ).strip(),
        kind="survey",
    )


def _how(case: Case, field: str) -> str:
    """Give how to get a value safely."""
    known = case.rulebook.patterns.sentences
    names = [key.removeprefix("measure.") for key in known if key.startswith("measure.")]
    best = max((name for name in names if field.startswith(name)), key=len, default="")
    return known[f"measure.{best}"] if best else ""


def _numbered(remedy: Remedy, number: int) -> Remedy:
    return replace(remedy, remedy=number, rank=number)
