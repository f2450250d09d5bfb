"""README says what the program says of itself, and names every command."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from tests.builders import good_layers, write_site
from tests.make_readme import README, filled
from travel.cli import app

TEXT = README.read_text(encoding="utf-8")


def test_tables_are_the_programs_own() -> None:
    assert filled(TEXT) == TEXT


def test_job_stands_first_then_two_commands() -> None:
    assert TEXT.splitlines()[2].startswith("A self-propelled lifting machine")
    blocks = TEXT.split("```sh\n")[1:3]
    assert "travel plan demo_site/site" in blocks[0]
    assert "pytest" in blocks[1]


def test_the_least_site_it_shows_is_a_site(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "yard", roads=good_layers()["roads"], places=good_layers()["places"])
    (folder / "site.toml").write_text(TEXT.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    for name in ("roads", "places"):
        content = json.loads((folder / f"{name}.geojson").read_text("utf-8"))
        for feature in content["features"]:
            feature["properties"].pop("not_looked_at", None)
        (folder / f"{name}.geojson").write_text(json.dumps(content), encoding="utf-8")
    found = CliRunner().invoke(app, ["inspect", str(folder)])
    assert found.exit_code == 3, found.output
    assert "Nobody is recorded as having looked for: overheads" in found.output
