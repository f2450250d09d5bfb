"""What can go wrong, as one tree.

::

    TravelError
    ├── InputError          files or options that cannot be used; carries every Fault found
    │   └── RulebookError   a rulebook layer that is malformed or loosens a law without a reason
    ├── OutsideValidity     a formula was asked for a value it does not hold for
    ├── Refused             a decision that may not be made, or not by this person; carries every reason
    │   └── Tampered        the register does not hold together; carries what was found and where
    └── Cancelled           the person asked to stop

A machine that cannot pass is not an error: it is a result.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong in one file: where, what stands there, what is allowed.

    ``layer``, ``feature`` and ``field`` are empty where they do not apply.
    """

    file: str
    message: str
    layer: str = ""
    feature: str = ""
    field: str = ""
    value: str = ""
    allowed: str = ""

    def text(self) -> str:
        """Give the fault as one line a person can act on."""
        where = " › ".join(part for part in (self.file, self.layer, self.feature, self.field) if part)
        value = f" (found {self.value})" if self.value else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        return f"{where}: {self.message}{value}{allowed}"


class TravelError(Exception):
    """Root of everything this package raises on purpose."""


class InputError(TravelError):
    """Files or options that cannot be used. Every fault found is in ``faults``; nothing was written."""

    def __init__(self, faults: tuple[Fault, ...] | list[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(fault.text() for fault in self.faults))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        """Let it pass from one process to another with its faults."""
        return type(self), (self.faults,)


class RulebookError(InputError):
    """A rulebook layer that is malformed, or loosens a law or standard without ``override_reason``."""


class OutsideValidity(TravelError):
    """A formula was asked for a value outside the range it holds for."""


class Refused(TravelError):
    """A decision that may not be made: every reason is in ``reasons``, and nothing was recorded."""

    def __init__(self, reasons: tuple[str, ...]) -> None:
        self.reasons = reasons
        super().__init__("\n".join(reasons))


class Tampered(Refused):
    """The register does not hold together: ``reasons`` say what was found and where. Nothing in it is decided."""


class Cancelled(TravelError):
    """The person asked to stop; nothing was half-written."""
