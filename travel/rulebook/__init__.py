"""Rules, limits, coefficients, words and sentences as data with sources, and the loader that lays books over it."""

from travel.rulebook.loader import lay_over, load_rulebook
from travel.rulebook.resolve import Axis, LimitColumn, resolve, resolve_column

__all__ = ["Axis", "LimitColumn", "lay_over", "load_rulebook", "resolve", "resolve_column"]
