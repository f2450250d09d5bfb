"""Commands that write what people carry: document, card, files for a telephone or a GIS."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from travel.cli.run import Books, Tell, app, run, show

PlanArg = Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json.")]
SiteOption = Annotated[Path, typer.Option("--site", help="The site the plan was made on.")]


class UnitsOption(StrEnum):
    """Units of the card."""

    METRIC = "metric"
    US = "us"


@app.command(epilog="Example: travel document maps/demo_site-middle-P1/plan.json --site demo_site/site")
def document(
    plan_file: PlanArg,
    site: SiteOption,
    out: Annotated[Path | None, typer.Option("--out", help="The PDF; beside the plan without it.")] = None,
    html: Annotated[Path | None, typer.Option("--html", help="The same as one HTML file.")] = None,
    rulebook: Books = None,
) -> None:
    """Write the travel plan as a document: one page to decide on, and everything it rests on."""

    def work(tell: Tell) -> int:
        from travel.service.document import write_document

        paths = write_document(plan_file, site, out, html, tuple(rulebook or ()), tell)
        show("\n".join(f"written: {path}" for path in paths))
        return 0

    run(work)


@app.command(epilog="Example: travel card maps/demo_site-middle-P1/plan.json --units us")
def card(
    plan_file: PlanArg,
    units: Annotated[UnitsOption, typer.Option("--units", help="metric or us.")] = UnitsOption.METRIC,
    out: Annotated[Path | None, typer.Option("--out", help="The PDF; beside the plan without it.")] = None,
    rulebook: Books = None,
) -> None:
    """Write the operator's card: what to do, in order, on one or two sheets."""

    def work(tell: Tell) -> int:
        from travel.service.document import write_card

        path = write_card(plan_file, out, units.value, tuple(rulebook or ()))
        show("\n".join(f"written: {one}" for one in path))
        return 0

    run(work)


@app.command(epilog="Example: travel export maps/demo_site-middle-P1/plan.json --site demo_site/site --out carried")
def export(
    plan_file: PlanArg,
    site: SiteOption,
    out: Annotated[Path, typer.Option("--out", help="Folder for way.gpx and plan.gpkg.")],
    rulebook: Books = None,
) -> None:
    """Write the way for a telephone (GPX) and plan and site for a GIS (GeoPackage)."""

    def work(tell: Tell) -> int:
        from travel.service.export import export_plan

        show("\n".join(f"written: {path}" for path in export_plan(plan_file, site, out, tuple(rulebook or ()))))
        return 0

    run(work)
