"""A site converted keeps its answers; a request file asks what the options ask; an inspection ranks what is missing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import travel
from tests.builders import point, road, vocabulary, write_site
from travel.errors import InputError
from travel.readers.site import read_site
from travel.service.ask import plan_request
from travel.service.convert import convert
from travel.service.inspect import inspect, inspection_text

DEMO = Path(__file__).parents[3] / "demo_site"
MACHINE = DEMO / "machines" / "middle.toml"
WEATHER = travel.Weather(ground="damp", temperature_c=8, wind_mps=4)
REQUEST = travel.PlanRequest(site=DEMO / "site", machine=MACHINE, from_place="G1", to_place="P2", weather=WEATHER)


def _same(a: travel.TravelPlan, b: travel.TravelPlan) -> None:
    assert (a.outcome, a.verdict) == (b.outcome, b.verdict)
    driven = [[(leg.road, leg.direction, leg.range) for leg in plan.legs] for plan in (a, b)]
    assert driven[0] == driven[1]
    for one, other in zip(a.findings, b.findings, strict=True):
        assert (one.rule, one.where.feature, one.verdict) == (other.rule, other.where.feature, other.verdict)
        if one.margin is not None:
            assert one.margin == pytest.approx(other.margin, abs=2e-3)


def test_geopackage_and_back_give_the_same_plan(tmp_path: Path) -> None:
    folder = travel.make_plan(REQUEST).plan
    convert(DEMO / "site", tmp_path / "demo.gpkg")
    package = travel.make_plan(replace(REQUEST, site=tmp_path / "demo.gpkg")).plan
    convert(tmp_path / "demo.gpkg", tmp_path / "back")
    back = travel.make_plan(replace(REQUEST, site=tmp_path / "back")).plan
    _same(folder, package)
    _same(folder, back)


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / "x.gpkg").write_bytes(b"mine")
    with pytest.raises(InputError, match="exists already"):
        convert(DEMO / "site", tmp_path / "x.gpkg")
    assert (tmp_path / "x.gpkg").read_bytes() == b"mine"


def test_files_beside_a_geopackage_are_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "terrain.tif").write_bytes(b"of another site")
    with pytest.raises(InputError, match=r"terrain\.tif: exists already"):
        convert(DEMO / "site", tmp_path / "demo.gpkg")
    assert (tmp_path / "terrain.tif").read_bytes() == b"of another site"
    assert not (tmp_path / "demo.gpkg").exists()


def test_the_rulebooks_of_a_site_go_with_it(tmp_path: Path) -> None:
    roads = [road("r1", [(0, 0), (60, 0)])]
    site = write_site(tmp_path / "s", header={"rulebooks": ["books/co.toml"]}, roads=roads)
    with pytest.raises(InputError, match=r"books/co\.toml: file not found"):
        convert(site, tmp_path / "none" / "s.gpkg")
    book = (DEMO / "rulebooks" / "company.toml").read_bytes()
    (site / "books").mkdir()
    (site / "books" / "co.toml").write_bytes(book)
    convert(site, tmp_path / "one" / "s.gpkg")
    convert(tmp_path / "one" / "s.gpkg", tmp_path / "two")
    assert [(tmp_path / name / "books" / "co.toml").read_bytes() for name in ("one", "two")] == [book, book]


OWN_COLUMNS: dict[str, tuple[object, object]] = {
    "fid": (7, 7), "geom": ("a", None), "geometry": (1, 2), "ID": (5, 6), "X": (1, 2), "x": ("c", "d"),
    "lists": ([1, {"a": 2}], None), "mixed": ("a", 3), "flags": (True, None),
}  # fmt: skip


def test_columns_of_ones_own_go_into_a_geopackage(tmp_path: Path) -> None:
    """A GeoPackage does not tell capitals apart, has a key and a geometry of its own, and one type a column."""
    both = [{name: values[row] for name, values in OWN_COLUMNS.items()} for row in (0, 1)]
    roads = [road(f"r{row}", [(60 * row, 0), (60 * row + 60, 0)], **own) for row, own in enumerate(both)]
    site = write_site(tmp_path / "s", roads=roads)
    convert(site, tmp_path / "s.gpkg")
    kept = read_site(tmp_path / "s.gpkg", vocabulary()).layers["roads"].extra
    assert {name: list(kept[name]) for name in kept} == {
        "fid_": [7, 7], "geom_": ["a", None], "geometry_": [1, 2], "ID_": [5, 6], "X": [1, 2], "x_": ["c", "d"],
        "lists": ['[1, {"a": 2}]', None], "mixed": ["a", "3"], "flags": ["true", None],
    }  # fmt: skip


def test_a_geopackage_of_any_name_is_converted(tmp_path: Path) -> None:
    site = write_site(tmp_path / "s", roads=[road("r1", [(0, 0), (60, 0)])])
    convert(site, tmp_path / "a#b?50%.gpkg")
    assert convert(tmp_path / "a#b?50%.gpkg", tmp_path / "back")


def test_other_kinds_of_file_are_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"no site is written as \.shp"):
        convert(DEMO / "site", tmp_path / "x.shp")
    assert not (tmp_path / "x.shp").exists()


def _ask(path: Path, **words: str) -> travel.PlanRequest:
    return plan_request(
        site=DEMO / "site",
        machine=MACHINE,
        from_place=words.get("from_place"),
        to_place=words.get("to_place"),
        request_file=path,
    )


def test_request_file(tmp_path: Path) -> None:
    path = tmp_path / "request.toml"
    path.write_text(
        'format = 1\nfrom = "G1"\nto = "P2"\nreturn = true\n[weather]\nground = "damp"\n'
        "temperature_c = 8\nwind_mps = 4\n",
        encoding="utf-8",
    )
    assert _ask(path) == REQUEST
    with pytest.raises(InputError, match="said in the request file already"):
        _ask(path, from_place="G1")


def test_request_file_faults_all_at_once(tmp_path: Path) -> None:
    path = tmp_path / "request.toml"
    path.write_text('format = 1\nfrom = "G1"\nto = ""\nspeed = 3\nhorizon_min = -1\n', encoding="utf-8")
    with pytest.raises(InputError) as error:
        _ask(path)
    assert {fault.field for fault in error.value.faults} >= {"to", "speed", "horizon_min"}
    (speed,) = [fault for fault in error.value.faults if fault.field == "speed"]
    assert {"from", "to", "return"} < set(speed.allowed.split(", "))  # as they are written in the file
    path.write_text('format = 1\nfrom = "G1"\nto = "P1"\nat = 2026-11-25T08:00:00\nunload = "U1"\n', encoding="utf-8")
    with pytest.raises(InputError) as error:
        _ask(path)
    assert {fault.field for fault in error.value.faults} == {"at", "unload"}


def test_inspection_names_the_stretch_nobody_looked_at() -> None:
    found = inspect(REQUEST, DEMO / "site")
    assert any(gap.field == "surveyed.overheads" and gap.feature == "R59" and not gap.acceptable for gap in found.gaps)
    assert "R59" in inspection_text(found, as_json=False)


def test_inspection_of_a_site_alone() -> None:
    found = inspect(None, DEMO / "site")
    assert found.way == ""
    assert not found.gaps
    assert "With --machine, --from and --to" in inspection_text(found, as_json=False)


def test_inspection_tells_a_column_once_and_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1773133200")  # 2026-03-10, when the survey of the site is young
    roads = [road("r1", [(0, 0, 100), (80, 0, 101)], width_m=9.0), road("r2", [(80, 0, 101), (80, 50, 101)])]
    places = [point("gate", (0, 0), kind="gate", may_stop=True), point("pick", (80, 0), kind="pick_point")]
    folder = write_site(tmp_path / "site", roads=roads, places=places)
    asked = replace(REQUEST, site=folder, from_place="gate", to_place="pick")
    found = inspect(asked, folder)
    gaps = {(gap.feature, gap.field) for gap in found.gaps}
    assert any(field == "lit" for _, field in gaps)
    assert not gaps & {(gap.feature, gap.field) for gap in found.site_gaps}
    assert ("r2", "lit") in {(gap.feature, gap.field) for gap in found.site_gaps}
    text = inspection_text(found, as_json=False)
    assert "lit, whether it is lit at night" in text
    assert all(line.strip() == "" or line == line.rstrip() for line in text.splitlines())
