"""Flags that wait for one entry are said once; what has to be surveyed on site stays one by one; nothing is lost."""

from __future__ import annotations

import dataclasses

import pytest

from travel.domain.plan import Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.summary import summary_text
from travel.writers.together import LEAST, gathered, known_nowhere, marked


def lacking(plan: TravelPlan, *missing: tuple[str, ...], **more: object) -> TravelPlan:
    """Give the plan with one unknown finding for each set of missing names."""
    found = tuple(
        dataclasses.replace(
            plan.findings[0], flag=n, id=f"x-{n}", verdict="unknown", reason="missing", why="", missing=names, **more
        )  # type: ignore[arg-type]
        for n, names in enumerate(missing, 1)
    )
    return dataclasses.replace(plan, findings=found)


def flags(found: list[Finding] | tuple[Finding, ...]) -> list[int]:
    return [finding.flag for finding in found]


def test_the_same_entry_is_said_once_and_a_survey_stays_alone(plan: TravelPlan, rulebook: Rulebook) -> None:
    changed = lacking(plan, *[("weather.ground",)] * 3, ("width_m",), ("width_m",), ("width_m",), ("width_m",))
    groups, alone = gathered(changed.findings, rulebook)
    assert [group.missing for group in groups] == [("weather.ground",)]
    assert flags(groups[0].findings) == [1, 2, 3]
    assert "weather ground" in groups[0].said
    assert "--weather" in groups[0].todo
    assert flags(alone) == flags(marked(changed)) == [4, 5, 6, 7]


def test_few_and_accepted_ones_are_listed_alone(plan: TravelPlan, rulebook: Rulebook) -> None:
    few = lacking(plan, *[("machine.limits.grade_pct",)] * (LEAST - 1))
    assert gathered(few.findings, rulebook)[0] == []
    accepted = lacking(plan, *[("weather.ground",)] * 5, accepted="by name")
    assert flags(gathered(accepted.findings, rulebook)[1]) == [1, 2, 3, 4, 5]


def test_what_else_is_missing_is_named(plan: TravelPlan, rulebook: Rulebook) -> None:
    (group,), alone = gathered(lacking(plan, *[("weather.ground", "bearing_wet_kpa")] * 3).findings, rulebook)
    assert "bearing of the ground when wet" in group.said
    assert not alone


@pytest.mark.parametrize("count", [3, 40])
def test_the_summary_names_every_flag_of_a_group(plan: TravelPlan, rulebook: Rulebook, count: int) -> None:
    text = summary_text(lacking(plan, *[("weather.ground",)] * count), rulebook)
    assert f"{count} ×" in text
    assert f"1–{count}" in text
    assert text.count("not given") <= 2


def on_roads(plan: TravelPlan, field: str, roads: tuple[str, ...], **more: object) -> TravelPlan:
    """Give the plan with one unknown finding a road that lacks a column."""
    changed = lacking(plan, *[(field,)] * len(roads), acceptable=True, **more)
    ends = {r: (0.0, max(leg.to_m for leg in plan.legs if leg.road == r)) for r in {leg.road for leg in plan.legs}}
    where = [
        dataclasses.replace(f.where, scope="stretch", road=r, feature=None, from_m=ends[r][0], to_m=ends[r][1])
        for f, r in zip(changed.findings, roads, strict=True)
    ]
    found = tuple(dataclasses.replace(f, where=w) for f, w in zip(changed.findings, where, strict=True))
    return dataclasses.replace(changed, findings=found)


def test_a_column_that_no_road_of_the_way_has_is_said_once(plan: TravelPlan, rulebook: Rulebook) -> None:
    way = tuple(sorted({leg.road for leg in plan.legs}))
    everywhere = on_roads(plan, "roughness_m", (*way, *way))
    assert known_nowhere(everywhere) == {"roughness_m": True}
    assert marked(everywhere) == []
    text = " ".join(summary_text(everywhere, rulebook).split())
    assert "Known nowhere on the way: height of single bumps." in text
    assert all(finding.id in text for finding in everywhere.findings), "each is opened by its own id"


def test_a_column_that_a_road_lacks_at_its_end_is_not_called_known_nowhere(
    plan: TravelPlan, rulebook: Rulebook
) -> None:
    way = tuple(sorted({leg.road for leg in plan.legs}))
    found = on_roads(plan, "roughness_m", (*way, *way)).findings
    short = dataclasses.replace(found[0].where, to_m=found[0].where.from_m + 1.0)
    found = tuple(dataclasses.replace(f, where=short) if f.where == found[0].where else f for f in found)
    changed = dataclasses.replace(plan, findings=found)
    assert known_nowhere(changed) == {"roughness_m": False}
    text = " ".join(summary_text(changed, rulebook).split())
    assert "Missing on part of every road: height of single bumps." in text
    assert "Known nowhere" not in text


def test_a_column_that_one_road_has_keeps_its_marks(plan: TravelPlan, rulebook: Rulebook) -> None:
    way = tuple(sorted({leg.road for leg in plan.legs}))
    for changed in (
        on_roads(plan, "roughness_m", way[1:] * 4),
        dataclasses.replace(on_roads(plan, "lit", way), legs=()),
    ):
        assert known_nowhere(changed) == {}
        assert len(marked(changed)) == len(changed.findings)
    never = on_roads(plan, "roughness_m", way * 3)
    never = dataclasses.replace(never, findings=tuple(dataclasses.replace(f, acceptable=False) for f in never.findings))
    assert len(marked(never)) == len(never.findings), "what nobody may accept is marked where it is"
