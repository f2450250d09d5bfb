"""The signs for flags and stops: told apart by shape and filling, not by colour alone."""

from __future__ import annotations

_SHAPES = {
    "blocked": '<path class="m-blocked" d="M11 2h14l9 9v14l-9 9H11l-9-9V11z"/>',
    "unknown": '<path class="m-unknown" d="M18 1l17 17-17 17L1 18z"/>',
    "caution": '<path class="m-caution" d="M18 2l17 31H1z"/>',
    "clear": '<circle class="m-clear" cx="18" cy="18" r="15"/>',
}
_BASELINE = {"blocked": 23, "unknown": 23, "caution": 29, "clear": 23}


def flag_svg(number: int, verdict: str) -> str:
    """Give a flag: octagon = blocked, diamond with ? = unknown, triangle = caution, its number inside."""
    text = f"{number}?" if verdict == "unknown" else str(number)
    size = 15 if len(text) < 3 else 11
    return (
        f'<svg class="mark" viewBox="0 0 36 36" width="32" height="32" aria-hidden="true">{_SHAPES[verdict]}'
        f'<text class="t-{verdict}" x="18" y="{_BASELINE[verdict]}" text-anchor="middle" font-size="{size}">'
        f"{text}</text></svg>"
    )


def stop_svg(number: int) -> str:
    """Give a stop: a square with S and its number."""
    return (
        '<svg class="mark" viewBox="0 0 36 36" width="32" height="32" aria-hidden="true">'
        '<rect class="m-stop" x="2" y="5" width="32" height="26" rx="2"/>'
        f'<text class="t-stop" x="18" y="23" text-anchor="middle" font-size="14">S{number}</text></svg>'
    )


def swatch_svg(verdict: str) -> str:
    """Give a piece of way as the legend shows it."""
    cross = ""
    if verdict == "blocked":
        cross = "".join(f'<path class="cross" d="M{x - 4} 5l8 8m0-8l-8 8"/>' for x in (12, 30, 48))
    return (
        '<svg class="swatch" viewBox="0 0 60 18" width="60" height="18" aria-hidden="true">'
        f'<line class="v v-{verdict}" x1="2" y1="9" x2="58" y2="9"/>{cross}</svg>'
    )


def arrow_svg(back: bool) -> str:
    """Give a direction arrow: filled on the way out, hollow on the way back; points up."""
    kind = "a-back" if back else "a-out"
    return (
        f'<svg class="arrow {kind}" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">'
        '<path d="M10 2l7 15-7-4-7 4z"/></svg>'
    )
