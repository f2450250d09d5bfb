"""Writes the tables of README that the program itself knows: rules and commands. Run after adding either."""

from __future__ import annotations

import re
from pathlib import Path

from travel.checks import built_rules
from travel.checks.ramp import ramp_rules
from travel.checks.unloading import RULE as UNLOADING
from travel.rulebook import load_rulebook

README = Path(__file__).parents[1] / "README.md"


def rules_table() -> str:
    """Give one line a rule: id, what is asked, unit, what it needs, whether its unknown may be accepted."""
    rulebook, built = load_rulebook(), built_rules() | set(ramp_rules()) | {UNLOADING}
    lines = ["| rule | asks about | unit | needs | unknown may be accepted | built |", "|---|---|---|---|---|---|"]
    for rule in rulebook.rules.values():
        needs = ", ".join(rule.needs) or "–"
        accept = "yes" if rule.acceptable else "no"
        lines.append(
            f"| `{rule.id}` | {rule.title} | {rule.unit or 'yes or no'} | {needs} | {accept} | "
            f"{'yes' if rule.id in built else 'not yet'} |"
        )
    return "\n".join(lines)


def filled(text: str) -> str:
    """Give README with its tables written anew between their markers."""
    marked = r"(<!-- rules -->\n).*?(\n<!-- end rules -->)"
    return re.sub(marked, lambda m: m[1] + rules_table() + m[2], text, flags=re.S)


if __name__ == "__main__":
    README.write_text(filled(README.read_text(encoding="utf-8")), encoding="utf-8")
