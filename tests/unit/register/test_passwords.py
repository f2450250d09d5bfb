"""Where a password comes from: the environment, the file it names, or nobody; never an option of the command."""

from __future__ import annotations

from pathlib import Path

import pytest

from travel.cli.signing import secret
from travel.errors import InputError

NAMES = ("TRAVEL_PASSWORD", "TRAVEL_PASSWORD_FILE")


@pytest.fixture(autouse=True)
def bare(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in NAMES:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)


@pytest.mark.parametrize("written", ["Ruth-ruth-pass", "Ruth-ruth-pass\n", "Ruth-ruth-pass\r\n"])
def test_the_file_the_environment_names(written: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One line end is the editor's; blanks are the owner's own."""
    file = tmp_path / "word"
    file.write_bytes(written.encode())
    monkeypatch.setenv("TRAVEL_PASSWORD_FILE", str(file))
    assert secret("TRAVEL_PASSWORD", "Password") == "Ruth-ruth-pass"


def test_the_environment_itself_comes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRAVEL_PASSWORD_FILE", str(tmp_path / "not there"))
    monkeypatch.setenv("TRAVEL_PASSWORD", " kept as it is ")
    assert secret("TRAVEL_PASSWORD", "Password") == " kept as it is "


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00"])
def test_a_file_that_cannot_be_read_is_named(
    content: bytes | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "word"
    if content is not None:
        file.write_bytes(content)
    monkeypatch.setenv("TRAVEL_PASSWORD_FILE", str(file))
    with pytest.raises(InputError, match="TRAVEL_PASSWORD_FILE"):
        secret("TRAVEL_PASSWORD", "Password")


def test_where_nobody_can_be_asked_what_is_needed_is_said() -> None:
    with pytest.raises(InputError, match=r"TRAVEL_PASSWORD.*nobody is there to be asked"):
        secret("TRAVEL_PASSWORD", "Password")
