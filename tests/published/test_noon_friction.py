"""Noon, Engineering Analysis of Vehicular Accidents (1994), tyre friction, as quoted on public pages.

Dry asphalt 0.65, dry concrete 0.75, wet asphalt 0.50, wet concrete 0.60, gravel and dirt road 0.35, wet grass 0.20,
snow 0.20 to 0.25, ice 0.10 to 0.15. Not used: loose moist dirt with 5 cm of sinkage, 0.60 to 0.65 (it ploughs in).
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.ramp_statics import grip_needed_on_slope
from travel.rulebook import load_rulebook, resolve

BOOK = load_rulebook()
ROWS = [
    ("asphalt", "dry", 0.65),
    ("concrete", "dry", 0.75),
    ("asphalt", "wet", 0.50),
    ("concrete", "wet", 0.60),
    ("compacted_gravel", "dry", 0.35),
    ("loose_gravel", "dry", 0.35),
    ("firm_earth", "dry", 0.35),
    ("grass", "wet", 0.20),
    ("snow", None, 0.20),
    (None, "hard_ice", 0.10),
]


@pytest.mark.parametrize(("surface", "ground", "mu"), ROWS)
def test_each_row_is_kept_as_printed(surface: str | None, ground: str | None, mu: float) -> None:
    when = {key: word for key, word in (("surface", surface), ("ground", ground)) if word}
    rows = [row.value for row in BOOK.limits if row.id == "grip.coefficient" and row.source == "noon-1994"
            and dict(row.when) == when]  # fmt: skip
    assert rows == [mu]


@pytest.mark.parametrize(("surface", "ground", "mu"), ROWS)
def test_what_holds_is_never_more_than_printed(surface: str | None, ground: str | None, mu: float) -> None:
    found = resolve(BOOK, "grip.coefficient", surface=surface or "asphalt", ground=ground or "dry")
    assert found is not None
    assert found.value <= mu
    limit = np.arctan(found.value)
    assert grip_needed_on_slope(1.0, np.tan(limit), np.cos(limit)) <= mu + 1e-12


def test_dry_concrete_holds_where_wet_grass_slides() -> None:
    """At 15 degrees 0.268 is needed on every wheel."""
    th = np.radians(15.0)
    needed = float(grip_needed_on_slope(1.0, np.tan(th), np.cos(th)))
    concrete, grass = (resolve(BOOK, "grip.coefficient", surface=s, ground=g)
                       for s, g in (("concrete", "dry"), ("grass", "wet")))  # fmt: skip
    assert concrete is not None
    assert grass is not None
    assert grass.value < needed < concrete.value
