from __future__ import annotations

import dataclasses
import json

import jsonschema
import numpy as np
import pytest

from travel.domain.plan import TravelPlan
from travel.errors import InputError
from travel.writers.plan_json import plan_from_bytes, plan_schema, plan_to_bytes


def test_hand_made_plan_round_trips_byte_for_byte(plan: TravelPlan, plan_bytes: bytes) -> None:
    assert plan_to_bytes(plan) == plan_bytes


def test_keys_stand_in_the_order_of_the_fields(plan_bytes: bytes) -> None:
    assert list(json.loads(plan_bytes)) == [field.name for field in dataclasses.fields(TravelPlan)]


def test_hand_made_margins_add_up(plan: TravelPlan) -> None:
    for finding in plan.findings:
        assert finding.margin == pytest.approx(finding.capacity - finding.demand - finding.tolerance)
    for trip in plan.trips:
        legs = [leg for leg in plan.legs if leg.trip == trip.trip]
        assert sum(leg.length_m for leg in legs) == trip.length_m == trip.clear_m + trip.caution_m + trip.unknown_m
        assert all(leg.to_m - leg.from_m == leg.length_m for leg in legs)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf")])
def test_no_plan_holds_a_number_that_is_none(plan: TravelPlan, bad: float) -> None:
    broken = dataclasses.replace(plan, findings=(dataclasses.replace(plan.findings[0], demand=bad),))
    with pytest.raises(ValueError, match="demand"):
        plan_to_bytes(broken)
    with pytest.raises(ValueError, match="machine"):
        plan_to_bytes(dataclasses.replace(plan, machine={"mass_kg": bad}))


def test_numbers_are_rounded_by_what_they_are(plan: TravelPlan) -> None:
    finding = dataclasses.replace(plan.findings[0], demand=14.00000000001, terms={"rise_m": 0.1 + 0.2})
    stop = dataclasses.replace(plan.stops[0], at_m=-0.0000001, lonlat=(9.000802123456, 47.85))
    relied = dataclasses.replace(plan.relied_on[0], values={"x_m": 5300000.1234567})
    raw = json.loads(plan_to_bytes(dataclasses.replace(plan, findings=(finding,), stops=(stop,), relied_on=(relied,))))
    assert raw["findings"][0]["demand"] == 14.0
    assert raw["findings"][0]["terms"]["rise_m"] == 0.3
    assert raw["stops"][0]["lonlat"] == [9.0008021, 47.85]
    assert str(raw["stops"][0]["at_m"]) == "0.0"
    assert raw["relied_on"][0]["values"]["x_m"] == 5300000.1234567


def test_layout_is_that_of_json_with_lists_of_numbers_on_one_line(plan: TravelPlan) -> None:
    odd = {
        "text": 'ä"\\\n\u2028',
        "none": [],
        "void": {},
        "mixed": [1, "a", [2.5]],
        "flags": [True, False],
        "big": 1e30,
    }
    numbers = {"few": [1, None, -2.5e-07, np.float64(0.1)], "nested": ((1.0, 2.0), (3.0,)), "one": np.float64(0.25)}
    text = plan_to_bytes(dataclasses.replace(plan, machine=odd)).decode()
    assert (
        json.dumps(odd, ensure_ascii=False, indent=2).replace("\n", "\n  ").replace("[\n        2.5\n      ]", "[2.5]")
        in text
    )
    text = plan_to_bytes(dataclasses.replace(plan, machine=numbers)).decode()
    assert '"few": [1, null, -2.5e-07, 0.1],\n' in text
    assert '"nested": [\n      [1.0, 2.0],\n      [3.0]\n    ],\n    "one": 0.25\n' in text


def test_schema_is_valid_and_takes_the_plan(plan_bytes: bytes) -> None:
    schema = plan_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)
    checker = jsonschema.Draft202012Validator(schema)
    raw = json.loads(plan_bytes)
    checker.validate(raw)
    del raw["findings"][0]["margin"]
    raw["legs"][0]["sped_kmh"] = 3
    assert {error.validator for error in checker.iter_errors(raw)} == {"required", "additionalProperties"}


def fault_fields(data: bytes) -> list[str]:
    with pytest.raises(InputError) as caught:
        plan_from_bytes(data)
    return [fault.field for fault in caught.value.faults]


def test_faults_of_a_plan_file_are_all_listed(plan_bytes: bytes) -> None:
    raw = json.loads(plan_bytes)
    raw["findings"][0]["verdict"] = "fine"
    del raw["legs"][1]["range"]
    assert sorted(fault_fields(json.dumps(raw).encode())) == ["findings.0.verdict", "legs.1.range"]


@pytest.mark.parametrize("data", [b"", b"[1]", b"\xff\xfe", b'{"schema": NaN}', b"null"])
def test_what_is_no_plan_is_refused(data: bytes) -> None:
    assert fault_fields(data)


def test_newer_version_and_unknown_keys_are_refused(plan_bytes: bytes) -> None:
    raw = json.loads(plan_bytes)
    assert fault_fields(json.dumps(raw | {"schema": "machine-travel plan 2"}).encode()) == ["schema"]
    assert fault_fields(json.dumps(raw | {"surprise": 1}).encode()) == ["surprise"]
