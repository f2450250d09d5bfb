"""The command line: options in, one service call, an exit code out."""

from __future__ import annotations

import gc

from travel.cli import answers, decide, paper, register, trailer  # the commands register themselves
from travel.cli.run import app

__all__ = ["answers", "app", "decide", "main", "paper", "register", "trailer"]

GARBAGE_AFTER = (100_000, 20, 20)
"""Objects made before Python looks for cycles again: a command makes few cycles and keeps most to its end."""


def main() -> None:
    """Run the command line."""
    gc.set_threshold(*GARBAGE_AFTER)
    app()
