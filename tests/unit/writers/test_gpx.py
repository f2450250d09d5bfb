"""The way as GPX: element by element as the published schema (GPX 1.1) orders them, and as another reader sees it."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.unit.writers.paper_tools import NASTY, typed_over
from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.gpx import NAMESPACE, gpx

POINT = ("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "sat",
         "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions")  # fmt: skip
ORDER = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "metadata": ("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds", "extensions"),
    "wpt": POINT, "trkpt": POINT,
    "trk": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"),
    "trkseg": ("trkpt", "extensions"),
}  # fmt: skip
MANY = {("gpx", "wpt"), ("gpx", "rte"), ("gpx", "trk"), ("trk", "trkseg"), ("trkseg", "trkpt")}
ATTRIBUTES = {"gpx": {"version", "creator"}, "wpt": {"lat", "lon"}, "trkpt": {"lat", "lon"}}
POINTS = {1: (9.0009, 47.85), 2: (9.001, 47.8505)}


def faults(element: ET.Element) -> list[str]:
    """Give every place where the element breaks the schema's order, counts, attributes or types."""
    space, _, tag = element.tag[1:].partition("}")
    found = [] if space == NAMESPACE else [f"{tag} of {space}"]
    if set(element.attrib) != ATTRIBUTES.get(tag, set()):
        found.append(f"{tag} has {sorted(element.attrib)}")
    children = [child.tag.rpartition("}")[2] for child in element]
    if tag not in ORDER:
        return found + [f"{tag} holds {children}"] * bool(children)
    places = [ORDER[tag].index(name) if name in ORDER[tag] else -1 for name in children]
    if places != sorted(places) or -1 in places:
        found.append(f"{tag}: {children}")
    found += [
        f"{tag} has {name} twice" for name in set(children) if children.count(name) > 1 and (tag, name) not in MANY
    ]
    if tag in ("wpt", "trkpt"):
        lat, lon = float(element.attrib["lat"]), float(element.attrib["lon"])
        if not (-90 <= lat <= 90 and -180 <= lon < 180):
            found.append(f"{tag} at {lat} {lon}")
    return found + [fault for child in element for fault in faults(child)]


def read(data: bytes) -> ET.Element:
    return ET.fromstring(data)


def all_of(root: ET.Element, tag: str) -> list[ET.Element]:
    return root.findall(f".//{{{NAMESPACE}}}{tag}")


@pytest.fixture(scope="module")
def root(plan: TravelPlan, rulebook: Rulebook) -> ET.Element:
    return read(gpx(plan, rulebook, {}, POINTS))


def test_structure_is_the_schemas(root: ET.Element) -> None:
    assert root.tag == f"{{{NAMESPACE}}}gpx"
    assert root.attrib["version"] == "1.1"
    assert faults(root) == []


def test_the_check_itself_finds_faults() -> None:
    track, point = "<trk><trkseg/><name>a</name></trk>", '<wpt lat="91" lon="0"/>'
    bad = f'<gpx xmlns="{NAMESPACE}" version="1.1" creator="x">{track}{point}</gpx>'
    assert len(faults(read(bad.encode()))) == 3


def test_types(root: ET.Element) -> None:
    (when,) = all_of(root, "time")
    assert dt.datetime.fromisoformat(when.text or "").utcoffset() == dt.timedelta(0)
    assert (when.text or "").endswith("Z")
    assert all(re.fullmatch(r"\d+", item.text or "") for item in all_of(root, "number"))
    assert all(float(item.text or "") for item in all_of(root, "ele"))


def test_same_plan_same_bytes(plan: TravelPlan, rulebook: Rulebook) -> None:
    assert gpx(plan, rulebook, {}, POINTS) == gpx(plan, rulebook, {}, POINTS)


def test_everything_is_in_it(root: ET.Element, plan: TravelPlan) -> None:
    tracks = all_of(root, "trk")
    assert len(tracks) == len(plan.trips)
    assert len(all_of(root, "trkseg")) == len(plan.legs)
    assert len(all_of(root, "trkpt")) == sum(len(leg.path_lonlat) for leg in plan.legs)
    names = [item.text or "" for point in all_of(root, "wpt") for item in point.findall(f"{{{NAMESPACE}}}name")]
    assert [name.split()[0] for name in names if name[0] == "S"] == [f"S{stop.stop}" for stop in plan.stops]
    assert [name for name in names if name[0] == "F"] == [f"Flag {f.flag} {f.verdict}" for f in plan.findings]


def test_verdicts_are_the_plans(root: ET.Element, plan: TravelPlan) -> None:
    types = [track.find(f"{{{NAMESPACE}}}type").text for track in all_of(root, "trk")]
    assert types == [trip.verdict for trip in plan.trips]
    said = [segment[0].find(f"{{{NAMESPACE}}}desc").text or "" for segment in all_of(root, "trkseg")]
    assert [text.split(".")[0] for text in said] == [f"Leg {leg.leg}: {leg.verdict}" for leg in plan.legs]


def test_a_flag_without_a_place_has_no_waypoint(plan: TravelPlan, rulebook: Rulebook) -> None:
    root = read(gpx(plan, rulebook, {}, {}))
    assert len(all_of(root, "wpt")) == len([stop for stop in plan.stops if stop.lonlat])


def test_unknown_heights_are_left_out(plan: TravelPlan, rulebook: Rulebook) -> None:
    legs = tuple(
        dataclasses.replace(leg, path_lonlat=tuple(point[:2] for point in leg.path_lonlat)) for leg in plan.legs
    )
    root = read(gpx(dataclasses.replace(plan, legs=legs), rulebook, {}, POINTS))
    assert not all_of(root, "ele")
    assert faults(root) == []


def test_no_way_no_track(no_way: TravelPlan, rulebook: Rulebook) -> None:
    root = read(gpx(no_way, rulebook, {}, POINTS))
    assert not all_of(root, "trk")
    assert "BLOCKED" in (all_of(root, "desc")[0].text or "")
    assert faults(root) == []


def test_typed_words_survive(plan: TravelPlan, rulebook: Rulebook) -> None:
    typed = typed_over(plan, NASTY + "\ufffe]]>&")
    root = read(gpx(dataclasses.replace(typed, legs=plan.legs), rulebook, {("places", "G"): NASTY}, POINTS))
    assert faults(root) == []
    assert any("<script>alert(1)</script>" in (item.text or "") for item in all_of(root, "desc"))
    assert any("中文" in (item.text or "") for item in all_of(root, "desc"))


def test_another_reader_sees_the_same(plan: TravelPlan, rulebook: Rulebook, tmp_path: Path) -> None:
    import geopandas

    path = tmp_path / "way.gpx"
    path.write_bytes(gpx(plan, rulebook, {}, POINTS))
    tracks = geopandas.read_file(path, layer="tracks")
    assert list(tracks["type"]) == [trip.verdict for trip in plan.trips]
    points = geopandas.read_file(path, layer="waypoints")
    assert len(points) == len(plan.stops) + len(POINTS)
    assert [len(line.geoms) for line in tracks.geometry] == [
        len([leg for leg in plan.legs if leg.trip == trip.trip]) for trip in plan.trips
    ]
