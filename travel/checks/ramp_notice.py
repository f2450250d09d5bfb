"""Before the move on the road: notice, category under the special types order, escorts. General information: each
authority decides, and its own numbers come first.
"""

from __future__ import annotations

import math

from travel.checks.ramp_axles import RoadAxle, axle_limit, road_axles
from travel.checks.ramp_case import RampCase
from travel.checks.ramp_facts import Lacks
from travel.checks.ramp_road import WITH_KINGPIN, Overall, law_keeps
from travel.mechanics.axle_law import stgo_gross_category_2, stgo_gross_category_3

CATEGORIES = ("category_1", "category_2", "category_3")
BY_DISTANCE = {"category_2": stgo_gross_category_2, "category_3": stgo_gross_category_3}


def notices(case: RampCase, size: Overall) -> dict[str, float]:
    """Give the notice each quantity asks for, in s of whole days; NaN where its quantity is not known."""
    axles = road_axles(case, Lacks())
    share = max((axle.load_kg / axle_limit(case, axle).value for axle in axles), default=None)
    asked: dict[str, tuple[str, dict[str, float | None]]] = {
        "gross mass": ("axle-law.notice", {"gross_kg": size.gross_kg}),
        "axle load": ("axle-law.notice_axle", {"axle_share": share}),
        "width": ("road-size.notice", {"width_m": size.width_m}),
        "stiff length": ("road-size.notice_rigid", {"rigid_m": size.rigid_length_m}),
        "length": ("road-size.notice_length", {"length_m": size.length_m}),
        "overhang": ("road-size.notice_overhang", {"overhang_m": size.overhang_m}),
        "side overhang": ("road-size.notice_side", {"side_m": size.side_overhang_m}),
    }
    return {
        name: math.nan if None in given.values() else case.scalar(limit, **given)
        for name, (limit, given) in asked.items()
        if law_keeps(case, limit)
    }


def special_category(case: RampCase, size: Overall) -> str | None:
    """Give the lowest category that allows the rig's weight: a word of the rulebook, ``beyond`` or ``unknown``.

    None where nothing is over the general limits, or the jurisdiction has no such order.
    """
    if not law_keeps(case, "axle-law.special_gross"):
        return None
    axles = road_axles(case, Lacks())
    if not axles:
        return "unknown"
    heavy = any(axle.load_kg > axle_limit(case, axle).value for axle in axles)
    if size.gross_kg <= case.scalar("axle-law.gross") and not heavy:
        return None
    return next((word for word in CATEGORIES if _allows(case, word, axles, size.gross_kg)), "beyond")


def _allows(case: RampCase, word: str, axles: tuple[RoadAxle, ...], gross_kg: float) -> bool:
    """Whether a category allows gross, axle distance and each axle (its own limit, or the general one)."""
    most = case.scalar("axle-law.special_gross", special=word, axles=float(len(axles)))
    apart = axles[-1].behind_m - _first(case, axles)
    by_distance = float(BY_DISTANCE[word](apart)) if word in BY_DISTANCE else math.inf
    allowed = case.scalar("axle-law.special_axle", special=word)
    ordinary = [axle_limit(case, axle).value for axle in axles]
    each = ordinary if math.isnan(allowed) else [allowed] * len(axles)
    return gross_kg <= min(most, by_distance) and all(a.load_kg <= one for a, one in zip(axles, each, strict=True))


def _first(case: RampCase, axles: tuple[RoadAxle, ...]) -> float:
    """Where the distance between the extreme axles is counted from: the kingpin of a semitrailer."""
    towing = case.trailer.towing
    if towing is None or towing.coupling_x_m is None or case.trailer.kind not in WITH_KINGPIN:
        return axles[0].behind_m
    return -towing.coupling_x_m


def escorts(case: RampCase, size: Overall) -> int | None:
    """Give how many escorts an example rule asks for at this size; None where the rulebook keeps no example."""
    if not law_keeps(case, "road-size.escort_width"):
        return None
    if size.width_m > case.scalar("road-size.escort_two_width"):
        return 2
    sizes = {"width": size.width_m, "height": size.height_m, "length": size.length_m or 0.0}
    return int(any(value > case.scalar(f"road-size.escort_{name}") for name, value in sizes.items()))
