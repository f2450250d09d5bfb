"""The anchor: a small file beside the database that remembers how far the register had got.

A copy of the database put back from an earlier day is a register that holds together; only something kept elsewhere
tells that decisions are missing at its end.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """How far a register had got: which one, how many decisions, the hash of the last."""

    register: str
    count: int
    head: str


def read_anchor(path: Path) -> Anchor | None:
    """Give what the file remembers; None where there is no file, ValueError where it cannot be read."""
    try:
        data = json.loads(path.read_bytes())
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise ValueError(f"{path.name} cannot be read: {error}") from error
    try:
        register, count, head = data["register"], data["count"], data["head"]
    except (KeyError, TypeError) as error:
        raise ValueError(f"{path.name} is not an anchor file") from error
    if not (isinstance(register, str) and isinstance(count, int) and isinstance(head, str)):
        raise ValueError(f"{path.name} is not an anchor file")
    return Anchor(register=register, count=count, head=head)


def write_anchor(path: Path, anchor: Anchor) -> None:
    """Write the file whole or not at all; OSError where it cannot be written."""
    content = {"format": 1, "register": anchor.register, "count": anchor.count, "head": anchor.head}
    data = json.dumps(content, indent=2).encode() + b"\n"
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
