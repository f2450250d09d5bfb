"""Every registered rule: cell by cell as in the grid, pure, silent or unknown where a value is taken away.

The rules are read from the registry, so that a new one is tested as soon as it is registered.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import sys
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from tests.planning import DEMO, MILD, case_of, sheet, workspace_of
from tests.random_site import random_site
from travel.checks import Case, answers_for, fold, judge, parts
from travel.checks.fold import grid_rows, pairs_of
from travel.checks.registry import Part
from travel.checks.rows import Rows
from travel.domain.layers import LAYERS
from travel.domain.machine import Load, Machine
from travel.domain.site import Layer, Site, Weather
from travel.domain.verdict import Verdict
from travel.readers.sheets import read_load, read_machine
from travel.service.workspace import Workspace

NOON = dt.datetime(2026, 11, 25, 12, 0, tzinfo=dt.UTC)
UNKNOWN = Verdict.UNKNOWN


@lru_cache(maxsize=1)
def demo() -> Site:
    return Workspace(path=DEMO / "site").site


def middle() -> Machine:
    return read_machine(DEMO / "machines" / "middle.toml")[0]


def load(name: str) -> Load:
    return read_load(DEMO / "loads" / f"{name}.toml")[0]


def bare() -> Machine:
    """A sheet that says no more than it must."""
    return sheet(
        brakes=None,
        turret=None,
        capability=None,
        limits__low_range_above_pct=None,
        axles__0__pressure_kpa=None,
        attitudes__0__height_tolerance_m=None,
        gears__0__pull_kn=None,
    )


CASES = {
    "demo": lambda: case_of(demo(), middle()),
    "demo, hours": lambda: case_of(demo(), middle(), at=NOON, until=NOON + dt.timedelta(hours=1)),
    "demo, no weather": lambda: case_of(demo(), middle(), weather=Weather()),
    "demo, all modes": lambda: case_of(demo(), middle(), steering=("front", "all", "crab")),
    "demo, forks": lambda: case_of(demo(), middle(), load=load("pallet_on_forks")),
    "demo, hook": lambda: case_of(demo(), middle(), load=load("beam_on_hook")),
    "demo, bare sheet": lambda: case_of(demo(), bare()),
    "random 1": lambda: case_of(random_site(1), middle(), steering=("front", "all")),
    "random 2": lambda: case_of(random_site(2, blank=0.6), sheet(), at=NOON, until=NOON + dt.timedelta(hours=3)),
    "random 3": lambda: case_of(random_site(3, blank=0.0), middle(), load=load("beam_on_hook")),
    "random 4": lambda: case_of(random_site(4, blank=0.9), bare(), weather=Weather(ground="wet")),
}


@lru_cache(maxsize=len(CASES))
def case(name: str) -> Case:
    return CASES[name]()


def asked(case: Case, part: Part) -> Rows | None:
    """Give the grid one part is asked over, or None where it meets no feature."""
    rows = grid_rows(case, 0, len(case.survey.pieces))
    if not part.layer:
        return rows
    pairs = pairs_of(case, part)
    if not len(pairs):
        return None
    chosen = np.arange(len(pairs))
    return Rows(case=case, piece=pairs.piece.reshape(1, 1, -1), sense=rows.sense, config=rows.config, pairs=pairs,
                pair=chosen.reshape(1, 1, -1), layer=case.survey.site.layers[part.layer])  # fmt: skip


def as_list(rows: Rows) -> Rows:
    """Give the same cells as one long list."""
    shape = np.broadcast_shapes(rows.piece.shape, rows.sense.shape, rows.config.shape)
    flat = {name: np.broadcast_to(getattr(rows, name), shape).ravel() for name in ("piece", "sense", "config")}
    pair = None if rows.pair is None else np.broadcast_to(rows.pair, shape).ravel()
    return dataclasses.replace(rows, **flat, pair=pair, span=None)


def spread(value: Any, shape: tuple[int, ...]) -> np.ndarray:
    return np.broadcast_to(np.asarray(value), shape).ravel()


NUMBERS = ("demand", "capacity", "tolerance", "caution")
FLAGS = ("applies", "outside", "controlled")


@pytest.mark.parametrize("name", CASES)
def test_cell_by_cell_is_as_in_the_grid(name):
    one, asked_any = case(name), 0
    for part in parts():
        grid = asked(one, part)
        if grid is None:
            continue
        asked_any += 1
        shape = np.broadcast_shapes(grid.piece.shape, grid.sense.shape, grid.config.shape)
        wide, long = part.check(grid, one), part.check(as_list(grid), one)
        size, where = (int(np.prod(shape)),), f"{part.rule} {part.check.__name__}"
        np.testing.assert_array_equal(spread(judge(wide), shape), spread(judge(long), size), err_msg=where)
        applies = spread(wide.applies, shape)
        for field in (*NUMBERS, *FLAGS):
            a, b = spread(getattr(wide, field), shape), spread(getattr(long, field), size)
            np.testing.assert_array_equal(a[applies], b[applies], err_msg=f"{where} {field}")
        for field in ("cap_mps", "exposed"):
            if getattr(wide, field) is not None:
                a, b = spread(getattr(wide, field), shape), spread(getattr(long, field), size)
                np.testing.assert_array_equal(a, b, err_msg=f"{where} {field}")
        assert set(wide.missing) == set(long.missing)
        for key, value in wide.missing.items():
            np.testing.assert_array_equal(
                spread(value, shape), spread(long.missing[key], size), err_msg=f"{where} {key}"
            )
        for terms in ("terms", "capacity_terms"):
            for key, value in getattr(wide, terms).items():
                again = spread(getattr(long, terms)[key], size)
                np.testing.assert_array_equal(spread(value, shape), again, err_msg=f"{where} {key}")
    assert asked_any


@pytest.mark.parametrize("name", CASES)
def test_a_rule_gives_the_same_again_and_changes_nothing(name):
    one = case(name)
    for part in parts():
        grid = asked(one, part)
        if grid is None:
            continue
        before = snapshot(one, grid)
        first, second = part.check(grid, one), part.check(grid, one)
        np.testing.assert_array_equal(judge(first), judge(second), err_msg=part.rule)
        for field in NUMBERS:
            np.testing.assert_array_equal(getattr(first, field), getattr(second, field), err_msg=part.rule)
        after = snapshot(one, grid)
        assert before.keys() <= after.keys(), "what is worked out once and kept may come, nothing may go"
        for key, value in before.items():
            np.testing.assert_array_equal(value, after[key], err_msg=f"{part.rule} changes {key}")


def snapshot(case: Case, rows: Rows) -> dict[str, np.ndarray]:
    out = {f"body.{k}": np.copy(v) for k, v in vars(case.body).items() if isinstance(v, np.ndarray)}
    out |= {f"rows.{k}": np.copy(getattr(rows, k)) for k in ("piece", "sense", "config")}
    for layer in case.survey.site.layers.values():
        out |= {f"{layer.name}.{k}": np.copy(v) for k, v in layer.numbers.items()}
    survey = case.survey
    for name in ("cross_slope_ratio", "cross_slope_band"):
        out[name] = np.copy(getattr(survey, name))
    return out


@pytest.mark.parametrize("name", CASES)
def test_fold_is_the_worst_of_the_answers(name):
    """The folded grid against the cells asked one by one: verdict, binding rule and speed."""
    one = case(name)
    whole = fold(one)
    n, c = len(one.survey.pieces), len(one.configurations)
    piece, way, config = (a.ravel() for a in np.meshgrid(np.arange(n), [0, 1], np.arange(c), indexing="ij"))
    worst, cap = np.zeros(len(piece), dtype=np.uint8), one.configurations.top_mps[config].copy()
    by_rule: dict[str, np.ndarray] = {}
    for answer in answers_for(one, piece, 1 - 2 * way, config):
        np.maximum.at(worst, answer.position, answer.verdict)
        own = by_rule.setdefault(answer.rule, np.zeros(len(piece), dtype=np.uint8))
        np.maximum.at(own, answer.position, answer.verdict)
        if answer.outcome.cap_mps is not None:
            held = spread(answer.outcome.cap_mps, answer.position.shape)
            held = np.where(answer.applies() & ~np.isnan(held), held, np.inf)
            np.minimum.at(cap, answer.position, held)
    np.testing.assert_array_equal(whole.worst.ravel(), worst)
    np.testing.assert_allclose(whole.cap_mps.ravel(), cap)
    assert ((whole.rule.ravel() == -1) == (worst == Verdict.CLEAR)).all()
    for cell in np.flatnonzero(worst):
        rule = whole.rules[whole.rule.ravel()[cell]]
        assert by_rule[rule][cell] == worst[cell]


@pytest.mark.parametrize("name", ["demo, all modes", "random 1", "random 2"])
def test_a_fold_in_blocks_is_the_fold_at_once(name, monkeypatch):
    whole = fold(case(name))
    module = sys.modules["travel.checks.fold"]
    monkeypatch.setattr(module, "FIRST", 7)
    monkeypatch.setattr(module, "BLOCK", 1 + len(whole.worst) // 5)
    shares: list[float] = []
    cut = fold(CASES[name](), progress=shares.append)
    assert len(shares) > 4
    assert shares == sorted(shares)
    for column in ("worst", "rule", "cap_mps", "cap_rule", "exposed", "unknowns"):
        np.testing.assert_array_equal(getattr(cut, column), getattr(whole, column), err_msg=column)


# -- what nobody knows is never clear

SILENT: dict[tuple[str, str], str] = {
    ("roads", "name"): "a name decides nothing",
    ("roads", "one_way"): "blank = both ways",
    ("roads", "level"): "blank = 0",
    ("roads", "speed_limit_kmh"): "blank = none posted",
    ("roads", "not_looked_at"): "blank = everything was looked at; the layer's own declaration still has to stand",
    ("roads", "regraded"): "blank = not regraded, the heights hold",
    ("overheads", "road"): "blank = every road below, so more roads and never fewer",
    ("overheads", "half_spread_m"): "blank = the footprint is what is drawn (power lines: test_wires)",
    ("limits", "road"): "a sign without a road belongs to the nearest one",
    ("ground", "surface"): "a patch that only says what the ground carries leaves the road's surface",
    ("ground", "valid_until"): "blank = the values age with the layer's survey",
} | {
    ("limits", column): "a sign says only what stands on it; of a gateway and a structure more is asked below"
    for column in ("width_m", "height_m", "gross_kg", "axle_kg", "wheel_kg", "speed_kmh", "cover_m", "hours",
                   "from_time", "until_time", "days")
}  # fmt: skip
"""Columns whose absence is no lack of knowledge, with the reason."""

ELSEWHERE: dict[tuple[str, str], dict[str, str]] = {
    ("roads", "width_m"): dict.fromkeys(
        ("edge-standoff", "headroom", "line-clearance", "people", "posted-load"),
        "what stands beside the road is looked for within 3 m of the centreline; `width` is unknown there",
    ),
    ("roads", "roughness_m"): {"headroom": "the rulebook's bump by surface stands in; `tip` is unknown there"},
    ("roads", "cone_index_kpa"): {"passes": "asked for on soft ground only; elsewhere it is more evidence"},
    ("ground", "cone_index_kpa"): {"passes": "asked for on soft ground only; elsewhere it is more evidence"},
    ("roads", "grade_pct"): {"underbody": "beside a road without any slope; that one is unknown itself"},
    ("overheads", "sag_m"): {
        "line-clearance": "the owner's greatest sag holds by itself; a greater measured one counts"
    },
    ("overheads", "voltage_kv"): {"headroom": "no height for the bar without it; `line-clearance` is unknown there"},
}
"""Rules that may fall silent without a column because the rulebook or another rule stands in, with the reason."""


def columns(site: Site) -> Iterator[tuple[str, str]]:
    """Give every column somebody has filled, except those no file may leave out."""
    for name, layer in site.layers.items():
        for spec in LAYERS[name].fields:
            if spec.kind == "id" or (spec.kind == "choice" and spec.needed):
                continue
            if spec.numeric and not np.isnan(layer.number(spec.name)).all():
                yield name, spec.name
            if not spec.numeric and any(value is not None for value in layer.text(spec.name)):
                yield name, spec.name


def without(site: Site, layer: str, column: str) -> Site:
    """Give a copy of the site with one column left out."""
    old = site.layers[layer]
    new: Layer = dataclasses.replace(
        old,
        numbers={k: v for k, v in old.numbers.items() if k != column},
        texts={k: v for k, v in old.texts.items() if k != column},
        methods={k: v for k, v in old.methods.items() if k != column},
    )
    return dataclasses.replace(site, layers={**site.layers, layer: new})


def by_rule(case: Case) -> dict[str, np.ndarray]:
    """Give the worst verdict of every rule on every cell, layers nobody looked at included."""
    n, c = len(case.survey.pieces), len(case.configurations)
    out = {part.rule: np.zeros((n, 2, c), dtype=np.uint8) for part in parts()}
    for rule, worst in out.items():
        for layer in case.rulebook.rules[rule].layers:
            worst[~case.survey.looked_at(layer)] = UNKNOWN
    for part in parts():
        grid = asked(case, part)
        if grid is None:
            continue
        verdict = judge(part.check(grid, case))
        np.maximum.at(out[part.rule], grid.piece.ravel(), np.broadcast_to(verdict, (c, 2, grid.piece.size)).T)
    return out


def same_pieces(new: Case, old: Case) -> np.ndarray:
    """Give, for each piece of a site cut anew, the piece of the old one that holds its middle."""
    a, b = new.survey.pieces, old.survey.pieces
    length = float(b.to_m.max()) + 1.0
    return np.searchsorted(b.road * length + b.from_m, a.road * length + (a.from_m + a.to_m) / 2, side="right") - 1


def worse_or_unknown(before: dict[str, np.ndarray], old: Case, new: Case, but: Mapping[str, str]) -> list[str]:
    """Name the rules whose answer got better without being unknown, and say so of all rules together."""
    held, bad = same_pieces(new, old), []
    verdicts = by_rule(new)
    together = {"all": np.maximum.reduce(list(verdicts.values()))}
    before = before | {"all": np.maximum.reduce(list(before.values()))}
    for rule, after in ({k: v for k, v in verdicts.items() if k not in but} | together).items():
        better = after < np.minimum(before[rule][held], UNKNOWN)
        if better.any():
            bad.append(f"{rule} ({int(better.sum())} cells)")
    return bad


def rich() -> Site:
    """The demo site and then some: a random one with every column filled."""
    return random_site(11, blank=0.0, features=6)


@pytest.mark.parametrize(("site", "kwargs"), [(demo, {}), (rich, {"at": NOON, "until": NOON + dt.timedelta(hours=1)})])
def test_a_column_taken_away_makes_nothing_better_than_unknown(site, kwargs):
    made = site()
    old = case_of(made, middle(), weather=MILD, **kwargs)
    before, bad = by_rule(old), {}
    for layer, column in columns(made):
        if (layer, column) in SILENT:
            continue
        new = case_of(without(made, layer, column), middle(), weather=MILD, **kwargs)
        rules = worse_or_unknown(before, old, new, ELSEWHERE.get((layer, column), {}))
        if rules:
            bad[f"{layer}.{column}"] = rules
    assert not bad


@pytest.mark.parametrize("layer", LAYERS)
def test_a_layer_nobody_looked_at_is_unknown_for_every_rule_that_needs_it(layer):
    header = demo().header
    declared = {name: note for name, note in header.surveyed.items() if name != layer}
    site = dataclasses.replace(demo(), header=header.model_copy(update={"surveyed": declared}))
    one = case_of(site, middle())
    verdicts, whole = by_rule(one), fold(one)
    for rule in {part.rule for part in parts()}:
        if layer in one.rulebook.rules[rule].layers:
            assert (verdicts[rule] >= UNKNOWN).all(), rule
            assert (whole.worst >= UNKNOWN).all()
    before = by_rule(case("demo"))
    for rule, after in verdicts.items():
        if layer not in one.rulebook.rules[rule].layers:
            np.testing.assert_array_equal(after, before[rule], err_msg=f"{rule} reads {layer}, which it does not name")


def test_every_part_over_features_names_their_layer():
    """A rule that looks at features of a layer is unknown where nobody looked at that layer."""
    book = case("demo").rulebook
    for part in parts():
        if part.layer:
            assert part.layer in book.rules[part.rule].layers, f"{part.rule} {part.check.__name__}"


def test_no_roads_named_as_looked_at_is_unknown_there():
    header = demo().header
    road = demo().layers["roads"].ids[0]
    for layer in ("overheads", "limits"):
        note = header.surveyed[layer]
        part_of = {**header.surveyed, layer: note.model_copy(update={"roads": (road,)})}
        site = dataclasses.replace(demo(), header=header.model_copy(update={"surveyed": part_of}))
        one = case_of(site, middle())
        elsewhere = one.survey.pieces.road != 0
        verdicts = by_rule(one)
        for rule in ("headroom", "line-clearance") if layer == "overheads" else ("headroom", "posted-load", "width"):
            assert (verdicts[rule][elsewhere] >= UNKNOWN).all()
            assert (verdicts[rule][~elsewhere] < UNKNOWN).any()


NEEDED = [
    ("roads", "width_m", "width"),
    ("roads", "surface", "gear-for-grade"),
    ("roads", "traffic", "traffic"),
    ("roads", "roughness_m", "tip"),
]


@pytest.mark.parametrize(("layer", "column", "rule"), NEEDED)
def test_a_needed_value_taken_away_is_unknown_wherever_the_rule_applies(layer, column, rule):
    one = case_of(without(demo(), layer, column), middle())
    applied = 0
    for part in parts():
        grid = asked(one, part)
        if part.rule != rule or part.layer != ("" if layer == "roads" else layer) or grid is None:
            continue
        outcome = part.check(grid, one)
        shape = (len(one.configurations), 2, grid.piece.size)
        applies = np.broadcast_to(outcome.applies, shape)
        applied += int(applies.sum())
        assert (np.broadcast_to(judge(outcome), shape)[applies] >= UNKNOWN).all()
    assert applied


@pytest.mark.parametrize("field", ["limits__grade_pct", "limits__low_range_above_pct"])
def test_a_permission_the_sheet_does_not_state_is_unknown(field):
    rule = {"limits__grade_pct": "grade-limit", "limits__low_range_above_pct": "gear-for-grade"}[field]
    verdicts = by_rule(case_of(demo(), sheet(**{field: None})))
    high = ~case_of(demo(), sheet()).configurations.low
    cells = verdicts[rule] if rule == "grade-limit" else verdicts[rule][:, :, high]
    assert (cells >= UNKNOWN).mean() > 0.9, "all but what the site itself forbids"
    assert not (cells == Verdict.CLEAR).any() or rule == "gear-for-grade"


def test_gateways_without_width_and_structures_without_load_are_unknown():
    site = demo()
    for column in ("width_m", "gross_kg", "axle_kg", "wheel_kg"):
        site = without(site, "limits", column)
    one, kinds = case_of(site, middle()), site.layers["limits"].text("kind")
    asks = {"width": ["gateway"], "posted-load": ["bridge", "culvert", "slab", "cover_plate"]}
    verdicts: dict[str, list[np.ndarray]] = {rule: [] for rule in asks}
    for part in parts():
        if part.rule in asks and part.layer == "limits":
            grid = asked(one, part)
            assert grid is not None
            here = np.isin(kinds[grid.feature].astype(object), asks[part.rule]).ravel()
            shape = (len(one.configurations), 2, grid.piece.size)
            verdicts[part.rule].append(np.broadcast_to(judge(part.check(grid, one)), shape)[..., here])
    for rule, answers in verdicts.items():
        assert answers[0].size, rule
        assert (np.maximum.reduce(answers) >= UNKNOWN).all(), rule


def test_unknown_weather_never_helps():
    with_weather, without_it = by_rule(case("demo")), by_rule(case("demo, no weather"))
    for rule, before in with_weather.items():
        assert (without_it[rule] >= np.minimum(before, UNKNOWN)).all(), rule


def test_case_is_the_services_own(tmp_path):
    """Guard: the cases of these tests are built as the service builds them."""
    assert workspace_of(demo()).survey.pieces.road.tolist() == case("demo").survey.pieces.road.tolist()
