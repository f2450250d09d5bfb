"""What a plan takes for there that is not: changes laid over its site, or a site that is a changed copy."""

from __future__ import annotations

from travel.domain.plan import RemedyPart, TravelPlan


def wished(plan: TravelPlan) -> tuple[str, ...]:
    """Give every value the plan was made with that nobody found on site; none for a plan on what is there."""
    laid = [
        f"{item['layer']} {item['feature']}: {item['field']} {_said(item['value'])}"
        + ("" if item.get("from_m") is None else f" from {item['from_m']:g} m")
        + ("" if item.get("to_m") is None else f" to {item['to_m']:g} m")
        for item in plan.request.get("amendments") or ()
    ]
    return (*laid, *(str(text) for text in plan.site.get("changed_copy") or ()))


def wished_part(part: RemedyPart) -> str:
    """Give one change of a remedy as a changed copy of the site names it."""
    old = "" if part.old is None else f" (was {_said(part.old)})"
    return f"{part.layer} {part.feature}: {part.field} {_said(part.value)}{old}"


def _said(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else "none" if value is None else str(value)
