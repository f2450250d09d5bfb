"""Which limit holds, what a book may not do, and whether the default book is whole."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.builders import toml
from travel.domain.layers import LAYERS
from travel.domain.rules import BookLayer, Limit, Patterns, Rule, Rulebook, Source, Vocabulary
from travel.errors import RulebookError
from travel.rulebook import Axis, lay_over, load_rulebook, resolve, resolve_column
from travel.units import SI_PER_UNIT

WORDS = {"ground": {"dry": "dry", "wet": "wet"}, "surface": {"clay": "clay", "sand": "sand", "grass": "grass"}}


def row(value: float, **values: Any) -> Limit:
    base: dict[str, Any] = {"id": "stand-off.least", "unit": "m", "sense": "at_least", "status": "practice",
                            "source": "practice"}  # fmt: skip
    return Limit(**(base | values | {"value": value}))


def book(*limits: Limit, **rule: Any) -> Rulebook:
    base: dict[str, Any] = {"id": "stand-off", "title": "Stand-off", "group": "beside", "kind": "limit", "unit": "m",
                            "scope": "piece", "layers": ("edges", "people"), "needs": ("depth_m",),
                            "acceptable": False, "high_consequence": True}  # fmt: skip
    return Rulebook(
        rules={"stand-off": Rule(**(base | rule))},
        limits=limits,
        sources={"practice": Source(key="practice", title="common practice, no source")},
        controls={},
        vocabulary=Vocabulary(lists=WORDS),
        patterns=Patterns(sentences={}),
        cautions=(),
        books=(BookLayer(layer="default", name="default", sha256="0"),),
    )


def write(folder: Path, layer: str = "company", **content: Any) -> Path:
    path = folder / f"{layer}{len(list(folder.iterdir()))}.toml"
    path.write_text(toml({"format": 1, "layer": layer, "name": layer} | content), encoding="utf-8")
    return path


def limit(value: float, **values: Any) -> dict[str, Any]:
    base = {"id": "stand-off.least", "unit": "m", "sense": "at_least", "status": "practice", "source": "practice"}
    return base | values | {"value": value}


def held(rulebook: Rulebook, **case: Any) -> float:
    found = resolve(rulebook, "stand-off.least", **case)
    assert found is not None
    return found.value


# -- which row holds


@pytest.mark.parametrize(("sense", "expected"), [("at_least", 3.0), ("at_most", 1.0)])
def test_among_equals_the_strictest_by_sense(sense, expected):
    for order in itertools.permutations([1.0, 2.0, 3.0]):
        assert held(book(*(row(v, sense=sense) for v in order))) == expected


def test_row_with_most_conditions_wins_within_a_layer_even_where_it_is_looser():
    rulebook = book(row(3.0), row(2.0, when={"ground": "dry"}), row(1.0, when={"ground": "dry", "surface": "sand"}))
    assert held(rulebook, ground="wet", surface="sand") == 3.0
    assert held(rulebook, ground="dry", surface="clay") == 2.0
    assert held(rulebook, ground="dry", surface="sand") == 1.0


@pytest.mark.parametrize("status", ["law", "standard"])
def test_later_layer_tightens_a_law_but_never_loosens_it(status):
    law = row(3.0, status=status)
    assert held(book(law, row(4.0, layer="company"))) == 4.0
    assert held(book(law, row(2.0, layer="company"))) == 3.0
    assert held(book(law, row(2.0, layer="company", override_reason="owner wrote"))) == 2.0
    assert held(book(law, row(4.0, layer="company"), row(5.0, layer="site"))) == 5.0


@pytest.mark.parametrize("status", ["maker", "owner", "site", "practice"])
def test_later_layer_replaces_what_is_neither_law_nor_standard(status):
    assert held(book(row(3.0, status=status), row(2.0, layer="site"))) == 2.0


def test_specificity_counts_within_a_layer_only_strictness_over_layers():
    law = row(3.0, status="law", when={"ground": "wet", "surface": "clay"})
    assert held(book(law, row(5.0, layer="company")), ground="wet", surface="clay") == 5.0
    assert held(book(law, row(1.0, layer="company")), ground="wet", surface="clay") == 3.0


def test_bands_are_exclusive_below_and_inclusive_above():
    rulebook = book(row(1.0, when={"depth_m_to": 2.0}), row(2.0, when={"depth_m_over": 2.0, "depth_m_to": 4.0}))
    assert [held(rulebook, depth_m=d) for d in (1.0, 2.0, 2.0001, 4.0)] == [1.0, 1.0, 2.0, 2.0]
    assert resolve(rulebook, "stand-off.least", depth_m=4.0001) is None
    column = resolve_column(rulebook, "stand-off.least", depth_m=np.array([2.0, 3.0, np.nan, 9.0]))
    np.testing.assert_array_equal(column.values, [1.0, 2.0, np.nan, np.nan])
    assert column.row.tolist() == [0, 1, -1, -1]


def test_no_row_is_none_and_nan():
    assert resolve(book(), "stand-off.least") is None
    column = resolve_column(book(row(1.0)), "nobody.wrote.this", ground="wet")
    assert np.isnan(column.values)
    assert column.limit(()) is None


def test_condition_nobody_can_check_tightens_and_never_loosens():
    rulebook = book(row(2.0), row(3.0, when={"ground": "wet"}), row(1.0, when={"ground": "dry"}))
    assert held(rulebook, ground=None) == 3.0
    assert held(rulebook) == 3.0, "the caller does not know the axis at all"
    assert held(rulebook, ground="dry") == 1.0
    by_depth = book(row(2.0), row(3.0, when={"depth_m_over": 4.0}), row(1.0, when={"depth_m_to": 4.0}))
    assert held(by_depth, depth_m=np.nan) == 3.0
    axis = Axis(np.array([0, 1, -1]), ("dry", "wet"))
    column = resolve_column(rulebook, "stand-off.least", ground=axis)
    np.testing.assert_array_equal(column.values, [1.0, 3.0, 3.0])


def test_only_uncertain_rows_is_not_known():
    rulebook = book(row(3.0, when={"ground": "wet"}), row(1.0, when={"ground": "dry"}))
    assert resolve(rulebook, "stand-off.least", ground=None) is None


def test_condition_that_surely_fails_does_not_tighten_beside_an_unknown_one():
    rulebook = book(row(2.0), row(9.0, when={"ground": "wet", "surface": "sand"}))
    assert held(rulebook, ground="dry", surface=None) == 2.0
    assert held(rulebook, ground="wet", surface=None) == 9.0


def test_columns_give_what_single_cases_give():
    rng = np.random.default_rng(4)
    grounds, surfaces = ("dry", "wet"), ("clay", "sand", "grass")
    for _ in range(60):
        rows = []
        for layer in ("default", "default", "default", "company", "site"):
            when: dict[str, Any] = {}
            if rng.random() < 0.5:
                when["ground"] = str(rng.choice(grounds))
            if rng.random() < 0.5:
                when["surface"] = str(rng.choice(surfaces))
            if rng.random() < 0.5:
                when["depth_m_over" if rng.random() < 0.5 else "depth_m_to"] = float(rng.integers(1, 4))
            status = str(rng.choice(["law", "practice"]))
            reason = "written" if rng.random() < 0.3 else ""
            rows.append(row(float(rng.integers(1, 9)), when=when, layer=layer, status=status, override_reason=reason))
        rulebook = book(*rows)
        ground = Axis(rng.integers(-1, 2, (7, 1)), grounds)
        surface = Axis(rng.integers(-1, 3, (7, 1)), surfaces)
        depth = rng.choice([np.nan, 0.5, 2.0, 5.0], (1, 5))
        column = resolve_column(rulebook, "stand-off.least", ground=ground, surface=surface, depth_m=depth)
        assert column.values.shape == (7, 5)
        for i, j in np.ndindex(7, 5):
            one = resolve(
                rulebook,
                "stand-off.least",
                ground=None if ground.codes[i, 0] < 0 else grounds[ground.codes[i, 0]],
                surface=None if surface.codes[i, 0] < 0 else surfaces[surface.codes[i, 0]],
                depth_m=float(depth[0, j]),
            )
            won = column.limit((i, j))
            assert (one is None) == (won is None)
            if one is not None:
                assert one.value == column.values[i, j]
                assert one.limit is won


# -- what a book may not do


def faults(base: Rulebook, path: Path) -> list[str]:
    with pytest.raises(RulebookError) as caught:
        lay_over(base, path)
    assert all(fault.file == str(path) for fault in caught.value.faults)
    return [fault.text() for fault in caught.value.faults]


def test_loosening_a_law_without_reason_is_refused_and_with_one_is_kept(tmp_path):
    base = book(row(3.0, status="law"))
    (text,) = faults(base, write(tmp_path, limits=[limit(2.0)]))
    assert "loosens a law" in text
    assert "3 m" in text
    assert "2 m" in text
    loosened = lay_over(base, write(tmp_path, limits=[limit(2.0, override_reason="owner's letter of 3 May")]))
    assert [one.value for one in loosened.loosened] == [2.0]
    assert held(loosened) == 2.0
    tightened = lay_over(base, write(tmp_path, limits=[limit(4.0)]))
    assert tightened.loosened == ()
    assert held(tightened) == 4.0


@pytest.mark.parametrize(
    ("when", "refused"),
    [
        ({}, True),
        ({"surface": "clay"}, True),
        ({"ground": "wet"}, True),
        ({"ground": "dry"}, False),
        ({"depth_m_to": 2.0}, False),
        ({"depth_m_over": 1.0}, True),
    ],
)
def test_only_cases_both_rows_hold_in_count_as_loosening(tmp_path, when, refused):
    base = book(row(3.0, status="law", when={"ground": "wet", "depth_m_over": 2.0}))
    path = write(tmp_path, limits=[limit(2.0, when=when)])
    if refused:
        assert len(faults(base, path)) == 1
    else:
        assert held(lay_over(base, path), ground="wet", depth_m=5.0) == 3.0


def test_row_of_a_table_may_be_tightened_below_the_general_law(tmp_path):
    base = book(row(10.0, status="law"), row(3.0, status="law", when={"depth_m_to": 2.0}))
    tightened = lay_over(base, write(tmp_path, limits=[limit(4.0, when={"depth_m_to": 2.0})]))
    assert held(tightened, depth_m=1.0) == 4.0
    assert held(tightened, depth_m=3.0) == 10.0
    assert len(faults(base, write(tmp_path, limits=[limit(4.0, when={"depth_m_to": 3.0})]))) == 1


def test_no_book_loosens_a_rule(tmp_path):
    rule = {"id": "stand-off", "title": "Stand-off", "group": "beside", "kind": "limit", "unit": "m", "scope": "piece",
            "layers": ["edges", "people"], "needs": ["depth_m"], "acceptable": False,
            "high_consequence": True}  # fmt: skip
    base = book(row(3.0))
    for change, word in (({"acceptable": True}, "acceptable"), ({"high_consequence": False}, "high_consequence"),
                         ({"layers": ["edges"]}, "people"), ({"needs": []}, "depth_m")):  # fmt: skip
        (text,) = faults(base, write(tmp_path, rules=[rule | change]))
        assert "loosens the rule" in text
        assert word in text
    stricter = lay_over(base, write(tmp_path, rules=[rule | {"layers": ["edges", "people", "ground"]}]))
    assert stricter.rules["stand-off"].layers == ("edges", "people", "ground")


def test_every_fault_is_told_at_once(tmp_path):
    path = write(
        tmp_path,
        limits=[
            limit(1.0, source="nobody"),
            limit(1.0, id="unknown-rule.least"),
            limit(1.0, when={"ground": "soggy"}),
            limit(1.0, when={"mood": "good"}),
            limit(1.0, when={"depth_m_over": "deep"}),
            limit(1.0, when={"dept_m_over": 2.0}),
            limit(1.0, unit="furlong"),
            limit(1.0, sense="at_most"),
        ],
        rules=[
            {"id": "other", "title": "Other", "group": "g", "kind": "limit", "unit": "stone", "scope": "piece",
             "control": "nobody", "layers": ["clouds"]},
            {"id": "twice", "title": "T", "group": "g", "kind": "limit", "unit": "m", "scope": "piece"},
            {"id": "twice", "title": "T", "group": "g", "kind": "limit", "unit": "m", "scope": "piece"},
        ],
    )  # fmt: skip
    text = "\n".join(faults(book(row(3.0, when={"depth_m_over": 2.0})), path))
    for word in ("nobody", "unknown-rule.least", "soggy", "mood", "deep", "dept_m_over", "furlong", "at_most", "stone",
                 "clouds", "twice"):  # fmt: skip
        assert word in text, word
    assert "dry, wet" in text, "what is allowed is told"


@pytest.mark.parametrize(
    ("content", "field"),
    [
        ({"limits": [limit(float("nan"))]}, "limits.0.value"),
        ({"limits": [limit(float("inf"))]}, "limits.0.value"),
        ({"limits": [limit(1.0, sense="about")]}, "limits.0.sense"),
        ({"limits": [limit(1.0, stauts="law")]}, "limits.0.stauts"),
        ({"format": 2}, "format"),
        ({"layer": "kingdom"}, "layer"),
    ],
)
def test_rows_of_another_shape_are_faults(tmp_path, content, field):
    path = tmp_path / "book.toml"
    path.write_text(toml({"format": 1, "layer": "company"} | content), encoding="utf-8")
    assert any(field in text for text in faults(book(), path))


def test_default_layer_is_taken_and_files_that_are_no_books_are_faults(tmp_path):
    assert "is taken" in faults(book(), write(tmp_path, layer="default"))[0]
    (tmp_path / "broken.toml").write_text("format = ", encoding="utf-8")
    assert "not a TOML file" in faults(book(), tmp_path / "broken.toml")[0]
    (tmp_path / "latin.toml").write_bytes(b'name = "\xe4"')
    assert "not a TOML file" in faults(book(), tmp_path / "latin.toml")[0]
    assert "cannot be read" in faults(book(), tmp_path / "missing.toml")[0]


def test_limits_nothing_asks_for_and_values_below_zero_are_slips(tmp_path):
    base = book(row(3.0))
    (text,) = faults(base, write(tmp_path, limits=[limit(4.0, id="stand-off.leest")]))
    assert "is not a limit of the rulebook" in text
    assert "did you mean stand-off.least?" in text
    (text,) = faults(load_rulebook(), write(tmp_path, limits=[limit(1.0, id="tolerance.widht_m")]))
    assert "did you mean tolerance.width_m?" in text
    (text,) = faults(base, write(tmp_path, limits=[limit(-1.0)]))
    assert "is below zero" in text
    below = book(row(-6.0))
    assert held(lay_over(below, write(tmp_path, limits=[limit(-5.0)]))) == -5.0


def test_faults_of_all_books_are_told_at_once(tmp_path):
    for name in ("one", "two"):
        (tmp_path / name).write_text("format = ", encoding="utf-8")
    with pytest.raises(RulebookError) as caught:
        load_rulebook((tmp_path / "one", tmp_path / "two"))
    assert [Path(fault.file).name for fault in caught.value.faults] == ["one", "two"]


def test_new_rules_words_and_sources_may_be_added(tmp_path):
    path = write(
        tmp_path,
        rules=[{"id": "own", "title": "Own", "group": "g", "kind": "limit", "unit": "m", "scope": "piece"}],
        limits=[limit(1.0, id="own.least", source="letter", when={"ground": "soggy"})],
        sources={"letter": {"title": "a letter"}},
        vocabulary={"ground": {"soggy": "soggy"}},
    )
    rulebook = lay_over(book(row(3.0)), path)
    found = resolve(rulebook, "own.least", ground="soggy")
    assert found is not None
    assert (found.value, found.limit.layer) == (1.0, "company")
    assert [b.layer for b in rulebook.books] == ["default", "company"]


# -- the default book


@pytest.fixture(scope="module")
def default() -> Rulebook:
    return load_rulebook()


def test_every_row_of_the_default_book_has_a_source_that_exists(default):
    assert default.limits
    for one in default.limits:
        assert one.source in default.sources, one.id
    for source in default.sources.values():
        assert source.title
        for key in filter(None, (source.disagrees_with.partition(":")[0],)):
            assert key in default.sources, source.key


def test_every_source_of_a_limit_tells_its_edition_or_that_none_is_known(default):
    for key in {one.source for one in default.limits} - {"practice"}:
        assert default.sources[key].edition, key


def test_no_address_of_a_copy_is_cited(default):
    for source in default.sources.values():
        assert "://" not in f"{source.title} {source.edition}"
        assert "www." not in f"{source.title} {source.edition}"


def test_practice_and_memory_say_so(default):
    for one in default.limits:
        if one.source == "practice":
            assert one.known == "practice", f"{one.id}: common practice has not been read anywhere"
            assert one.status not in ("law", "standard"), one.id
        if one.status in ("law", "standard"):
            assert one.known in ("read", "memory"), f"{one.id}: a law is read or remembered"
            assert one.clause, f"{one.id}: a law or standard names its clause"


def test_every_limit_has_one_unit_and_one_sense(default):
    by_id: dict[str, set[tuple[str, str]]] = {}
    for one in default.limits:
        assert one.unit in SI_PER_UNIT
        by_id.setdefault(one.id, set()).add((one.unit, one.sense))
    assert all(len(kinds) == 1 for kinds in by_id.values())


def test_no_two_rows_hold_in_exactly_the_same_case(default):
    seen = [(one.id, tuple(sorted(one.when.items())), one.source) for one in default.limits]
    assert len(seen) == len(set(seen))


def test_every_rule_can_be_asked(default):
    for rule in default.rules.values():
        assert rule.title
        assert rule.unit in SI_PER_UNIT
        assert set(rule.layers) <= set(LAYERS), rule.id
        assert not rule.control or rule.control in default.controls


def test_what_nobody_may_accept_stays_so(default):
    for rule in ("line-clearance", "headroom", "posted-load", "edge-standoff", "ramp-rating", "carry-capacity", "hold"):
        assert not default.rules[rule].acceptable, rule


def test_the_machine_that_came_is_checked_against_its_sheet_before_every_move() -> None:
    control = load_rulebook().controls["pre-travel-list"]
    assert control.pre_travel
    assert not control.when
    for word in ("plate", "height", "width", "measured", "attachment", "tyres"):
        assert word in control.text
