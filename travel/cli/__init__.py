"""The command line: options in, one service call, an exit code out."""

from __future__ import annotations

from travel.cli import answers, decide, paper, register, trailer  # the commands register themselves
from travel.cli.run import app

__all__ = ["answers", "app", "decide", "main", "paper", "register", "trailer"]


def main() -> None:
    """Run the command line."""
    app()
