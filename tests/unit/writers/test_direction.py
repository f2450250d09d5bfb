"""Lines of ours run from left to right, also where a right-to-left name comes first: places in the order of the way."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

TEMPLATES = ("page", "reach", "compare", "ramp", "document")
COMPOSED = ("line", "value", "text", "heading", "card.sentence", "card.where", "card.said", "step.text", "block.text")


@pytest.mark.parametrize("name", TEMPLATES)
def test_composed_lines_state_their_direction(name: str) -> None:
    template = (files("travel.writers") / "assets" / f"{name}.html.j2").read_text("utf-8")
    own = re.findall(r"<bdi( dir=\"ltr\")?>\{\{ ([a-z.]+) \}\}", template)
    told = {text for direction, text in own if direction}
    assert told & set(COMPOSED)
    assert not [text for direction, text in own if not direction and text in COMPOSED]
