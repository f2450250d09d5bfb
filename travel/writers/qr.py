"""A plan's number and fingerprint as a code a telephone reads."""

from __future__ import annotations

import io

from travel.domain.plan import TravelPlan


def qr_text(plan: TravelPlan) -> str:
    """Give what the code says: the plan's number and its whole fingerprint."""
    return f"{plan.plan_id} {plan.fingerprint}"


def qr_svg(text: str) -> str:
    """Give a text as a QR code (ISO/IEC 18004, error correction M) with its quiet zone."""
    import segno

    stream = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        stream, kind="svg", border=4, xmldecl=False, light="#fff", omitsize=True, svgclass=None, lineclass=None
    )
    return stream.getvalue().decode("utf-8").strip()
