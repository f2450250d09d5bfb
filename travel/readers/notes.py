"""A place to write down every fault and doubt while reading, so that all are told at once."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from typing import Any

from travel.domain.site import Doubt
from travel.errors import Fault, InputError

_SHOWN = 60


def shown(value: Any) -> str:
    """Give a value as it stands in a file, cut to a readable length; text keeps its quotes."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= _SHOWN else f"{text[: _SHOWN - 1]}…"


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """Where we are reading, and what was found so far; narrower notes write into the same two lists."""

    file: str = ""
    layer: str = ""
    feature: str = ""
    faults: list[Fault] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)

    def at(self, **where: str) -> Notes:
        """Give notes for a narrower place (``file``, ``layer``, ``feature``)."""
        return replace(self, **where)  # type: ignore[arg-type]

    def fault(self, message: str, *, field: str = "", value: Any = None, allowed: str = "") -> None:
        """Write down something that cannot be used. ``value`` is what stands in the file."""
        self.faults.append(
            Fault(
                file=self.file,
                layer=self.layer,
                feature=self.feature,
                field=field,
                message=message,
                value="" if value is None else shown(value),
                allowed=allowed,
            )
        )

    def doubt(self, message: str, *, field: str = "") -> None:
        """Write down something possible but suspicious."""
        self.doubts.append(Doubt(file=self.file, layer=self.layer, feature=self.feature, field=field, message=message))

    def insist(self) -> None:
        """Raise one error with every fault, if there is any."""
        if self.faults:
            raise InputError(self.faults)
