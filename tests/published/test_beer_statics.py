"""F. P. Beer and E. R. Johnston, Vector Mechanics for Engineers: Statics, ch. 7, Sample Problem 7 (catenary).

45 N/m, span 150 m, sag 30 m. The book solves for c by trial and keeps 99 m (exact 98.379), so its printed tensions
and length are met to 1 %.
"""

from __future__ import annotations

import pytest

from travel.mechanics.conductor import catenary_length, catenary_parameter, catenary_tension


def test_sample_problem_7() -> None:
    c = catenary_parameter(150.0, 30.0)
    assert c == pytest.approx(99.0, rel=0.01)
    assert catenary_tension(45.0, c, 0.0) == pytest.approx(4455.0, rel=0.01)
    assert catenary_tension(45.0, c, 30.0) == pytest.approx(5805.0, rel=0.01)
    assert catenary_length(c, 150.0) == pytest.approx(165.0, rel=0.01)


def test_with_the_books_trial_value() -> None:
    assert catenary_tension(45.0, 99.0, 0.0) == pytest.approx(4455.0, abs=0.5)
    assert catenary_tension(45.0, 99.0, 30.0) == pytest.approx(5805.0, abs=0.5)
