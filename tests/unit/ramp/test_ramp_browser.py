"""The ramp's page in a browser: asks for nothing, complains of nothing, fits a tablet and A4."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import sync_playwright

from tests.unit.ramp.ramps import DEMO
from travel.domain.ramp import RampRequest
from travel.service.ramp import make_ramp
from travel.writers.ramp_page import ramp_page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
WIDE = "document.documentElement.scrollWidth > document.documentElement.clientWidth + 1"


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


@pytest.mark.parametrize("name", ["semi_low_loader", "short_ramps_drawbar"])
def test_page_asks_for_nothing_and_prints(browser: Any, tmp_path: Path, name: str) -> None:
    asked = RampRequest(surface="asphalt", ground="wet", jurisdiction="gb")
    found = make_ramp(DEMO / "machines" / "middle.toml", DEMO / "trailers" / f"{name}.toml", asked)
    file = tmp_path / "ramp.html"
    file.write_text(ramp_page(found.result, found.trailer, found.rulebook), encoding="utf-8")
    page = browser.new_context(viewport={"width": 820, "height": 1100}).new_page()
    requests: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: requests.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(f"file://{file}")
    assert requests == [f"file://{file}"]
    assert complaints == []
    assert not page.evaluate(WIDE)
    drawn = page.locator("svg.rv").first.bounding_box()
    assert drawn["width"] > 700
    assert page.locator("svg.rv text.big").first.is_visible()
    pdf = tmp_path / "ramp.pdf"
    page.pdf(path=str(pdf), format="A4", print_background=True)
    said = subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True, check=True).stdout
    assert "A4" in said
    assert 2 <= int(said.split("Pages:")[1].split()[0]) <= 6
    page.context.close()


def test_page_on_a_telephone(browser: Any, tmp_path: Path) -> None:
    asked = RampRequest(surface="asphalt", ground="wet", jurisdiction="gb")
    found = make_ramp(DEMO / "machines" / "middle.toml", DEMO / "trailers" / "semi_low_loader.toml", asked)
    file = tmp_path / "ramp.html"
    file.write_text(ramp_page(found.result, found.trailer, found.rulebook), encoding="utf-8")
    page = browser.new_context(viewport={"width": 390, "height": 800}).new_page()
    page.goto(f"file://{file}")
    # tables scroll inside themselves; the picture and the answer never do
    assert page.locator("svg.rv").first.bounding_box()["width"] <= 390
    page.context.close()
