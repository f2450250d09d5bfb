"""The first page: everything a supervisor decides on, and nothing said that the plan does not say."""

from __future__ import annotations

from collections.abc import Sequence

from travel.domain.plan import Condition, Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.what_if import wished
from travel.writers.numbers import ranges
from travel.writers.page_lists import SIGNS, title_rows
from travel.writers.paper import Front
from travel.writers.qr import qr_svg, qr_text
from travel.writers.sentences import Names, sentence, where_text
from travel.writers.svg_map import map_said
from travel.writers.text import isolated, plain
from travel.writers.words import (
    TRIP_WORDS,
    VERDICTS,
    by_severity,
    holds_for,
    latest_text,
    metres_text,
    moment,
    nearest_text,
    open_conditions,
    open_unknowns,
    outcome_text,
    stopped_by_texts,
    trip_line,
)

ROOM_LINES = 24
"""Lines of conditions and unknowns that fit on the first page beside a map that can still be read."""
_LINE_LETTERS = 46
_MOST_LETTERS = 240
_MOST_LINE = 420
LATEST = "Latest departure"


def front_of(plan: TravelPlan, rulebook: Rulebook, names: Names, remark: str = "") -> Front:
    """Give the first page; ``remark`` stands with the release."""
    unknowns = unknown_rows(plan, rulebook, names)
    conditions = [condition_row(item) for item in open_conditions(plan) if item.kind != "unknown"]
    shown_unknowns, room = _fitting(unknowns, ROOM_LINES)
    shown_conditions, _ = _fitting(conditions, max(room, 6))
    routine = sum(item.kind == "pre_travel" for item in plan.conditions)
    more = _more(len(conditions) - len(shown_conditions), "condition", "Conditions")
    points = f"{routine} routine points before travel stand on the operator's card." if routine else ""
    place_names = {feature: name for (layer, feature), name in names.items() if layer == "places"}
    says = qr_text(plan)
    return Front(
        heading=f"{plain(plan.machine.get('name', 'Machine'))}: {_asked(plan, names)}",
        verdict="blocked" if plan.outcome == "no_way" else plan.verdict,
        sign=SIGNS["blocked" if plan.outcome == "no_way" else plan.verdict],
        outcome=outcome_text(plan),
        facts=tuple(row for row in title_rows(plan) if row[0] in ("Site", "Machine", "Load", "Plan")),
        ways=tuple(
            (TRIP_WORDS[trip.trip], trip_line(plan, trip, place_names) + _metres(metres_text(trip)))
            for trip in plan.trips
        ),
        counted=counted_text(plan),
        conditions=tuple(shown_conditions),
        more_conditions=" ".join(text for text in (more, points) if text),
        unknowns=tuple(shown_unknowns),
        more_unknowns=_more(len(unknowns) - len(shown_unknowns), "unknown", "Conditions"),
        stops=tuple(_stoppers(plan, rulebook)),
        holds=tuple(holds_rows(plan)),
        release=release_text(plan),
        remark=remark,
        releasable=releasable(plan),
        signatures=signatures(plan),
        plan_id=plain(plan.plan_id),
        fingerprint=plain(plan.fingerprint),
        qr_svg=qr_svg(says),
        qr_said=f"QR code: plan number and fingerprint, {plain(says)}",
        map_said=map_said(plan),
    )


def releasable(plan: TravelPlan) -> bool:
    """Whether a supervisor may release the plan at all: a way on what is there, with nothing unknown unaccepted."""
    passes = plan.outcome == "way" and plan.verdict in ("clear", "caution")
    return passes and not open_unknowns(plan) and not wished(plan)


def release_text(plan: TravelPlan) -> str:
    """Give what may be done with the plan."""
    if plan.outcome == "no_way":
        return "Not to be released: there is no way."
    if plan.verdict == "blocked":
        return "Not to be released: the way does not pass."
    if wished(plan):
        return "Not to be released: planned on a changed copy of the site. Make the change, survey it, plan on that."
    if not releasable(plan):
        return "Not to be released as it stands: what is not known must be surveyed, or accepted where that is allowed."
    if any(item.kind == "control" for item in plan.conditions):
        return "May be released with conditions; no machine moves while one of them is open."
    return "May be released for the weather and the hours named."


def counted_text(plan: TravelPlan) -> str:
    """Give flags by verdict, and how many rules were looked at."""
    counts = {word: sum(finding.verdict == word for finding in plan.findings) for word in VERDICTS}
    said = ", ".join(f"{count} {word}" for word, count in counts.items() if count)
    total = len(plan.findings)
    built = sum(row.built for row in plan.checked)
    accepted = sum(bool(finding.accepted) for finding in plan.findings)
    parts = [f"{total} flag{'s' if total != 1 else ''}" + (f": {said}" if said else "")]
    parts += [f"{accepted} unknown accepted by name"] if accepted else []
    parts += [f"checked against {built} of {len(plan.checked)} rules"]
    return "; ".join(parts) + "."


def flags_text(numbers: Sequence[int]) -> str:
    """Give flags in words, or nothing where there are none."""
    return f"flag{'s' if len(numbers) > 1 else ''} {ranges(numbers)}" if numbers else ""


def condition_row(item: Condition) -> tuple[str, ...]:
    """Give a condition as what, who, by when, evidence, done (empty)."""
    flags = flags_text(item.flags)
    text = isolated(item.text) + (f" ({flags})" if flags else "")
    return (text, isolated(item.owner), isolated(item.due), isolated(item.evidence), "")


def unknown_rows(plan: TravelPlan, rulebook: Rulebook, names: Names) -> list[tuple[str, ...]]:
    """Give what is not known: flags, what and where, who may accept it, owner–due–evidence; equal ones in one row."""
    conditions = {item.id: item for item in plan.conditions}
    groups: dict[tuple[str, bool], list[Finding]] = {}
    for finding in open_unknowns(plan):
        groups.setdefault((sentence(finding, rulebook, names), finding.acceptable), []).append(finding)
    rows: list[tuple[str, ...]] = []
    for (said, acceptable), found in groups.items():
        item = conditions.get(found[0].id)
        places = "; ".join(dict.fromkeys(where_text(finding.where, names) for finding in found))
        who = "a planner, by name and reason" if acceptable else "nobody: it must be surveyed"
        todo = ", ".join(isolated(text) for text in (item.owner, item.due, item.evidence)) if item else "site planner"
        rows.append((ranges(finding.flag for finding in found), f"{said} {places}", who, todo))
    return rows


def holds_rows(plan: TravelPlan) -> list[tuple[str, str]]:
    """Give the weather and hours the plan holds for, out and back, and the latest departure."""
    back = plan.request.get("back")
    rows = [("Holds for", holds_for(plan))]
    if any(trip.trip == "back" for trip in plan.trips):
        said = "stowed, without the load, in the same weather, at any hour"
        if isinstance(back, dict):
            load = isolated(back["load"]) if back.get("load") else "none"
            hour = moment(back["at"]) if back.get("at") else "any"
            other = {key: value for key, value in (back.get("weather") or {}).items() if value is not None}
            weather = ", ".join(f"{key.rsplit('_', 1)[0]} {isolated(value)}" for key, value in other.items())
            said = f"load {load}, hour {hour}, {weather or 'same weather'}"
        rows.append(("The way back", said))
    rows.append((LATEST, latest_text(plan)))
    return rows


def signatures(plan: TravelPlan) -> tuple[str, ...]:
    """Give the lines of the sign-off block."""
    if not releasable(plan):
        return ("Made by (name, date, time)", "Seen by the supervisor, not released (name, signature, date, time)")
    return (
        "Made by (name, date, time)",
        "Released by, not the maker: every condition is met (name, role, signature, date, time)",
        "Valid from – until (renewed each day)",
        "Accepted by the operator (name, signature, date, time)",
    )


def _asked(plan: TravelPlan, names: Names) -> str:
    ends = [str(plan.request.get(key, "?")) for key in ("from", "to")]
    said = [(names.get(("places", end), ""), end) for end in ends]
    return " → ".join(f"{isolated(n)} ({isolated(e)})" if n and n != e else isolated(e) for n, e in said)


def _metres(text: str) -> str:
    return f" – {text}" if text else ""


def _stoppers(plan: TravelPlan, rulebook: Rulebook) -> list[str]:
    lines = []
    for item in plan.nearest:
        lines.append(f"{nearest_text(item)}; stopped by: {'; '.join(stopped_by_texts(item, rulebook)) or 'see flags'}")
    if plan.outcome == "no_way":
        titles = {finding.flag: finding for finding in by_severity(plan) if finding.verdict == "blocked"}
        lines += [f"Flag {flag}: {sentence(found, rulebook)}" for flag, found in list(titles.items())[:4]]
    lines += [f"Would open a way: {isolated(item.text)} – {isolated(item.who)}" for item in plan.remedies[:2]]
    return [line if len(line) <= _MOST_LINE else f"{line[:_MOST_LINE]} …" for line in lines]


def _fitting(rows: Sequence[tuple[str, ...]], room: int) -> tuple[list[tuple[str, ...]], int]:
    """Give the rows that fit into so many lines, always the first, and the lines left."""
    shown: list[tuple[str, ...]] = []
    for full in rows:
        row = tuple(_cut(cell) for cell in full)
        lines = max(-(-len(row[0]) // _LINE_LETTERS), -(-max(len(cell) for cell in row[1:]) // 22), 1)
        if shown and lines > room:
            break
        room -= lines
        shown.append(row)
    return shown, room


def _cut(text: str) -> str:
    """Give a text short enough for the first page; the section behind it has all of it."""
    return text if len(text) <= _MOST_LETTERS else f"{text[:_MOST_LETTERS]} … (in full in “Conditions”)"


def _more(count: int, what: str, section: str) -> str:
    if count <= 0:
        return ""
    return f"And {count} more {what}{'s' if count != 1 else ''}: see “{section}”."
