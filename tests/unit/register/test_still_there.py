"""A machine that was stopped on its way still stands there: what is released beside it has to say so."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.unit.register.test_walk import MACHINE, NOW, SECRETS, SITE, WEATHER, Hut, founded, hut

__all__ = ["founded", "hut"]


def test_no_lane_is_released_on_which_a_suspended_machine_stands(hut: Hut, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(SECRETS, "Olek", "Olek-olek-pass")
    hut.travel("submit", "plan.json", by="Hanne")
    hut.travel("release", "plan.json", *NOW, by="Ruth", code=3)
    for condition in ("spotter", "people-kept-out", "traffic-held"):
        hut.travel("close-condition", "plan.json", condition, "--evidence", "seen", by="Ruth")
    hut.travel("accept", "plan.json", by="Ivo")
    hut.travel("suspend", "plan.json", "--reason", "standing on R48", by="Ivo")

    asked = ("--from", "G1", "--to", "P4", "--weather", WEATHER, "--out", "other")
    hut.travel("plan", SITE, "--machine", MACHINE, *asked, code=3)
    hut.travel("submit", "other/plan.json", by="Hanne")
    said = " ".join(hut.travel("release", "other/plan.json", *NOW, by="Ruth", code=1).split())
    assert "is suspended, but Ivo took it and has not handed it back" in said
    assert "on the same lane (R13)" in said

    told = hut.travel("release", "other/plan.json", *NOW, "--beside", "plan.json:it stands on R48", by="Ruth", code=3)
    assert "Kept apart from plan" in told
    hut.travel("withdraw", "other/plan.json", "--reason", "not today", by="Ruth")

    # nobody else's word that the move is over; then the lane is free
    hut.travel("register", "person", "Olek", "--role", "operator", "--by", "Ruth", by="Ruth", new="Olek")
    refused = hut.travel("hand-back", "plan.json", by="Olek", code=1)
    assert "Ivo took it, so Ivo hands it back, or a supervisor does" in refused
    hut.travel("hand-back", "plan.json", by="Ivo")
    Path("other/plan.json").write_bytes(Path("other/plan.json").read_bytes() + b" ")
    hut.travel("submit", "other/plan.json", by="Hanne")
    hut.travel("release", "other/plan.json", *NOW, by="Ruth", code=3)
