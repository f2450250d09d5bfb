"""Who may decide what and when: the rules of approval, one by one."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from tests.unit.register.tools import BOTH, PASSWORDS, PEOPLE, SPOTTER, START, UNKNOWN, Desk, make_desk, subject
from travel.domain.decision import Kind, Person, ReleaseCondition, State, why_not_go
from travel.domain.request import Acceptance
from travel.errors import InputError, Refused
from travel.register import Register

HOUR = dt.timedelta(hours=1)
EVERYBODY = {"Ruth": ("supervisor",), **PEOPLE}


def terms(desk: Desk, **more: Any) -> dict[str, Any]:
    """Give the words of a release that nothing stands against."""
    return {"until": desk.now + 8 * HOUR, "conditions": (SPOTTER,), **more}


# -- the way of a plan


@BOTH
def test_from_draft_to_handed_back(desk: Desk) -> None:
    about = subject()
    assert desk.state(about) == "draft"
    desk.submit()
    assert desk.state(about) == "submitted"
    desk.release(about)
    assert desk.state(about) == "released with conditions"
    desk.close(about)
    desk.decide("accept", "Ivo", about)
    assert why_not_go(desk.standing(about)) == ()
    desk.decide("hand_back", "Ivo", about)
    assert desk.state(about) == "handed back"
    assert [d.intent.kind for d in desk.standing(about).decisions] == [
        "submit",
        "release",
        "close_condition",
        "accept",
        "hand_back",
    ]
    assert desk.register.verify() == ()


def test_a_plan_without_conditions_is_released_plainly_and_still_needs_its_operator(desk: Desk) -> None:
    about = desk.submit(conditions=())
    desk.release(about)
    assert desk.state(about) == "released"
    assert why_not_go(desk.standing(about)) == ("no operator has accepted it by name",)


ALLOWED: dict[State, set[Kind]] = {
    "draft": {"submit"},
    "submitted": {"release", "refuse", "withdraw"},
    "released with conditions": {"suspend", "withdraw", "close_condition", "renew"},
    "released": {"suspend", "withdraw", "accept", "renew"},
    "refused": {"submit"},
    "suspended": {"release", "withdraw"},
    "withdrawn": set(),
    "lapsed": {"withdraw", "renew"},
    "handed back": set(),
}
DECIDERS: dict[Kind, str] = {
    "submit": "Hanne",
    "release": "Ruth",
    "refuse": "Ruth",
    "suspend": "Ivo",
    "withdraw": "Ruth",
    "accept": "Ivo",
    "close_condition": "Ivo",
    "hand_back": "Ivo",
    "renew": "Ruth",
}


def brought_to(desk: Desk, state: State) -> Any:
    """Bring a plan into a state."""
    if state == "draft":
        return subject()
    about = desk.submit(conditions=() if state == "released" else (SPOTTER,))
    if state in ("released", "released with conditions", "suspended", "lapsed", "handed back"):
        desk.release(about)
    if state == "handed back":
        desk.close(about)
        desk.decide("accept", "Ivo", about)
        desk.decide("hand_back", "Ivo", about)
    if state == "suspended":
        desk.decide("suspend", "Ivo", about, note="soft verge")
    if state == "lapsed":
        desk.now += 9 * HOUR
    if state == "refused":
        desk.decide("refuse", "Ruth", about, note="no spotter")
    if state == "withdrawn":
        desk.decide("withdraw", "Hanne", about, note="called off")
    assert desk.state(about) == state
    return about


@pytest.mark.parametrize("state", ALLOWED)
def test_what_may_be_decided_in_each_state(desk: Desk, state: State) -> None:
    about = brought_to(desk, state)
    more: dict[Kind, dict[str, Any]] = {
        "submit": {"subject": about},
        "release": terms(desk, conditions=about.conditions),
        "renew": {"until": desk.now + 8 * HOUR},
        "close_condition": {"condition": "spotter", "evidence": "seen"},
        "refuse": {"note": "why"},
        "suspend": {"note": "why"},
        "withdraw": {"note": "why"},
    }
    allowed = {kind for kind, by in DECIDERS.items() if not desk.against(kind, by, about, **more.get(kind, {}))}
    assert allowed == ALLOWED[state]


ROLES: dict[Kind, set[str]] = {
    "submit": {"Hanne", "Tomas"},
    "release": {"Ruth", "Tomas"},
    "refuse": {"Ruth", "Tomas"},
    "suspend": {"Hanne", "Ruth", "Tomas", "Ivo", "Olek"},
    "withdraw": {"Hanne", "Ruth", "Tomas"},
    "accept": {"Ivo"},
    "close_condition": {"Ruth", "Tomas", "Ivo", "Olek"},
    "renew": {"Ruth", "Tomas"},
}


@pytest.mark.parametrize("kind", ROLES)
def test_who_may_decide_each_kind(desk: Desk, kind: Kind) -> None:
    state: State = {"submit": "draft", "release": "submitted", "refuse": "submitted", "accept": "released"}.get(  # type: ignore[assignment]
        kind, "released with conditions"
    )
    about = brought_to(desk, state)
    more = {"note": "why", "condition": "spotter", "evidence": "seen", "until": desk.now + 8 * HOUR}
    more |= {"conditions": about.conditions} if kind == "release" else {}
    more |= {"subject": about} if kind == "submit" else {}
    assert {by for by in EVERYBODY if not desk.against(kind, by, about, **more)} == ROLES[kind]


def test_a_role_that_is_not_ones_own_counts_nothing(desk: Desk) -> None:
    about = desk.submit()
    assert "Hanne is not enrolled as supervisor" in desk.against(
        "release", "Hanne", about, role="supervisor", **terms(desk)
    )
    assert "Ghost is not enrolled" in desk.against("release", "Ghost", about, **terms(desk))


@pytest.mark.parametrize("kind", ["refuse", "suspend", "withdraw"])
def test_a_no_needs_its_reason(desk: Desk, kind: Kind) -> None:
    about = brought_to(desk, "released" if kind == "suspend" else "submitted")
    assert desk.against(kind, "Ruth", about, note="  ") == "a reason is needed"


# -- two people


@pytest.mark.parametrize("kind", ["release", "refuse"])
def test_the_maker_does_not_decide_on_it(desk: Desk, kind: Kind) -> None:
    about = desk.submit(by="Tomas")
    assert "Tomas submitted this plan; somebody else has to" in desk.against(
        kind, "Tomas", about, **terms(desk, note="x")
    )
    assert desk.against(kind, "Ruth", about, **terms(desk, note="x")) == ""
    with pytest.raises(Refused, match="somebody else"):
        desk.decide(kind, "Tomas", about, **terms(desk, note="x"))
    assert desk.state(about) == "submitted"


def test_the_maker_neither_renews_nor_closes_conditions(desk: Desk) -> None:
    about = desk.submit(by="Tomas")
    desk.release(about)
    closing = {"condition": "spotter", "evidence": "seen"}
    assert "somebody else has to close a condition" in desk.against("close_condition", "Tomas", about, **closing)
    assert "somebody else has to renew it" in desk.against("renew", "Tomas", about, until=desk.now + HOUR)


def test_the_same_question_submitted_again_by_another_does_not_free_its_maker(desk: Desk) -> None:
    desk.submit(b"one", by="Tomas", plan_id="TP-SAME")
    again = desk.submit(b"two", by="Hanne", plan_id="TP-SAME")
    assert "Tomas submitted this plan" in desk.against("release", "Tomas", again, **terms(desk))


def test_whoever_submitted_it_before_it_was_refused_is_a_maker_still(desk: Desk) -> None:
    about = desk.submit(by="Tomas")
    desk.decide("refuse", "Ruth", about, note="no spotter")
    desk.decide("submit", "Hanne", about, b"plan", subject=about)
    assert "Tomas submitted this plan" in desk.against("release", "Tomas", about, **terms(desk))
    assert desk.against("release", "Ruth", about, **terms(desk)) == ""


# -- what a release names


@pytest.mark.parametrize(
    ("changes", "words", "says"),
    [
        ({}, {"conditions": ()}, "conditions of the plan are left out: spotter"),
        ({}, {"conditions": (replace(SPOTTER, owner="Ivo"),)}, "conditions of the plan are left out: spotter"),
        ({}, {"conditions": (SPOTTER, SPOTTER)}, "two conditions have the same id"),
        (
            {},
            {"conditions": (SPOTTER, replace(SPOTTER, id="x", due=" ", evidence=""))},
            "condition x has no due, evidence",
        ),
        ({}, {"until": None}, "until when it holds has to be said"),
        ({}, {"until": dt.datetime(2026, 11, 25, 17)}, "until when it holds has to be said, with offset"),
        ({}, {"until": START}, "before it begins"),
        ({}, {"until": START + dt.timedelta(days=9, seconds=1)}, "the survey of edges holds until"),
        ({"survey_ends": None}, {}, "until when the survey holds is not known"),
        ({"ends": START}, {}, "the hours planned for ended"),
        ({"outcome": "no_way"}, {}, "the plan has no way"),
        ({"verdict": "blocked"}, {}, "the plan has no way"),
        ({"faults": ("planned on a changed copy",)}, {}, "planned on a changed copy"),
        ({"unknowns": (UNKNOWN,)}, {}, "headroom-1 is unknown and was not accepted by name and reason"),
        (
            {"unknowns": (UNKNOWN,)},
            {"unknowns": (Acceptance(id="headroom-1", reason=" "),)},
            "headroom-1 is unknown and was not accepted",
        ),
        (
            {"unknowns": (replace(UNKNOWN, acceptable=False),)},
            {"unknowns": (Acceptance(id="headroom-1", reason="looks high"),)},
            "nobody may accept it on a form",
        ),
        ({}, {"unknowns": (Acceptance(id="other-1", reason="seen"),)}, "not an unknown of this plan: other-1"),
    ],
)
def test_what_a_release_has_to_name(desk: Desk, changes: dict[str, Any], words: dict[str, Any], says: str) -> None:
    about = desk.submit(**changes)
    assert says in desk.against("release", "Ruth", about, **terms(desk, **words))
    with pytest.raises(Refused, match=says.split(":")[0]):
        desk.decide("release", "Ruth", about, **terms(desk, **words))
    assert desk.state(about) == "submitted"


def test_every_unknown_accepted_one_by_one_is_kept_with_its_reason(desk: Desk) -> None:
    about = desk.submit(unknowns=(UNKNOWN, replace(UNKNOWN, id="width-2")))
    one = (Acceptance(id="headroom-1", reason="measured 6 m by hand"),)
    assert "width-2 is unknown" in desk.against("release", "Ruth", about, **terms(desk, unknowns=one))
    both = (*one, Acceptance(id="width-2", reason="walked it"))
    desk.release(about, unknowns=both)
    assert desk.standing(about).unknowns == both


def test_every_reason_is_given_at_once(desk: Desk) -> None:
    about = desk.submit(survey_ends=None, unknowns=(UNKNOWN,))
    assert len(desk.against("release", "Hanne", about, until=None).split("; ")) >= 6


def test_a_decision_names_the_very_plan(desk: Desk) -> None:
    about = desk.submit()
    other = replace(about, fingerprint="0" * 64)
    assert "does not name the plan" in desk.against("release", "Ruth", other, **terms(desk))
    with pytest.raises(Refused, match="is not the plan"):
        desk.register.decide(desk.intent("submit", "Hanne", about, subject=about), PASSWORDS["Hanne"], b"another file")


# -- conditions, acceptance, hand-back


def test_open_conditions_are_not_go_and_cannot_be_accepted(desk: Desk) -> None:
    wash = ReleaseCondition(id="supervisor-1", text="Wash", owner="Ivo", due="leaving", evidence="seen")
    about = desk.submit()
    desk.release(about, conditions=(SPOTTER, wash))
    assert "condition spotter is open" in desk.against("accept", "Ivo", about)
    desk.close(about)
    assert "condition supervisor-1 is open" in desk.against("accept", "Ivo", about)
    assert why_not_go(desk.standing(about))
    desk.close(about, ids=("supervisor-1",))
    assert desk.against("accept", "Ivo", about) == ""
    assert why_not_go(desk.standing(about)) == ("no operator has accepted it by name",)


def test_a_condition_is_closed_once_with_what_shows_it(desk: Desk) -> None:
    about = desk.submit()
    desk.release(about)
    assert "has to be said" in desk.against("close_condition", "Ivo", about, condition="spotter", evidence=" ")
    assert "is not an open condition; open: spotter" in desk.against(
        "close_condition", "Ivo", about, condition="spoter", evidence="seen"
    )
    desk.close(about, by="Ivo")
    again = desk.against("close_condition", "Ivo", about, condition="spotter", evidence="seen")
    assert again == "“spotter” is not an open condition; open: none"


def test_only_what_was_accepted_is_handed_back(desk: Desk) -> None:
    about = desk.submit(conditions=())
    desk.release(about)
    assert "no operator has accepted it" in desk.against("hand_back", "Ivo", about)
    desk.decide("accept", "Ivo", about)
    assert desk.against("hand_back", "Ruth", about) == ""


@pytest.mark.parametrize("by", ["Ivo", "Olek", "Hanne", "Ruth"])
def test_anybody_suspends_and_then_everything_starts_again(desk: Desk, by: str) -> None:
    about = desk.go()
    desk.decide("suspend", by, about, note="the verge is giving way")
    assert desk.state(about) == "suspended"
    assert why_not_go(desk.standing(about)) == ("the plan is suspended",)
    assert desk.standing(about).note == "the verge is giving way"
    desk.release(about)
    standing = desk.standing(about)
    assert [c.id for c in standing.open] == ["spotter"]
    assert (standing.closed, standing.accepted_by) == ((), "")


def test_withdrawn_is_for_good(desk: Desk) -> None:
    about = desk.go()
    desk.decide("withdraw", "Hanne", about, note="called off")
    assert why_not_go(desk.standing(about)) == ("the plan is withdrawn",)
    for kind, by in DECIDERS.items():
        assert "the plan is withdrawn" in desk.against(kind, by, about, note="x", subject=about, **terms(desk))


# -- how long it holds


def test_a_release_ends_by_itself_at_its_very_moment(desk: Desk) -> None:
    about = desk.go()
    until = desk.standing(about).until
    assert until is not None
    assert desk.state(about, until - desk.now - dt.timedelta(seconds=1)) == "released with conditions"
    assert desk.state(about, until - desk.now) == "lapsed"
    assert why_not_go(desk.standing(about, until - desk.now)) == ("the plan is lapsed",)


def test_a_clock_set_back_brings_nothing_back_to_life(desk: Desk) -> None:
    about = desk.go()
    desk.now += 9 * HOUR
    desk.submit(b"other", roads=("R99",))
    assert desk.state(about, -8 * HOUR) == "lapsed"
    assert desk.state(about, -dt.timedelta(days=400)) == "lapsed"


def test_a_decision_at_an_earlier_time_is_refused_until_the_clock_is_put_right(desk: Desk) -> None:
    about = desk.submit()
    desk.now -= 2 * HOUR
    assert "the clock was set back" in desk.against("release", "Ruth", about, **terms(desk))
    with pytest.raises(Refused, match="set back"):
        desk.decide("release", "Ruth", about, **terms(desk))
    desk.register.decide(desk.intent("clock", "Ruth", note="a day ahead"), PASSWORDS["Ruth"])
    desk.release(about)
    assert desk.register.verify() == ()


def test_a_time_without_offset_is_no_time(desk: Desk) -> None:
    about = desk.submit()
    intent = replace(desk.intent("refuse", "Ruth", about, note="x"), at=dt.datetime(2026, 11, 26, 9))
    with pytest.raises(Refused, match="the time has no offset"):
        desk.register.decide(intent, PASSWORDS["Ruth"])


def test_a_renewal_opens_every_condition_and_asks_the_operator_again(desk: Desk) -> None:
    about = desk.go()
    desk.now += 9 * HOUR
    assert desk.state(about) == "lapsed"
    further = ReleaseCondition(id="supervisor-1", text="Look at the verge", owner="Ivo", due="first", evidence="said")
    desk.decide("renew", "Ruth", about, until=desk.now + 8 * HOUR, conditions=(further,))
    standing = desk.standing(about)
    assert standing.state == "released with conditions"
    assert {c.id for c in standing.open} == {"spotter", "supervisor-1"}
    assert (standing.closed, standing.accepted_by) == ((), "")
    assert "there is a condition spotter already" in desk.against(
        "renew", "Ruth", about, until=desk.now + HOUR, conditions=(SPOTTER,)
    )


def test_a_renewal_goes_no_further_than_the_survey(desk: Desk) -> None:
    about = desk.go()
    assert "the survey of edges holds until" in desk.against(
        "renew", "Ruth", about, until=START + dt.timedelta(days=10)
    )


# -- one lane, one hour


def at(hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2026, 11, 25, hour, minute, tzinfo=dt.UTC)


MORNING = {"begins": at(9), "ends": at(11)}


@pytest.mark.parametrize(
    ("changes", "clashes"),
    [
        (MORNING, True),
        ({"begins": at(10, 59), "ends": at(12)}, True),
        ({"begins": at(11), "ends": at(12)}, False),  # the one ends as the other begins
        ({"begins": at(12), "ends": at(13)}, False),
        ({}, True),  # no hour planned for: all of the release
        (MORNING | {"roads": ("R45",)}, True),
        (MORNING | {"roads": ("R99",)}, False),
        (MORNING | {"site": "another site"}, False),
    ],
)
def test_two_released_plans_on_one_lane_at_one_hour_are_found(
    desk: Desk, changes: dict[str, Any], clashes: bool
) -> None:
    first = desk.submit(b"first", **MORNING)
    desk.release(first)
    second = desk.submit(b"second", **changes)
    found = desk.against("release", "Ruth", second, **terms(desk))
    assert ("is released on the same lane" in found) == clashes
    if clashes:
        assert "R45" in found
        assert first.plan_id in found
        apart = (Acceptance(id=first.digest, reason="Ivo waits at W1 until the other is past"),)
        assert desk.against("release", "Ruth", second, **terms(desk, beside=apart)) == ""
        desk.release(second, beside=apart)
        assert desk.standing(second).beside == apart
    else:
        assert found == ""


@pytest.mark.parametrize("kind", ["suspend", "withdraw"])
def test_a_plan_that_is_not_released_any_more_clashes_with_nothing(desk: Desk, kind: Kind) -> None:
    first = desk.submit(b"first")
    desk.release(first)
    second = desk.submit(b"second")
    assert "same lane" in desk.against("release", "Ruth", second, **terms(desk))
    desk.decide(kind, "Ruth", first, note="other one first")
    assert desk.against("release", "Ruth", second, **terms(desk)) == ""


def test_a_lapsed_release_clashes_with_nothing_but_its_renewal_is_asked_again(desk: Desk) -> None:
    first = desk.submit(b"first")
    desk.release(first, hours=1)
    desk.now += 2 * HOUR
    second = desk.submit(b"second")
    desk.release(second)
    assert "same lane" in desk.against("renew", "Ruth", first, until=desk.now + HOUR)


# -- people


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "1 to 100 characters"),
        (" Mia", "no blank at its ends"),
        ("M" * 101, "1 to 100 characters"),
        ("ruth", "Ruth is enrolled already"),
        ("Mi\u202ea", "letters people can see"),
        ("Mi\u200ba", "letters people can see"),
        ("Mi\na", "letters people can see"),
        ("Mi\x1b[31ma", "letters people can see"),
        ("Mia\u00a0", "no blank at its ends"),
        ("Zoe\u0308", "composed as usual"),
    ],
)
def test_names_that_could_be_taken_for_others_are_refused(desk: Desk, name: str, says: str) -> None:
    person = Person(name=name, roles=("operator",), public_key="")
    with pytest.raises(Refused, match=says):
        desk.register.enrol("Ruth", PASSWORDS["Ruth"], person, "a long password", desk.now)


@pytest.mark.parametrize("name", ["Zoë", "Ōta Ken", "נועה לוי", "ليلى", "<b>Mia</b>", "O'Neil; DROP TABLE people"])
def test_names_of_any_script_are_taken_as_they_are(desk: Desk, name: str) -> None:
    person = Person(name=name, roles=("operator",), public_key="")
    desk.register.enrol("Ruth", PASSWORDS["Ruth"], person, "a long password", desk.now)
    assert desk.register.people()[name].roles == ("operator",)
    assert desk.register.verify() == ()


def test_a_register_never_loses_its_last_supervisor(desk: Desk) -> None:
    ruth, tomas = PASSWORDS["Ruth"], Person(name="Tomas", roles=("planner",), public_key="")
    desk.register.enrol("Ruth", ruth, tomas, PASSWORDS["Tomas"], desk.now)
    with pytest.raises(Refused, match="no supervisor would be left"):
        desk.register.retire("Ruth", ruth, "Ruth", "leaves", desk.now)
    with pytest.raises(Refused, match="no supervisor would be left"):
        desk.register.enrol("Ruth", ruth, Person(name="Ruth", roles=("planner",), public_key=""), ruth, desk.now)


def test_who_is_retired_decides_nothing_and_what_he_decided_stays(desk: Desk) -> None:
    about = desk.go()
    desk.register.retire("Ruth", PASSWORDS["Ruth"], "Ivo", "left the site", desk.now)
    assert "Ivo is retired" in desk.against("hand_back", "Ivo", about)
    assert desk.standing(about).accepted_by == "Ivo"
    assert desk.register.verify() == ()


def test_a_new_key_signs_from_then_on_and_the_old_signatures_hold(desk: Desk) -> None:
    about = desk.go()
    ivo = Person(name="Ivo", roles=("operator",), public_key="")
    desk.register.enrol("Ruth", PASSWORDS["Ruth"], ivo, "another password", desk.now)
    intent = desk.intent("hand_back", "Ivo", about)
    with pytest.raises(InputError, match="do not belong together"):
        desk.register.decide(intent, PASSWORDS["Ivo"])
    desk.register.decide(intent, "another password")
    assert desk.register.verify() == ()


def test_a_changed_password_opens_the_same_key(desk: Desk) -> None:
    about = desk.submit()
    key = desk.register.people()["Ruth"].public_key
    with pytest.raises(InputError, match="do not belong together"):
        desk.register.change_password("Ruth", "not it at all", "another password")
    desk.register.change_password("Ruth", PASSWORDS["Ruth"], "another password")
    with pytest.raises(InputError, match="do not belong together"):
        desk.decide("refuse", "Ruth", about, note="x")
    desk.register.decide(desk.intent("refuse", "Ruth", about, note="x"), "another password")
    assert desk.register.people()["Ruth"].public_key == key
    assert desk.register.verify() == ()


def test_passwords_are_long_and_nowhere_in_the_register(desk: Desk, location: str) -> None:
    with pytest.raises(InputError, match="is shorter than 10 characters"):
        desk.register.change_password("Ruth", PASSWORDS["Ruth"], "short")
    desk.go()
    with open(location, "rb") as file:
        kept = file.read()
    assert not [name for name, password in PASSWORDS.items() if password.encode() in kept]


def test_only_a_supervisor_founds_a_register_and_only_once(register: Register) -> None:
    with pytest.raises(Refused, match="as a supervisor"):
        register.create("Hanne", ("planner",), PASSWORDS["Hanne"], START)
    desk = make_desk(register)
    with pytest.raises(InputError, match="is a register already"):
        register.create("Ruth", ("supervisor",), PASSWORDS["Ruth"], START)
    assert desk.register.verify() == ()


@pytest.mark.parametrize("by", ["Hanne", "Ivo", "Olek"])
def test_only_a_supervisor_enrols_and_retires(desk: Desk, by: str) -> None:
    with pytest.raises(Refused, match=r"takes a supervisor|not enrolled as supervisor"):
        desk.register.enrol(
            by, PASSWORDS[by], Person(name="Mia", roles=("crew",), public_key=""), "long enough", desk.now
        )
    with pytest.raises(Refused, match=r"takes a supervisor|not enrolled as supervisor"):
        desk.register.retire(by, PASSWORDS[by], "Olek", "why", desk.now)
