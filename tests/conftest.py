"""Tests run on the demo's own day, so that a survey of the demo does not grow old; commands are made once."""

from __future__ import annotations

import functools
import os

import typer.testing

os.environ.setdefault("SOURCE_DATE_EPOCH", "1795600800")  # 2026-11-25 10:00 UTC

typer.testing._get_command = functools.cache(typer.testing._get_command)  # type: ignore[attr-defined]
"""The commands are made once, not for every line that a test types."""
