"""Commands that decide about a plan: submit, release, renew, refuse, suspend, withdraw, accept, close, hand back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from travel.cli.run import Books, Tell, app, show
from travel.cli.signing import (
    AnchorOption,
    By,
    PlanRef,
    Reason,
    RegisterOption,
    RoleOption,
    answered,
    place_of,
    signer_of,
)

SiteNow = Annotated[Path, typer.Option("--site", help="The site as it is now.")]
MachineNow = Annotated[Path, typer.Option("--machine", help="The machine's sheet as it is now.")]
LoadNow = Annotated[Path | None, typer.Option("--load", help="The load out, where the plan has one.")]
BackLoadNow = Annotated[Path | None, typer.Option("--back-load", help="The load back, where the plan has one.")]
Until = Annotated[str, typer.Option("--until", help="Until when it holds, RFC 3339 with offset.")]
Further = Annotated[
    list[str] | None, typer.Option("--condition", help="'what|who|when due|shown by what'; may be repeated.")
]
Unknowns = Annotated[list[str] | None, typer.Option("--accept-unknown", help="ID:REASON, one by one; may be repeated.")]
Beside = Annotated[
    list[str] | None, typer.Option("--beside", help="PLAN:HOW they are kept apart on one lane; may be repeated.")
]
TrailerNow = Annotated[Path | None, typer.Option("--trailer", help="The trailer's sheet as it is now.")]
Note = Annotated[str, typer.Option("--note", help="What else is to be said.")]


@app.command(epilog="Example: travel submit maps/demo_site-middle-P1/plan.json --by Hanne")
def submit(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json.")],
    by: By,
    note: Note = "",
    role: RoleOption = None,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Put a plan before the supervisors."""

    def work(tell: Tell) -> int:
        from travel.service.register import submit as put

        show(put(place_of(register, anchor), plan_file, signer_of(by, role), note))
        return 0

    answered(work)


def _release(
    kind: str,
    plan: str,
    by: str,
    until: str,
    words: tuple[list[str] | None, list[str] | None, list[str] | None],
    now: tuple[Path, Path, Path | None, Path | None, Path | None, list[Path] | None],
    where: tuple[str | None, Path | None, str | None],
) -> None:
    def work(tell: Tell) -> int:
        from travel.service.again import Now
        from travel.service.register import Terms, release_or_renew

        site, machine, load, back_load, trailer, books = now
        books_now = tuple(books or ())
        text, go = release_or_renew(
            place_of(where[0], where[1]),
            plan,
            signer_of(by, where[2]),
            Terms(
                until=until,
                conditions=tuple(words[0] or ()),
                accept_unknown=tuple(words[1] or ()),
                beside=tuple(words[2] or ()),
            ),
            Now(site=site, machine=machine, load=load, back_load=back_load, trailer=trailer, rulebooks=books_now),
            renew=kind == "renew",
            tell=tell,
        )
        show(text)
        return 0 if go else 3

    answered(work)


@app.command(
    epilog="Example: travel release maps/demo_site-middle-P1/plan.json --by Ruth --until 2026-11-25T17:00:00+00:00 "
    "--site demo_site/site --machine demo_site/machines/middle.toml"
)
def release(  # noqa: PLR0913 - one option each
    plan: PlanRef,
    by: By,
    until: Until,
    site: SiteNow,
    machine: MachineNow,
    load: LoadNow = None,
    back_load: BackLoadNow = None,
    trailer: TrailerNow = None,
    condition: Further = None,
    accept_unknown: Unknowns = None,
    beside: Beside = None,
    rulebook: Books = None,
    role: RoleOption = None,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Release a plan that somebody else submitted, after asking whether what it relied on is still there."""
    words, now = (condition, accept_unknown, beside), (site, machine, load, back_load, trailer, rulebook)
    _release("release", plan, by, until, words, now, (register, anchor, role))


@app.command(
    epilog="Example: travel renew maps/demo_site-middle-P1/plan.json --by Ruth --until 2026-11-26T17:00:00+00:00 "
    "--site demo_site/site --machine demo_site/machines/middle.toml"
)
def renew(  # noqa: PLR0913 - one option each
    plan: PlanRef,
    by: By,
    until: Until,
    site: SiteNow,
    machine: MachineNow,
    load: LoadNow = None,
    back_load: BackLoadNow = None,
    trailer: TrailerNow = None,
    condition: Further = None,
    beside: Beside = None,
    rulebook: Books = None,
    role: RoleOption = None,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Renew a release: every condition is open again and the operator accepts again."""
    words, now = (condition, None, beside), (site, machine, load, back_load, trailer, rulebook)
    _release("renew", plan, by, until, words, now, (register, anchor, role))


def _plain(kind: str, plan: str, by: str, note: str, where: tuple[str | None, Path | None, str | None]) -> None:
    def work(tell: Tell) -> int:
        from travel.service.register import decide

        show(decide(place_of(where[0], where[1]), plan, signer_of(by, where[2]), kind, note))
        return 0

    answered(work)


@app.command(epilog="Example: travel refuse TP-0123456789 --by Ruth --reason 'the spotter is not there today'")
def refuse(
    plan: PlanRef, by: By, reason: Reason, role: RoleOption = None, register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:  # fmt: skip
    """Refuse a submitted plan."""
    _plain("refuse", plan, by, reason, (register, anchor, role))


@app.command(epilog="Example: travel suspend TP-0123456789 --by Ivo --reason 'the verge is giving way'")
def suspend(
    plan: PlanRef, by: By, reason: Reason, role: RoleOption = None, register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:  # fmt: skip
    """Stop a released plan for now; anybody enrolled may, and a supervisor releases it again."""
    _plain("suspend", plan, by, reason, (register, anchor, role))


@app.command(epilog="Example: travel withdraw TP-0123456789 --by Hanne --reason 'the lift is called off'")
def withdraw(
    plan: PlanRef, by: By, reason: Reason, role: RoleOption = None, register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:  # fmt: skip
    """Withdraw a plan for good."""
    _plain("withdraw", plan, by, reason, (register, anchor, role))


@app.command(epilog="Example: travel accept TP-0123456789 --by Ivo")
def accept(
    plan: PlanRef, by: By, note: Note = "", role: RoleOption = None, register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:  # fmt: skip
    """Accept a released plan as its operator, by name, with every condition closed."""
    _plain("accept", plan, by, note, (register, anchor, role))


@app.command(name="hand-back", epilog="Example: travel hand-back TP-0123456789 --by Ivo")
def hand_back(
    plan: PlanRef, by: By, note: Note = "", role: RoleOption = None, register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:  # fmt: skip
    """Hand an accepted plan back: the move is over."""
    _plain("hand_back", plan, by, note, (register, anchor, role))


@app.command(
    name="close-condition",
    epilog="Example: travel close-condition TP-0123456789 spotter --by Ivo --evidence 'Olek, channel 4'",
)
def close_condition(
    plan: PlanRef,
    condition: Annotated[str, typer.Argument(help="Id of the condition.")],
    by: By,
    evidence: Annotated[str, typer.Option("--evidence", help="What shows that it is done.")],
    role: RoleOption = None,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Close one condition of a release, with what shows that it is done."""

    def work(tell: Tell) -> int:
        from travel.service.register import close_condition as close

        show(close(place_of(register, anchor), plan, signer_of(by, role), condition, evidence))
        return 0

    answered(work)


@app.command(
    epilog="Example: travel status maps/demo_site-middle-P1/plan.json --site demo_site/site "
    "--machine demo_site/machines/middle.toml"
)
def status(  # noqa: PLR0913 - one option each
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json.")],
    site: SiteNow,
    machine: Annotated[Path | None, typer.Option("--machine", help="The machine's sheet as it is now.")] = None,
    load: LoadNow = None,
    back_load: BackLoadNow = None,
    trailer: TrailerNow = None,
    weather: Annotated[str, typer.Option("--weather", help="The weather now, as in ground=wet,wind_mps=8.")] = "",
    rulebook: Books = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Tell whether a plan still holds on what is there now, and whether the machine may move on it."""

    def work(tell: Tell) -> int:
        from travel.service.again import Now
        from travel.service.ask import weather_of
        from travel.service.status import said
        from travel.service.status import status as look

        now = Now(
            site=site,
            machine=machine,
            load=load,
            back_load=back_load,
            trailer=trailer,
            rulebooks=tuple(rulebook or ()),
            weather=weather_of(weather) if weather else None,
        )
        found = look(plan_file, now, place_of(register, anchor), tell)
        show(said(found, as_json))
        return found.code

    answered(work)


@app.command(
    epilog="Example: travel compare monday/plan.json tuesday/plan.json --site demo_site/site --out compare.html"
)
def compare(
    first: Annotated[Path, typer.Argument(metavar="A", help="A plan.json.")],
    second: Annotated[Path, typer.Argument(metavar="B", help="Another plan.json.")],
    site: Annotated[Path | None, typer.Option("--site", help="The site to draw both ways on.")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="File for the page with the map (HTML).")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """Say what differs between two plans, in words and on a map: ways, findings, conditions, what they rest on."""

    def work(tell: Tell) -> int:
        from travel.service.status import compare as look

        text, alike = look(first, second, as_json, site, out)
        show(text)
        return 0 if alike else 3

    answered(work)
