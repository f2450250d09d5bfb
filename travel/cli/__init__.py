"""The command line: options in, one service call, an exit code out."""

from __future__ import annotations

import copy
import gc
import sys

import typer
from typer.main import get_command_name

from travel.cli import answers, decide, paper, register, trailer  # the commands register themselves
from travel.cli.run import app

__all__ = ["answers", "app", "decide", "main", "only_asked", "paper", "register", "trailer"]

GARBAGE_AFTER = (250_000, 20, 20)
"""Objects made before Python looks for cycles again: a command makes few cycles and keeps most to its end."""


def main() -> None:
    """Run the command line. What is left at the end goes with the process: nobody looks through it for cycles."""
    gc.set_threshold(*GARBAGE_AFTER)
    try:
        only_asked(sys.argv[1:])()
    finally:
        gc.freeze()


def only_asked(words: list[str]) -> typer.Typer:
    """Give the application with the command or group that the first word names, all of it where it names none.

    Building the options of all commands takes longer than reading those of one.
    """
    first = words[0] if words else ""
    commands = [
        info
        for info in app.registered_commands
        if info.callback is not None and first == (info.name or get_command_name(info.callback.__name__))
    ]
    groups = [info for info in app.registered_groups if first == info.name]
    if not commands and not groups:
        return app
    one = copy.copy(app)
    one.registered_commands, one.registered_groups = commands, groups
    one.callback()(_together)  # a command alone would be run without its name
    return one


def _together() -> None:
    """Stand for what is common to all commands."""
