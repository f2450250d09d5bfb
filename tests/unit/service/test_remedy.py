"""``travel remedy``: the list as text and JSON, the written site, what it refuses."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests import builders
from tests.planning import on_day
from travel.cli import app
from travel.domain.site import Amendment, Site
from travel.errors import InputError
from travel.readers.site import read_site
from travel.rulebook import load_rulebook
from travel.service.ask import plan_request
from travel.service.plan import make_plan
from travel.service.remedy import apply_remedy, find_remedies, remedy_code, remedy_text
from travel.service.subject import subject_of
from travel.survey import lay_on
from travel.survey.parts import in_parts
from travel.writers.plan_json import plan_to_bytes

FLAT: dict[str, Any] = {
    "cross_slope_pct": 0.0, "edge_left": "kerb", "edge_right": "kerb", "traffic": "none", "sight_m": 100.0, "lit": True,
    "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
}  # fmt: skip
LAYERS = ("roads", "places", "overheads", "limits", "ground", "edges", "obstacles", "people", "closures", "areas")
DAY = dt.date(2026, 3, 3)
WEATHER = "ground=dry,temperature_c=15,wind_mps=2"


@pytest.fixture(autouse=True)
def _day() -> Iterator[None]:
    with on_day(DAY):
        yield


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return builders.write_machine(tmp_path / "machine.toml")


def written(folder: Path, points: Any, limits: list[Any] | None = None, header: Any = None, **values: Any) -> Path:
    """Write a site of one road from gate to pick point."""
    note: dict[str, Any] = {"date": dt.date(2026, 3, 2), "roads": ["r1"]}
    surveyed = {name: note if name == "overheads" else dt.date(2026, 3, 2) for name in LAYERS}
    gate, pick = points[0][:2], points[-1][:2]
    pipe = builders.line("ov", [(30, -6), (30, 6)], kind="pipe", road="r1", clearance_m=6.0)
    return builders.write_site(
        folder,
        header={"surveyed": surveyed, **(header or {})},
        roads=[builders.road("r1", points, **FLAT, **values)],
        places=[
            builders.point("gate", gate, kind="gate", may_stop=True, turn_radius_m=15.0),
            builders.point("pick", pick, kind="pick_point", may_stop=True, turn_radius_m=15.0),
        ],
        overheads=[pipe],
        limits=limits or [],
    )


def steep_in_the_middle(folder: Path, **rest: Any) -> Path:
    """Write a road of 120 m that climbs 36 % between 40 and 80 m."""
    return written(folder, [(0, 0, 10), (40, 0, 10), (80, 0, 24.4), (120, 0, 24.4)], **rest)


def asked(site: Path, sheet: Path, **rest: Any) -> Any:
    return plan_request(site=site, machine=sheet, from_place="gate", to_place="pick", weather=WEATHER, **rest)


def number_of(answer: Any, row: str) -> int:
    return next(
        r.remedy for r in answer.plan.remedies if r.kind == "change" and {p.reason for p in r.amendments} == {row}
    )


def test_a_regraded_part_is_written_as_a_road_of_its_own(tmp_path: Path, sheet: Path) -> None:
    request = asked(steep_in_the_middle(tmp_path / "site"), sheet)
    answer, workspace = find_remedies(request)
    done = apply_remedy(request, answer, workspace, number_of(answer, "regrade"), tmp_path / "new")
    assert done.verdict.startswith("way")
    new = read_site(tmp_path / "new", load_rulebook().vocabulary)
    roads = new.layers["roads"]
    assert all(name.startswith("r1~") for name in roads.ids)
    assert set(roads.number("regraded")[roads.number("regraded") == 1]) == {1.0}
    assert new.layers["overheads"].text("road")[0] in roads.ids
    note = new.note("overheads")
    assert note is not None
    assert note.roads == roads.ids


def test_the_written_site_gives_the_plan_that_proved_it(tmp_path: Path, sheet: Path) -> None:
    request = asked(steep_in_the_middle(tmp_path / "site"), sheet)
    answer, workspace = find_remedies(request)
    number = number_of(answer, "regrade")
    remedy = next(r for r in answer.plan.remedies if r.remedy == number)
    apply_remedy(request, answer, workspace, number, tmp_path / "new")
    laid = tuple(
        Amendment(layer=p.layer, feature=p.feature, field=p.field, value=p.value, from_m=p.from_m, to_m=p.to_m)
        for p in remedy.amendments
    )
    by_amendment = make_plan(asked(tmp_path / "site", sheet).__class__(**_fields(request), amendments=laid)).plan
    by_file = make_plan(asked(tmp_path / "new", sheet)).plan
    for one, other in zip(by_amendment.trips, by_file.trips, strict=True):
        assert one.verdict == other.verdict
        for name in ("length_m", "time_s", "clear_m", "caution_m", "unknown_m"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-3)


def _fields(request: Any) -> dict[str, Any]:
    from dataclasses import fields

    return {f.name: getattr(request, f.name) for f in fields(request) if f.name != "amendments"}


def test_a_gateway_is_widened_in_place(tmp_path: Path, sheet: Path) -> None:
    gateway = builders.point("gw", (50, 0), kind="gateway", road="r1", width_m=2.3)
    site = written(tmp_path / "site", [(0, 0, 10), (120, 0, 10)], [gateway], width_m=6.0, surface="asphalt")
    request = asked(site, sheet)
    answer, workspace = find_remedies(request)
    done = apply_remedy(request, answer, workspace, number_of(answer, "widen-gateway"), tmp_path / "new")
    assert done.verdict.startswith("way")
    new = read_site(tmp_path / "new", load_rulebook().vocabulary)
    assert new.layers["roads"].ids == ("r1",)
    assert new.layers["limits"].number("width_m")[0] > 2.3
    assert make_plan(request).plan.outcome == "no_way"


def test_another_machine_is_named_and_not_planned(tmp_path: Path, sheet: Path) -> None:
    gateway = builders.point("gw", (50, 0), kind="gateway", road="r1", width_m=2.3)
    site = written(tmp_path / "site", [(0, 0, 10), (120, 0, 10)], [gateway], width_m=6.0, surface="asphalt")
    request = asked(site, sheet)
    answer, workspace = find_remedies(request)
    done = apply_remedy(request, answer, workspace, number_of(answer, "narrower-machine"), tmp_path / "new")
    assert "written as it was" in done.besides[0]
    assert "another machine" in done.besides[1]
    assert done.verdict.startswith("not planned")


def test_what_cannot_be_applied_is_a_fault(tmp_path: Path, sheet: Path) -> None:
    request = asked(steep_in_the_middle(tmp_path / "site"), sheet)
    answer, workspace = find_remedies(request)
    with pytest.raises(InputError, match="is not one"):
        apply_remedy(request, answer, workspace, 99, tmp_path / "new")
    assert not (tmp_path / "new").exists()
    with pytest.raises(InputError, match="nothing is overwritten"):
        apply_remedy(request, answer, workspace, number_of(answer, "regrade"), tmp_path / "site")


def test_a_site_rulebook_goes_along(tmp_path: Path, sheet: Path) -> None:
    site = steep_in_the_middle(tmp_path / "site", header={"rulebooks": ["own.toml"]})
    (site / "own.toml").write_text('format = 1\nlayer = "site"\nname = "own"\n', encoding="utf-8")
    request = asked(site, sheet)
    answer, workspace = find_remedies(request)
    apply_remedy(request, answer, workspace, number_of(answer, "regrade"), tmp_path / "new")
    assert (tmp_path / "new" / "own.toml").read_bytes() == (site / "own.toml").read_bytes()


def test_a_file_outside_the_new_folder_is_not_written_over(tmp_path: Path, sheet: Path) -> None:
    site = steep_in_the_middle(tmp_path / "old" / "s", header={"rulebooks": ["../own.toml"]})
    (tmp_path / "old" / "own.toml").write_text('format = 1\nlayer = "site"\nname = "own"\n', encoding="utf-8")
    request = asked(site, sheet)
    answer, workspace = find_remedies(request)
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "own.toml").write_text("another site's book")
    with pytest.raises(InputError, match="nothing is overwritten"):
        apply_remedy(request, answer, workspace, number_of(answer, "regrade"), tmp_path / "new" / "s")
    assert (tmp_path / "new" / "own.toml").read_text() == "another site's book"
    assert not (tmp_path / "new" / "s").exists()


def test_plan_lists_remedies_only_where_there_is_no_way(tmp_path: Path, sheet: Path) -> None:
    steep = asked(steep_in_the_middle(tmp_path / "steep"), sheet)
    flat = asked(written(tmp_path / "flat", [(0, 0, 10), (120, 0, 10)]), sheet)
    assert any(r.kind == "change" and r.proven for r in make_plan(steep).plan.remedies)
    assert make_plan(steep, remedies="none").plan.remedies == ()
    assert make_plan(flat).plan.remedies == ()
    answer, _ = find_remedies(flat)
    assert "nothing has to be opened" in remedy_text(answer, None, as_json=False)
    assert remedy_code(answer) == 3


def test_command_prints_and_writes(tmp_path: Path, sheet: Path) -> None:
    site = steep_in_the_middle(tmp_path / "site")
    words = ["remedy", str(site), "--machine", str(sheet), "--from", "gate", "--to", "pick", "--weather", WEATHER]
    listed = CliRunner().invoke(app, words)
    assert listed.exit_code == 3
    assert "Regrade r1" in listed.stdout
    assert "exactly:" in listed.stdout
    assert "planned again with it: a way, " in listed.stdout
    content = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)
    number = next(r["remedy"] for r in content["remedies"] if r["amendments"][0]["reason"] == "regrade")
    new = tmp_path / "new"
    done = CliRunner().invoke(app, [*words, "--apply", str(number), "--to-dir", str(new)])
    assert done.exit_code == 3
    assert "planned on it: way" in done.stdout
    assert CliRunner().invoke(app, [*words, "--apply", "1"]).exit_code == 2
    none = CliRunner().invoke(app, [*words, "--apply", "0", "--to-dir", str(tmp_path / "none")])
    assert none.exit_code == 2
    assert not (tmp_path / "none").exists()


def site_in_memory() -> Site:
    from tests.memory_site import make_site

    return make_site(
        [{"id": "a", "xyz": [(0, 0, 0), (40, 0, 4), (100, 0, 4)], "width_m": 4.0, "surface": "clay"},
         {"id": "b", "xy": [(100, 0), (150, 0)], "width_m": 5.0, "surface": "clay"}],
        overheads=[{"id": "near", "xy": [(20, -5), (20, 5)], "kind": "pipe", "road": "a", "clearance_m": 5.0},
                   {"id": "both", "xy": [(50, 0)[:2], (70, 0)], "kind": "pipe", "road": "a", "clearance_m": 5.0},
                   {"id": "free", "xy": [(50, -9), (50, 9)], "kind": "pipe", "clearance_m": 5.0}],
    )  # fmt: skip


def test_parts_keep_heights_values_and_what_stands_on_them() -> None:
    change = Amendment(layer="roads", feature="a", field="width_m", value=6.5, from_m=30.0, to_m=60.0)
    site, split = in_parts(lay_on(site_in_memory(), (change,)))
    roads = site.layers["roads"]
    assert roads.ids == ("a~1", "a~2", "a~3", "b")
    assert split == {"a": ("a~1", "a~2", "a~3")}
    assert list(roads.number("width_m")) == [4.0, 6.5, 4.0, 5.0]
    ends = [list(roads.geometry[k].coords)[0 :: len(roads.geometry[k].coords) - 1] for k in range(3)]
    assert ends[0][1] == ends[1][0]
    assert ends[1][1] == ends[2][0]
    assert ends[1][0][2] == pytest.approx(3.0)
    assert sum(line.length for line in roads.geometry[:3]) == pytest.approx(100.0)
    overheads = site.layers["overheads"]
    assert dict(zip(overheads.ids, overheads.text("road"), strict=True)) == {
        "near": "a~1", "both~1": "a~2", "both~2": "a~3", "free": None,
    }  # fmt: skip
    assert site.amendments == ()


def test_a_site_without_changes_of_parts_stays_as_it_is() -> None:
    site = site_in_memory()
    assert in_parts(site) == (site, {})


def test_numbers_in_json_are_rounded_as_in_a_plan(tmp_path: Path, sheet: Path) -> None:
    """A stretch read from degrees ends a hair beside the metre; the list says the metre, and it is still the road's."""
    site = steep_in_the_middle(tmp_path / "site")
    answer, _ = find_remedies(asked(site, sheet, with_return=False))
    told = json.loads(remedy_text(answer, None, as_json=True))["remedies"]
    assert told == json.loads(plan_to_bytes(answer.plan))["remedies"]
    ends = [(part["from_m"], part["to_m"]) for row in told for part in row["amendments"] if part["to_m"] is not None]
    exact = [(p.from_m, p.to_m) for r in answer.plan.remedies for p in r.amendments if p.to_m is not None]
    assert ends
    assert ends != exact
    assert ends == [(round(a, 3), round(b, 3)) for a, b in exact]
    assert all(
        part["exact"] == float(f"{part['exact']:.6g}") for r in told for part in r["amendments"] if part["exact"]
    )


def test_a_written_copy_names_what_is_not_there_and_no_plan_on_it_is_released(sheet: Path, tmp_path: Path) -> None:
    gateway = builders.point("gw", (50, 0), kind="gateway", road="r1", width_m=2.3)
    site = written(tmp_path / "site", [(0, 0, 10), (120, 0, 10)], [gateway], width_m=6.0, surface="asphalt")
    request = asked(site, sheet)
    answer, workspace = find_remedies(request)
    apply_remedy(request, answer, workspace, number_of(answer, "widen-gateway"), tmp_path / "new")
    (copied,) = read_site(tmp_path / "new", load_rulebook().vocabulary).header.changed_copy
    assert copied.startswith("limits gw: width_m ")
    assert copied.endswith("(was 2.3)")
    on_it = make_plan(asked(tmp_path / "new", sheet), remedies="none").plan
    assert on_it.site["changed_copy"] == [copied]
    assert any(f"wished for, not there: {copied}" in doubt for doubt in on_it.doubts)
    assert subject_of(plan_to_bytes(on_it), "plan.json")[0].faults
