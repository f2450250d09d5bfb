"""The page in a real browser: nothing asked of a network, drawn, usable by keyboard, printed."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect, sync_playwright

from tests import memory_site
from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.writers.map_page import map_page
from travel.writers.reach_page import Reached, ReachView, reach_page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-extensions",
    "--disable-sync",
    "--metrics-recording-only",
    "--no-first-run",
]
NASTY = "\"><script>document.title='hit'</script><img src=x onerror=\"document.title='hit'\">שער"

POINTER = """(() => {
  let at;
  travelPage.map.eachLayer(layer => { if (layer.options.color === '#0a3fd0') at = layer.getLatLng(); });
  return [at.lng, at.lat];
})()"""
SMALL = """[...document.querySelectorAll(
  'main button, .tools button, select, .leaflet-bar a, .leaflet-control-layers-toggle, input[type=range], '
  + '[data-map-flag]'
)].filter(e => e.offsetParent && (e.offsetHeight < 44 || e.offsetWidth < 44)).map(e => e.outerHTML.slice(0, 80))"""
OPEN_NOTES = """Object.values(window).filter(value => value instanceof L.GeoJSON)
  .forEach(group => group.eachLayer(layer => layer.openTooltip()))"""


@dataclass
class Seen:
    """What the page asked for and complained about."""

    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    chromium = shutil.which("chromium")
    if chromium is None:
        said = "Chromium is not installed: the page was not looked at in a browser"
        if os.environ.get("CI"):
            pytest.fail(said)
        pytest.skip(said)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Any, tmp_path: Path) -> Iterator[Callable[..., tuple[Any, Seen]]]:
    contexts = []

    def opened(html: str, width: int = 1280, height: int = 900) -> tuple[Any, Seen]:
        file = tmp_path / "map.html"
        file.write_text(html, encoding="utf-8")
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page, seen = context.new_page(), Seen()
        page.on("request", lambda request: seen.asked.append(request.url[:60]))
        page.on("console", lambda message: seen.complaints.append(message.text))
        page.on("pageerror", lambda error: seen.complaints.append(str(error)))
        page.goto(file.as_uri())
        expect(page.locator(".leaflet-control-scale")).to_have_count(1)
        return page, seen

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def html(plan: TravelPlan, site: Site, rulebook: Rulebook) -> str:
    return map_page(plan, site, rulebook)


def fetched(seen: Seen) -> list[str]:
    return [url for url in seen.asked if not url.startswith("data:")]


def test_draws_without_asking_anybody(open_page: Any, html: str) -> None:
    page, seen = open_page(html)
    paths = page.locator(".leaflet-overlay-pane path")
    assert paths.count() > 25
    assert page.locator("path[stroke='#9a4a00'][stroke-dasharray]").count() == 2, "caution out and back, dashed"
    assert page.locator("path[stroke='#0f5470']:not([stroke-dasharray])").count() == 6, "clear runs, solid"
    assert page.locator("img.leaflet-image-layer").evaluate("image => image.complete && image.naturalWidth > 50")
    assert page.locator("[data-map-flag]").count() == 2
    assert page.locator("[data-map-stop]").count() == 6
    assert len(fetched(seen)) == 1
    assert fetched(seen)[0].startswith("file:")
    assert seen.complaints == []


def test_marks_do_not_cover_each_other(open_page: Any, html: str) -> None:
    page, _ = open_page(html)
    boxes = [mark.bounding_box() for mark in page.locator("[data-map-flag], [data-map-stop]").all()]
    middles = [(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2) for box in boxes]
    apart = [max(abs(a[0] - b[0]), abs(a[1] - b[1])) for row, a in enumerate(middles) for b in middles[row + 1 :]]
    assert min(apart) >= 30


def crowded() -> str:
    """Give the page of a site with more places than names and numbers find room for."""
    spots = [(20.0 * i, 20.0 * j) for i in range(12) for j in range(9)]
    places = [{"id": f"P{n}", "xy": xy, "kind": "pick_point", "name": f"Stack {n}"} for n, xy in enumerate(spots)]
    site = memory_site.make_site([{"id": "R", "xyz": [(0, 0, 10), (220, 0, 10)]}], places)
    got = [Reached(place=place["id"], verdict="clear", length_m=80.0, time_s=60.0, severity=None, rule="", stopper="",
                   greatest={}) for place in places[1:]]  # fmt: skip
    view = ReachView(machine="handler", from_place="P0", asked=(), places=tuple(got), stretches=())
    return reach_page(view, site)


def test_a_name_that_finds_no_room_shows_closer_in(open_page: Any) -> None:
    page, seen = open_page(crowded())
    names = page.locator(".map-label:visible")
    boxes = [name.bounding_box() for name in names.all()]
    assert not [1 for row, a in enumerate(boxes) for b in boxes[row + 1 :]
                if all(max(a[at], b[at]) < min(a[at] + a[size], b[at] + b[size]) - 1.0
                       for at, size in (("x", "width"), ("y", "height")))]  # fmt: skip
    first = names.count()
    assert 0 < first < 107
    for _ in range(2):
        page.locator(".leaflet-control-zoom-in").click()
        page.wait_for_timeout(400)
    assert names.count() > first
    assert seen.complaints == []


def test_a_number_that_finds_no_room_is_a_small_shape_until_closer_in(open_page: Any) -> None:
    page, seen = open_page(crowded(), 400, 700)
    every, small = page.locator("[data-map-flag]"), page.locator("[data-map-flag] .map-mark.small")
    assert every.count() == 107
    boxes = [mark.bounding_box() for mark in page.locator("[data-map-flag] .map-mark:not(.small)").all()]
    apart = [max(abs(a["x"] - b["x"]), abs(a["y"] - b["y"])) for row, a in enumerate(boxes) for b in boxes[row + 1 :]]
    assert min(apart) >= 35.0
    first = small.count()
    assert 0 < first < 107
    assert small.first.locator("svg").bounding_box()["width"] < 25.0
    assert not small.first.locator("text").is_visible()
    page.locator(".leaflet-container").scroll_into_view_if_needed()
    under = small.evaluate_all("""marks => marks.filter((mark) => {
        const box = mark.getBoundingClientRect();
        const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
        return top && !top.closest(".map-mark.small");
    }).length""")
    assert under == 0, "none is lost under a number"
    takes = small.first.evaluate("""mark => [mark.parentElement, mark.querySelector("svg")]
        .map((element) => getComputedStyle(element).pointerEvents)""")
    assert takes == ["none", "auto"], "what it covers of numbers is theirs to be chosen"
    number = small.last.locator("..").get_attribute("data-map-flag")
    page.locator(f"#row-flag-{number} button[data-flag]").click()
    expect(page.locator(".leaflet-popup-content h3").last).to_contain_text("Stack")
    page.keyboard.press("Escape")
    for _ in range(3):
        page.locator(".leaflet-control-zoom-in").click()
        page.wait_for_timeout(400)
    assert small.count() < first
    assert seen.complaints == []


def test_flags_open_by_keyboard_from_list_map_and_key(open_page: Any, html: str) -> None:
    page, seen = open_page(html)
    button = page.locator("#row-flag-2 button[data-flag]")
    button.focus()
    page.keyboard.press("Enter")
    popup = page.locator(".leaflet-popup-content")
    assert "Flag 2: caution" in popup.inner_text()
    for part in ("14.0 %", "16.0 %", "1.4 %", "Machine sheet of the invented handler", "grade_over_window", "−0.700 m"):
        assert part in popup.inner_text().replace("\u00a0", " ")
    page.keyboard.press("Escape")
    expect(popup).to_have_count(0)
    assert button.evaluate("element => document.activeElement === element"), "focus goes back to where it came from"

    page.locator("[data-map-flag='1']").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".leaflet-popup-content h3").last).to_contain_text("Flag 1")
    assert page.locator("#row-flag-1.here").count() == 1, "the list shows which flag is open"

    page.keyboard.press("Escape")
    page.locator("body").press("s")
    expect(page.locator(".leaflet-popup-content h3").last).to_contain_text("Stop 1")
    page.keyboard.press("f")
    expect(page.locator(".leaflet-popup-content h3").last).to_contain_text("Flag 1")
    assert seen.complaints == []


def test_flag_above_the_profile_opens_on_the_map(open_page: Any, html: str) -> None:
    page, _ = open_page(html)
    page.locator(".profile-box[data-trip=back] button[data-flag='2']").click()
    expect(page.locator(".leaflet-popup-content h3").last).to_contain_text("Flag 2")


def test_slider_and_mouse_move_the_pointer(open_page: Any, html: str) -> None:
    page, _ = open_page(html)
    slider = page.locator("[data-slider=out]")
    slider.focus()
    page.keyboard.press("End")
    assert "140 m driven" in page.locator("[data-said=out]").inner_text()
    assert "leg 3, low range" in slider.get_attribute("aria-valuetext")
    where = page.evaluate(POINTER)
    assert where == pytest.approx([9.0008021, 47.8540617], abs=2e-6), "P"
    picture = page.locator(".profile-box[data-trip=out] svg.profile")
    width = picture.bounding_box()["width"]
    picture.hover(position={"x": width * (66 + 922 * 60 / 140) / 1000, "y": 60})
    expect(page.locator("[data-said=out]")).to_contain_text(re.compile("^60 m driven"))


def test_shapes_of_the_map_are_no_stops_for_the_tab_key(open_page: Any, html: str) -> None:
    page, _ = open_page(html)
    page.locator(".leaflet-container").first.focus()
    seen = []
    for _ in range(80):
        page.keyboard.press("Tab")
        tag = page.evaluate("document.activeElement.tagName.toLowerCase()")
        seen.append(tag)
        if not page.evaluate("document.activeElement.closest('.leaflet-container') !== null"):
            break
    assert "path" not in seen
    assert len(seen) < 80, "the map is left by the Tab key"
    page.evaluate("document.querySelectorAll('.leaflet-control-layers-overlays input').forEach(i => i.click())")
    page.evaluate("document.querySelectorAll('.leaflet-control-layers-overlays input').forEach(i => i.click())")
    named = "[...document.querySelectorAll('path.leaflet-interactive')].every(p => p.getAttribute('tabindex') === '-1')"
    assert page.evaluate(named)


def test_profile_on_a_telephone_can_be_read_and_follows_the_slider(open_page: Any, html: str) -> None:
    page, seen = open_page(html, width=390, height=844)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    drawn = page.locator(".profile-box .drawn").first
    assert drawn.evaluate("box => box.scrollWidth") >= 760
    inside = (
        "box => [...box.querySelectorAll('.at')].every(m => m.offsetLeft >= 22 && m.offsetLeft + 22 <= box.scrollWidth)"
    )
    assert drawn.evaluate(inside)
    slider = page.locator(".profile-box input").first
    slider.evaluate("s => { s.value = s.max; s.dispatchEvent(new Event('input')); }")
    assert drawn.evaluate("box => box.scrollLeft + box.clientWidth") >= 700
    assert seen.complaints == []


def test_note_on_a_telephone_lies_inside_the_map_with_its_heading_in_sight(open_page: Any, html: str) -> None:
    page = open_page(html, width=390, height=844)[0]
    page.keyboard.press("f")
    note = page.locator(".leaflet-popup-content-wrapper")
    expect(note).to_be_visible()
    page.wait_for_timeout(500)
    inner, outer = note.bounding_box(), page.locator(".map").bounding_box()
    assert inner["x"] >= outer["x"]
    assert inner["x"] + inner["width"] <= outer["x"] + outer["width"]
    expect(page.locator(".leaflet-control-zoom")).to_be_hidden()


def test_help_opens_and_keys_can_be_switched_off(open_page: Any, html: str) -> None:
    page, _ = open_page(html)
    page.keyboard.press("?")
    assert page.locator("#help").is_visible()
    page.locator("#keys-on").uncheck()
    page.keyboard.press("Escape")
    page.locator("body").press("f")
    assert page.locator(".leaflet-popup-content").count() == 0


@pytest.mark.parametrize("width", [1280, 800])
def test_fits_and_can_be_touched(open_page: Any, html: str, width: int) -> None:
    page, _ = open_page(html, width=width, height=1100)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(SMALL)
    assert small == []


@pytest.mark.parametrize(("paper", "size"), [("A4", (842, 595)), ("A3", (1191, 842))])
def test_prints_on_paper(open_page: Any, html: str, paper: str, size: tuple[int, int]) -> None:
    page, seen = open_page(html)
    page.locator("#paper").select_option(paper)
    pdf = page.pdf(prefer_css_page_size=True, print_background=True)
    boxes = {tuple(round(float(n)) for n in found.split()) for found in re.findall(rb"/MediaBox \[([^\]]+)\]", pdf)}
    assert boxes == {(0, 0, *size)}
    assert 3 <= len(re.findall(rb"/Type /Page\b(?!s)", pdf)) <= 7
    assert page.evaluate("document.documentElement.className").strip() in ("", "a3"), "back on the screen as it was"
    assert seen.complaints == []


@pytest.mark.parametrize("mark", ["", " with a name that fills the title block and more" * 2])
def test_map_is_fitted_again_for_paper(
    open_page: Any, plan: TravelPlan, make_site: Callable[..., Site], rulebook: Rulebook, mark: str
) -> None:
    page, _ = open_page(map_page(plan, make_site(mark), rulebook), width=820, height=1180)
    page.evaluate("travelPage.map.setZoom(21, {animate: false})")
    page.evaluate("travelPage.toPaper()")
    inside = page.evaluate(
        "[[47.8533419, 9.0], [47.8540617, 9.0008021]].every(p => travelPage.map.getBounds().contains(p))"
    )
    assert inside, "gate and pick point are on the sheet"
    assert page.evaluate("travelPage.map.getSize().x") == pytest.approx(234 / 25.4 * 96, abs=3)
    bottom = page.evaluate("document.querySelector('.sheet').getBoundingClientRect().bottom + scrollY")
    assert bottom <= (210 - 8 - 11) / 25.4 * 96, "the sheet is one page"
    page.evaluate("travelPage.toScreen()")
    assert page.evaluate("travelPage.map.getZoom()") == 21


def test_markup_in_names_does_nothing(
    open_page: Any, plan: TravelPlan, make_site: Callable[..., Site], rulebook: Rulebook
) -> None:
    page, seen = open_page(map_page(plan, make_site(NASTY), rulebook))
    title = page.title()
    page.evaluate(OPEN_NOTES)
    page.locator("#row-stop-1 button").click()
    page.wait_for_timeout(200)
    assert page.locator(".leaflet-tooltip").count() > 5
    assert (
        "<script>" in page.locator(".leaflet-tooltip").first.inner_text() + page.locator(".leaflet-popup").inner_text()
    )
    assert page.title() == title != "hit"
    assert page.locator("img[src=x]").count() == 0
    assert seen.complaints == []
    assert len(fetched(seen)) == 1


def test_no_way_draws_what_stops_it(open_page: Any, no_way: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    page, seen = open_page(map_page(no_way, site, rulebook))
    assert page.locator(".map-cross").count() == 6
    assert page.locator("path[stroke='#8e0b25']").count() == 1
    assert page.locator("path[stroke='#5e2a8c'][stroke-dasharray]").count() == 1
    assert page.locator(".map-label.reach").inner_text() == "Way out: gets to here"
    assert seen.complaints == []
