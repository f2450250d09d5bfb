"""Tests run on the demo's own day, so that a survey of the demo does not grow old."""

from __future__ import annotations

import os

os.environ.setdefault("SOURCE_DATE_EPOCH", "1795600800")  # 2026-11-25 10:00 UTC
