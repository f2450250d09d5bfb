"""Machine and load as people write them in TOML: the model first, then what must hold between its values."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from pydantic import BaseModel

from travel.domain.machine import Load, Machine
from travel.domain.rules import Vocabulary
from travel.domain.site import Doubt, InputFile
from travel.errors import InputError
from travel.readers.files import parse_toml, read_bytes
from travel.readers.load_checks import check_load
from travel.readers.machine_checks import check_machine
from travel.readers.models import build
from travel.readers.notes import Notes

if TYPE_CHECKING:
    from travel.domain.trailer import Trailer

Model = TypeVar("Model", bound=BaseModel)


def read_machine(path: Path) -> tuple[Machine, tuple[Doubt, ...], InputFile]:
    """Give a machine's sheet, what is doubtful in it, and the file's record.

    Raises ``InputError`` with every fault; what must hold between values is looked at once each value is good.
    """
    notes = Notes(file=path.name)
    machine, record = _read(path, Machine, "machine", notes)
    check_machine(machine, notes)
    notes.insist()
    return machine, tuple(notes.doubts), record


def read_load(path: Path) -> tuple[Load, tuple[Doubt, ...], InputFile]:
    """Give a load, what is doubtful in it, and the file's record; raises ``InputError`` with every fault."""
    notes = Notes(file=path.name)
    load, record = _read(path, Load, "load", notes)
    check_load(load, notes)
    notes.insist()
    return load, tuple(notes.doubts), record


def read_trailer(path: Path, vocabulary: Vocabulary) -> tuple[Trailer, tuple[Doubt, ...], InputFile]:
    """Give a trailer's sheet, what is doubtful in it, and the file's record; raises ``InputError`` with every fault."""
    from travel.domain.trailer import Trailer
    from travel.readers.trailer_checks import check_trailer

    notes = Notes(file=path.name)
    trailer, record = _read(path, Trailer, "trailer", notes)
    check_trailer(trailer, vocabulary, notes)
    notes.insist()
    return trailer, tuple(notes.doubts), record


def read_toml_model(path: Path, model: type[Model], role: str) -> tuple[Model, tuple[Doubt, ...], InputFile]:
    """Give any other TOML file as its model; raises ``InputError`` with every fault."""
    notes = Notes(file=path.name)
    value, record = _read(path, model, role, notes)
    return value, tuple(notes.doubts), record


def _read(path: Path, model: type[Model], role: str, notes: Notes) -> tuple[Model, InputFile]:
    read = read_bytes(path, role, notes)
    content = parse_toml(read[0], notes) if read else None
    value = None if content is None else build(model, content, notes)
    if read is None or value is None:
        raise InputError(notes.faults)
    return value, read[1]
