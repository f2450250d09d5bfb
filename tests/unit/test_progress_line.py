"""The progress line of a terminal: what is printed goes where it was sent, whole, with the line out of the way."""

from __future__ import annotations

import sys
from collections.abc import Callable

import pytest
import typer

from travel.cli.run import run, settle, show

LONG = "hash " + "0123456789abcdef" * 16


def test_what_is_printed_leaves_a_terminal_s_progress_line_alone(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)

    def work(tell: Callable[[str, float], None]) -> int:
        tell("looking at [/machine] 1", 0.5)
        tell("looking at [/machine] 2", 0.7)
        show(LONG)
        return 3

    with pytest.raises(typer.Exit) as ended:
        run(work)
    assert ended.value.exit_code == 3
    out, err = capsys.readouterr()
    assert out == LONG + "\n"
    assert "looking at [/machine] 2" in err
    assert LONG not in err


def test_nothing_is_drawn_while_a_password_is_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)

    def work(tell: Callable[[str, float], None]) -> int:
        print("Password of Ruth:", end="")
        settle()
        return 0

    with pytest.raises(typer.Exit):
        run(work)
    out, err = capsys.readouterr()
    assert out == "Password of Ruth:"
    assert err == ""


def test_who_breaks_off_at_the_password_has_cancelled(capsys: pytest.CaptureFixture[str]) -> None:
    def work(tell: Callable[[str, float], None]) -> int:
        raise typer.Abort

    with pytest.raises(typer.Exit) as ended:
        run(work)
    assert ended.value.exit_code == 130
    assert "Cancelled" in capsys.readouterr().err
