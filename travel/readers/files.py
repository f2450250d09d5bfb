"""Bytes and TOML from a file, with digest; a file that cannot be read is a fault, never a traceback."""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path
from typing import Any

from travel.domain.site import InputFile
from travel.readers.notes import Notes

FORMAT = 1
_MOST_NAMED = 20


def read_bytes(path: Path, role: str, notes: Notes) -> tuple[bytes, InputFile] | None:
    """Give a file's bytes and its digest, or None after writing down why it cannot be read."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        if path.is_symlink():
            notes.fault("a link to a file that is not there")
        else:
            notes.fault("file not found", allowed=_beside(path))
    except IsADirectoryError:
        notes.fault("a file is due, this is a folder")
    except OSError as error:
        notes.fault(f"cannot be read: {error.strerror or type(error).__name__}")
    else:
        return data, input_file(path, role, data)
    return None


def _beside(path: Path) -> str:
    """Give the files of the same kind in the folder, for whoever mistyped a name; nothing for a layer or header."""
    names = [] if not path.suffix else sorted(found.name for found in path.parent.glob(f"*{path.suffix}"))
    if not names or len(names) > _MOST_NAMED:
        return ""
    return f"what is in that folder: {', '.join(names)}"


def input_file(path: Path, role: str, data: bytes) -> InputFile:
    """Give a file's record: its role, its name without the folder, the digest of its bytes."""
    return InputFile(role=role, name=path.name, sha256=hashlib.sha256(data).hexdigest())


def decode(data: bytes, notes: Notes) -> str | None:
    """Give the text of UTF-8 bytes, or None after a fault."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        notes.fault(f"not UTF-8 text (line {line})", allowed="UTF-8")
        return None


def parse_toml(data: bytes, notes: Notes) -> dict[str, Any] | None:
    """Give a TOML file's content, or None after a fault that tells the line, or that a newer program wrote it."""
    text = decode(data, notes)
    if text is None:
        return None
    try:
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        place = re.search(r"\(at ([^)]*)\)", str(error))
        reason = str(error).split(" (at ")[0] or "nested too deeply"
        notes.fault(f"not valid TOML at {place[1]}: {reason}" if place else f"not valid TOML: {reason}")
        return None
    version = content.get("format")
    if isinstance(version, bool):  # true would pass for 1
        notes.fault("not an allowed value", field="format", value=version, allowed=str(FORMAT))
        return None
    if isinstance(version, int) and version > FORMAT:
        notes.fault("written by a newer program", field="format", value=version, allowed=str(FORMAT))
        return None
    return content
