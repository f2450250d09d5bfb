"""What would help: longer ramps and packing by bisection on the rules themselves; turning, chocks, legs tried out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

from travel.checks.ramp import RampAnswer, RampCase, RampFacts, ramp_answers
from travel.domain.ramp import RampRemedy
from travel.domain.rules import Rulebook
from travel.domain.verdict import Verdict
from travel.planning.ramp import RampAsked, ask_ramp
from travel.planning.ramp_tie_remedies import tie_changes

SHAPE = frozenset({"ramp-angle", "ramp-approach", "ramp-crest", "ramp-foot"})
LONGEST_M = 8.0
PACKING_M = 0.40
EXACT_M = 1e-4
Change = Callable[[RampCase, float], RampCase]


def ramp_remedies(asked: RampAsked) -> tuple[RampRemedy, ...]:
    """Give the changes that take away a no (or a doubt within tolerance), each with its least quantity."""
    case = asked.facts.case
    bad = _bad(asked.answers)
    if not bad:
        return ()
    out = []
    if bad & SHAPE and case.trailer.ramps:
        out += [_longer(case, bad), _packed(case, bad)]
    if "tie-down" in bad:
        out += [
            _measured(tie.kind, tie.value, tie.exact, tie.text, tie.case, bad, tie.unit) for tie in tie_changes(case)
        ]
    out += [_tried(asked, kind, text, changed) for kind, text, changed in _trials(case, bad)]
    return tuple(remedy for remedy in out if remedy is not None)


def _bad(answers: tuple[RampAnswer, ...]) -> frozenset[str]:
    """Rules that say no, or may say no within the tolerance; what is missing is measured, not remedied."""
    return frozenset(a.rule for a in answers if a.verdict == Verdict.BLOCKED or _doubtful(a))


def _doubtful(answer: RampAnswer) -> bool:
    missing = any(bool(where.any()) for where in answer.outcome.missing.values())
    return answer.verdict == Verdict.UNKNOWN and not missing and not answer.outcome.outside


def with_ramp_length(case: RampCase, length_m: float) -> RampCase:
    """Give the case with every ramp this long."""
    ramps = tuple(ramp.model_copy(update={"length_m": length_m}) for ramp in case.trailer.ramps)
    return replace(case, trailer=case.trailer.model_copy(update={"ramps": ramps}))


def with_packing(case: RampCase, packing_m: float) -> RampCase:
    """Give the case with packing under the ramps' feet."""
    return replace(case, request=replace(case.request, packing_m=packing_m))


def least_quantity(case: RampCase, change: Change, low: float, high: float) -> float | None:
    """Give the least quantity with which no shape rule says no, None where even the greatest does not help."""
    if not _passes(change(case, high)):
        return None
    while high - low > EXACT_M:
        middle = (low + high) / 2.0
        low, high = (low, middle) if _passes(change(case, middle)) else (middle, high)
    return high


def _passes(case: RampCase) -> bool:
    return not _bad(ramp_answers(RampFacts(case=case), SHAPE))


def _longer(case: RampCase, bad: frozenset[str]) -> RampRemedy | None:
    old = max(ramp.length_m for ramp in case.trailer.ramps)
    exact = least_quantity(case, with_ramp_length, old, max(LONGEST_M, old))
    if exact is None:
        return None
    value = math.ceil(exact / 0.05 - 1e-9) * 0.05
    text = f"Ramps {value:.2f} m long instead of {old:.2f} m (along the slope)."
    return _measured("longer ramps", value, exact, text, with_ramp_length(case, value), bad)


def _packed(case: RampCase, bad: frozenset[str]) -> RampRemedy | None:
    exact = least_quantity(case, with_packing, 0.0, min(PACKING_M, float(case.deck[0, 1])))
    if exact is None:
        return None
    value = math.ceil(exact / 0.01 - 1e-9) * 0.01
    text = f"Firm packing {value * 100.0:.0f} cm high under the ramps' feet, with a lead-on no steeper than the ramps."
    return _measured("packing under the feet", value, exact, text, with_packing(case, value), bad)


def _measured(
    kind: str, value: float, exact: float, text: str, case: RampCase, bad: frozenset[str], unit: str = "m"
) -> RampRemedy | None:
    after = ask_ramp(case)
    opens = bad - _bad(after.answers)
    if not opens:
        return None
    return RampRemedy(
        kind=kind,
        quantity=round(value, 4),
        exact=exact,
        unit=unit,
        verdict=after.verdict.word,  # type: ignore[arg-type]
        opens=tuple(sorted(opens)),
        text=text + _left(after, case.rulebook),
    )


def _trials(case: RampCase, bad: frozenset[str]) -> list[tuple[str, str, RampCase]]:
    """Give what may be done without any quantity."""
    request, body = case.request, case.trailer.trailer
    other: Literal["nose", "tail"] = "tail" if request.first == "nose" else "nose"
    trials = [("other end first", f"Go {other} first.", replace(case, request=replace(request, first=other)))]
    if request.ground_slope_pct:
        turned = replace(request, ground_slope_pct=-request.ground_slope_pct,
                         ground_cross_slope_pct=-request.ground_cross_slope_pct)  # fmt: skip
        trials.append(("turn the rig round", "Turn the rig round on this slope.", replace(case, request=turned)))
    level = replace(request, ground_slope_pct=0.0, ground_cross_slope_pct=0.0)
    if request.ground_slope_pct or request.ground_cross_slope_pct:
        trials.append(("level ground", "Load on level ground.", replace(case, request=level)))
    for kind, text, field, value in (
        ("chocks", "Chock the trailer's wheels, before and behind.", "chocked", True),
        ("rear legs", "Put the rear legs down before the machine comes on.", "rear_legs", "down"),
    ):
        if getattr(body, field) != value:
            changed = case.trailer.model_copy(update={"trailer": body.model_copy(update={field: value})})
            trials.append((kind, text, replace(case, trailer=changed)))
    return trials


def _tried(asked: RampAsked, kind: str, text: str, case: RampCase) -> RampRemedy | None:
    """Give a trial where it takes a no away and adds none."""
    before, after = _bad(asked.answers), ask_ramp(case)
    now = _bad(after.answers)
    if not before - now or now - before:
        return None
    return RampRemedy(
        kind=kind,
        quantity=None,
        exact=None,
        unit="",
        verdict=after.verdict.word,  # type: ignore[arg-type]
        opens=tuple(sorted(before - now)),
        text=text + _left(after, case.rulebook),
    )


def _left(after: RampAsked, rulebook: Rulebook) -> str:
    """Say what still bars with it."""
    still = sorted(rulebook.rules[rule].title.lower() for rule in _bad(after.answers))
    return f" Still in the way then: {', '.join(still)}." if still else ""
