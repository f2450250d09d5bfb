"""A survey built anew keeps how bodies roll over it where no height and no piece is another one, and only there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from tests.unit.planning.test_outlook import place, road
from travel.checks import Case
from travel.checks.underbody import clearances
from travel.domain.site import Amendment, Site
from travel.survey import Survey, build_survey, lay_on
from travel.survey import changed as changed_module
from travel.survey.changed import built_anew

WIDER = (Amendment(layer="roads", feature="R", field="width_m", value=7.0, reason="test"),)


def hump(top_m: float) -> Site:
    """A road over a hump, and one beside it."""
    over = road("R", (0, 0), (30, 0), (31.5, 0), (33, 0), (70, 0), width_m=6.0)
    over["xyz"] = [(x, y, top_m if x == 31.5 else 0.0) for x, y, _ in over["xyz"]]
    beside = road("S", (0, 0), (0, 40), width_m=6.0)
    return make_site([over, beside], [place("G", 0, 0, "gate"), place("P", 70, 0, "pick_point", may_stop=True)])


def looked_at(top_m: float) -> Case:
    case = case_of(hump(top_m), machine=sheet())
    clearances(case)
    return case


def rolled(survey: Survey) -> list[object]:
    return [value for key, value in survey._cache.items() if key[0] == "rolled"]


def test_a_wider_road_keeps_what_was_rolled() -> None:
    case = looked_at(0.6)
    survey = case.survey
    (kept,) = rolled(survey)
    wider, anew = built_anew(survey, WIDER), build_survey(lay_on(survey.site, WIDER), survey.tolerance)
    assert [one is kept for one in rolled(wider)] == [True]
    assert set(wider.number("width_m").tolist()) == {6.0, 7.0}
    found, wanted = (clearances(replace(case, survey=each))[0] for each in (wider, anew))
    assert np.array_equal(found, wanted)


def test_another_height_keeps_nothing(monkeypatch) -> None:
    higher = hump(0.61)
    monkeypatch.setattr(changed_module, "lay_on", lambda site, amendments: higher)
    assert rolled(built_anew(looked_at(0.6).survey, WIDER)) == []
