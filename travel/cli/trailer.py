"""The transport crew's command: on and off the trailer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from travel.cli.run import Books, Tell, app, run, show


@app.command(
    epilog="Example: travel ramp --machine demo_site/machines/middle.toml "
    "--trailer demo_site/trailers/semi_low_loader.toml --ground-slope 0 "
    "--cross-slope 0 --surface asphalt --weather ground=wet --jurisdiction gb"
)
def ramp(  # noqa: PLR0913 - one option each
    machine: Annotated[Path, typer.Option("--machine", help="The machine's sheet (TOML).")],
    trailer: Annotated[Path, typer.Option("--trailer", help="The trailer's sheet with its towing vehicle (TOML).")],
    ground_slope: Annotated[
        float | None,
        typer.Option(
            "--ground-slope",
            help="Slope the rig stands on, %; + with the trailer's nose uphill; unknown without it.",
        ),
    ] = None,
    cross_slope: Annotated[
        float | None,
        typer.Option(
            "--cross-slope", help="Slope across, %; + falling to the right, looking at the nose; unknown without it."
        ),
    ] = None,
    nose: Annotated[str | None, typer.Option("--nose", help="up or down: gives the slope its sign.")] = None,
    surface: Annotated[str | None, typer.Option("--surface", help="Surface of the ground under the rig.")] = None,
    weather: Annotated[str, typer.Option("--weather", help="As in ground=wet; without it ramps are wet.")] = "",
    move: Annotated[str | None, typer.Option("--move", help="load (as without it) or unload.")] = None,
    first: Annotated[
        str | None, typer.Option("--first", help="Which end goes first: nose (as without it) or tail.")
    ] = None,
    jurisdiction: Annotated[str | None, typer.Option("--jurisdiction", help="us, gb, eu, au or none.")] = None,
    request: Annotated[
        Path | None, typer.Option("--request", help="Request file (TOML); its [ramp] and [weather] are asked.")
    ] = None,
    rulebook: Books = None,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for ramp.json and .html, .svg, .png.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print ramp.json instead of the summary.")] = False,
) -> None:
    """Drive a machine on or off a trailer: clearance, loads, what holds the rig, place on the deck, tie-downs, law."""

    def work(tell: Tell) -> int:
        from travel.service.ramp import (
            make_ramp,
            ramp_exit,
            ramp_folder,
            ramp_request,
            ramp_text,
            with_nose,
            write_ramp,
        )

        asked = ramp_request(
            move=move,
            first=first,
            ground_slope=ground_slope,
            cross_slope=cross_slope,
            surface=surface,
            weather=weather,
            jurisdiction=jurisdiction,
            file=request,
        )
        answer = make_ramp(machine, trailer, with_nose(asked, nose), tuple(rulebook or ()), tell)
        paths = write_ramp(answer, out or ramp_folder(machine, trailer))
        tell("done", 1.0)
        show(ramp_text(answer, tuple(str(path) for path in paths), as_json))
        return ramp_exit(answer)

    run(work)
