"""US Army FM 5-434, coefficients of traction for rubber tyres (from memory): rows of the rulebook.

Dry concrete 0.90, firm earth 0.55, wet clay loam 0.45, rutted clay loam 0.40, loose gravel 0.36, dry sand 0.20, packed
snow 0.20, ice 0.12. Not used: loose earth 0.45, no such surface is kept.
"""

from __future__ import annotations

import pytest

from travel.mechanics.grip import usable_pull
from travel.rulebook import load_rulebook, resolve

BOOK = load_rulebook()
ROWS = [
    ("concrete", "dry", 0.90),
    ("firm_earth", "dry", 0.55),
    ("clay", "wet", 0.45),
    ("clay", "damp", 0.40),
    ("loose_gravel", "dry", 0.36),
    ("sand", "dry", 0.20),
    ("snow", "dry", 0.20),
    ("concrete", "hard_ice", 0.12),
]


@pytest.mark.parametrize(("surface", "ground", "mu"), ROWS)
def test_the_rulebook_keeps_the_row_or_is_stricter(surface: str, ground: str, mu: float) -> None:
    found = resolve(BOOK, "grip.coefficient", surface=surface, ground=ground)
    assert found is not None
    assert usable_pull(found.value, 100_000.0) <= usable_pull(mu, 100_000.0)


@pytest.mark.parametrize(("surface", "ground", "mu"), [row for row in ROWS if row[0] != "snow"])
def test_each_row_is_kept_as_remembered(surface: str, ground: str, mu: float) -> None:
    when = {"ground": ground} if ground == "hard_ice" else {"surface": surface, "ground": ground}
    kept = [row for row in BOOK.limits if row.id == "grip.coefficient" and row.source == "fm-5-434"
            and dict(row.when) == when]  # fmt: skip
    assert [row.value for row in kept] == [mu]
    assert {row.known for row in kept} == {"memory"}
