"""``travel register``: the register itself, its people, what stands in it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from travel.cli.run import Tell, app, show
from travel.cli.signing import (
    AnchorOption,
    By,
    PlanRef,
    Reason,
    RegisterOption,
    answered,
    place_of,
    secret,
    signer_of,
)

group = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="The register of plans and decisions: signed, chained, only added to.",
    epilog="Example: travel register init Ruth",
)
app.add_typer(group, name="register")

AsJson = Annotated[bool, typer.Option("--json", help="Print as JSON.")]
Roles = Annotated[
    list[str] | None, typer.Option("--role", help="planner, supervisor, operator or crew; may be repeated.")
]


@group.command(epilog="Example: travel register init Ruth")
def init(
    name: Annotated[str, typer.Argument(help="The first supervisor.")],
    role: Roles = None,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Make a register with its first supervisor."""

    def work(tell: Tell) -> int:
        from travel.service.register import Signer
        from travel.service.register import init as make

        signer = Signer(name=name, password=secret("TRAVEL_PASSWORD", f"New password of {name}", twice=True))
        show(make(place_of(register, anchor), signer, tuple(role or ())))
        return 0

    answered(work)


@group.command(epilog="Example: travel register person Hanne --role planner --by Ruth")
def person(
    name: Annotated[str, typer.Argument(help="Who is enrolled.")],
    by: By,
    role: Roles = None,
    retire: Annotated[str | None, typer.Option("--retire", help="Let the person decide nothing more; why.")] = None,
    change_password: Annotated[bool, typer.Option("--change-password", help="Change one's own password.")] = False,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Enrol a person with roles (TRAVEL_NEW_PASSWORD or asked), retire one, or change one's own password."""

    def work(tell: Tell) -> int:
        from travel.service import register as service

        place, signer = place_of(register, anchor), signer_of(by)
        if retire is not None:
            show(service.retire(place, signer, name, retire))
            return 0
        new = secret("TRAVEL_NEW_PASSWORD", f"New password of {name}", twice=True)
        if change_password:
            if name != by:
                raise typer.BadParameter("everybody changes his own password: NAME and --by are the same person")
            show(service.change_password(place, signer, new))
        else:
            show(service.person(place, signer, name, tuple(role or ()), new))
        return 0

    answered(work)


@group.command(name="list", epilog="Example: travel register list")
def list_(as_json: AsJson = False, register: RegisterOption = None, anchor: AnchorOption = None) -> None:
    """List every plan and where it stands."""

    def work(tell: Tell) -> int:
        from travel.service.register import listed

        show(listed(place_of(register, anchor), as_json))
        return 0

    answered(work)


@group.command(name="show", epilog="Example: travel register show maps/demo_site-middle-P1/plan.json")
def show_(plan: PlanRef, as_json: AsJson = False, register: RegisterOption = None, anchor: AnchorOption = None) -> None:
    """Show where one plan stands, with every decision on it."""

    def work(tell: Tell) -> int:
        from travel.service.register import shown

        show(shown(place_of(register, anchor), plan, as_json))
        return 0

    answered(work)


@group.command(epilog="Example: travel register verify --head 59ffaa5bb6f025db")
def verify(
    head: Annotated[str, typer.Option("--head", help="A hash from a print-out that has to be there.")] = "",
    write_anchor: Annotated[
        bool, typer.Option("--write-anchor", help="Write a lost anchor file anew on the word of --head.")
    ] = False,
    as_json: AsJson = False,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Walk the whole register; say what was tampered with, and where."""

    def work(tell: Tell) -> int:
        from travel.service.register import verify as walk

        text, whole = walk(place_of(register, anchor), head, write_anchor, as_json)
        show(text)
        return 0 if whole else 1

    answered(work)


@group.command(epilog="Example: travel register export --out decisions.json")
def export(
    out: Annotated[Path | None, typer.Option("--out", help="File for every decision as kept.")] = None,
    register: RegisterOption = None,
    anchor: AnchorOption = None,
) -> None:
    """Print the last hash for paper, and write every decision as kept."""

    def work(tell: Tell) -> int:
        from travel.service.register import export as write

        text, whole = write(place_of(register, anchor), out)
        show(text)
        return 0 if whole else 1

    answered(work)


@group.command(epilog="Example: travel register clock --by Ruth --reason 'the hut computer was a day ahead'")
def clock(by: By, reason: Reason, register: RegisterOption = None, anchor: AnchorOption = None) -> None:
    """Record that the clock was ahead when the last decision was made, so that deciding can go on."""

    def work(tell: Tell) -> int:
        from travel.service.register import put_clock_right

        show(put_clock_right(place_of(register, anchor), signer_of(by), reason))
        return 0

    answered(work)
