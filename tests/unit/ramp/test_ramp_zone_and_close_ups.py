"""Fall zone, what is restrained by itself, close-ups of the side view; and how long all positions take."""

from __future__ import annotations

import math
import re
import time
from dataclasses import replace
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.unit.ramp.ramps import DEMO, RULEBOOK, demo_answer, machine, ramp_case
from travel.checks.ramp import RampAnswer, RampFacts, ramp_answers
from travel.checks.ramp_deck import standing
from travel.checks.ramp_fit import fall_zone
from travel.checks.ramp_ties import restrained
from travel.domain.ramp import RampResult
from travel.domain.verdict import Verdict
from travel.planning.ramp import ask_ramp
from travel.planning.ramp_compose import RampContext, compose_ramp
from travel.readers.sheets import read_trailer
from travel.writers.ramp_words import centimetres, sizes_text, tight_text
from travel.writers.svg_ramp import ZOOM_M, ZOOM_PX, other_zooms, side_view, zoom_view
from travel.writers.svg_ramp_charts import charts, deck_plan

NAMES = sorted(path.stem for path in (DEMO / "trailers").glob("*.toml"))
SVG = "{http://www.w3.org/2000/svg}"


def answer(name: str = "semi_low_loader", **request: Any) -> RampResult:
    return demo_answer(name, **request).result


def test_beside_the_rig_the_zone_is_as_wide_as_the_machine_on_the_deck_is_high() -> None:
    zone = fall_zone(ramp_case())
    # in line: the ramp, and the run-off of an unloading place, the machine's own 7.2 m and three metres
    assert zone == pytest.approx({"beside_m": 3.15 + 0.90 + 1.0, "before_edge_m": 3.20 + 7.2 + 3.0})


def test_a_higher_machine_a_higher_deck_and_a_longer_ramp_widen_the_zone() -> None:
    old = fall_zone(ramp_case())
    higher = fall_zone(ramp_case(deck__profile_xz_m=[[0.0, 0.52], [1.6, 1.1], [9.6, 1.1]], deck__height_loaded_m=1.06))
    assert higher["beside_m"] == pytest.approx(old["beside_m"] + 0.20)
    assert higher["before_edge_m"] == old["before_edge_m"]
    longer = fall_zone(ramp_case(ramps__0__length_m=5.0))
    assert longer["before_edge_m"] == pytest.approx(5.0 + 10.2)
    case = ramp_case()
    tall = fall_zone(replace(case, body=replace(case.body, height_m=case.body.height_m + 0.5)))
    assert tall["beside_m"] == pytest.approx(old["beside_m"] + 0.5)


def test_of_two_ramps_the_longer_one_falls_furthest() -> None:
    one = {"width_m": 0.85, "gap_m": 1.0, "rating_kg": 12000, "surface": "steel_plate"}
    pair = [one | {"side": "left", "length_m": 3.2}, one | {"side": "right", "length_m": 4.1}]
    assert fall_zone(ramp_case(ramps=pair))["before_edge_m"] == pytest.approx(4.1 + 10.2)


def test_boom_and_turret_are_restrained_besides_the_frame() -> None:
    said = restrained(machine())
    assert any(text.startswith("boom:") and "lock or a lashing" in text for text in said)
    assert any(text.startswith("turret: fore") and "pin in" in text for text in said)
    assert any(text.startswith("park brake") for text in said)


def test_what_the_machine_has_is_named_and_what_it_has_not_is_not() -> None:
    sheet = machine()
    plain = sheet.model_copy(update={"stabilisers": None, "attachments": ()})
    assert not any("stabilisers" in text or "attachment" in text for text in restrained(plain))
    assert any("stabilisers: fully in and up" in text for text in restrained(sheet))
    named = [text for text in restrained(sheet) if text.startswith("attachment")]
    assert [text.split(" ", 1)[1].partition(":")[0] for text in named] == [a.name for a in sheet.attachments]


def test_a_sheet_silent_on_the_turret_says_so() -> None:
    sheet = machine()
    silent = sheet.model_copy(update={"turret": sheet.turret.model_copy(update={"travel": ()})})
    (text,) = (text for text in restrained(silent) if text.startswith("turret"))
    assert "does not say" in text
    assert "turret: ," not in text


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("more", [{}, {"first": "tail", "move": "unload"}])
def test_every_part_has_its_close_up_tightest_first(name: str, more: dict[str, Any]) -> None:
    result = answer(name, **more)
    parts = result.side_view.close_ups
    assert [part.end for part in parts].count("belly") == 1
    assert len({part.end for part in parts}) == len(parts) == 3
    values = [part.value_m for part in parts]
    assert values == sorted(values)
    assert values[0] == result.smallest_clearance.value_m
    assert parts[0].end == result.smallest_clearance.end


@pytest.mark.parametrize("name", NAMES)
def test_the_two_ends_of_a_close_up_s_dimension_are_as_far_apart_as_its_number(name: str) -> None:
    for part in answer(name).side_view.close_ups:
        apart = math.dist(part.tight_xz, part.touches_xz)
        assert apart == pytest.approx(abs(part.value_m), abs=1e-6)
        # one end lies on the ground line drawn, the other on the machine's outline drawn
        x, z = np.array(part.profile_xz).T
        if x[0] <= part.tight_xz[0] <= x[-1]:
            assert np.interp(part.tight_xz[0], x, z) == pytest.approx(part.tight_xz[1], abs=1e-6)
        under = np.array(part.pose.under_xz)
        assert np.interp(part.touches_xz[0], *under.T) == pytest.approx(part.touches_xz[1], abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_a_close_up_shows_its_dimension_to_scale_and_inside_the_frame(name: str) -> None:
    result = answer(name)
    views = [zoom_view(result), *(svg for _, svg in other_zooms(result))]
    assert len(views) == len(result.side_view.close_ups)
    scale = ZOOM_PX[0] / ZOOM_M[0]
    for part, svg in zip(result.side_view.close_ups, views, strict=True):
        root = ElementTree.fromstring(svg)
        caps = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in root.iter(f"{SVG}circle")
                if c.attrib.get("class") == "cap"]  # fmt: skip
        assert len(caps) == 2
        assert math.dist(*caps) == pytest.approx(abs(part.value_m) * scale, abs=0.2)
        assert all(0 <= x <= ZOOM_PX[0] and 0 <= y <= ZOOM_PX[1] for x, y in caps)
        (label,) = (t for t in root.iter(f"{SVG}text") if "big" in t.attrib.get("class", ""))
        assert centimetres(abs(part.value_m)) in (label.text or "")
        assert ("cuts in" in (label.text or "")) == (part.value_m < 0)


@pytest.mark.parametrize("name", NAMES)
def test_labels_of_the_side_view_stay_inside_it(name: str) -> None:
    svg = side_view(answer(name), titled=True)
    root = ElementTree.fromstring(svg)
    wide, high = (float(part) for part in root.attrib["viewBox"].split()[2:])
    for text in root.iter(f"{SVG}text"):
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        assert -1 <= x <= wide + 1, text.text
        assert 0 <= y <= high + 1, text.text
    assert not re.search(r"\bnan\b", svg)


def test_all_positions_with_the_picture_are_quick() -> None:
    """10 mm steps over more than 15 m, every rule, the result and its side view: 150 ms; ten times that in CI."""
    import datetime as dt

    context = RampContext(inputs=(), doubts=(), created_at=dt.datetime(2026, 3, 2, 8, tzinfo=dt.UTC), program={})
    took = []
    for _ in range(3):
        case = ramp_case(deck__profile_xz_m=[[0.0, 0.52], [1.6, 0.9], [13.0, 0.9]])
        start = time.perf_counter()
        asked = ask_ramp(case)
        svg = side_view(compose_ramp(asked, context, ()))
        took.append(time.perf_counter() - start)
        at = asked.facts.position_m
        assert at[-1] - at[0] >= 15.0
        assert np.diff(at).max() <= 0.010001
        assert svg.startswith("<svg")
    print(f"ramp with picture: {min(took) * 1000:.0f} ms")
    assert min(took) < 1.5


def test_a_bed_that_comes_down_itself_has_no_ramp_s_foot_in_words_or_picture() -> None:
    result = answer("tilt_bed")
    assert "ramp's foot" not in tight_text(result) + sizes_text(result)
    assert "deck's edge" in tight_text(result)
    steep = re.search(r"([\d.]+)\s*%", sizes_text(result))
    assert steep is not None
    x, z = np.array(result.side_view.profile_xz).T
    long = np.diff(x) > 1e-3
    assert float(steep[1]) == pytest.approx(100 * (np.diff(z)[long] / np.diff(x)[long]).max(), abs=0.06)
    assert "ramp's foot" in tight_text(answer("semi_low_loader"))


def test_a_drawbar_is_drawn_lower_than_the_deck_and_a_neck_higher() -> None:
    """The highest part of the trailer's drawing: the neck's stands over the deck, a drawbar's does not."""

    def highest_px(name: str) -> tuple[float, float]:
        root = ElementTree.fromstring(side_view(answer(name)))
        paths = [p.attrib["d"] for p in root.iter(f"{SVG}path") if p.attrib.get("class") == "deck"]
        tops = [min(float(y) for y in re.findall(r"[ML][\d.-]+ ([\d.-]+)", path)) for path in paths]
        return tops[0], tops[-1]

    deck, neck = highest_px("semi_low_loader")
    assert neck < deck
    for name in ("short_ramps_drawbar", "tilt_bed"):
        deck, bar = highest_px(name)
        assert bar > deck


@pytest.mark.parametrize("name", NAMES)
def test_places_named_over_the_charts_do_not_run_into_each_other(name: str) -> None:
    for _, svg in charts(answer(name)):
        root = ElementTree.fromstring(svg)
        named = [float(t.attrib["x"]) for t in root.iter(f"{SVG}text") if t.text in ("ramp's foot", "deck's edge")]
        assert named
        assert all(b - a > 60.0 for a, b in pairwise(sorted(named)))


LOW = "detachable_neck"
"""The demo's low bed: its deck 0.42 m high, the bogie behind its rear edge; the machine stands nose to the rear."""


def behind(**changes: Any) -> RampAnswer | None:
    found = ramp_answers(RampFacts(case=ramp_case(LOW, **changes)), frozenset({"ramp-approach"}))
    return next((a for a in found if a.part == "over the frame behind the bed"), None)


def test_what_reaches_over_the_frame_behind_a_low_bed_clears_it_or_is_unknown() -> None:
    front = standing(ramp_case(LOW)).best
    assert front == pytest.approx(0.62)  # tyres of 0.62 m stay within the bed, the frame stands against its edge
    over = behind()
    assert over is not None
    # the underside rises from 0.46 m to 0.58 m over 1.55 m; it is lowest where it leaves the bed
    lowest = 0.46 + (0.62 + 0.80) / 1.55 * (0.58 - 0.46)
    assert float(over.outcome.capacity) == pytest.approx(0.42 + lowest - 0.80)
    assert over.verdict == Verdict.CLEAR
    for height_m, verdict in ((1.0, Verdict.BLOCKED), (0.95, Verdict.UNKNOWN), (0.88, Verdict.CAUTION)):
        tighter = behind(deck__behind_height_m=height_m)
        assert tighter is not None
        assert (height_m, tighter.verdict) == (height_m, verdict)
    lost = behind(deck__behind_height_m=None)
    assert lost is not None
    assert lost.verdict == Verdict.UNKNOWN
    assert tuple(lost.outcome.missing) == ("deck.behind_height_m",)
    assert behind(trailer__hinge_behind_bogie_m=1.40) is None  # the bogie under the bed: nothing stands behind


def test_the_machine_is_drawn_whole_where_it_reaches_past_the_deck() -> None:
    result = answer(LOW)
    drawing = deck_plan(result, read_trailer(DEMO / "trailers" / f"{LOW}.toml", RULEBOOK.vocabulary)[0])
    box = next(e for e in ElementTree.fromstring(drawing).iter(f"{SVG}rect") if e.get("class") == "mach")
    assert float(box.get("x", "nan")) > 0.0
    assert float(box.get("x", "nan")) + float(box.get("width", "nan")) < 1000.0


@pytest.mark.parametrize(("move", "first", "ends"), [
    ("load", "nose", {"front overhang", "rear overhang"}), ("unload", "tail", {"front overhang", "rear overhang"}),
])  # fmt: skip
def test_overhangs_are_called_as_the_driver_calls_them(move: str, first: str, ends: set[str]) -> None:
    """Off tail first as on nose first the front is over the ramp last: the tighter one is the front overhang."""
    found = ramp_answers(
        RampFacts(case=ramp_case(request={"move": move, "first": first})), frozenset({"ramp-approach"})
    )
    assert {answer.part for answer in found} == ends
    tight = min(found, key=lambda answer: float(answer.outcome.capacity))
    assert tight.part == "front overhang"
    back = ramp_case(request={"move": move, "first": "tail" if first == "nose" else "nose"})
    assert back.end_of("leading overhang") == "rear overhang"
