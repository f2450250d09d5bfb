"""The travel plan as a document: nothing milder than the plan, nothing lost, the same bytes, readable by everybody."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.writers.paper_tools import (
    NASTY,
    every_verdict,
    needs_poppler,
    pdf_facts,
    pdf_text,
    squeezed,
    typed_over,
)
from travel.domain.plan import Condition, TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.domain.working import FormulaSheet, Working, WorkingStep
from travel.writers.document import travel_document
from travel.writers.document_front import ranges, releasable
from travel.writers.document_html import document_html
from travel.writers.document_pdf import document_pdf
from travel.writers.page_lists import SIGNS
from travel.writers.paper import Box, Document, Figure, Heading, Table
from travel.writers.paper_pdf import set_pdf
from travel.writers.qr import qr_svg, qr_text
from travel.writers.svg_map import map_said, paper_map

WORKING = Working(
    sheet=FormulaSheet(
        name="grade_asked", topic="slope", gives="grade asked for", equation="G = 100 h / L",
        arguments={"rise_m": ("rise", "m")}, returns=("grade", "%"), valid_for=(), references=("a textbook",),
    ),
    arguments={"rise_m": 0.7}, value=14.0, holds=True,
    steps=(WorkingStep(symbol="result", expression="100 * rise_m / 5", with_numbers="100 * 0.7 / 5", value=14.0),),
)  # fmt: skip


def made(plan: TravelPlan, site: Site, rulebook: Rulebook) -> Document:
    return travel_document(plan, site, rulebook, {1: (WORKING,)})


def set_(plan: TravelPlan, site: Site, rulebook: Rulebook) -> bytes:
    return document_pdf(made(plan, site, rulebook), lambda width, height: paper_map(plan, site, width, height))


@pytest.fixture(scope="module")
def pdf(plan: TravelPlan, site: Site, rulebook: Rulebook) -> bytes:
    return set_(plan, site, rulebook)


def test_same_plan_same_bytes(pdf: bytes, plan: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    assert set_(plan, site, rulebook) == pdf
    page = document_html(made(plan, site, rulebook), paper_map(plan, site, 700, 400))
    assert document_html(made(plan, site, rulebook), paper_map(plan, site, 700, 400)) == page


@needs_poppler
def test_pdf_is_tagged_and_titled(pdf: bytes, plan: TravelPlan, tmp_path: Path) -> None:
    facts = pdf_facts(pdf, tmp_path)
    assert facts["Tagged"] == "yes"
    assert plan.plan_id in facts["Title"]
    assert "CreationDate" not in facts
    assert b"pdfuaid:part" in pdf


@needs_poppler
def test_everything_a_traffic_plan_and_a_permit_record_has_a_place(
    pdf: bytes, plan: TravelPlan, tmp_path: Path
) -> None:
    text = squeezed(pdf_text(pdf, tmp_path))
    for words in (
        plan.plan_id, plan.fingerprint[:16], "T-junction", "invented handler", "Steel stack",
        "Conditions", "Configuration schedule", "Profile", "Findings with their working", "What was looked at",
        "On and beside the way", "Next best way", "If the way is blocked on the day", "Arrival check of the machine",
        "What this plan does not decide", "Record of the move", "What the plan was made of",
        "Spotter or banksman", "directs other traffic", "Induction", "Radio channel", "Signs, speed limits",
        "Lighting on the way", "Surface kept up", "Emergency number", "High-visibility", "Other permits",
        "Released", "not by the maker", "Accepted by the operator", "Countersigned", "Renewed for the next day",
        "Extended", "Handed over to next shift", "Suspended", "Withdrawn", "Handed back", "This plan is void when",
        "Displayed", "Valid from", "Latest departure", "gate hut", "Maker's plate", "Tyres",
        "Greatest height, measured",
    ):  # fmt: skip
        assert words in text, words


@needs_poppler
def test_findings_carry_working_and_source(pdf: bytes, plan: TravelPlan, tmp_path: Path) -> None:
    text = squeezed(pdf_text(pdf, tmp_path))
    assert "= 100 * 0.7 / 5" in text
    assert "Source: a textbook" in text
    assert "Machine sheet of the invented handler, 2026" in text
    for finding in plan.findings:
        assert finding.id in text


def verdicts_in_schedule(document: Document) -> list[tuple[str, str]]:
    return [
        (row[0], row[5])
        for block in document.blocks
        if isinstance(block, Table) and block.head[0] == "Leg" and len(block.head) == 7
        for row in block.rows
        if len(row) > 1
    ]


def test_every_stretch_has_the_plans_verdict(plan: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    found = verdicts_in_schedule(made(plan, site, rulebook))
    assert found == [(str(leg.leg), f"{SIGNS[leg.verdict]} {leg.verdict}") for leg in plan.legs]


@pytest.mark.parametrize("verdict", ["caution", "unknown", "blocked"])
def test_nothing_is_called_clear_where_the_plan_does_not(
    verdict: str, plan: TravelPlan, site: Site, rulebook: Rulebook
) -> None:
    worse = every_verdict(plan, verdict)
    document = made(worse, site, rulebook)
    assert {word for _, word in verdicts_in_schedule(document)} == {f"{SIGNS[verdict]} {verdict}"}
    texts = [cell for b in document.blocks if isinstance(b, Table) for row in b.rows for cell in row]
    texts += [b.title for b in document.blocks if isinstance(b, Box)]
    texts += [b.said for b in document.blocks if isinstance(b, Figure)]
    texts += [document.front.outcome, document.front.counted, *(line for _, line in document.front.ways)]
    assert texts
    assert not [text for text in texts if re.search(r"\bclear\b(?! of the machine)", text) and "way clear" not in text]
    assert document.front.verdict == verdict


def test_map_draws_each_stretch_by_its_verdict(plan: TravelPlan, site: Site) -> None:
    for verdict in ("clear", "caution", "unknown", "blocked"):
        drawing = paper_map(every_verdict(plan, verdict), site, 500, 300)
        drawn = re.findall(r'<path class="v v-(\w+)" data-trip', drawing)
        assert drawn
        assert set(drawn) == {verdict}
        assert ('class="cross"' in drawing.split("grid N")[0]) == (verdict == "blocked")


def test_map_has_every_flag_and_stop_and_its_scale(plan: TravelPlan, site: Site) -> None:
    drawing = paper_map(plan, site, 500, 300)
    for stop in plan.stops:
        assert f">S{stop.stop}<" in drawing
    for finding in plan.findings:
        assert re.search(rf'<text class="t-{finding.verdict}"[^>]*>{finding.flag}\??<', drawing)
    scale = int(re.search(r"scale 1 : ([\d\u202f]+)<", drawing)[1].replace("\u202f", ""))
    bar, metres = re.search(r"v4h([\d.]+)v-4", drawing)[1], re.search(r">(\d+) m, scale", drawing)[1]
    assert float(bar) / 72 * 0.0254 * scale == pytest.approx(float(metres), rel=0.01)


@pytest.mark.parametrize("width", [300, 510, 770])
def test_legend_stays_on_the_paper(width: int, plan: TravelPlan, site: Site) -> None:
    drawing = paper_map(plan, site, width, 300)
    for text in ("clear", "blocked", "flag unknown", "stop", "people", "area"):
        x, y = re.search(rf'<text class="t" x="([\d.]+)" y="([\d.]+)">{text}<', drawing).groups()
        assert float(x) + 3.5 * len(text) <= width
        assert float(y) <= 300


def test_map_in_words_names_every_leg(plan: TravelPlan) -> None:
    said = map_said(plan)
    for leg in plan.legs:
        assert f"leg {leg.leg} on {leg.road} {leg.verdict}" in said


def test_a_plan_that_may_not_be_released_offers_no_release(
    plan: TravelPlan, no_way: TravelPlan, site: Site, rulebook: Rulebook
) -> None:
    assert releasable(plan)
    for worse in (no_way, every_verdict(plan, "unknown"), every_verdict(plan, "blocked")):
        front = made(worse, site, rulebook).front
        assert not front.releasable
        assert front.release.startswith("Not to be released")
        assert not [line for line in front.signatures if "Released by" in line or "Accepted" in line]


def test_unknown_says_who_may_accept_it(plan: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    worse = every_verdict(plan, "unknown")
    items = tuple(dataclasses.replace(item, acceptable=n == 0) for n, item in enumerate(worse.findings))
    rows = made(dataclasses.replace(worse, findings=items), site, rulebook).front.unknowns
    said = [row[2] for row in rows]
    assert any("name and reason" in text for text in said)
    assert any("nobody" in text for text in said)


def many(count: int) -> tuple[Condition, ...]:
    return tuple(
        Condition(id=f"c{n}", kind="control", flags=(n,), text=f"Condition number {n} " + "with many words " * 6,
                  owner="supervisor", due="before the stretch", evidence="a photo", acceptable=True)
        for n in range(count)
    )  # fmt: skip


@needs_poppler
@pytest.mark.parametrize("count", [0, 3, 60])
def test_the_first_page_keeps_map_and_signatures(
    count: int, plan: TravelPlan, site: Site, rulebook: Rulebook, tmp_path: Path
) -> None:
    longer = dataclasses.replace(plan, conditions=many(count))
    pdf = set_(longer, site, rulebook)
    first = squeezed(pdf_text(pdf, tmp_path, 1, 1))
    assert "Accepted by the operator" in first
    assert plan.fingerprint in first
    assert "scale 1 :" in first
    shown = len(re.findall(r"Condition number \d+", first))
    assert shown == min(count, shown)
    if shown < count:
        assert f"And {count - shown} more condition" in first
    everywhere = squeezed(pdf_text(pdf, tmp_path))
    assert all(f"Condition number {n} " in everywhere for n in range(count))


class Tags(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


@needs_poppler
def test_typed_words_survive_and_stay_words(
    plan: TravelPlan, make_site: Callable[..., Site], rulebook: Rulebook, tmp_path: Path
) -> None:
    site = make_site(NASTY)
    typed = dataclasses.replace(
        typed_over(plan, NASTY), legs=plan.legs, turns=plan.turns, rulebooks=plan.rulebooks,
        findings=tuple(dataclasses.replace(item, accepted=NASTY, missing=(NASTY,)) for item in plan.findings),
    )  # fmt: skip
    document = made(typed, site, rulebook)
    page = document_html(document, paper_map(typed, site, 700, 400))
    found = Tags(page)
    assert not [tag for tag, about in found.tags if tag in ("script", "iframe", "link", "object")]
    assert not [about for _, about in found.tags for name in about if name.startswith("on")]
    assert "<script>alert(1)</script>" in found.text
    assert "{{7*7}}" in found.text
    assert "\u202e" not in page
    assert "中文" in page
    pdf = document_pdf(document, lambda width, height: paper_map(typed, site, width, height))
    text = squeezed(pdf_text(pdf, tmp_path))
    assert "<script>alert(1)</script>" in text
    assert "#let x = $1$ *b*" in text
    assert "[U+4E2D][U+6587]" in text
    assert pdf_facts(pdf, tmp_path)["Tagged"] == "yes"


def test_the_page_loads_nothing(plan: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    found = Tags(document_html(made(plan, site, rulebook), paper_map(plan, site, 700, 400)))
    sources = [about["src"] or "" for tag, about in found.tags if tag == "img"]
    assert len(sources) >= 3
    assert all(source.startswith("data:image/svg+xml;base64,") for source in sources)
    assert all(about.get("alt") for tag, about in found.tags if tag == "img")
    policy = next(about["content"] for _, about in found.tags if about.get("http-equiv"))
    assert policy.startswith("default-src 'none'")


def test_page_and_pdf_hold_the_same(plan: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    document = made(plan, site, rulebook)
    text = squeezed(Tags(document_html(document, paper_map(plan, site, 700, 400))).text.replace("\u00a0", " "))
    for block in document.blocks:
        if isinstance(block, Heading):
            assert block.text in text
        if isinstance(block, Table):
            for cell in (cell for row in block.rows for cell in row):
                assert squeezed(cell.replace("\u00a0", " ")).strip() in text
        if isinstance(block, Box):
            assert all(squeezed(line).strip() in text for line in block.working)


def test_code_says_number_and_fingerprint(plan: TravelPlan) -> None:
    assert qr_text(plan) == f"{plan.plan_id} {plan.fingerprint}"
    assert qr_svg(qr_text(plan)) != qr_svg(qr_text(dataclasses.replace(plan, fingerprint="f" * 64)))
    assert "viewBox" in qr_svg("x")


@given(st.lists(st.integers(1, 99), min_size=1, max_size=30))
def test_ranges_lose_no_flag(numbers: list[int]) -> None:
    found: set[int] = set()
    for part in ranges(numbers).split(", "):
        ends = [int(value) for value in part.split("–")]
        found |= set(range(ends[0], ends[-1] + 1))
    assert found == set(numbers)


def test_a_fault_of_the_template_is_no_missing_letter() -> None:
    with pytest.raises(Exception, match="dictionary does not contain key"):
        set_pdf("card.typ", {"nothing": "here"})
