"""What a plan relies on of a company's book: rules, controls, cautions, and of limits written twice the strictest."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.planning import case_of, workspace_of
from tests.unit.planning.remedy_cases import site_with
from travel.domain.plan import ReliedOn
from travel.planning.differences import relied_changes
from travel.planning.relied import Basis, journey_of, relied_on
from travel.rulebook import load_rulebook

WIDTH = """
[[rules]]
id = "width"
title = "Width"
group = "beside"
kind = "limit"
unit = "m"
scope = "piece"
layers = {layers}
needs = ["width_m", "cross_slope_pct"]
control = "{control}"
"""
SPOTTER = """
[[controls]]
id = "spotter"
text = "{text}"
owner = "Ruth"
due = "before"
evidence = "her call"
"""
TWICE = """
[[limits]]
id = "people.margin"
value = {first}
unit = "m"
sense = "at_least"
status = "owner"
source = "practice"

[[limits]]
id = "people.margin"
value = {second}
unit = "m"
sense = "at_least"
status = "owner"
source = "practice"
"""


def rows(folder: Path, text: str) -> tuple[ReliedOn, ...]:
    """Give what a plan relies on with a company's book laid over the default one."""
    book = folder / "book.toml"
    book.write_text('format = 1\nlayer = "company"\n' + text, encoding="utf-8")
    case = case_of(workspace_of(site_with(), load_rulebook((book,))))
    site = case.survey.site
    return relied_on(None, Basis(site=site, rulebook=case.rulebook, machine=case.machine, journeys=(journey_of(case),)))


@pytest.mark.parametrize(
    ("was", "now", "name", "field"),
    [
        (
            WIDTH.format(layers='["roads", "limits", "obstacles"]', control="spotter"),
            WIDTH.format(layers='["roads", "limits", "obstacles", "areas"]', control="spotter"),
            "width.rule",
            "layers",
        ),
        (
            WIDTH.format(layers='["roads", "limits", "obstacles"]', control="spotter"),
            WIDTH.format(layers='["roads", "limits", "obstacles"]', control="people-kept-out"),
            "width.rule",
            "control",
        ),
        (SPOTTER.format(text="One waves"), SPOTTER.format(text="Two wave"), "spotter.control", "text"),
        ('cautions = ["Mind the gate"]', 'cautions = ["Mind both gates"]', "cautions", "texts"),
        (
            TWICE.format(first=9.0, second=8.0),
            TWICE.format(first=12.0, second=8.0),
            "people.margin",
            "always (company)",
        ),
    ],
    ids=["layers", "control of a rule", "control", "cautions", "limit twice"],
)
def test_what_a_book_says_otherwise_voids(tmp_path: Path, was: str, now: str, name: str, field: str) -> None:
    before = rows(tmp_path, was)
    (change,) = relied_changes(before, rows(tmp_path, now))
    assert (change.layer, change.feature, [one.field for one in change.fields]) == ("rulebook", name, [field])
    assert relied_changes(before, rows(tmp_path, was)) == ()


def test_the_default_book_alone_adds_nothing(tmp_path: Path) -> None:
    names = {row.feature for row in rows(tmp_path, "") if row.layer == "rulebook"}
    assert not [name for name in names if name == "cautions" or name.endswith((".rule", ".control"))]
