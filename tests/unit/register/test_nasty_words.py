"""Markup, control signs and right-to-left text in reasons, evidence, conditions and names of features: shown as typed
or not at all, never as a command to the reader's screen, never reordering what stands beside it.
"""

from __future__ import annotations

import json
import unicodedata

import pytest

from tests.unit.register.test_walk import MACHINE, NOW, SITE, Hut, founded, hut, of
from travel.writers.text import plain

__all__ = ["founded", "hut"]

NASTY = (
    "[bold red]done[/bold red] :warning:",
    "<script>alert(1)</script><b>x</b>",
    "seen\u202edesolc\u202c at gate",
    "\u05e9\u05e2\u05e8 \u05e8\u05d0\u05e9\u05d9",
    "line one\nCLOSED by nobody",
    "\x1b[2J\x1b[31mred",
)
BARE = {"\u202a", "\u202b", "\u202c", "\u202d", "\u202e", "\x1b"}


def harmless(text: str) -> None:
    """Nothing that moves the cursor, colours or reorders; right-to-left runs are isolated where they stand."""
    assert not BARE & set(text)
    open_runs = 0
    for char in text:
        open_runs += (char in "\u2066\u2067\u2068") - (char == "\u2069")
        if unicodedata.bidirectional(char) in ("R", "AL"):
            assert open_runs > 0, "a right-to-left letter outside an isolate"
    assert open_runs == 0


@pytest.mark.parametrize("word", NASTY)
def test_evidence_reasons_and_conditions(hut: Hut, word: str) -> None:
    hut.travel("submit", "plan.json", by="Hanne")
    condition = f"{word.splitlines()[0]}|operator|before leaving|{word.splitlines()[0]}"
    said = [hut.travel("release", "plan.json", *NOW, "--condition", condition, by="Ruth", code=3)]
    said.append(hut.travel("close-condition", "plan.json", "spotter", "--evidence", word, by="Ivo"))
    said.append(hut.travel("suspend", "plan.json", "--reason", word, by="Ruth"))
    said += [hut.travel("register", "show", "plan.json"), hut.travel("register", "list")]
    said.append(hut.travel("register", "verify"))
    for text in said:
        harmless(text)
    assert not [line for line in said[3].splitlines() if line.strip() == "CLOSED by nobody"]
    if "<" in word or "[bold" in word:
        assert plain(word).split()[0] in said[3], "markup is shown as it was typed"


def test_names_of_features_that_void_a_plan_and_the_compare_page(hut: Hut) -> None:
    def change(layers: dict) -> None:
        of(layers["limits"], "LM6")["properties"] |= {"name": " and ".join(NASTY), "gross_kg": 9000.0}

    changed = hut.site("changed", change)
    harmless(hut.status(changed, code=1))
    asked = ("--machine", MACHINE, "--from", "G1", "--to", "P1", "--out", "other")
    hut.travel("plan", changed, *asked, "--weather", "ground=damp,temperature_c=8,wind_mps=4", code=1)
    said = hut.travel("compare", "plan.json", "other/plan.json", "--site", SITE, "--out", "page.html", code=3)
    harmless(said)
    page = (hut.folder / "page.html").read_text("utf-8")
    assert "<script>alert(1)" not in page
    assert "\u202e" not in page
    assert json.loads((hut.folder / "other" / "plan.json").read_text("utf-8"))["outcome"] == "no_way"
