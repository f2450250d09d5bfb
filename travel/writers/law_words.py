"""Size and law on the road in words: height, what stands over, notice, category, escorts. The authority decides."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from travel.writers.numbers import number, quantity

ASK = "general information, the authority decides"
SPECIAL = {
    "category_1": "category 1",
    "category_2": "category 2",
    "category_3": "category 3",
    "beyond": "no category: a special order",
    "unknown": "not known: the axle loads are not",
}
"""Category under the special types order, as the answer names it."""


def height_text(size: Mapping[str, float | None]) -> str:
    """Give the travelling height and what it means under bridges."""
    said = f"{quantity(size['height_m'], 'm')} (measure after loading)"
    if size.get("cab_notice_m") is not None:
        said += f"; over {quantity(size['cab_notice_m'], 'm')}: shown in the cab"
    if size.get("sag_loss_m") is not None:
        said += (
            f"; under a bridge in a dip of {quantity(size['sag_radius_m'], 'm', 0)} radius "
            f"{quantity(size['sag_loss_m'], 'm')} of the headroom is lost"
        )
    if size.get("unsigned_left_m") is not None:
        said += (
            f"; a bridge without a sign should leave {quantity(size['unsigned_headroom_m'], 'm')}: "
            f"{quantity(size['unsigned_left_m'], 'm')} over the rig in such a dip"
        )
    return said


def law_rows(size: Mapping[str, float | None], earliest: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Give what stands over the vehicle, category, escorts, notice and the earliest date, where they say something."""
    rows = []
    over = {"end": size.get("overhang_m"), "side, each": size.get("side_overhang_m")}
    told = [f"{quantity(value, 'm')} over the vehicle's {name}" for name, value in over.items() if value]
    if told:
        rows.append(("Machine stands", ", ".join(told)))
    if earliest.get("special"):
        rows.append(("Special types order", f"{SPECIAL[earliest['special']]}; {ASK}"))
    if earliest.get("escorts"):
        count = f"{earliest['escorts']} escort{'s' if earliest['escorts'] > 1 else ''}"
        rows.append(("Escorts", f"{count} by one state's rule at this size; each authority sets its own: ask"))
    return rows + _notice(earliest)


def _notice(earliest: Mapping[str, Any]) -> list[tuple[str, str]]:
    unknown = ", ".join(str(name) for name in earliest.get("unknown", ()))
    lacking = f"; not known, it may ask for more: {unknown}" if unknown else ""
    if not earliest.get("working_days"):
        return [("Notice before the move", lacking.removeprefix("; "))] if lacking else []
    because = ", ".join(str(name) for name in earliest["because"])
    days = f"{number(float(earliest['working_days']), 'd', 0)} working days"
    rest = f"({because}); public holidays not counted; the authority decides{lacking}"
    if earliest.get("date"):
        return [("Earliest move", f"{earliest['date']}: {days} of notice {rest}")]
    return [("Notice before the move", f"{days} {rest}")]
