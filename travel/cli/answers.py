"""Commands that ask and answer: plan, formula, explain, inspect, reach, fleet, weather, remedy, rules and the rest."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from travel.cli.run import Accepted, Amended, Books, Hour, SiteArg, WeatherWords, app, run, show


@app.command(
    epilog="Example: travel plan demo_site/site --machine demo_site/machines/middle.toml --from G1 --to P1 "
    "--weather ground=damp,temperature_c=8,wind_mps=4"
)
def plan(  # noqa: PLR0913 - one option each
    site: SiteArg,
    machine: Annotated[Path, typer.Option("--machine", help="The machine's sheet (TOML).")],
    from_place: Annotated[str | None, typer.Option("--from", help="Place the machine starts at.")] = None,
    to_place: Annotated[str | None, typer.Option("--to", help="Place it has to get to.")] = None,
    request_file: Annotated[
        Path | None, typer.Option("--request", help="Request file (TOML) instead of from, to, at, load, weather.")
    ] = None,
    weather: WeatherWords = "",
    at: Hour = None,
    load: Annotated[Path | None, typer.Option("--load", help="What is carried on the way out (TOML).")] = None,
    trailer: Annotated[
        Path | None, typer.Option("--trailer", help="The trailer that brings the machine: in, off, on and away too.")
    ] = None,
    unload: Annotated[
        str | None, typer.Option("--unload", help="Place to go on and off the trailer, or any (the best one).")
    ] = None,
    aim: Annotated[str, typer.Option("--aim", help="exposure, time, climb, changes or shortest.")] = "exposure",
    rulebook: Books = None,
    accept_unknown: Accepted = None,
    amend: Amended = None,
    no_return: Annotated[
        bool, typer.Option("--no-return", help="Do not plan the way back (becomes a condition).")
    ] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Doubts about the input stop as faults do.")] = False,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for plan.json and map.html.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plan.json instead of the summary.")] = False,
) -> None:
    """Plan the way of a machine from one place to another and back."""
    from travel.service.ask import plan_request

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.plan import default_folder, exit_code, make_plan, write_plan
        from travel.service.show import plan_text

        request = plan_request(
            site=site,
            machine=machine,
            from_place=from_place,
            to_place=to_place,
            weather=weather,
            at=at,
            load=load,
            trailer=trailer,
            unload=unload,
            aim=aim,
            rulebooks=tuple(rulebook or ()),
            accept_unknown=tuple(accept_unknown or ()),
            amendments=tuple(amend or ()),
            with_return=not no_return,
            request_file=request_file,
            strict=strict,
        )
        answer = make_plan(request, progress=tell)
        paths = write_plan(answer, out or default_folder(answer, request))
        tell("done", 1.0)
        show(plan_text(answer, tuple(str(path) for path in paths), as_json))
        return exit_code(answer.plan)

    run(work)


@app.command(epilog="Example: travel formula total_resistance weight_n=160000 rolling_ratio=0.04 grade_ratio=0.12")
def formula(
    name: Annotated[str | None, typer.Argument(help="Formula; none lists all.")] = None,
    values: Annotated[list[str] | None, typer.Argument(help="name=number, SI units.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """List every formula, show one's sheet, or evaluate it with its working."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.formulas import formula_text

        text, holds = formula_text(name, tuple(values or ()), as_json)
        show(text)
        return 0 if holds else 1

    run(work)


@app.command(epilog="Example: travel explain maps/demo_site-middle-P1/plan.json 1")
def explain(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json.")],
    flag: Annotated[int, typer.Argument(help="Number of the flag.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show the working of one finding, from plan.json alone."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.formulas import explanation

        show(explanation(plan_file, flag, as_json))
        return 0

    run(work)


@app.command(
    epilog="Example: travel inspect demo_site/site --machine demo_site/machines/middle.toml --from G1 --to P2 "
    "--weather ground=damp,temperature_c=8,wind_mps=4"
)
def inspect(
    site: SiteArg,
    machine: Annotated[Path | None, typer.Option("--machine", help="The machine whose way matters.")] = None,
    from_place: Annotated[str | None, typer.Option("--from", help="Place the machine starts at.")] = None,
    to_place: Annotated[str | None, typer.Option("--to", help="Place it has to get to.")] = None,
    weather: WeatherWords = "",
    load: Annotated[Path | None, typer.Option("--load", help="What is carried (TOML).")] = None,
    rulebook: Books = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """List faults, doubts and what is not known, ranked by what one more measurement would settle."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.ask import inspect_request
        from travel.service.inspect import inspect as look
        from travel.service.inspect import inspection_text

        books = tuple(rulebook or ())
        request = inspect_request(site, machine, from_place, to_place, weather, load, books)
        found = look(request, site, books, tell)
        show(inspection_text(found, as_json))
        return 3 if found.doubts or found.gaps or found.undeclared else 0

    run(work)


@app.command(epilog="Example: travel convert demo_site/site thornlow.gpkg")
def convert(
    site: SiteArg,
    target: Annotated[Path, typer.Argument(metavar="TO", help="A .gpkg, or a folder for GeoJSON layers.")],
) -> None:
    """Write a site as a GeoPackage or as a folder of GeoJSON layers; the answers stay the same."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.convert import convert as write

        show("\n".join(f"written: {path}" for path in write(site, target)))
        return 0

    run(work)


@app.command(
    epilog="Example: travel reach demo_site/site --machine demo_site/machines/large.toml --from G1 "
    "--weather ground=damp,temperature_c=8,wind_mps=4 --out reached"
)
def reach(  # noqa: PLR0913 - one option each
    site: SiteArg,
    machine: Annotated[Path, typer.Option("--machine", help="The machine's sheet (TOML).")],
    from_place: Annotated[str, typer.Option("--from", help="Place the machine starts at.")],
    weather: WeatherWords = "",
    at: Hour = None,
    load: Annotated[Path | None, typer.Option("--load", help="What is carried (TOML).")] = None,
    rulebook: Books = None,
    accept_unknown: Accepted = None,
    amend: Amended = None,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for the map and the GeoPackage.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show every place reached or not, what stops it, and what size could still get there."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.ask import places_request
        from travel.service.reach import places_exit, reach_text, write_reach
        from travel.service.reach import reach as look

        request = places_request(
            site=site,
            machine=machine,
            from_place=from_place,
            weather=weather,
            at=at,
            load=load,
            rulebooks=tuple(rulebook or ()),
            accept_unknown=tuple(accept_unknown or ()),
            amendments=tuple(amend or ()),
        )
        found = look(request, tell)
        show(reach_text(found, as_json))
        if out is not None:
            typer.echo("\n".join(f"written: {path}" for path in write_reach(found, out)), err=as_json)
        return places_exit(row.verdict for row in found.rows)

    run(work)


@app.command(
    epilog="Example: travel fleet demo_site/site --machines demo_site/machines --from G1 --to P4 "
    "--weather ground=damp,temperature_c=8,wind_mps=4"
)
def fleet(  # noqa: PLR0913 - the command's own options
    site: SiteArg,
    machines: Annotated[Path, typer.Option("--machines", help="Folder of machine sheets.")],
    from_place: Annotated[str, typer.Option("--from", help="Place the machines start at.")],
    to_place: Annotated[list[str] | None, typer.Option("--to", help="Places; none = every pick point.")] = None,
    weather: WeatherWords = "",
    at: Hour = None,
    rulebook: Books = None,
    accept_unknown: Accepted = None,
    amend: Amended = None,
    remedies: Annotated[bool, typer.Option(help="Also name the least change that would open a way.")] = True,
    resume: Annotated[Path | None, typer.Option("--resume", help="File that keeps finished machines.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Compare machines over pick points: verdict, time, what binds, what would open a way."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.ask import places_request
        from travel.service.fleet import fleet as look
        from travel.service.fleet import fleet_exit, fleet_request, fleet_text

        asked = places_request(
            site=site,
            machine=machines,
            from_place=from_place,
            weather=weather,
            at=at,
            rulebooks=tuple(rulebook or ()),
            accept_unknown=tuple(accept_unknown or ()),
            amendments=tuple(amend or ()),
        )
        found = look(fleet_request(asked, tuple(to_place or ()), remedies), resume, tell)
        show(fleet_text(found, as_json))
        return fleet_exit(found)

    run(work)


@app.command(epilog="Example: travel weather plan.json demo_site/site --machine demo_site/machines/middle.toml")
def weather(  # noqa: PLR0913 - one option each
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json.")],
    site: SiteArg,
    machine: Annotated[Path, typer.Option("--machine", help="The sheet the plan was made with.")],
    load: Annotated[Path | None, typer.Option("--load", help="The load the plan was made with.")] = None,
    back_load: Annotated[
        Path | None, typer.Option("--back-load", help="The load back, where the plan has one.")
    ] = None,
    trailer: Annotated[
        Path | None, typer.Option("--trailer", help="The trailer's sheet, where the plan has one.")
    ] = None,
    on: Annotated[
        str | None, typer.Option("--on", help="Day whose hours are asked about, as in 2026-11-26; none = the plan's.")
    ] = None,
    rulebook: Books = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Show a plan's verdict in other weather and at other hours, and what fails first."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.again import Now
        from travel.service.hours import day_of
        from travel.service.weather import weather_text, weather_window

        books = tuple(rulebook or ())
        now = Now(site=site, machine=machine, load=load, back_load=back_load, trailer=trailer, rulebooks=books)
        plan, rows = weather_window(plan_file, now, tell, None if on is None else day_of(on))
        show(weather_text(plan, rows, as_json))
        return (
            1 if any(row.outcome == "no_way" for row in rows) else 3 if any(r.verdict != "clear" for r in rows) else 0
        )

    run(work)


@app.command(
    epilog="Example: travel remedy demo_site/site --machine demo_site/machines/large.toml --from G1 --to P3 "
    "--weather ground=damp,temperature_c=8,wind_mps=4 --apply 3 --to-dir thornlow_widened"
)
def remedy(  # noqa: PLR0913 - one option each
    site: SiteArg,
    machine: Annotated[Path, typer.Option("--machine", help="The machine's sheet (TOML).")],
    from_place: Annotated[str | None, typer.Option("--from", help="Place the machine starts at.")] = None,
    to_place: Annotated[str | None, typer.Option("--to", help="Place it has to get to.")] = None,
    request_file: Annotated[
        Path | None, typer.Option("--request", help="Request file (TOML) instead of from, to, at, load, weather.")
    ] = None,
    weather: WeatherWords = "",
    at: Hour = None,
    load: Annotated[Path | None, typer.Option("--load", help="What is carried on the way out (TOML).")] = None,
    rulebook: Books = None,
    amend: Amended = None,
    no_return: Annotated[bool, typer.Option("--no-return", help="Only the way out has to open.")] = False,
    apply: Annotated[int | None, typer.Option("--apply", help="Number of the remedy to write a site with.")] = None,
    to_dir: Annotated[Path | None, typer.Option("--to-dir", help="Empty folder for that site.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """List the least found changes that would open a way where there is none, and write the site with one of them."""
    from travel.service.ask import plan_request

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.remedy import apply_remedy, find_remedies, insist_applicable, remedy_code, remedy_text
        from travel.service.workspace import together

        if (apply is None) != (to_dir is None):
            raise typer.BadParameter("--apply and --to-dir go together")
        request, _ = together(
            lambda: plan_request(
                site=site,
                machine=machine,
                from_place=from_place,
                to_place=to_place,
                weather=weather,
                at=at,
                load=load,
                rulebooks=tuple(rulebook or ()),
                amendments=tuple(amend or ()),
                with_return=not no_return,
                request_file=request_file,
            ),
            lambda: insist_applicable(apply, to_dir),
        )
        answer, workspace = find_remedies(request, tell)
        done = apply_remedy(request, answer, workspace, apply, to_dir) if apply is not None and to_dir else None
        tell("done", 1.0)
        show(remedy_text(answer, done, as_json))
        return remedy_code(answer)

    run(work)


@app.command(epilog="Example: travel rules --json")
def rules(
    rulebook: Books = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """List every limit: value, where it holds, which layer won, status and source."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.show import rules_text

        table, text = rules_text(tuple(rulebook or ()))
        show(text if as_json else table)
        return 0

    run(work)


@app.command(epilog="Example: travel schema site --text")
def schema(
    kind: Annotated[str, typer.Argument(help="site, machine, load, trailer, request, plan, ramp or rulebook.")],
    as_text: Annotated[bool, typer.Option("--text", help="A list to read instead of JSON Schema.")] = False,
) -> None:
    """Print what a kind of file may hold, as JSON Schema or as a list to read."""

    def work(tell: Callable[[str, float], None]) -> int:
        from travel.service.show import schema_shown

        show(schema_shown(kind, as_text))
        return 0

    run(work)
