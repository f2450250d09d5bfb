"""What the tests of paper share: text and facts of a PDF, plans with every typed word replaced."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

NASTY = (
    '"><script>alert(1)</script>{{7*7}} #let x = $1$ *b* \\u{41} @cite `r` // '
    "\u202eשער \u0645\u0631\u062d 中文 \U0001f600 \x07 é"
)
KEPT = ("verdict", "kind", "trip", "scope", "layer", "direction", "travel", "range", "steering", "drive", "schema",
        "created_at", "outcome", "vehicle")  # fmt: skip
needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")


def pdf_text(pdf: bytes, folder: Path, first: int = 1, last: int = 999) -> str:
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    command = ["pdftotext", "-f", str(first), "-l", str(last), "-layout", str(path), "-"]
    return subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")


def pdf_facts(pdf: bytes, folder: Path) -> dict[str, str]:
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    said = subprocess.run(["pdfinfo", str(path)], capture_output=True, check=True).stdout.decode("utf-8")
    return {line.split(":", 1)[0]: line.split(":", 1)[1].strip() for line in said.splitlines() if ":" in line}


def squeezed(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def typed_over(value: Any, mark: str, key: str = "") -> Any:
    """Give a plan with ``mark`` added to every word in it that somebody typed or a file held."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changed = {f.name: typed_over(getattr(value, f.name), mark, f.name) for f in dataclasses.fields(value)}
        return dataclasses.replace(value, **changed)
    if isinstance(value, dict):
        return {name: typed_over(item, mark, str(name)) for name, item in value.items()}
    if isinstance(value, (list, tuple)):
        return type(value)(typed_over(item, mark, key) for item in value)
    return value + mark if isinstance(value, str) and key not in KEPT and value else value


def every_verdict(plan: Any, verdict: str) -> Any:
    """Give a plan whose legs, trips, profile and findings all carry one verdict."""
    return dataclasses.replace(
        plan,
        verdict=verdict,
        legs=tuple(dataclasses.replace(leg, verdict=verdict) for leg in plan.legs),
        trips=tuple(
            dataclasses.replace(
                trip,
                verdict=verdict,
                **{f"{word}_m": trip.length_m if word == verdict else 0.0 for word in ("clear", "caution", "unknown")},
            )
            for trip in plan.trips
        ),
        findings=tuple(dataclasses.replace(item, verdict=verdict) for item in plan.findings),
        checked=tuple(
            dataclasses.replace(row, clear_m=0.0, caution_m=0.0, unknown_m=0.0, blocked_m=0.0) for row in plan.checked
        ),
        profile=tuple(dataclasses.replace(p, verdict=tuple(verdict for _ in p.verdict)) for p in plan.profile),
    )
