"""Remedies as rows of the rulebook: what a row must hold, and that nobody allows again what is forbidden."""

from __future__ import annotations

from pathlib import Path

import pytest

from travel.domain.layers import LAYERS
from travel.errors import RulebookError
from travel.rulebook import load_rulebook

HEAD = 'format = 1\nlayer = "company"\n'


def laid(folder: Path, rows: str) -> tuple[Path, ...]:
    path = folder / "book.toml"
    path.write_text(HEAD + rows, encoding="utf-8")
    return (path,)


def test_every_remedy_says_who_when_and_what_it_brings() -> None:
    for row in load_rulebook().remedies:
        if row.forbidden:
            assert row.reason
            assert row.forbids
            continue
        assert row.who, row.id
        assert row.text, row.id
        assert row.price > 0, row.id
        assert row.side_effects or row.layer == "survey", row.id
        assert row.source in load_rulebook().sources
        if row.sense in ("raise", "lower"):
            assert row.step > 0, row.id
            assert row.layer == "machine" or all(LAYERS[row.layer].field(f) for f in row.fields), row.id


def test_a_raised_field_has_a_bound_to_search_up_to() -> None:
    for row in load_rulebook().remedies:
        if row.sense == "raise" and row.layer in LAYERS and not row.forbidden:
            for field in row.fields:
                spec = LAYERS[row.layer].field(field)
                assert spec is not None
                assert spec.high is not None, (row.id, field)


def test_a_company_sets_its_own_price(tmp_path: Path) -> None:
    base = next(row for row in load_rulebook().remedies if row.id == "widen-gateway")
    rows = (
        '[[remedies]]\nid = "widen-gateway"\nrules = ["width"]\nlayer = "limits"\nfields = ["width_m"]\n'
        'sense = "raise"\nstep = 0.1\nprice = 9.0\nwho = "mason"\ntext = "Widen {feature}"\n'
    )
    found = [row for row in load_rulebook(laid(tmp_path, rows)).remedies if row.id == "widen-gateway"]
    assert [row.price for row in found] == [9.0]
    assert base.price != 9.0


FORBIDDEN = '[[remedies]]\nid = "no-regrading-under-wires"\nforbidden = true\nreason = "x"\n'


@pytest.mark.parametrize(
    "rows",
    [
        '[[remedies]]\nid = "no-regrading-under-wires"\nlayer = "roads"\nwho = "x"\ntext = "x"\n',
        FORBIDDEN + 'forbids = ["regrade"]\nnear = ["power_line", "wire"]\nwithin_m = 10.0\n',
        FORBIDDEN + 'forbids = ["regrade", "level-across", "widen-road", "better-surface", "improve-ground"]\n'
        'near = ["wire"]\nwithin_m = 10.0\n',
        FORBIDDEN + 'forbids = ["regrade", "level-across", "widen-road", "better-surface", "improve-ground"]\n'
        'near = ["power_line", "wire"]\nwithin_m = 2.0\n',
        FORBIDDEN + 'forbids = ["regrade", "level-across", "widen-road", "better-surface", "improve-ground"]\n'
        'near = ["power_line", "wire"]\nwithin_m = 10.0\nattitudes = ["hook"]\n',
    ],
)  # fmt: skip
def test_nobody_allows_again_what_is_forbidden(tmp_path: Path, rows: str) -> None:
    with pytest.raises(RulebookError, match="allows again"):
        load_rulebook(laid(tmp_path, rows))


def test_more_may_be_forbidden(tmp_path: Path) -> None:
    rows = '[[remedies]]\nid = "no-closures"\nforbidden = true\nforbids = ["lift-closure"]\nreason = "ours stay"\n'
    assert any(row.id == "no-closures" for row in load_rulebook(laid(tmp_path, rows)).remedies)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ('[[remedies]]\nid = "a"\nrules = ["no-such"]\nlayer = "roads"\nwho = "x"\ntext = "x"\n', "not a rule"),
        ('[[remedies]]\nid = "a"\nlayer = "moon"\nwho = "x"\ntext = "x"\n', "not a layer"),
        ('[[remedies]]\nid = "a"\nlayer = "roads"\nfields = ["colour"]\nwho = "x"\ntext = "x"\n', "not a column"),
        ('[[remedies]]\nid = "a"\nlayer = "roads"\n', "is needed"),
        ('[[remedies]]\nid = "a"\nforbidden = true\nforbids = ["no-such"]\nreason = "x"\n', "not a remedy"),
        ('[[remedies]]\nid = "a"\nforbidden = true\nforbids = ["regrade"]\n', "is needed"),
        ('[[remedies]]\nid = "a"\nlayer = "roads"\nwho = "x"\ntext = "x"\nsource = "nowhere"\n', "no source"),
    ],
)
def test_faults_are_named(tmp_path: Path, rows: str, said: str) -> None:
    with pytest.raises(RulebookError, match=said):
        load_rulebook(laid(tmp_path, rows))
