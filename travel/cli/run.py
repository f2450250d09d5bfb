"""What every command shares: the application, options they have in common, progress, exit codes."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from travel.errors import InputError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Can this lifting machine get from the gate to the pick point and back, which way, and how.\n\n"
    "Exit codes: 0 yes, nothing open; 3 yes, but controls, cautions or unknowns are open; 1 an answered no; "
    "2 bad input; 130 cancelled.",
)

SiteArg = Annotated[Path, typer.Argument(help="Site: a folder with site.toml and GeoJSON layers, or a GeoPackage.")]
Books = Annotated[list[Path] | None, typer.Option("--rulebook", help="Company or site rulebook; may be repeated.")]
WeatherWords = Annotated[str, typer.Option("--weather", help="As in ground=wet,temperature_c=2,wind_mps=8.")]
Hour = Annotated[str | None, typer.Option("--at", help="Start, RFC 3339 with offset. Without it closures always bar.")]
Accepted = Annotated[list[str] | None, typer.Option("--accept-unknown", help="ID:REASON; may be repeated.")]
Amended = Annotated[
    list[str] | None, typer.Option("--amend", help="layer:feature:field=value[@from-to]; may be repeated.")
]
Tell = Callable[[str, float], None]


def run(work: Callable[[Callable[[str, float], None]], int]) -> None:
    """Run one command with a progress line on a terminal, and turn what happens into an exit code."""
    from travel.errors import Cancelled, InputError

    try:
        code = _with_progress(work)
    except InputError as error:
        _print_faults(error)
        code = 2
    except BrokenPipeError:
        raise  # whoever reads what is printed has gone: typer ends quietly
    except OSError as error:
        named = "" if error.filename is None else f"{error.filename}: "
        print(f"1 fault:\n  {named}cannot be read or written: {error.strerror or error}", file=sys.stderr)
        code = 2
    except (KeyboardInterrupt, Cancelled, typer.Abort):
        print("Cancelled; nothing was half-written.", file=sys.stderr)
        code = 130
    raise typer.Exit(code)


class _Line:
    """The line on a terminal that tells how far the work is: begun with its first word, gone before one prints.

    What is printed goes where it was sent, a file or a pipe too, and as it stands; a password is asked for undisturbed.
    """

    def __init__(self) -> None:
        self.bar: Any = None
        self.task: Any = None

    def tell(self, what: str, share: float) -> None:
        """Say what is done now, and the share of the whole that is done."""
        if self.bar is None:
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

            columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn())
            self.bar = Progress(
                *columns, console=Console(stderr=True), transient=True, redirect_stdout=False, redirect_stderr=False
            )
            self.task = self.bar.add_task(what, total=1.0)
            self.bar.start()
        self.bar.update(self.task, description=what, completed=share)

    def clear(self) -> None:
        """Take the line away."""
        if self.bar is not None:
            self.bar.stop()
        self.bar = None


_line = _Line()


def _with_progress(work: Callable[[Callable[[str, float], None]], int]) -> int:
    if not sys.stderr.isatty():
        return work(lambda what, share: None)
    try:
        return work(_line.tell)
    finally:
        _line.clear()


def settle() -> None:
    """Take the progress line away before something is printed or asked."""
    _line.clear()


def show(what: Any) -> None:
    """Print text as it stands, or rich renderables one after the other."""
    settle()
    if isinstance(what, str):
        print(what)
        return
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        console = Console(highlight=False, markup=False, emoji=False, width=100)
    for part in what if isinstance(what, list) else [what]:
        console.print(part)


def _print_faults(error: InputError) -> None:
    count = len(error.faults)
    print(f"{count} fault{'s' if count != 1 else ''}; nothing was written:", file=sys.stderr)
    for fault in error.faults:
        print(f"  {fault.text()}", file=sys.stderr)
