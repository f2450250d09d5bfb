"""README says what the program says of itself, and names every command."""

from __future__ import annotations

from tests.make_readme import README, filled

TEXT = README.read_text(encoding="utf-8")


def test_tables_are_the_programs_own() -> None:
    assert filled(TEXT) == TEXT


def test_job_stands_first_then_two_commands() -> None:
    assert TEXT.splitlines()[2].startswith("A self-propelled lifting machine")
    blocks = TEXT.split("```sh\n")[1:3]
    assert "travel plan demo_site/site" in blocks[0]
    assert "pytest" in blocks[1]
