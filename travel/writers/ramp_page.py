"""The page of a ramp's answer: one HTML file without scripts or network that prints on A4."""

from __future__ import annotations

from typing import Any

from travel.domain.ramp import RampResult
from travel.domain.rules import Rulebook
from travel.domain.trailer import Trailer
from travel.writers import ramp_words as words
from travel.writers.map_page import asset, page_environment
from travel.writers.page_lists import SIGNS
from travel.writers.sentences import judged
from travel.writers.svg_ramp import other_zooms, side_view, zoom_view
from travel.writers.svg_ramp_charts import charts, deck_plan, fall_zone_plan

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'none'; base-uri 'none'"


def ramp_page(result: RampResult, trailer: Trailer, rulebook: Rulebook) -> str:
    """Give the whole page; everything people typed passes through the template's escaping."""
    template = page_environment().get_template("ramp.html.j2")
    page: str = template.render(
        policy=POLICY,
        css=asset("page.css") + asset("ramp.css"),
        heading=words.heading(result),
        verdict=result.verdict,
        sign=SIGNS[result.verdict],
        outcome=words.outcome(result),
        tight=words.tight_text(result),
        holds_for=words.holds_for(result),
        view=side_view(result),
        zoom=zoom_view(result),
        others=other_zooms(result),
        charts=charts(result),
        plan=deck_plan(result, trailer),
        zone=fall_zone_plan(result, trailer),
        restrained=result.restrained,
        facts=words.facts(result),
        cards=[_card(result, rulebook, number) for number in range(len(result.findings))],
        routine=[c for c in result.conditions if c.kind == "pre_travel"],
        open_conditions=words.open_conditions(result),
        remedies=result.remedies,
        ties=[(n + 1, tied.name, words.tie_text(tied)) for n, tied in enumerate(result.tie_downs)],
        checked=[_checked_row(row, rulebook) for row in result.checked],
        checked_line=words.checked_line(result),
        not_asked=words.not_asked(result),
        cautions=result.cautions,
        doubts=result.doubts,
        made=result.created_at,
        inputs=result.inputs,
    )
    return page


def _card(result: RampResult, rulebook: Rulebook, number: int) -> dict[str, Any]:
    finding = words.by_severity(result)[number]
    numbers = judged(finding)
    return {
        "number": finding.flag,
        "verdict": finding.verdict,
        "title": rulebook.rules[finding.rule].title,
        "said": words.finding_text(finding, rulebook),
        "where": words.finding_where(finding, result),
        "demand": numbers["demand"],
        "capacity": numbers["capacity"],
        "source": words.finding_source(finding, rulebook) if finding.source else "–",
        "nobody": finding.verdict == "unknown" and not finding.acceptable,
    }


def _checked_row(row: Any, rulebook: Rulebook) -> tuple[str, str, str]:
    from travel.writers.numbers import quantity

    if not row.applied:
        return row.title, words.why_not_asked(row), "–"
    margin = quantity(row.smallest_margin, row.unit) if row.smallest_margin is not None else "–"
    return row.title, row.verdict, margin
