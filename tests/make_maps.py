"""Makes everything in ``maps/`` anew: runs the commands of ``maps/README.md`` and takes the pictures with Chromium."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).parents[1]
PICTURES = {
    "maps/demo_site-middle-P1/map.html": "maps/middle-P1.png",
    "maps/demo_site-large-P3/map.html": "maps/large-P3.png",
    "maps/reach-large/reach.html": "maps/reach-large.png",
}


def commands() -> list[str]:
    """Give the commands that ``maps/README.md`` names."""
    text = (ROOT / "maps" / "README.md").read_text(encoding="utf-8")
    return [line for block in re.findall(r"```sh\n(.*?)```", text, flags=re.S) for line in block.splitlines() if line]


CLOSE_UPS = (
    ("maps/demo_site-middle-P6/map.html", "maps/middle-P6-corner.png", 4, 3),
    ("maps/demo_site-large-T10/map.html", "maps/large-T10-shunt.png", 6, 4),
)
"""Page, picture, flag to go to, times nearer."""
GO_TO = """([number, nearer]) => {
  const data = JSON.parse(document.getElementById("page-data").textContent), map = window[data.groups.map];
  const [lon, lat] = data.flags.find((flag) => flag.n === number).lonlat;
  map.setView([lat, lon], map.getZoom() + nearer, { animate: false });
}"""


def picture(page: Path, target: Path, flag: int | None = None, nearer: int = 0) -> None:
    """Take a picture of a page at 1280 × 900; of its map alone, round a flag, where one is given."""
    from playwright.sync_api import sync_playwright

    flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=flags)
        tab = browser.new_page(viewport={"width": 1280, "height": 900})
        tab.goto(page.as_uri())
        tab.wait_for_timeout(800)
        shown = tab
        if flag is not None:
            tab.evaluate(GO_TO, [flag, nearer])
            tab.wait_for_timeout(1500)
            shown = tab.locator(".map-box")
        shown.screenshot(path=target)
        browser.close()


if __name__ == "__main__":
    environment = {**os.environ, "PATH": f"{ROOT / '.venv' / 'bin'}:{os.environ['PATH']}"}
    for command in commands():
        done = subprocess.run(command, shell=True, cwd=ROOT, env=environment, check=False, stdout=subprocess.DEVNULL)
        print(done.returncode, command)
    for page, target in PICTURES.items():
        picture(ROOT / page, ROOT / target)
    for page, target, flag, nearer in CLOSE_UPS:
        picture(ROOT / page, ROOT / target, flag, nearer)
