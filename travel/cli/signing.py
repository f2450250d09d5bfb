"""What commands about the register share: where it is, who decides, the password, what a refusal prints."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from travel.cli.run import Tell, run, settle

if TYPE_CHECKING:
    from travel.service.register import Place, Signer

RegisterOption = Annotated[
    str | None,
    typer.Option(
        "--register", envvar="TRAVEL_REGISTER", help="A file, or postgresql://…; travel-register.sqlite without it."
    ),
]
AnchorOption = Annotated[
    Path | None,
    typer.Option("--anchor", envvar="TRAVEL_REGISTER_ANCHOR", help="Its anchor file; beside the register without it."),
]
By = Annotated[
    str, typer.Option("--by", help="Who decides, by name; the password is asked for, or from TRAVEL_PASSWORD(_FILE).")
]
RoleOption = Annotated[str | None, typer.Option("--role", help="In which role, where a person has several.")]
PlanRef = Annotated[str, typer.Argument(metavar="PLAN", help="A plan.json, its number, or the start of its digest.")]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]


def place_of(register: str | None, anchor: Path | None) -> Place:
    """Give where the register is."""
    from travel.service.register import Place

    return Place(location=register, anchor=anchor)


def signer_of(name: str, role: str | None = None) -> Signer:
    """Give who decides, with the password."""
    from travel.service.register import Signer

    return Signer(name=name, password=secret("TRAVEL_PASSWORD", f"Password of {name}"), role=role)


def secret(variable: str, prompt: str, twice: bool = False) -> str:
    """Give a password: from the environment, from the file the environment names, or asked for; never an option."""
    from travel.errors import Fault, InputError

    given, file = os.environ.get(variable), os.environ.get(f"{variable}_FILE")
    if given is not None:
        return given
    if file is not None:
        try:
            return Path(file).read_text(encoding="utf-8").rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            message = "cannot be read"
            raise InputError(
                [Fault(file="environment", field=f"{variable}_FILE", value=file, message=message)]
            ) from error
    if not sys.stdin.isatty():
        message = "is needed: nobody is there to be asked for the password"
        allowed = f"{variable}, or {variable}_FILE with the name of a file"
        raise InputError([Fault(file="environment", field=variable, message=message, allowed=allowed)])
    settle()
    return str(typer.prompt(prompt, hide_input=True, confirmation_prompt=twice))


def answered(work: Callable[[Tell], int]) -> None:
    """Run one command; a decision that may not be made is an answered no."""

    def tried(tell: Tell) -> int:
        from travel.errors import Refused, Tampered

        try:
            return work(tell)
        except Refused as refused:
            from travel.service.register import refusal

            settle()
            print(refusal(refused.reasons, isinstance(refused, Tampered)), file=sys.stderr)
            return 1

    run(tried)
