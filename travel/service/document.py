"""Paper of a plan: the document for the supervisor and the card for the operator."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from travel.domain.plan import Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Amendment, Site
from travel.domain.working import Working
from travel.errors import Fault, InputError
from travel.rulebook import load_rulebook
from travel.service.formulas import read_plan, work_out
from travel.service.workspace import Workspace
from travel.writers.card import Units, card_of
from travel.writers.card_pdf import card_pdf
from travel.writers.document import WIDE_MAP_PT, travel_document
from travel.writers.document_html import document_html
from travel.writers.document_pdf import document_pdf
from travel.writers.files import write_whole
from travel.writers.svg_map import paper_map

Tell = Callable[[str, float], None]
NEWER_BOOK = (
    "The program's default rulebook has changed since this plan was made: numbers are the plan's, words and titles "
    "are the newer book's. Plan again before release."
)


def workings_of(finding: Finding) -> tuple[Working, ...]:
    """Give the working of a finding's demand, and of its capacity where that is computed."""
    pairs = ((finding.formula, finding.terms), (finding.capacity_formula, finding.capacity_terms))
    return tuple(
        work_out(name, terms)
        for name, terms in pairs
        if name and terms and not any(math.isnan(value) for value in terms.values())
    )


def plan_on_site(plan_file: Path, site: Path, rulebooks: tuple[Path, ...] = ()) -> tuple[TravelPlan, Site, Rulebook]:
    """Give a plan with the very site and rulebook it was made with.

    Raises:
        InputError: the files' faults; a site or rulebook that is not the plan's: the paper would show another ground
    """
    plan = read_plan(plan_file)
    workspace = Workspace(path=site, rulebooks=rulebooks, amendments=_amendments(plan))
    faults = []
    if workspace.site.digest != plan.site.get("digest"):
        message = "is not the site this plan was made on: its files have changed since; plan again"
        faults.append(Fault(file=str(site), field="--site", message=message))
    faults += _book_faults(plan, workspace.rulebook)
    if faults:
        raise InputError(faults)
    return plan, workspace.site, workspace.rulebook


def _amendments(plan: TravelPlan) -> tuple[Amendment, ...]:
    return tuple(Amendment(**item) for item in plan.request.get("amendments") or ())


def _book_faults(plan: TravelPlan, rulebook: Rulebook) -> list[Fault]:
    """Refuse company and site books other than the plan's: their words and sources would not be its own."""
    wanted = {(item["layer"], item["sha256"]): item["name"] for item in plan.rulebooks if item["layer"] != "default"}
    given = {(book.layer, book.sha256): book.name for book in rulebook.books if book.layer != "default"}
    faults = [
        Fault(file="rulebook", layer=layer, value=name, message="is what the plan was made with, and is not given")
        for (layer, sha256), name in wanted.items()
        if (layer, sha256) not in given
    ]
    return faults + [
        Fault(file="rulebook", layer=layer, value=name, message="is not one the plan was made with")
        for (layer, sha256), name in given.items()
        if (layer, sha256) not in wanted
    ]


def _remark(plan: TravelPlan, rulebook: Rulebook) -> str:
    """Say where the program's own rulebook is no longer the one the plan was made with."""
    wanted = {item["sha256"] for item in plan.rulebooks if item["layer"] == "default"}
    given = {book.sha256 for book in rulebook.books if book.layer == "default"}
    return "" if wanted == given else NEWER_BOOK


def write_document(
    plan_file: Path,
    site: Path,
    out: Path | None = None,
    html: Path | None = None,
    rulebooks: tuple[Path, ...] = (),
    tell: Tell | None = None,
) -> tuple[Path, ...]:
    """Write the travel plan document and give the paths written.

    Args:
        plan_file, site, rulebooks: the plan and what it was made with
        out: the PDF; without it and without ``html``, beside the plan
        html: the same as one HTML file
        tell: called with what is being done and the share done
    """
    plan, read, rulebook = plan_on_site(plan_file, site, rulebooks)
    workings = {item.flag: workings_of(item) for item in plan.findings}
    document = travel_document(plan, read, rulebook, workings, _remark(plan, rulebook))
    if tell:
        tell("setting the document", 0.5)
    if out is None and html is None:
        out = plan_file.with_name("travel_plan.pdf")
    written = []
    if out is not None:
        write_whole(out, document_pdf(document, lambda width, height: paper_map(plan, read, width, height)))
        written.append(out)
    if html is not None:
        page = document_html(document, paper_map(plan, read, *WIDE_MAP_PT))
        write_whole(html, page.encode("utf-8"))
        written.append(html)
    return tuple(written)


def write_card(
    plan_file: Path, out: Path | None = None, units: Units = "metric", rulebooks: tuple[Path, ...] = ()
) -> tuple[Path, ...]:
    """Write the operator's card and give its path; without ``out``, beside the plan.

    Raises:
        InputError: a plan that cannot be read; rulebooks that are not the plan's
    """
    plan = read_plan(plan_file)
    rulebook = load_rulebook(rulebooks)
    faults = _book_faults(plan, rulebook)
    if faults:
        raise InputError(faults)
    path = out or plan_file.with_name("card.pdf")
    write_whole(path, card_pdf(card_of(plan, rulebook, units, _remark(plan, rulebook))))
    return (path,)
