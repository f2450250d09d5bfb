"""Plans and decisions in a database: appended, signed, chained. The register knows plans by their digest only."""

from travel.register.register import Register
from travel.register.rules import ask, insist

__all__ = ["Register", "ask", "insist"]
